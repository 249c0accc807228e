// Propagation in logarithms, for evidence so improbable or so contradictory that products of
// doubles would underflow. Slower than LanePropagation; Propagation turns to it where that may have
// gone wrong, and nothing else does. It works in the arrays of a Propagation that has just
// collected its evidence.
#pragma once

#include <span>

#include "core/network/junction_tree.h"

namespace faultodds::network {

class LogarithmicPass {
 public:
  explicit LogarithmicPass(Propagation& in) : in_(&in) {}

  // Natural log of the probability of the evidence. `log_weight` has one number per state of every
  // variable, in order: for variables with evidence the natural log of the likelihood.
  double collect(std::span<const double> log_weight);
  // After collect() gave a finite result.
  void distribute();

 private:
  Propagation* in_;
};

}  // namespace faultodds::network
