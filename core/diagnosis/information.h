// How many bits the outcome O of a test would tell about the faults, and about the causes of the
// complaint. Exact unless it says otherwise. It does not rank: assessment.h does.
//
//   information  I(F; O | e), F all failure modes
//   complaint    I(X; O | e), X the grades of all minimal sets of the abnormal symptoms
//
// Both are H(O | e) - H(O | T, e) for a T that is much smaller than F or X: the part of it that the
// test's outcome still depends on once the evidence is given. Where the test's sets are all among
// the complaint's, complaint = information; where the test shares nothing with the complaint
// directly or through evidence or a common condition, complaint = 0; between them the joint
// distribution of T and the test's grade is computed on a small network of its own, compiled once
// per pattern of evidence.
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {

struct Bits {
  double information = 0;
  double complaint = 0;
  double error_bound = 0;  // of either; 0 when exact
};

// For the cases of one model that share one pattern of evidence; one thread at a time.
class InformationMeter {
 public:
  InformationMeter(const Model& model, const CaseNumbers& numbers,
                   const network::Propagation& posterior);

  // `outcome_probability` is P(outcome | e) of observation o, which has no evidence.
  Bits bits(std::uint32_t o, const std::vector<double>& outcome_probability) const;

 private:
  struct Targets;  // what T is made of

  bool known(std::uint32_t mode) const { return known_[mode]; }
  bool determined(const std::vector<std::uint32_t>& set) const;
  Targets complaint_targets(std::uint32_t o) const;
  // H(O | T, e); throws Error(limit_exceeded) when the joint of T is too large.
  double conditional_entropy(std::uint32_t o, const Targets& targets) const;
  double complaint_bits(std::uint32_t o, double entropy, double information, double* error) const;
  bool independent_rest(std::uint32_t o, double* conditional_entropy) const;

  const Model* model_;
  const CaseNumbers* numbers_;
  const network::Propagation* posterior_;
  std::vector<std::vector<std::uint32_t>> joint_sets_;          // of X, two modes and more
  std::vector<std::vector<std::uint32_t>> joint_sets_of_mode_;  // indices into joint_sets_
  std::vector<bool> known_;                                     // modes that are themselves in X
  std::vector<bool> observed_;                                  // observations with evidence
  std::vector<bool> complained_;        // observations that are part of the complaint
  std::vector<std::uint32_t> pattern_;  // names the evidence and the complaint, for the cache
};

}  // namespace faultodds::diagnosis
