// Packs against each other, and as the engine takes them. What they estimate is pack.cpp's.
#include <algorithm>
#include <cmath>
#include <set>

#include "core/error.h"
#include "priors/pack.h"

namespace faultodds::priors {
namespace {

[[noreturn]] void refuse_packs(const std::string& message) {
  throw Error(Code::invalid_priors, message);
}

}  // namespace

PriorPack merge(const PriorPack& first, const PriorPack& second) {
  for (const auto& [key, judgement] : first.judgements) {
    const auto other = second.judgements.find(key);
    if (other == second.judgements.end() || !(other->second == judgement)) {
      refuse_packs("packs " + first.id + " and " + second.id + " judge " + key_name(key) +
                   " differently; expected one judgement, as it would be counted twice");
    }
  }
  for (const auto& [key, unused] : second.judgements) {
    if (!first.judgements.contains(key)) {
      refuse_packs("pack " + first.id + " has no judgement of " + key_name(key) + " but pack " +
                   second.id + " has; expected the same judgements");
    }
  }
  if (!(first.settings == second.settings)) {
    refuse_packs("packs " + first.id + " and " + second.id +
                 " were estimated with different settings");
  }
  if (!first.outcomes.empty() || !second.outcomes.empty()) {
    refuse_packs(
        "packs " + first.id + " and " + second.id +
        " carry outcome statistics learned through a model; expected to learn those anew from "
        "the pooled records");
  }
  if (first.sizes != second.sizes) {
    refuse_packs("packs " + first.id + " and " + second.id +
                 " state different sizes of failure modes; expected the same ones");
  }
  PriorPack merged = first;
  for (const Source& source : second.sources) {
    if (std::any_of(first.sources.begin(), first.sources.end(),
                    [&](const Source& s) { return s.id == source.id; })) {
      refuse_packs("source " + source.id + " is in both packs; expected each record to count once");
    }
    merged.sources.push_back(source);
  }
  std::sort(merged.sources.begin(), merged.sources.end(),
            [](const Source& a, const Source& b) { return a.id < b.id; });
  merged.date = std::max(first.date, second.date);
  merged.statistics.add(second.statistics);
  add(merged.leak_rates, second.leak_rates);
  add(merged.learned_sizes, second.learned_sizes);
  estimate(merged);
  return merged;
}

std::vector<Change> difference(const PriorPack& before, const PriorPack& after) {
  std::set<PackKey> keys;
  for (const auto& [key, unused] : before.estimates) keys.insert(key);
  for (const auto& [key, unused] : after.estimates) keys.insert(key);
  std::vector<Change> changes;
  for (const PackKey& key : keys) {
    const auto old_entry = before.estimates.find(key);
    const auto new_entry = after.estimates.find(key);
    Change change;
    change.key = key;
    if (old_entry != before.estimates.end()) {
      const Estimate& e = old_entry->second;
      change.before = e.not_sound;
      change.before_interval = e.not_sound_interval;
      change.jobs_before = e.jobs();
      if (e.wear_out) change.wear_out_before = e.wear_out->weibull;
    }
    if (new_entry != after.estimates.end()) {
      const Estimate& e = new_entry->second;
      change.after = e.not_sound;
      change.after_interval = e.not_sound_interval;
      change.jobs_after = e.jobs();
      if (e.wear_out) change.wear_out_after = e.wear_out->weibull;
    }
    if (change.before && change.after) {
      const Estimate& was = old_entry->second;
      const Estimate& is = new_entry->second;
      if (was.mean == is.mean && was.not_sound_interval == is.not_sound_interval &&
          was.wear_out == is.wear_out) {
        continue;
      }
      const auto odds = [](double p) { return p / (1 - p); };
      change.decibans = 10 * std::log10(odds(*change.after) / odds(*change.before));
      // P(the value now is above the value believed before).
      const double above = is.posterior.marginal(0).cdf(1 - *change.before);
      change.sure = *change.after >= *change.before ? above : 1 - above;
    }
    changes.push_back(std::move(change));
  }
  // Entries only one pack has come first: nothing can be compared.
  std::stable_sort(changes.begin(), changes.end(), [](const Change& a, const Change& b) {
    const bool a_alone = !a.before || !a.after, b_alone = !b.before || !b.after;
    if (a_alone != b_alone) return a_alone;
    return std::abs(a.decibans) > std::abs(b.decibans);
  });
  return changes;
}

diagnosis::Pack diagnosis_pack(const PriorPack& pack) {
  diagnosis::Pack result;
  result.id = pack.id;
  result.title = pack.title;
  result.outcomes = pack.outcomes;
  put_bands(pack.leak_rates, result.outcomes);
  result.sizes = pack.sizes;
  put_sizes(pack.learned_sizes, result.sizes);
  for (const auto& [key, estimate] : pack.estimates) {
    diagnosis::PackPrior prior;
    prior.type = key.type;
    prior.mode = key.mode;
    prior.asset_class = key.asset_class;
    prior.grades = circuit::GradeDistribution{estimate.mean[0], estimate.mean[1], estimate.mean[2]};
    if (estimate.wear_out) {
      prior.wear_out =
          diagnosis::WearOut{estimate.wear_out->weibull.shape, estimate.wear_out->weibull.scale,
                             estimate.wear_out->failed_share};
    }
    result.priors.push_back(std::move(prior));
  }
  return result;
}

}  // namespace faultodds::priors
