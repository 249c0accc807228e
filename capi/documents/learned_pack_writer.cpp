// Writes a prior pack with all it rests on. It is read in learned_pack.cpp.
#include <algorithm>
#include <cmath>

#include "capi/documents/json_text.h"
#include "capi/documents/learned_pack.h"
#include "capi/documents/size_reader.h"
#include "core/circuit/kinds.h"
#include "core/number_text.h"

namespace faultodds::documents {
namespace {

using namespace faultodds::priors;

// The shortest digits that read back to the same number.
std::string with_unit(double number, const char* unit) {
  char digits[40];
  const auto end = write_number(digits, digits + sizeof digits, number).ptr;
  return std::string(digits, end) + " " + unit;
}

std::string hours_text(double hours) { return with_unit(hours, "h"); }

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

void write_hours(JsonText& out, std::string_view key, const HourCounts& counts) {
  if (counts.total() == 0) return;
  out.key(key).begin_list();
  for (const auto& [hours, count] : counts.items()) {
    out.begin_list().value(hours).value(count).end_list();
  }
  out.end_list();
}

void write_pairs(JsonText& out, std::string_view key, const ModeStatistics::Pairs& pairs) {
  if (pairs.empty()) return;
  out.key(key).begin_list();
  for (const auto& [hours, n] : pairs) {
    out.begin_list().value(hours.first).value(hours.second).value(n).end_list();
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
    out.member("orders", type.orders);
    if (type.complained > 0) out.member("complained", type.complained);
    out.member("in_service", type.in_service);
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
      write_pairs(out, "between", mode.between);
      write_pairs(out, "late_failed", mode.late_failed);
      write_pairs(out, "late_sound", mode.late_sound);
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

}  // namespace faultodds::documents
