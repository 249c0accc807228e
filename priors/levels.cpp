#include "priors/levels.h"

#include <algorithm>
#include <cmath>

namespace faultodds::priors {

Level common_level(const std::vector<LevelCounts>& modes) {
  // A factor within e^5 either way, and modes off by one in log odds, as sure as five modes would
  // make it; before any record. Working judgement.
  constexpr double prior_variance = 25, spread_before = 1, spread_worth = 5;
  struct Off {
    double log_ratio, variance;
  };
  std::vector<Off> off;
  for (const LevelCounts& mode : modes) {
    if (!(mode.against > 0)) continue;
    // Half a fault more, so that modes with none count too.
    const double faults = mode.faults + 0.5;
    const double judged = mode.judged_faults / mode.judged_sound;
    off.push_back({std::log(faults / mode.against / judged), 1 / faults});
  }
  Level level{0, prior_variance, spread_before};
  for (int iteration = 0; iteration < 50; ++iteration) {  // expectation-maximisation
    const double spread = level.spread * level.spread;
    double weights = 1 / prior_variance, sum = 0;
    for (const Off& mode : off) {
      weights += 1 / (spread + mode.variance);
      sum += mode.log_ratio / (spread + mode.variance);
    }
    level.log_factor = sum / weights;
    level.variance = 1 / weights;
    double squares = spread_worth * spread_before * spread_before, count = spread_worth;
    for (const Off& mode : off) {
      const double part = spread / (spread + mode.variance);
      const double own = (mode.log_ratio - level.log_factor) * part;
      squares += own * own + part * mode.variance;
      count += 1;
    }
    level.spread = std::sqrt(squares / count);
  }
  return level;
}

Level of_others(const Level& level, double faults) {
  Level others = level;
  others.variance =
      1 / (1 / level.variance - 1 / (level.spread * level.spread + 1 / (faults + 0.5)));
  return others;
}

double left_by(const Level& level, double faults, double sound) {
  if (!(faults > 0) || !(sound > 0)) return 1;
  const double variance = 1 / faults + 1 / sound;
  return variance / (variance + level.variance);
}

}  // namespace faultodds::priors
