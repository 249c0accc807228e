// Inference for networks whose junction tree would not fit in memory: bounded conditioning. Exact
// inference that fits is junction_tree.h's and is to be preferred.
//
// A few variables are cut: every factor that mentions one gets a copy of its own, which leaves a
// network with a small tree. An instance fixes the cut variables, and with them all their copies;
// one propagation gives exactly what the instance contributes to every answer. Instances are taken
// the most probable first; the probability of those not taken bounds what they could have changed.
//
// Source: Horvitz, Suermondt & Cooper, Bounded conditioning (UAI 1989); cutsets: Pearl 1986.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <vector>

#include "core/network/junction_tree.h"
#include "core/network/network.h"

namespace faultodds::network {

class ConditionedTree {
 public:
  using Lanes = LanePropagation<kLanes>;
  // Multiplies evidence into one lane.
  using Tell = std::function<void(Lanes&, std::size_t lane)>;

  // Cuts some of `candidates` until the tree takes no more than the budget while it is compiled;
  // answering takes up to kLanes times that. `options.asked` lists variables of `network`, which
  // keep their indices. An answer looks at `most_instances`, or fewer where the tree is large.
  // Throws Error(limit_exceeded) where cutting all candidates, or 32 of them, is not enough.
  ConditionedTree(const Network& network, const std::vector<Var>& candidates,
                  const TreeOptions& options, std::size_t most_instances = 1024);

  const JunctionTree& tree() const { return *tree_; }
  std::size_t cut() const { return cuts_.size(); }        // variables
  std::size_t instances() const { return mass_.size(); }  // that an answer looks at, at most
  bool exhaustive() const { return exhaustive_; }         // these are all there are

  struct Answer {
    // Natural log of P(evidence and an instance looked at).
    double log_evidence = 0;
    // At most this share of P(evidence) lies in instances not looked at. No probability below is
    // wrong by more, and no distribution by more in total variation.
    double missed = 0;
    std::vector<double> posterior;  // of the variables asked about; see view()
  };
  Posterior view(const Answer& answer) const { return {*tree_, answer.posterior}; }

  // `evidence` tells likelihoods of at most 1. `priors`, if not null, tells what changes the prior
  // distribution into another, which sums to 1 as well.
  Answer answer(const Tell& evidence, const Tell& priors = nullptr) const;

 private:
  struct Cut {
    std::vector<Var> copies;  // the variable itself first
    std::size_t states;
  };
  void list_instances(std::size_t most);
  void fix(Lanes& workspace, std::size_t instance, std::size_t lane) const;

  std::vector<Var> asked_;
  std::unique_ptr<JunctionTree> tree_;
  std::vector<Cut> cuts_;
  double log_copies_ = 0;  // what the copies' uniform priors take from a log probability
  std::vector<std::uint16_t> states_;  // per instance, one per cut variable
  std::vector<double> mass_;           // per instance: its probability without evidence
  bool exhaustive_ = false;
};

}  // namespace faultodds::network
