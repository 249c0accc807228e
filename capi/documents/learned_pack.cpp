#include "capi/documents/learned_pack.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/fields.h"
#include "capi/documents/pack_reader.h"
#include "capi/documents/size_reader.h"
#include "core/circuit/kinds.h"
#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::documents {
namespace {

using namespace faultodds::priors;

// Counts stay exact in a double up to 2^53.
constexpr double most_count = 9007199254740992.0;
constexpr double most_hours = 1e9;

std::uint64_t count_of(const Json& value, const Place& place) {
  const double number = number_of(value, place, 0, most_count);
  if (number != std::floor(number)) {
    refuse(place, "count is " + shown(value) + "; expected a whole number");
  }
  return static_cast<std::uint64_t>(number);
}

std::uint64_t count(const Fields& fields, std::string_view key) {
  const Json* value = fields.find(key);
  return value == nullptr ? 0 : count_of(*value, fields.at(key));
}

std::optional<Date> date_of(const std::string& text) {
  int year = 0, month = 0, day = 0;
  const char* const end = text.data() + text.size();
  auto at = std::from_chars(text.data(), end, year);
  if (at.ec != std::errc{} || at.ptr == end || *at.ptr != '-') return std::nullopt;
  at = std::from_chars(at.ptr + 1, end, month);
  if (at.ec != std::errc{} || at.ptr == end || *at.ptr != '-') return std::nullopt;
  at = std::from_chars(at.ptr + 1, end, day);
  if (at.ec != std::errc{} || at.ptr != end) return std::nullopt;
  return make_date(year, month, day);
}

std::optional<Date> date(const Fields& fields, std::string_view key) {
  const Json* value = fields.find(key);
  if (value == nullptr) return std::nullopt;
  const std::optional<Date> day = date_of(text_of(*value, fields.at(key)));
  if (!day) {
    refuse(fields.at(key),
           std::string(key) + " is " + shown(*value) + "; expected a day like \"2023-02-28\"");
  }
  return day;
}

HourCounts hour_counts(const Fields& fields, std::string_view key) {
  HourCounts counts(3);
  const Json* value = fields.find(key);
  if (value == nullptr) return counts;
  const Place place = fields.at(key);
  const auto& list = list_of(*value, place, "pairs of hours and count");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const std::vector<double> pair = numbers_of(list[i], here, 2, 0, most_count);
    counts.add(pair[0], count_of(list[i].at(1), here));
  }
  return counts;
}

ModeStatistics::Pairs pairs(const Fields& fields, std::string_view key) {
  ModeStatistics::Pairs result;
  const Json* value = fields.find(key);
  if (value == nullptr) return result;
  const Place place = fields.at(key);
  const auto& list = list_of(*value, place, "triples of hours, hours and count");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const std::vector<double> triple = numbers_of(list[i], here, 3, 0, most_count);
    if (!(triple[0] > 0 && triple[0] < triple[1] && triple[1] <= most_hours)) {
      refuse(here, std::string(key) + " is " + shown(list[i]) +
                       "; expected two rising hours and a count");
    }
    result[{triple[0], triple[1]}] += count_of(list[i].at(2), here);
  }
  return result;
}

ModeStatistics read_mode(const Fields& fields) {
  ModeStatistics mode;
  mode.sound = count(fields, "sound");
  mode.worn = count(fields, "worn");
  mode.failed = count(fields, "failed");
  mode.ungraded = count(fields, "ungraded");
  mode.failed_at = hour_counts(fields, "failed_at");
  mode.sound_at = hour_counts(fields, "sound_at");
  mode.worn_before = hour_counts(fields, "worn_before");
  mode.between = pairs(fields, "between");
  mode.late_failed = pairs(fields, "late_failed");
  mode.late_sound = pairs(fields, "late_sound");
  return mode;
}

