#include "capi/documents/learned_pack.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <utility>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/fields.h"
#include "capi/documents/json_text.h"
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

// The shortest digits that read back to the same number.
std::string with_unit(double number, const char* unit) {
  char digits[40];
  const auto end = write_number(digits, digits + sizeof digits, number).ptr;
  return std::string(digits, end) + " " + unit;
}

std::string hours_text(double hours) { return with_unit(hours, "h"); }

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

ModeStatistics read_mode(const Fields& fields) {
  ModeStatistics mode;
  mode.sound = count(fields, "sound");
  mode.worn = count(fields, "worn");
  mode.failed = count(fields, "failed");
  mode.ungraded = count(fields, "ungraded");
  mode.failed_at = hour_counts(fields, "failed_at");
  mode.sound_at = hour_counts(fields, "sound_at");
  mode.worn_before = hour_counts(fields, "worn_before");
  if (const Json* between = fields.find("between")) {
    const Place place = fields.at("between");
    const auto& list = list_of(*between, place, "triples of hours, hours and count");
    for (std::size_t i = 0; i < list.size(); ++i) {
      const Place here = place.item(i);
      const std::vector<double> triple = numbers_of(list[i], here, 3, 0, most_count);
      if (!(triple[0] > 0 && triple[0] < triple[1] && triple[1] <= most_hours)) {
        refuse(here, "between is " + shown(list[i]) + "; expected two rising hours and a count");
      }
      mode.between[{triple[0], triple[1]}] += count_of(list[i].at(2), here);
    }
  }
  return mode;
}

void read_statistics(const Json& value, const Place& place, Statistics& statistics) {
  const auto& list = list_of(value, place, "statistics by type and asset class");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place here = place.item(i);
    const Fields fields(list[i], here, "statistics of a type",
                        {"type", "asset_class", "orders", "in_service", "installs", "renewals",
                         "centihours", "first", "last", "running", "modes", "ambiguous"});
    TypeStatistics type;
    type.orders = count(fields, "orders");
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
                           "worn_before", "between"});
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

