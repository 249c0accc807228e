#include "priors/levels.h"

#include <algorithm>
#include <cmath>

namespace faultodds::priors {

Level common_level(const std::vector<LevelCounts>& modes) {
  // A factor within e^5 either way, before any record; working judgement.
  constexpr double prior_variance = 25;
  double weights = 1 / prior_variance, sum = 0;
  for (const LevelCounts& mode : modes) {
    if (!(mode.against > 0)) continue;
    // Half a fault more, so that modes with none count too.
    const double faults = mode.faults + 0.5;
    const double judged = mode.judged_faults / mode.judged_sound;
    const double off = std::log(faults / mode.against / judged);
    // The variance of log odds at the mode of their distribution, as learning has it.
    const double of_judgement =
        (mode.judged_faults + mode.judged_sound) / (mode.judged_faults * mode.judged_sound);
    const double weight = 1 / (of_judgement + 1 / faults);
    weights += weight;
    sum += weight * off;
  }
  return {sum / weights, 1 / weights};
}

double left_by(const Level& level, double faults, double sound) {
  if (!(faults > 0) || !(sound > 0)) return 1;
  const double variance = 1 / faults + 1 / sound;
  return variance / (variance + level.variance);
}

}  // namespace faultodds::priors