void read_statistics(const Json& value, const Place& place, Statistics& statistics) {
  const auto& list = list_of(value, place, "statistics by type and asset class");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const Fields fields(
        list[i], here, "statistics of a type",
        {"type", "asset_class", "orders", "complained", "in_service", "installs", "renewals",
         "centihours", "first", "last", "running", "modes", "ambiguous"});
    TypeStatistics type;
    type.orders = count(fields, "orders");
    type.complained = count(fields, "complained");
    type.in_service = count(fields, "in_service");
    type.installs = count(fields, "installs");
    type.renewals = count(fields, "renewals");
    type.centihours = static_cast<std::int64_t>(count(fields, "centihours"));
    type.first = date(fields, "first");
    type.last = date(fields, "last");
    type.running = hour_counts(fields, "running");
    if (const Json* modes = fields.find("modes")) {
      const Place modes_place = fields.at("modes");
      const auto& entries = list_of(*modes, modes_place, "statistics by mode");
      for (std::size_t m = 0; m < entries.size(); ++m) {
        const Place mode_place = modes_place.item(m);
        const Fields mode(entries[m], mode_place, "statistics of a mode",
                          {"mode", "sound", "worn", "failed", "ungraded", "failed_at", "sound_at",
                           "worn_before", "between", "late_failed", "late_sound"});
        type.modes[mode.id("mode")].add(read_mode(mode));
      }
    }
    if (const Json* ambiguous = fields.find("ambiguous")) {
      const Place sets_place = fields.at("ambiguous");
      const auto& sets = list_of(*ambiguous, sets_place, "orders that name several modes");
      for (std::size_t s = 0; s < sets.size(); ++s) {
        const Place set_place = sets_place.item(s);
        const Fields set(sets[s], set_place, "orders that name several modes",
                         {"modes", "worn", "failed", "ungraded"});
        Candidates candidates{set.texts("modes")};
        if (candidates.modes.size() < 2) {
          refuse(set_place, "ambiguous orders name " + std::to_string(candidates.modes.size()) +
                                " modes; expected two or more");
        }
        CandidateCounts& counts = type.ambiguous[std::move(candidates)];
        counts.worn += count(set, "worn");
        counts.failed += count(set, "failed");
        counts.ungraded += count(set, "ungraded");
      }
    }
    const Statistics::Key key{fields.id("type"), fields.text("asset_class", "")};
    if (!statistics.types.emplace(key, std::move(type)).second) {
      refuse(here, "a second entry for " + in_backticks(key.type) + "; expected one",
             Code::invalid_priors);
    }
  }
}

WeibullPrior::LogNormal log_normal(const Json& value, const Place& place, const char* what) {
  const Fields fields(value, place, what, {"median", "sigma"});
  return {number_of(fields.need("median"), fields.at("median"), 1e-9, 1e12),
          number_of(fields.need("sigma"), fields.at("sigma"), 1e-6, 100)};
}

void read_judgements(const Json& value, const Place& place, PriorPack& pack) {
  const auto& list = list_of(value, place, "judgements by type and mode");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const Fields fields(list[i], here, "a judgement",
                        {"type", "mode", "asset_class", "alpha", "wear_out", "source"});
    Judgement judgement;
    judgement.grades.alpha = numbers_of(fields.need("alpha"), fields.at("alpha"), 3, 1e-9, 1e12);
    judgement.source = fields.text("source", "");
    if (const Json* wear_out = fields.find("wear_out")) {
      const Place wear_place = fields.at("wear_out");
      const Fields parts(*wear_out, wear_place, "a judgement of wear-out",
                         {"shape", "scale_hours"});
      WeibullPrior prior{std::nullopt, std::nullopt};
      if (const Json* shape = parts.find("shape")) {
        prior.shape = log_normal(*shape, parts.at("shape"), "shape");
      }
      if (const Json* scale = parts.find("scale_hours")) {
        prior.scale = log_normal(*scale, parts.at("scale_hours"), "scale_hours");
      }
      judgement.wear_out = prior;
    }
    const PackKey key{fields.id("type"), fields.id("mode"), fields.text("asset_class", "")};
    if (!pack.judgements.emplace(key, std::move(judgement)).second) {
      refuse(here,
             "a second judgement of " + in_backticks(key.type + "." + key.mode) + "; expected one",
             Code::invalid_priors);
    }
  }
}

