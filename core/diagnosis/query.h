// One joint query compiled for reuse: P(T, S | e) for a few functions T of the faults and the grade
// S of one test, on a network that holds only what the evidence and the query need.
#pragma once

#include <cstdint>
#include <memory>
#include <utility>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/network/junction_tree.h"

namespace faultodds::diagnosis {

// The functions that make up T.
struct QueryTargets {
  std::vector<std::vector<std::vector<std::uint32_t>>> groups;  // max over sets of modes
  std::vector<std::vector<std::uint32_t>> sets;                 // min over modes
  std::vector<std::uint32_t> modes;                             // grade
  std::vector<std::uint32_t> not_sound;                         // yes or no
  std::vector<std::uint32_t> conditions;                        // used only if with_conditions
  bool with_conditions = false;

  // Appends numbers that tell these targets from others.
  void append_key(std::vector<std::uint32_t>& key) const;
};

class Query {
 public:
  // Throws Error(limit_exceeded) when the joint is too large to hold.
  Query(const Model& model, const std::vector<std::uint32_t>& evidence, const QueryTargets& targets,
        std::uint32_t test);

  // H(O | T, e) in bits. `numbers` must have evidence on the observations this was made for.
  double conditional_entropy(const Model& model, const CaseNumbers& numbers) const;

 private:
  std::uint32_t test_;
  std::unique_ptr<network::JunctionTree> tree_;
  std::vector<network::Var> scope_;  // T, then S
  std::size_t combinations_ = 1;     // of T
  std::vector<network::Var> evidence_;
  struct PriorNode {
    network::Var grade;
    bool present = false;
    bool conditioned = false;
    network::Var conditions = 0;
  };
  std::vector<PriorNode> modes_;  // by mode; empty when the model has no wear-out priors
};

}  // namespace faultodds::diagnosis
