// The machine after a repair: what tests will show once some components have been replaced by sound
// ones, while everything known from before still counts for the others. A small network of its own,
// compiled once per pattern of evidence and repair; which repair, and which test proves it, is
// decided elsewhere (advice.h).
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "core/diagnosis/cure_sums.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "core/network/junction_tree.h"

namespace faultodds::diagnosis {

class AfterRepair {
 public:
  // `repaired`: components. `complaint`: observations that are to show nothing then. `tests`:
  // observations to predict. `observed`: those with evidence.
  AfterRepair(const Model& model, std::vector<std::uint32_t> repaired,
              std::vector<std::uint32_t> complaint, std::vector<std::uint32_t> tests,
              std::vector<std::uint32_t> observed);

  // Made on first use and kept with the model.
  static std::shared_ptr<const AfterRepair> of(const Model& model, const CaseNumbers& numbers,
                                               const std::vector<std::uint32_t>& repaired,
                                               const std::vector<std::uint32_t>& complaint,
                                               const std::vector<std::uint32_t>& tests);

  std::size_t bytes() const;

  using Prediction = CureSums::After;
  // One per test. The new parts are taken to be sound.
  std::vector<Prediction> predict(const Model& model, const CaseNumbers& numbers) const;

 private:
  std::vector<std::uint32_t> observed_, complaint_, tests_;
  std::unique_ptr<network::JunctionTree> tree_;
  std::vector<network::Var> evidence_nodes_, test_nodes_,
      left_nodes_;  // the last of sets of the complaint
  std::vector<PriorNode> modes_;
};

}  // namespace faultodds::diagnosis
