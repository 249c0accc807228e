// The same joint distribution as cause_products.h, by junction trees over what the evidence, the
// focus and the tests need: for cases with many observations. Nothing is subtracted, so evidence
// may be as improbable as it likes.
//
// At each node x of the quadrature every set of the focus is told the likelihood (1 below the
// grade, x at it, 0 above), and for the share of one set, that it is at that grade. The posteriors
// of all tests then come of one propagation.
#pragma once

#include <cstdint>
#include <exception>
#include <memory>
#include <vector>

#include "core/diagnosis/cause_products.h"
#include "core/network/junction_tree.h"

namespace faultodds::diagnosis {

class CauseTrees {
 public:
  // Where one tree for all tests is too large, several for parts of them, or none where not
  // `in_parts`. Throws Error(limit_exceeded) when one for a single test is too large, or when all
  // together would be propagated for more than about two minutes.
  CauseTrees(const Model& model, std::vector<std::uint32_t> observed, std::uint32_t focus,
             const std::vector<std::uint32_t>& tests, std::size_t memory_budget,
             bool in_parts = true);

  CauseSums sum(const Model& model, const CaseNumbers& numbers) const;
  std::size_t bytes() const;

  // How often sum() propagates each tree for a focus of so many sets, about.
  static double propagations(std::size_t sets) {
    return static_cast<double>(sets) * static_cast<double>(sets) + 1;
  }

 private:
  struct Tree {
    std::vector<std::uint32_t> tests;
    std::unique_ptr<network::JunctionTree> tree;
    std::vector<network::Var> evidence, sets, test_nodes;  // evidence: the focus's left out
    std::vector<PriorNode> modes;
  };
  // Whether a tree for these tests fits.
  bool add(const Model& model, const std::vector<std::uint32_t>& tests);
  void add_halves(const Model& model, const std::vector<std::uint32_t>& tests);

  std::vector<std::uint32_t> observed_;
  std::uint32_t focus_;
  std::size_t memory_budget_, bytes_ = 0;
  CauseValues values_;
  std::vector<Tree> trees_;
  std::exception_ptr refused_;  // why the last did not fit
};

}  // namespace faultodds::diagnosis