std::int64_t millionths(const Json& value, const Place& place, double least) {
  const double number = number_of(value, place, least, most_count);
  if (number != std::floor(number)) {
    refuse(place, place.name() + " is " + shown(value) + "; expected whole millionths");
  }
  return static_cast<std::int64_t>(number);
}

LeakRateStatistics read_statistics(const Fields& fields) {
  LeakRateStatistics statistics;
  const auto median = numbers_of(fields.need("median"), fields.at("median"), 3, 1e-9, 1e9);
  const auto sigma = numbers_of(fields.need("sigma"), fields.at("sigma"), 3, 0.01, 100);
  std::copy(median.begin(), median.end(), statistics.median.begin());
  std::copy(sigma.begin(), sigma.end(), statistics.sigma.begin());
  statistics.worth = number_of(fields.need("worth"), fields.at("worth"), 1e-3, 1e9);
  const Place grades_place = fields.at("grades");
  const auto& grades = list_of(fields.need("grades"), grades_place, "sums by grade");
  if (grades.size() != 3) {
    refuse(grades_place,
           "grades has " + std::to_string(grades.size()) + " entries; expected 3, one per grade");
  }
  for (std::size_t g = 0; g < 3; ++g) {
    const Place grade_place = grades_place.item(g);
    const Fields sums(grades[g], grade_place, "sums of a grade", {"count", "sum", "squares"});
    LeakRateSums& read = statistics.grades[g];
    read.count = millionths(sums.need("count"), sums.at("count"), 0);
    read.sum = millionths(sums.need("sum"), sums.at("sum"), -most_count);
    read.squares = millionths(sums.need("squares"), sums.at("squares"), 0);
  }
  return statistics;
}

void read_learned_sizes(const Json& value, const Place& place, Sizes& sizes) {
  const auto& list = list_of(value, place, "sizes by type and mode");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const Fields fields(list[i], here, "sizes of a mode",
                        {"type", "mode", "law", "median", "sigma", "worth", "grades"});
    SizeStatistics statistics;
    statistics.law = law_of(fields);
    statistics.of = read_statistics(fields);
    if (!sizes.emplace(std::pair(fields.id("type"), fields.id("mode")), statistics).second) {
      refuse(here, "a second entry for the same mode; expected one", Code::invalid_priors);
    }
  }
}

void read_leak_rates(const Json& value, const Place& place, LeakRates& rates) {
  const auto& list = list_of(value, place, "leak rates by kind or observation");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const Fields fields(list[i], here, "leak rates of a kind or observation",
                        {"kind", "observation", "median", "sigma", "worth", "grades"});
    if (fields.has("kind") == fields.has("observation")) {
      refuse(here, "leak rates need exactly one of `kind` and `observation`");
    }
    LeakRateKey key;
    if (const Json* kind = fields.find("kind")) {
      key.kind = observation_kind_of(*kind, fields.at("kind"));
    } else {
      key.observation = fields.id("observation", "/");
    }
    if (!rates.emplace(key, read_statistics(fields)).second) {
      refuse(here, "a second entry for the same leak rates; expected one", Code::invalid_priors);
    }
  }
}

