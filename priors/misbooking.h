// Faults of one mode that were booked as another's, where records are counted and nobody says who
// looked: how large a share, and what is left of each mode's count. Told by how far the counts are
// from judgement of all modes, and by the rarest, which bound it. Orders with a complaint and tests
// are doubted one by one instead (learning.h).
#pragma once

#include <vector>

#include "priors/levels.h"

namespace faultodds::priors {

// Of one mode.
struct CountLeft {
  double right = 1;        // share of its faults that is its own
  double information = 1;  // share of what such counts would tell if all were right
};

struct Misbooking {
  double share = 0;  // of all faults, booked as any mode's alike
  std::vector<CountLeft> modes;
};

// At a level that is known; how well it is left_by's matter.
Misbooking misbooked(const std::vector<LevelCounts>& modes, const Level& level);

}  // namespace faultodds::priors
