// P(what was observed) alone, by the method that is quickest for the circuit: its own tree,
// products over failure modes, or a tree of what bears on the pattern. For causes, posteriors and
// tests see inferred.h.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "core/diagnosis/cause.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {

// Of one pattern of evidence, which may not be empty: plans and trees are made once.
class LogEvidence {
 public:
  LogEvidence(const Model& model, const CaseNumbers& pattern);  // the model kept by reference

  // Natural logarithm, the likelihoods scaled as in the numbers. Throws Error(limit_exceeded) where
  // no exact method fits, Error(conflicting_evidence) where it is impossible.
  double operator()(const CaseNumbers& numbers);

 private:
  std::optional<CauseSums> by_products(const CaseNumbers& numbers) const;
  CauseSums by_tree(const CaseNumbers& numbers, std::size_t most_bytes);
  CauseSums by_question(const CaseNumbers& numbers);

  const Model& model_;
  std::vector<std::uint32_t> observed_;
  std::optional<Program::Lease> propagation_;
  std::optional<CauseProducts> products_;
  std::unique_ptr<CauseTrees> trees_;
  bool tree_refused_ = false;  // a small one: it is not tried again for each sum
};

}  // namespace faultodds::diagnosis