void write_statistics(JsonText& out, const LeakRateStatistics& statistics) {
  out.list("median", statistics.median).list("sigma", statistics.sigma);
  out.member("worth", statistics.worth).key("grades").begin_list();
  for (const LeakRateSums& sums : statistics.grades) {
    out.begin_object().member("count", static_cast<double>(sums.count));
    out.member("sum", static_cast<double>(sums.sum));
    out.member("squares", static_cast<double>(sums.squares)).end_object();
  }
  out.end_list();
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

void write_learned_sizes(JsonText& out, const Sizes& sizes) {
  out.key("sizes").begin_list();
  for (const auto& [key, statistics] : sizes) {
    out.begin_object().member("type", key.first).member("mode", key.second);
    out.member("law", law_name(statistics.law));
    write_statistics(out, statistics.of);
    out.end_object();
  }
  out.end_list();
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

void write_leak_rates(JsonText& out, const LeakRates& rates) {
  out.key("leak_rates").begin_list();
  for (const auto& [key, statistics] : rates) {
    out.begin_object();
    if (key.kind) {
      out.member("kind", circuit::kind_name(*key.kind));
    } else {
      out.member("observation", key.observation);
    }
    write_statistics(out, statistics);
    out.end_object();
  }
  out.end_list();
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

void write_hours(JsonText& out, std::string_view key, const HourCounts& counts) {
  if (counts.total() == 0) return;
  out.key(key).begin_list();
  for (const auto& [hours, count] : counts.items()) {
    out.begin_list().value(hours).value(count).end_list();
  }
  out.end_list();
}

void write_dates(JsonText& out, const std::optional<Date>& first, const std::optional<Date>& last) {
  if (first) out.member("first", to_string(*first));
  if (last) out.member("last", to_string(*last));
}

void write_entry(JsonText& out, const PackKey& key, const Estimate& e) {
  out.begin_object().member("type", key.type).member("mode", key.mode);
  if (!key.asset_class.empty()) out.member("asset_class", key.asset_class);
  out.list("grades", e.mean);
  if (e.wear_out) {
    out.key("wear_out").begin_object();
    out.member("shape", e.wear_out->weibull.shape);
    out.member("scale", hours_text(e.wear_out->weibull.scale));
    out.member("failed_share", e.wear_out->failed_share).end_object();
  }
  out.key("posterior").begin_object().member("distribution", "dirichlet");
  out.list("alpha", e.posterior.alpha);
  out.member("shrinkage", e.shrinkage).member("information", e.information);
  if (e.rate) {
    out.key("rate_per_hour").begin_object();
    out.member("alpha", e.rate->alpha).member("beta", e.rate->beta).end_object();
  }
  out.end_object();
  out.key("counts").begin_object();
  out.member("sound", e.counts[0]).member("worn", e.counts[1]).member("failed", e.counts[2]);
  out.end_object();
  if (e.hours) out.member("exposure", hours_text(*e.hours));
  out.key("interval").begin_object();
  const auto interval = [&](const char* name, const Interval& of) {
    out.key(name).begin_list().value(of.lower).value(of.upper).end_list();
  };
  interval("not_sound", e.not_sound_interval);
  interval("sound", e.interval[0]);
  interval("worn", e.interval[1]);
  interval("failed", e.interval[2]);
  if (e.wear_out) {
    interval("shape", e.wear_out->shape_interval);
    interval("scale_hours", e.wear_out->scale_interval);
  }
  if (e.rate) interval("rate_per_hour", e.rate->interval());
  out.end_object();
  out.member("method", e.method).member("source", e.source);
  if (e.last) out.member("date", to_string(*e.last));
  out.end_object();
}

// How the bands of an entry came about.
void write_band_estimate(JsonText& out, const char* of_what, const LeakRateStatistics& statistics,
                         const PriorPack& pack) {
  const LeakRateBands bands = bands_of(statistics);
  out.key("counts").begin_object().list(of_what, bands.readings).end_object();
  out.key("interval").begin_object();
  const auto intervals = [&](const char* name, Interval (LogNormalPosterior::*of)() const) {
    out.key(name).begin_list();
    for (const LogNormalPosterior& posterior : bands.posterior) {
      const Interval interval = (posterior.*of)();
      out.begin_list().value(interval.lower).value(interval.upper).end_list();
    }
    out.end_list();
  };
  intervals("median", &LogNormalPosterior::median_interval);
  intervals("sigma", &LogNormalPosterior::sigma_interval);
  out.end_object();
  std::string method = "log-normal by grade, what was held before worth " +
                       with_unit(statistics.worth, "readings of each");
  if (!bands.in_order) {
    method += "; the medians learned do not rise with the grade, so that stays";
  }
  out.member("method", method);
  std::string sources;
  std::optional<Date> last;
  for (const Source& source : pack.sources) {
    sources += (sources.empty() ? "" : ", ") + source.id;
    if (source.last && (!last || *source.last > *last)) last = source.last;
  }
  out.member("source", sources);
  if (last) out.member("date", to_string(*last));
}

void write_outcomes(JsonText& out, const diagnosis::PackOutcomes& entry, const PriorPack& pack) {
  out.begin_object();
  if (entry.kind) {
    out.member("kind", circuit::kind_name(*entry.kind));
  } else {
    out.member("observation", entry.observation);
  }
  const circuit::OutcomeModel& model = entry.model;
  if (!model.outcomes.empty()) out.list("outcomes", model.outcomes);
  if (!model.matrix.empty()) {
    out.key("matrix").begin_list();
    for (const std::vector<double>& row : model.matrix) {
      out.begin_list();
      for (double p : row) out.value(p);
      out.end_list();
    }
    out.end_list();
  }
  if (model.background) out.list("background", *model.background);
  if (model.leak_median || model.leak_sigma) {
    out.key("leak_rates").begin_object();
    if (model.leak_median) {
      const bool is_flow =
          entry.kind == circuit::ObservationKind::flow || entry.observation.starts_with("flow/");
      out.key("median").begin_list();
      for (double rate : *model.leak_median) {
        if (is_flow && rate <= 1) {  // a share of rated flow
          out.value(rate);
        } else {
          out.value(with_unit(rate, "mL/min"));
        }
      }
      out.end_list();
    }
    if (model.leak_sigma) out.list("sigma", *model.leak_sigma);
    out.end_object();
  }
  const auto learned = pack.leak_rates.find({entry.kind, entry.observation});
  if (learned != pack.leak_rates.end())
    write_band_estimate(out, "leak_rates", learned->second, pack);
  out.end_object();
}

void write_size(JsonText& out, const diagnosis::PackSize& entry, const PriorPack& pack) {
  out.begin_object().member("type", entry.type).member("mode", entry.mode);
  out.key("sizes").begin_object().member("law", law_name(entry.size.law));
  const char* const grades[] = {"sound", "worn", "failed"};
  for (std::size_t g = 0; g < 3; ++g) {
    const auto& [median, spread] = entry.size.of_grade[g];
    const bool loss = entry.size.law == circuit::SizeLaw::loss;
    if (loss && g == 0) continue;  // a sound one is none
    out.key(grades[g]).begin_object();
    out.member("median", with_unit(median, loss ? "%" : "mL/min")).member("spread", spread);
    out.end_object();
  }
  out.end_object();
  const auto learned = pack.learned_sizes.find({entry.type, entry.mode});
  if (learned != pack.learned_sizes.end()) {
    write_band_estimate(out, "readings", learned->second.of, pack);
  }
  out.end_object();
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

std::string write_prior_pack(const PriorPack& pack) {
  JsonText out;
  out.begin_object().member("format", "faultodds-priors/1");
  out.member("id", pack.id).member("title", pack.title).member("date", to_string(pack.date));
  std::uint64_t rows = 0;
  for (const Source& source : pack.sources) rows += source.rows_used;
  out.member("provenance", "Judgement and " + std::to_string(rows) + " rows of " +
                               std::to_string(pack.sources.size()) + " source" +
                               (pack.sources.size() == 1 ? "" : "s") + "; intervals hold 90 %.");
  out.key("modes").begin_list();
  for (const auto& [key, e] : pack.estimates) write_entry(out, key, e);
  out.end_list();
  std::vector<diagnosis::PackOutcomes> outcomes = pack.outcomes;
  put_bands(pack.leak_rates, outcomes);
  if (!outcomes.empty()) {
    out.key("outcomes").begin_list();
    for (const diagnosis::PackOutcomes& entry : outcomes) write_outcomes(out, entry, pack);
    out.end_list();
  }
  std::vector<diagnosis::PackSize> sizes = pack.sizes;
  put_sizes(pack.learned_sizes, sizes);
  if (!sizes.empty()) {
    out.key("sizes").begin_list();
    for (const diagnosis::PackSize& entry : sizes) write_size(out, entry, pack);
    out.end_list();
  }

  out.key("learning").begin_object();
  out.key("judgements").begin_list();
  for (const auto& [key, judgement] : pack.judgements) {
    out.begin_object().member("type", key.type).member("mode", key.mode);
    if (!key.asset_class.empty()) out.member("asset_class", key.asset_class);
    out.list("alpha", judgement.grades.alpha);
    if (judgement.wear_out) {
      out.key("wear_out").begin_object();
      const auto part = [&](const char* name, const std::optional<WeibullPrior::LogNormal>& of) {
        if (!of) return;
        out.key(name).begin_object().member("median", of->median).member("sigma", of->sigma);
        out.end_object();
      };
      part("shape", judgement.wear_out->shape);
      part("scale_hours", judgement.wear_out->scale);
      out.end_object();
    }
    out.member("source", judgement.source).end_object();
  }
  out.end_list();
  out.key("sources").begin_list();
  for (const Source& source : pack.sources) {
    out.begin_object().member("id", source.id).member("title", source.title);
    out.member("rows_used", source.rows_used).member("rows_rejected", source.rows_rejected);
    if (!source.rejected.empty()) {
      out.key("rejected").begin_object();
      for (const auto& of_reason : source.rejected) out.member(of_reason.first, of_reason.second);
      out.end_object();
    }
    write_dates(out, source.first, source.last);
    out.end_object();
  }
  out.end_list();
  out.key("settings").begin_object();
  out.member("pool_classes", pack.settings.pool_classes);
  out.member("wear_out", pack.settings.wear_out);
  out.member("fewest_failures", pack.settings.fewest_failures).end_object();
  out.key("statistics").begin_list();
  for (const auto& [key, type] : pack.statistics.types) {
    out.begin_object().member("type", key.type).member("asset_class", key.asset_class);
    out.member("orders", type.orders).member("in_service", type.in_service);
    out.member("installs", type.installs).member("renewals", type.renewals);
    out.member("centihours", static_cast<std::uint64_t>(type.centihours));
    write_dates(out, type.first, type.last);
    write_hours(out, "running", type.running);
    out.key("modes").begin_list();
    for (const auto& [name, mode] : type.modes) {
      out.begin_object().member("mode", name).member("sound", mode.sound);
      out.member("worn", mode.worn).member("failed", mode.failed);
      out.member("ungraded", mode.ungraded);
      write_hours(out, "failed_at", mode.failed_at);
      write_hours(out, "sound_at", mode.sound_at);
      write_hours(out, "worn_before", mode.worn_before);
      if (!mode.between.empty()) {
        out.key("between").begin_list();
        for (const auto& [hours, n] : mode.between) {
          out.begin_list().value(hours.first).value(hours.second).value(n).end_list();
        }
        out.end_list();
      }
      out.end_object();
    }
    out.end_list();
    if (!type.ambiguous.empty()) {
      out.key("ambiguous").begin_list();
      for (const auto& [candidates, counts] : type.ambiguous) {
        out.begin_object().list("modes", candidates.modes);
        out.member("worn", counts.worn).member("failed", counts.failed);
        out.member("ungraded", counts.ungraded).end_object();
      }
      out.end_list();
    }
    out.end_object();
  }
  out.end_list();
  if (!pack.leak_rates.empty()) write_leak_rates(out, pack.leak_rates);
  if (!pack.learned_sizes.empty()) write_learned_sizes(out, pack.learned_sizes);
  out.end_object().end_object();
  return out.take();
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
