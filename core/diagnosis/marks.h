// Where the cause of an observation is summed: the grades it may be seen at, each at the nodes of a
// quadrature that shares ties, with the weights of what is summed there. Used by cause_products and
// cause_tree, which differ in how they sum.
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/gauss_legendre.h"

namespace faultodds::diagnosis {

// At a mark a set's factor is 1 below the grade, x at it and 0 above.
template <typename Real>
struct Mark {
  std::size_t grade = 0;
  Real x = 1;
  // Weights of P(set j at the grade, ...) / x, and of P(...) for the other two values.
  Real set = 0, elsewhere = 0, nothing = 0;
};

// Nodes that integrate ties exactly: a polynomial of as many degrees as there are sets, for the
// background is one more that may tie.
inline std::size_t quadrature_nodes(std::size_t sets) { return (sets + 2) / 2; }

// Likelihoods of the focus are taken from `numbers`; without, every grade counts 1.
template <typename Real>
std::vector<Mark<Real>> marks_of(const circuit::Observation& focus, std::uint32_t index,
                                 const CaseNumbers* numbers) {
  Grades over_g{1, 1, 1}, over_s{1, 1, 1};
  if (numbers != nullptr) {
    for (const ObservedGrade& seen : numbers->observed) {
      if (seen.observation != index) continue;
      over_g = seen.over_g;
      over_s = seen.over_s;
    }
  }
  std::vector<Mark<Real>> marks(1);
  marks.front().nothing = static_cast<Real>(focus.background[0]) * over_g[0] * over_s[0];
  const auto nodes = gauss_legendre<Real>(quadrature_nodes(focus.sets.size()));
  Real below = static_cast<Real>(focus.background[0]);
  for (std::size_t g = 1; g < 3; ++g) {
    const Real at = static_cast<Real>(focus.background[g]);
    const Real likelihood = static_cast<Real>(over_g[g]) * over_s[g];
    for (const auto& node : nodes) {
      marks.push_back({g, node.x, node.weight * likelihood * (below + node.x * at),
                       node.weight * likelihood * at, 0});
    }
    below += at;
  }
  if (over_s == Grades{1, 1, 1}) return marks;
  // The caller's own likelihood over S: where the background alone reaches the grade, S is below
  // it and counts as what it is. P(S <= s) is summed at x = 1.
  std::array<Real, 2> at_most{};
  for (std::size_t g = 1; g < 3; ++g) {
    const Real weight = static_cast<Real>(focus.background[g]) * over_g[g];
    at_most[g - 1] -= weight * over_s[g];
    for (std::size_t s = 0; s < g; ++s) {
      at_most[s] += weight * over_s[s];
      if (s > 0) at_most[s - 1] -= weight * over_s[s];
    }
  }
  marks.front().elsewhere = at_most[0];
  marks.push_back({1, 1, 0, at_most[1], 0});
  return marks;
}

}  // namespace faultodds::diagnosis
