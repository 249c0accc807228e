#include "priors/leak_rates.h"

#include <algorithm>
#include <cmath>

#include "core/error.h"

namespace faultodds::priors {
namespace {

constexpr double millionths = 1e6;

std::int64_t fixed_point(double value) { return std::llround(value * millionths); }

// Upper quantile of Student's t: t^2 / (degrees + t^2) is Beta(1/2, degrees/2).
double student_t(double degrees, double probability) {
  const double below = Beta{0.5 * degrees, 0.5}.quantile(2 * (1 - probability));
  return std::sqrt(degrees * (1 - below) / below);
}

}  // namespace

void LeakRateSums::add(double log_rate, double weight) {
  count += fixed_point(weight);
  sum += fixed_point(weight * log_rate);
  squares += fixed_point(weight * log_rate * log_rate);
}

void LeakRateSums::add(const LeakRateSums& other) {
  count += other.count;
  sum += other.sum;
  squares += other.squares;
}

double LeakRateSums::readings() const { return static_cast<double>(count) / millionths; }

void LeakRateStatistics::add(const LeakRateStatistics& other) {
  if (median != other.median || sigma != other.sigma || worth != other.worth) {
    throw Error(Code::invalid_priors,
                "leak-rate bands before any record differ; expected the same ones, as they would "
                "be counted twice");
  }
  for (std::size_t g = 0; g < 3; ++g) grades[g].add(other.grades[g]);
}

void add(LeakRates& to, const LeakRates& from) {
  for (const auto& [key, statistics] : from) {
    const auto [at, added] = to.emplace(key, statistics);
    if (!added) at->second.add(statistics);
  }
}

double LogNormalPosterior::median() const { return std::exp(mean); }
double LogNormalPosterior::sigma() const { return scale; }

Interval LogNormalPosterior::median_interval() const {
  const double reach = student_t(degrees, 0.5 + 0.5 * credible_level) * scale / std::sqrt(worth);
  return {std::exp(mean - reach), std::exp(mean + reach)};
}

Interval LogNormalPosterior::sigma_interval() const {
  // 1/sigma^2 is Gamma with these parameters.
  const Interval precision =
      Gamma{0.5 * degrees, 0.5 * degrees * scale * scale}.interval(credible_level);
  return {1 / std::sqrt(precision.upper), 1 / std::sqrt(precision.lower)};
}

LogNormalPosterior posterior_of(double median, double sigma, double worth,
                                const LeakRateSums& sums) {
  const double before = std::log(median);
  LogNormalPosterior after{before, worth, worth, sigma};
  if (sums.count <= 0) return after;
  const double n = sums.readings();
  const double mean = static_cast<double>(sums.sum) / millionths / n;
  const double spread =
      std::max(0.0, static_cast<double>(sums.squares) / millionths - n * mean * mean);
  const double off = mean - before;
  after.worth = worth + n;
  after.degrees = worth + n;
  after.mean = (worth * before + n * mean) / after.worth;
  after.scale = std::sqrt((worth * sigma * sigma + spread + worth * n / after.worth * off * off) /
                          after.degrees);
  return after;
}

LeakRateBands bands_of(const LeakRateStatistics& statistics) {
  LeakRateBands bands;
  for (std::size_t g = 0; g < 3; ++g) {
    bands.posterior[g] = posterior_of(statistics.median[g], statistics.sigma[g], statistics.worth,
                                      statistics.grades[g]);
    bands.readings[g] = statistics.grades[g].readings();
    const bool none = statistics.grades[g].count <= 0;  // then as it was, to the last digit
    bands.median[g] = none ? statistics.median[g] : bands.posterior[g].median();
    bands.sigma[g] = none ? statistics.sigma[g] : bands.posterior[g].sigma();
  }
  bands.in_order = bands.median[0] < bands.median[1] && bands.median[1] < bands.median[2];
  if (!bands.in_order) {
    bands.median = statistics.median;
    bands.sigma = statistics.sigma;
  }
  return bands;
}

void put_bands(const LeakRates& rates, std::vector<diagnosis::PackOutcomes>& outcomes) {
  for (const auto& [key, statistics] : rates) {
    const auto same = [&, &of = key](const diagnosis::PackOutcomes& entry) {
      return entry.kind == of.kind && entry.observation == of.observation;
    };
    auto entry = std::find_if(outcomes.begin(), outcomes.end(), same);
    if (entry == outcomes.end()) {
      entry = outcomes.insert(outcomes.end(), {key.observation, key.kind, {}});
    }
    const LeakRateBands bands = bands_of(statistics);
    entry->model.leak_median = bands.median;
    entry->model.leak_sigma = bands.sigma;
  }
}

}  // namespace faultodds::priors
