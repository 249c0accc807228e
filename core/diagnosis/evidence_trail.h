// Why the advice is what it is: what each observation says for and against a fault, whether the
// observations agree with each other, and what would have to be different for another repair to be
// best. It decides nothing.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/diagnosis/case.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/repair_set.h"
#include "core/message.h"
#include "core/network/junction_tree.h"

namespace faultodds::diagnosis {

// What one finding says: a likelihood over the states of one variable of a network.
struct Finding {
  network::Var variable = 0;
  std::vector<double> likelihood;
};

// I. J. Good's weight of evidence of each finding, given those before it, for "the variable is not
// in its first state": 10 log10 of the factor on the odds, in decibans. They add up to the weight
// of all findings together. [finding][hypothesis]; infinite where odds become 0 or infinite, NaN
// where they were so already. `propagation` holds what is known before and ends with the findings
// added.
std::vector<std::vector<double>> weights_of_evidence(network::Propagation& propagation,
                                                     std::span<const Finding> findings,
                                                     std::span<const network::Var> hypotheses);

// How far the findings contradict each other: log2 of the product of their probabilities over their
// joint probability (Jensen, Chamberlain, Nordahl & Jensen 1991). Below 0 they support each other;
// above 0 they conflict: one is a mistake, the machine is rarer than the model thinks, or something
// the circuit does not model is at work.
struct Conflict {
  double bits = 0;
  std::vector<double> of_each;  // each finding against all the others; only when bits > 0
};
// `begin` gives a cleared propagation what is known besides the findings.
Conflict conflict_of(network::Propagation& propagation,
                     const std::function<void(network::Propagation&)>& begin,
                     std::span<const Finding> findings);

struct Weight {
  std::uint32_t observation = 0;
  double decibans = 0;
};

struct FaultTrail {
  std::uint32_t mode = 0;
  double prior_decibans = 0;    // 10 log10 of the prior odds of not sound
  std::vector<Weight> weights;  // in the order observed; they add up to
  double decibans = 0;          // the weight of all evidence
};

// How wrong the model could be about one observation before another repair is best.
struct Turn {
  std::uint32_t observation = 0;
  // Factor on the probability of what was seen in case nothing leaks there, at which it turns.
  double factor = 1;
  std::vector<std::uint32_t> components;  // the repair that is best beyond it
};

struct ComeBackTurn {
  double come_back = 0;                   // cost at which another repair is as good
  std::vector<std::uint32_t> components;  // that repair
};

struct EvidenceTrail {
  // The leading suspects, most probable first; none where no junction tree holds the circuit, nor
  // a conflict.
  std::vector<FaultTrail> faults;
  double conflict_bits = 0;
  std::optional<std::uint32_t> most_at_odds;  // the observation, when conflict_bits > 0
  // By abnormal observation: P(no modelled fault shows there | e).
  std::vector<std::pair<std::uint32_t, double>> unexplained;
  std::vector<Turn> turns;  // smallest change first
  std::optional<ComeBackTurn> below, above;
  Messages sentences;
};

// Where the best set stops being best as the likelihood of S = 0 at one observation with evidence
// is multiplied by a factor. Expected costs are linear in it, so the crossing has a closed form;
// searching again at the crossing until nothing better turns up makes it exact. `upwards`: for
// factors above 1, else below. Nothing if it never turns.
struct Crossing {
  double at = 0;
  ItemSet set;
};
std::optional<Crossing> turn_of(RepairDecision& decision, const ItemSet& best,
                                std::uint32_t observation, bool upwards);
// The same for the come-back cost.
std::optional<Crossing> come_back_turn(RepairDecision& decision, const ItemSet& best, bool upwards);

EvidenceTrail evidence_trail(const Model& model, const Case& the_case, const CaseNumbers& numbers,
                             RepairDecision& decision, const ItemSet& best);

}  // namespace faultodds::diagnosis
