// A case turned into numbers: one likelihood over the structural grade S per observation made, and
// the priors of this machine where its hours change them. No inference happens here.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "core/message.h"

namespace faultodds::diagnosis {

struct ObservedGrade {
  std::uint32_t observation = 0;
  Grades likelihood{};      // over S, the background summed out, largest 1
  Grades over_g{1, 1, 1};   // its parts: what was seen of the larger of S and the background, ...
  Grades over_s{1, 1, 1};   // ... and callers' own likelihoods over S alone
  double log_scale = 0;     // what was taken out of it
  double log_combined = 0;  // the part of that which was not taken out of over_g and over_s
  bool abnormal = false;    // speaks for a grade above 0
  std::string at;           // of its earliest entry with a time; empty: none has one
  std::string pointer;      // of its first entry in the case document
};

struct OwnPrior {  // of a mode whose prior this case changes
  std::uint32_t mode = 0;
  circuit::GradeDistribution grades{};
};

struct CaseNumbers {
  std::vector<ObservedGrade> observed;   // ascending by observation
  std::vector<std::uint32_t> complaint;  // abnormal symptoms, ascending
  std::vector<OwnPrior> priors;          // ascending by mode
  Messages warnings;
};

// Throws Error(invalid_case) with a pointer into the case document, or conflicting_evidence when
// one observation alone is impossible.
CaseNumbers read_case(const Model& model, const Case& the_case);

// A mode's prior in this case, no condition acting on it: its own, or the model's.
circuit::GradeDistribution prior_in(const Model& model, const CaseNumbers& numbers,
                                    std::uint32_t mode);

// What hours in service make of a mode's prior. Faults are noticed, on the average after so long
// that a part which is renewed when it fails is not sound for the share `usually` of its time; who
// complains therefore has a fault of that last while, or since the part was last known sound:
//   P(not sound) = 1 - exp(H(from) - H(hours)),  H(h) = (h / scale)^shape,
//   from = max(sound_at, hours - usually x mean life)
// Where nobody complains (`noticed` false) from is sound_at.
circuit::GradeDistribution at_hours(const WearOut& model, double usually, double hours,
                                    double sound_at, bool noticed);

// What a reading of an observation is measured against.
reading::Setting setting_of(const circuit::Observation& observation);

// What a reading says of the class of effect, or where that was not solved of the grade, which is
// seen, up to a factor whose logarithm is added to *log_scale. Throws Error(invalid_case) whose
// pointer is relative to the reading.
Grades likelihood_of(const circuit::Observation& observation, const reading::Reading& reading,
                     double* log_scale, Messages* warnings);

// Names the evidence of a case without its values: the complaint, then what was observed.
std::vector<std::uint32_t> pattern_key(const CaseNumbers& numbers);

// Gives one lane of a propagation over the model's network the case's evidence, the priors of some
// modes, or all that the case says.
template <std::size_t Lanes>
void apply_evidence(const Model& model, const CaseNumbers& numbers,
                    network::LanePropagation<Lanes>& propagation, std::size_t lane = 0);
template <std::size_t Lanes>
void apply_priors(const Model& model, std::span<const OwnPrior> priors,
                  network::LanePropagation<Lanes>& propagation, std::size_t lane = 0);
template <std::size_t Lanes>
void apply(const Model& model, const CaseNumbers& numbers,
           network::LanePropagation<Lanes>& propagation, std::size_t lane = 0) {
  apply_evidence(model, numbers, propagation, lane);
  apply_priors(model, numbers.priors, propagation, lane);
}

// Evidence and priors in Program::bounded().
void apply_bounded_evidence(const Model& model, const CaseNumbers& numbers,
                            network::ConditionedTree::Lanes& lanes, std::size_t lane);
void apply_bounded_priors(const Model& model, std::span<const OwnPrior> priors,
                          network::ConditionedTree::Lanes& lanes, std::size_t lane);

// The same priors in a network of its own, not the model's.
struct PriorNode {  // of a mode whose prior a case may change
  std::uint32_t mode = 0;
  network::Var grade = 0;
  std::optional<network::Var> conditions;  // the combination of those that raise it
};
std::vector<PriorNode> prior_nodes(const Model& model, const NetworkBuilder& builder);
void apply_priors(const Model& model, const CaseNumbers& numbers,
                  const std::vector<PriorNode>& nodes, network::Propagation& propagation);

}  // namespace faultodds::diagnosis