void read_learning(const Json& value, const Place& place, PriorPack& pack) {
  const Fields fields(value, place, "`learning`",
                      {"judgements", "sources", "settings", "statistics", "leak_rates", "sizes"});
  if (const Json* sizes = fields.find("sizes")) {
    read_learned_sizes(*sizes, fields.at("sizes"), pack.learned_sizes);
    // Those in `sizes` of the pack follow from these: what is left was stated.
    std::erase_if(pack.sizes, [&](const diagnosis::PackSize& entry) {
      return pack.learned_sizes.contains({entry.type, entry.mode});
    });
  }
  if (const Json* rates = fields.find("leak_rates")) {
    read_leak_rates(*rates, fields.at("leak_rates"), pack.leak_rates);
    // The bands in `outcomes` follow from these: what is left is what was learned or given besides.
    for (diagnosis::PackOutcomes& entry : pack.outcomes) {
      if (!pack.leak_rates.contains({entry.kind, entry.observation})) continue;
      entry.model.leak_median.reset();
      entry.model.leak_sigma.reset();
    }
    std::erase_if(pack.outcomes, [&](const diagnosis::PackOutcomes& entry) {
      return pack.leak_rates.contains({entry.kind, entry.observation}) &&
             entry.model.outcomes.empty() && entry.model.matrix.empty() && !entry.model.background;
    });
  }
  read_judgements(fields.need("judgements"), fields.at("judgements"), pack);
  const Place sources_place = fields.at("sources");
  const auto& sources = list_of(fields.need("sources"), sources_place, "sources");
  for (std::size_t i = 0; i < sources.size(); ++i) {
    const Place here = sources_place.item(i);
    const Fields source(sources[i], here, "a source",
                        {"id", "title", "rows_used", "rows_rejected", "rejected", "first", "last"});
    Source read;
    read.id = source.id("id");
    read.title = source.text("title", "");
    read.rows_used = count(source, "rows_used");
    read.rows_rejected = count(source, "rows_rejected");
    if (const Json* reasons = source.find("rejected")) {
      const Place by_reason = source.at("rejected");
      for (const auto& [reason, rows] : object_of(*reasons, by_reason, "rejected")) {
        read.rejected[reason] = count_of(rows, by_reason.key(reason));
      }
    }
    read.first = date(source, "first");
    read.last = date(source, "last");
    pack.sources.push_back(std::move(read));
  }
  const Place settings_place = fields.at("settings");
  const Fields settings(fields.need("settings"), settings_place, "settings",
                        {"pool_classes", "wear_out", "fewest_failures"});
  pack.settings.pool_classes = settings.flag("pool_classes", pack.settings.pool_classes);
  pack.settings.wear_out = settings.flag("wear_out", pack.settings.wear_out);
  pack.settings.fewest_failures =
      settings.number("fewest_failures", 1, 1e9).value_or(pack.settings.fewest_failures);
  read_statistics(fields.need("statistics"), fields.at("statistics"), pack.statistics);
}

}  // namespace

PriorPack read_prior_pack(const Json& document, double worth_jobs) {
  diagnosis::Pack engine = read_pack(document);
  PriorPack pack;
  pack.id = engine.id;
  pack.title = engine.title;
  pack.outcomes = std::move(engine.outcomes);
  pack.sizes = std::move(engine.sizes);
  const Place place;
  const auto day = document.find("date");
  if (day != document.end()) {
    pack.date = date_of(text_of(*day, place.key("date"))).value_or(Date{});
  }
  const auto learning = document.find("learning");
  if (learning != document.end()) {
    read_learning(*learning, place.key("learning"), pack);
  } else {
    for (const diagnosis::PackPrior& prior : engine.priors) {
      if (!prior.grades) continue;
      Judgement judgement;
      for (double p : *prior.grades) {
        judgement.grades.alpha.push_back(std::max(p * worth_jobs, 1e-3));
      }
      if (prior.wear_out) {
        judgement.wear_out =
            WeibullPrior{WeibullPrior::LogNormal{prior.wear_out->shape, 0.3},
                         WeibullPrior::LogNormal{prior.wear_out->scale_hours, 0.5}};
      }
      judgement.source = pack.title;
      pack.judgements.emplace(PackKey{prior.type, prior.mode, prior.asset_class},
                              std::move(judgement));
    }
  }
  estimate(pack);
  return pack;
}

