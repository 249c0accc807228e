#include "priors/misbooking.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace faultodds::priors {
namespace {

constexpr std::size_t kShares = 40, kPlaces = 161;
constexpr double kStep = 0.01;                       // of the share booked wrong
constexpr double wrong_alpha = 2, wrong_beta = 18;  // its prior; working judgement

struct Moments {
  double evidence = 0, mean = 0, square = 0;  // of the log odds
};

// Of faults ~ Poisson(odds * against * (1 - wrong) + wrong_ones), ln odds ~ Normal(judged,
// variance).
Moments moments(const LevelCounts& mode, double against, double variance, double wrong,
                double wrong_ones) {
  const double judged = std::log(mode.judged_faults / mode.judged_sound);
  const double seen = std::log((mode.faults + 0.5) / against);
  const double own = 5 / std::sqrt(mode.faults + 1), far = 5 * std::sqrt(variance);
  // Fine where the count is, coarse where judgement alone speaks.
  const double low = judged - far, high = std::max(judged + far, seen + own);
  std::array<double, kPlaces> at{}, log_weight{};
  double largest = -1e300;
  for (std::size_t i = 0; i < kPlaces; ++i) {
    const double here = static_cast<double>(i) / (kPlaces - 1);
    at[i] = low + (high - low) * here;
    const double expected = std::exp(at[i]) * against * (1 - wrong) + wrong_ones;
    const double off = at[i] - judged;
    log_weight[i] = mode.faults * std::log(expected) - expected - 0.5 * off * off / variance;
    largest = std::max(largest, log_weight[i]);
  }
  Moments sums;
  for (std::size_t i = 0; i < kPlaces; ++i) {
    const double weight = std::exp(log_weight[i] - largest);
    sums.evidence += weight;
    sums.mean += weight * at[i];
    sums.square += weight * at[i] * at[i];
  }
  sums.mean /= sums.evidence;
  sums.square /= sums.evidence;
  sums.evidence =
      largest + std::log(sums.evidence * (high - low) / (kPlaces - 1) / std::sqrt(variance));
  return sums;
}

}  // namespace

Misbooking misbooked(const std::vector<LevelCounts>& modes, const Level& level) {
  Misbooking result;
  result.modes.resize(modes.size());
  double total = 0;
  for (const LevelCounts& mode : modes) total += mode.faults;
  if (!(total > 0)) return result;
  const double factor = std::exp(level.log_factor);
  std::vector<std::vector<Moments>> of_mode(modes.size());
  std::vector<double> weight(kShares);
  for (std::size_t k = 0; k < kShares; ++k) {
    const double wrong = kStep * (static_cast<double>(k) + 0.5);
    weight[k] = (wrong_alpha - 1) * std::log(wrong) + (wrong_beta - 1) * std::log(1 - wrong);
    for (std::size_t m = 0; m < modes.size(); ++m) {
      if (!(modes[m].against > 0)) continue;
      of_mode[m].push_back(moments(modes[m], modes[m].against * factor, level.spread * level.spread,
                                   wrong, wrong * total / static_cast<double>(modes.size())));
      weight[k] += of_mode[m].back().evidence;
    }
  }
  const double largest = *std::max_element(weight.begin(), weight.end());
  double sum = 0;
  for (double& w : weight) sum += w = std::exp(w - largest);
  for (std::size_t k = 0; k < kShares; ++k) {
    weight[k] /= sum;
    result.share += weight[k] * kStep * (static_cast<double>(k) + 0.5);
  }
  for (std::size_t m = 0; m < modes.size(); ++m) {
    if (of_mode[m].empty()) continue;
    double mean = 0, square = 0;
    for (std::size_t k = 0; k < kShares; ++k) {
      mean += weight[k] * of_mode[m][k].mean;
      square += weight[k] * of_mode[m][k].square;
    }
    // The beta distribution of that mean and variance, less judgement, as counts.
    const double odds = std::exp(mean), variance = std::max(square - mean * mean, 1e-9);
    const double bad = (1 + odds) / variance - modes[m].judged_faults;
    const double sound = (1 + odds) / (variance * odds) - modes[m].judged_sound;
    CountLeft& left = result.modes[m];
    left.information = std::clamp(sound / (modes[m].against * factor), 1e-6, 1.0);
    if (modes[m].faults > 0) {
      left.right = std::clamp(bad / (left.information * modes[m].faults), 0.0, 1.0);
    }
  }
  return result;
}

}  // namespace faultodds::priors
