// Propagation in logarithms, for evidence so improbable or so contradictory that products of
// doubles would underflow. Slower than LanePropagation; Propagation turns to it where that may have
// gone wrong, and nothing else does. It works in the arrays of a Propagation that has just
// collected its evidence.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "core/network/junction_tree.h"

namespace faultodds::network {

class LogarithmicPass {
 public:
  // `log_weight` has one number per state of every variable, in order: for variables with evidence
  // the natural log of the likelihood.
  LogarithmicPass(Propagation& in, std::span<const double> log_weight)
      : in_(&in), log_weight_(log_weight) {}

  // Natural log of the probability of the evidence.
  double collect();
  // After collect() gave a finite result.
  void distribute();

 private:
  void collect_listed(std::uint32_t c);
  std::vector<double> dense_up(std::uint32_t c) const;
  double* belief(std::uint32_t c);
  void weigh_dense(std::uint32_t c);
  DenseClique::Numbers dense_numbers(std::uint32_t c, std::vector<std::vector<double>>& kept) const;

  Propagation* in_;
  std::span<const double> log_weight_;
  std::vector<double> dense_belief_;  // per cell of the tree, those of dense cliques
};

}  // namespace faultodds::network