RecordsMapping read_records_mapping(const Json& document) {
  const Place place;
  const Fields fields(document, place, "a records mapping",
                      {"format", "title", "encoding", "delimiter", "rows_before", "decimal_comma",
                       "dates", "columns", "types", "findings", "grades", "classes", "earliest",
                       "latest", "most_hours", "others_sound"});
  fields.check_format("faultodds-records/1");
  RecordsMapping result;
  Mapping& mapping = result.mapping;
  fields.text("title", "");
  if (fields.has("delimiter")) {
    const std::string delimiter = fields.text("delimiter");
    if (delimiter.size() != 1) {
      refuse(fields.at("delimiter"), "delimiter is " + shown(fields.need("delimiter")) +
                                         "; expected one character, as in \";\"");
    }
    mapping.delimiter = delimiter[0];
  }
  const auto one_of = [&](const char* key, const auto& names) -> std::optional<std::size_t> {
    if (!fields.has(key)) return std::nullopt;
    const std::string name = fields.text(key);
    std::string known;
    for (std::size_t i = 0; i < std::size(names); ++i) {
      if (name == names[i]) return i;
      known += std::string(i == 0 ? "" : i + 1 == std::size(names) ? " or " : ", ") + names[i];
    }
    refuse(fields.at(key),
           std::string(key) + " is " + shown(fields.need(key)) + "; expected " + known);
  };
  if (const auto i = one_of("encoding", kEncodings)) mapping.encoding = static_cast<Encoding>(*i);
  if (const auto i = one_of("dates", kDateOrders)) mapping.dates = static_cast<DateOrder>(*i);
  if (const auto rows = fields.number("rows_before", 0, 1000)) {
    mapping.rows_before = static_cast<std::size_t>(*rows);
  }
  mapping.decimal_comma = fields.flag("decimal_comma");
  const auto texts = [&](const char* key, std::map<std::string, std::string>& into) {
    const Json* value = fields.find(key);
    if (value == nullptr) return;
    const Place here = fields.at(key);
    for (const auto& [name, text] : object_of(*value, here, "the owner's words and ours")) {
      into[name] = text_of(text, here.key(name));
    }
  };
  texts("columns", mapping.columns);
  texts("types", mapping.types);
  texts("classes", mapping.classes);
  if (const Json* findings = fields.find("findings")) {
    const Place here = fields.at("findings");
    for (const auto& [code, modes] : object_of(*findings, here, "findings by the owner's code")) {
      const Place at = here.key(code);
      if (modes.is_array() && modes.empty()) {
        mapping.findings[code] = {};
      } else {
        mapping.findings[code] = one_or_more_of(modes, at);
      }
    }
  }
  if (const Json* grades = fields.find("grades")) {
    const Place here = fields.at("grades");
    for (const auto& [word, grade] : object_of(*grades, here, "grades by the owner's word")) {
      const std::string name = text_of(grade, here.key(word));
      const int value = name == "sound" ? 0 : name == "worn" ? 1 : name == "failed" ? 2 : -1;
      if (value < 0) {
        refuse(here.key(word), "grade is " + shown(grade) + "; expected sound, worn or failed");
      }
      mapping.grades[word] = value;
    }
  }
  if (const auto earliest = date(fields, "earliest")) mapping.earliest = *earliest;
  mapping.latest = date(fields, "latest");
  mapping.most_hours = fields.number("most_hours", 1, 1e9).value_or(mapping.most_hours);
  result.others_sound = fields.flag("others_sound", true);
  return result;
}

std::string write_records_mapping(const RecordsMapping& given, const std::string& title) {
  const Mapping& mapping = given.mapping;
  Json document;
  document["format"] = "faultodds-records/1";
  document["title"] = title;
  if (mapping.encoding) {
    document["encoding"] = kEncodings[static_cast<std::size_t>(*mapping.encoding)];
  }
  if (mapping.delimiter) document["delimiter"] = std::string(1, *mapping.delimiter);
  if (mapping.rows_before) document["rows_before"] = *mapping.rows_before;
  if (mapping.dates) document["dates"] = kDateOrders[static_cast<std::size_t>(*mapping.dates)];
  if (mapping.decimal_comma) document["decimal_comma"] = *mapping.decimal_comma;
  document["columns"] = Json::object();
  for (const auto& [field, column] : mapping.columns) document["columns"][field] = column;
  document["types"] = Json::object();
  for (const auto& [theirs, ours] : mapping.types) document["types"][theirs] = ours;
  document["findings"] = Json::object();
  for (const auto& [theirs, modes] : mapping.findings) document["findings"][theirs] = modes;
  static constexpr const char* grades[] = {"sound", "worn", "failed"};
  for (const auto& [word, grade] : mapping.grades) {
    document["grades"][word] = grades[static_cast<std::size_t>(grade)];
  }
  for (const auto& [theirs, ours] : mapping.classes) document["classes"][theirs] = ours;
  document["others_sound"] = given.others_sound;
  // Names are UTF-8 where they were read from; what is not stands as it can.
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace faultodds::documents
