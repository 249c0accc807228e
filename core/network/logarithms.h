// Propagation in logarithms, for evidence so improbable or so contradictory that products of
// doubles would underflow. Slower than LanePropagation, and for use only where that may have gone
// wrong. It works in the arrays of a Propagation that has just collected its evidence.
#pragma once

#include <span>
#include <vector>

#include "core/network/junction_tree.h"

namespace faultodds::network {

class LogarithmicPass {
 public:
  explicit LogarithmicPass(Propagation& in) : in_(&in) {}

  // The binary exponent of the smallest entry of each clique, for the next function.
  static std::vector<int> least_exponents(const JunctionTree& tree);
  // False if every product that the collection formed stayed in the range of a double: then what is
  // 0 is impossible.
  bool may_have_underflowed(const std::vector<int>& least_exponents) const;

  // Natural log of the probability of the evidence. `log_weight` has one number per state of every
  // variable, in order: for variables with evidence the natural log of the likelihood.
  double collect(std::span<const double> log_weight);
  // After collect() gave a finite result; Propagation::posterior is then valid.
  void distribute();

 private:
  Propagation* in_;
};

}  // namespace faultodds::network
