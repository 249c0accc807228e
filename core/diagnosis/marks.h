// Where the cause of an observation is summed: the grades it may be seen at, each at the nodes of a
// quadrature that shares ties, with the weights of what is summed there. Used by cause_products and
// cause_tree, which differ in how they sum.
#pragma once

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
  Real set = 0;                     // weight of P(set j at the grade, ...) / x, of each set
  Real elsewhere = 0, nothing = 0;  // of P(...)
  Real elsewhere_by_set = 0;        // of the sum of P(set j at the grade, ...) / x
};

// Nodes that integrate ties exactly: a polynomial of as many degrees as there are sets, for the
// background is one more that may tie.
inline std::size_t quadrature_nodes(std::size_t sets) { return (sets + 2) / 2; }

// Likelihoods of the focus are taken from `numbers`; without, every grade counts 1. A caller's own
// likelihood over S counts S as what it is where the background alone is the largest.
template <typename Real>
std::vector<Mark<Real>> marks_of(const circuit::Observation& focus, std::uint32_t index,
                                 const CaseNumbers* numbers,
                                 const std::vector<QuadratureNode<Real>>& nodes) {
  Grades over_g{1, 1, 1}, over_s{1, 1, 1};
  if (numbers != nullptr) {
    for (const ObservedGrade& seen : numbers->observed) {
      if (seen.observation != index) continue;
      over_g = seen.over_g;
      over_s = seen.over_s;
    }
  }
  const bool own = over_s != Grades{1, 1, 1};
  const auto& background = focus.background;
  std::vector<Mark<Real>> marks(1);
  marks.front().nothing = static_cast<Real>(background[0]) * over_g[0] * over_s[0];
  if (own) {
    for (std::size_t g = 1; g < 3; ++g) {
      marks.front().elsewhere += static_cast<Real>(background[g]) * over_g[g] * over_s[0];
    }
  }
  Real below = static_cast<Real>(background[0]);
  for (std::size_t g = 1; g < 3; ++g) {
    const Real at = static_cast<Real>(background[g]);
    const Real likelihood = static_cast<Real>(over_g[g]) * over_s[g];
    Real above = 0;  // the background alone reaches a larger grade
    for (std::size_t b = g + 1; b < 3; ++b) {
      above += static_cast<Real>(background[b]) * over_g[b] * over_s[g];
    }
    for (const auto& node : nodes) {
      Mark<Real> mark{g, node.x, node.weight * likelihood * (below + node.x * at), 0, 0, 0};
      if (own) {
        // n sets and the background tie: 1 / (n + 1) = n integral x^(n-1) (1 - x).
        mark.elsewhere_by_set = node.weight * (likelihood * at * (1 - node.x) + above);
      } else {
        mark.elsewhere = node.weight * likelihood * at;  // whatever S is below
      }
      marks.push_back(mark);
    }
    below += at;
  }
  return marks;
}

}  // namespace faultodds::diagnosis
