// A prior pack: what is believed of every failure mode of every component type, from which
// judgement and which records, with the statistics themselves, so that packs can be compared and
// merged. All estimates are a function of judgement, statistics and settings: merging two packs
// adds their statistics and estimates anew, which is the same, bit for bit, as learning from the
// pooled records. It reads and writes no document (capi/documents does).
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "core/circuit/description.h"
#include "core/diagnosis/model.h"
#include "priors/distributions.h"
#include "priors/estimators.h"
#include "priors/leak_rates.h"
#include "priors/records.h"
#include "priors/sizes.h"
#include "priors/statistics.h"
#include "priors/wear_out.h"

namespace faultodds::priors {

struct PackKey {
  std::string type, mode;
  std::string asset_class;  // empty: every class
  bool operator==(const PackKey&) const = default;
  bool operator<(const PackKey& other) const {
    return std::tie(type, mode, asset_class) < std::tie(other.type, other.mode, other.asset_class);
  }
};

std::string key_name(const PackKey& key);  // as messages call it

// What is believed before any record, and on whose word.
struct Judgement {
  Dirichlet grades;                      // of sound, worn, failed; its weight is its worth in jobs
  std::optional<WeibullPrior> wear_out;  // in place of the default
  std::string source;
  bool operator==(const Judgement&) const = default;
};

// Where records came from. The same id twice is the same records twice.
struct Source {
  std::string id, title;
  std::uint64_t rows_used = 0, rows_rejected = 0;
  std::optional<Date> first, last;                     // closed orders
  std::map<std::string, std::uint64_t> rejected = {};  // rows by reason
  bool operator==(const Source&) const = default;
};

struct PackSettings {
  bool pool_classes = true;    // empirical Bayes across asset classes
  bool wear_out = true;        // fit Weibull lives where there are enough
  double fewest_failures = 5;  // of one mode, for a wear-out model
  bool operator==(const PackSettings&) const = default;
};

struct WearOutEstimate {
  Weibull weibull;  // mode of the posterior
  Interval shape_interval, scale_interval;
  double failed_share = 0.5;  // of not sound
  double failures = 0, lives = 0;
  // How often likelier a Weibull of any shape makes the lives than a constant rate does (Savage and
  // Dickey's ratio); none where shape was not in question. A constant rate, shape 1, is taken
  // unless the Weibull is likelier.
  std::optional<double> weibull_odds = {};
  bool operator==(const WearOutEstimate& other) const {
    return weibull.shape == other.weibull.shape && weibull.scale == other.weibull.scale &&
           shape_interval == other.shape_interval && scale_interval == other.scale_interval &&
           failed_share == other.failed_share && failures == other.failures && lives == other.lives;
  }
};

struct Estimate {
  Dirichlet prior, posterior;      // of sound, worn, failed
  std::array<double, 3> counts{};  // of records: expected where the cause is ambiguous
  double information = 1;          // share of the counts that is not lost to ambiguity
  std::array<double, 3> mean{};
  std::array<Interval, 3> interval;
  double not_sound = 0;
  Interval not_sound_interval;
  double shrinkage = 1;  // 1: takes the common value or the judgement, 0: its records
  std::string method;    // one clause, for people
  std::string source;
  std::optional<Date> first, last;
  std::optional<double> hours;  // exposure
  std::optional<Gamma> rate;    // per hour of one component, Jeffreys prior
  std::optional<WearOutEstimate> wear_out;

  double jobs() const { return counts[0] + counts[1] + counts[2]; }
  bool operator==(const Estimate&) const = default;
};

struct PriorPack {
  std::string id, title;
  Date date;
  std::map<PackKey, Judgement> judgements;
  std::vector<Source> sources;  // by id
  Statistics statistics;
  PackSettings settings;
  std::vector<diagnosis::PackOutcomes> outcomes;
  LeakRates leak_rates;                    // their bands override those of `outcomes`
  std::vector<diagnosis::PackSize> sizes;  // stated, not learned
  Sizes learned_sizes;                     // override those of `sizes`
  std::map<PackKey, Estimate> estimates;   // derived: see estimate()
};

// Judgement as the catalogue has it, every mode worth so many jobs. A grade the catalogue gives no
// probability gets a thousandth of a job.
std::map<PackKey, Judgement> judgements_of(const std::vector<circuit::ComponentType>& catalogue,
                                           double worth_jobs, const std::string& source);

// Fills `pack.estimates` from everything else. Modes with records and no judgement get Jeffreys'
// prior. Throws Error(invalid_priors) naming the entry at fault.
void estimate(PriorPack& pack);

// Both packs' records in one. Throws Error(invalid_priors) where judgements, settings or the
// leak-rate bands held before differ, outcome statistics were learned, or a source is in both. The
// id and title of the first are kept, and the later date.
PriorPack merge(const PriorPack& first, const PriorPack& second);

// "What changed, on how many jobs, how sure".
struct Change {
  PackKey key;
  std::optional<double> before, after;  // P(not sound); none where a pack has no such entry
  Interval before_interval, after_interval;
  double jobs_before = 0, jobs_after = 0;
  double decibans = 0;  // change of the odds of not sound
  double sure = 0;      // probability, by the pack after, that it did move in that direction
  std::optional<Weibull> wear_out_before, wear_out_after;
};

// Every entry that differs, the largest change of odds first.
std::vector<Change> difference(const PriorPack& before, const PriorPack& after);

// As the engine takes it.
diagnosis::Pack diagnosis_pack(const PriorPack& pack);

}  // namespace faultodds::priors
