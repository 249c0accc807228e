// At what level a fleet's failure modes are, where records tell how they compare and not how often
// a part is without fault: parts that were opened because of a complaint are not as parts are, and
// faults by hours of running are a rate. One factor takes all odds of a pack from the one to the
// other; judgement of all modes together says which. What is estimated of each mode is pack.h's.
#pragma once

#include <vector>

namespace faultodds::priors {

// Of one mode: faults found, what they are counted against (parts found sound, or hours), and
// judgement's odds with its worth, as parameters of a beta distribution.
struct LevelCounts {
  double faults = 0, against = 0;
  double judged_faults = 0, judged_sound = 0;
};

// odds of a fault = faults / against / exp(log_factor)
struct Level {
  double log_factor = 0, variance = 0;
  double spread = 0;  // of the modes' log odds around judgement, once at its level
};

// Of the modes together. How far off judgement of a mode mostly is, its modes tell; none with
// records: factor 1, of great variance.
Level common_level(const std::vector<LevelCounts>& modes);

// As sure as it is without one of its modes, whose judgement would count twice where there are few.
Level of_others(const Level& level, double faults);

// Share of the information of such counts that is left when the level is only known so well.
double left_by(const Level& level, double faults, double sound);

}  // namespace faultodds::priors
