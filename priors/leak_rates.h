// Leak-rate bands from confirmed outcomes: what a grade's leak rates are like, as a log-normal of
// median and sigma. It keeps sums, and knows the conjugate estimate made of them; which reading
// counts for which grade is learning.h's business, documents are capi/documents'.
//
// ln rate of a grade ~ Normal(mu, sigma^2), (mu, sigma^2) ~ normal-inverse-gamma around the bands
// held before any record, worth so many readings both for the median and for sigma (Gelman et al.,
// Bayesian Data Analysis, 3rd ed., section 3.3; from memory).
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <vector>

#include "core/circuit/description.h"
#include "core/diagnosis/model.h"
#include "priors/distributions.h"

namespace faultodds::priors {

// Readings of one kind of derived observation, or of one hand-written observation by its id.
struct LeakRateKey {
  std::optional<circuit::ObservationKind> kind;
  std::string observation;  // empty where `kind` is given
  bool operator==(const LeakRateKey&) const = default;
  bool operator<(const LeakRateKey& other) const {
    return std::tie(kind, observation) < std::tie(other.kind, other.observation);
  }
};

// Count, sum and sum of squares of ln(mL/min), in millionths: whole numbers add up exactly in any
// order, so that merging is pooling. A reading that may be of two grades counts in part for each.
struct LeakRateSums {
  std::int64_t count = 0, sum = 0, squares = 0;

  void add(double log_rate, double weight);
  void add(const LeakRateSums& other);
  double readings() const;
  bool operator==(const LeakRateSums&) const = default;
};

// Of one key: the bands before any record, their worth in readings, and what the records add.
struct LeakRateStatistics {
  std::array<double, 3> median{}, sigma{};  // mL/min; of ln
  double worth = 5;
  std::array<LeakRateSums, 3> grades;

  // Throws Error(invalid_priors) where the bands before any record, or their worth, differ.
  void add(const LeakRateStatistics& other);
  bool operator==(const LeakRateStatistics&) const = default;
};

using LeakRates = std::map<LeakRateKey, LeakRateStatistics>;

void add(LeakRates& to, const LeakRates& from);

// Normal-inverse-gamma: mu given sigma^2 is Normal(mean, sigma^2 / worth), and
// degrees * scale^2 / sigma^2 is chi-square with so many degrees.
struct LogNormalPosterior {
  double mean = 0, worth = 1, degrees = 1, scale = 1;

  double median() const;             // exp(mean)
  double sigma() const;              // `scale`: 1/sqrt of the mean of 1/sigma^2
  Interval median_interval() const;  // of credible_level: Student t
  Interval sigma_interval() const;   // of credible_level: chi-square
};

LogNormalPosterior posterior_of(double median, double sigma, double worth,
                                const LeakRateSums& sums);

// The bands as the engine takes them. Medians rise with the grade; where those learned do not, the
// records contradict the grades, and the bands held before them stay.
struct LeakRateBands {
  std::array<double, 3> median{}, sigma{};
  std::array<LogNormalPosterior, 3> posterior;
  std::array<double, 3> readings{};
  bool in_order = true;
};

LeakRateBands bands_of(const LeakRateStatistics& statistics);

// Sets the leak rates of the entries that have the keys of `rates`; adds entries where there are
// none.
void put_bands(const LeakRates& rates, std::vector<diagnosis::PackOutcomes>& outcomes);

}  // namespace faultodds::priors
