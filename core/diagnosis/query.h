// One joint query compiled for reuse: H(O | T, e), the entropy left in a test's outcome O once a
// few functions T of the faults are known besides the evidence. It lives on a network that holds
// only what the evidence and the query need, and knows nothing of why T was chosen (information.h
// does).
//
// T is enumerated as it is or, where they have fewer combinations, through the modes it is made of.
// Two forms. While the table stays small, the joint distribution of T, the test's grade S and the
// grades of all observations with evidence is computed once; a case then only weighs it with its
// likelihoods. Combinations of T that predict S alike whatever the evidence are merged. Otherwise a
// junction tree is propagated for each case.
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "core/network/junction_tree.h"

namespace faultodds::diagnosis {

// The functions that make up T.
struct QueryTargets {
  std::vector<std::vector<std::vector<std::uint32_t>>> groups;  // max over sets of modes
  std::vector<std::vector<std::uint32_t>> sets;                 // min over modes
};

class Query {
 public:
  // `evidence` lists the observations that will have evidence and bear on the query, ascending.
  // Throws Error(limit_exceeded) when the joint is too large to hold.
  Query(const Model& model, const std::vector<std::uint32_t>& evidence, const QueryTargets& targets,
        std::uint32_t test);

  // In bits. `numbers` must have evidence on all the observations this was made for.
  double conditional_entropy(const Model& model, const CaseNumbers& numbers) const;

  std::size_t bytes() const;

 private:
  void enumerate(NetworkBuilder& builder, const QueryTargets& targets);
  void number_values(const std::vector<std::uint32_t>& modes, const QueryTargets& targets);
  std::unique_ptr<network::JunctionTree> compile(const NetworkBuilder& builder,
                                                 std::vector<network::Var> root,
                                                 std::size_t bytes) const;
  std::vector<double> tables_by_value(const NetworkBuilder& builder);
  void classify(const Model& model, const std::vector<double>& tables);
  double weigh_table(const Model& model, const CaseNumbers& numbers) const;
  double propagate(const Model& model, const CaseNumbers& numbers) const;

  std::uint32_t test_ = 0;
  std::vector<std::uint32_t> evidence_;
  std::unique_ptr<network::JunctionTree> tree_;
  std::vector<network::Var> scope_;  // what is enumerated, then S
  std::vector<network::Var> evidence_nodes_;
  network::Var test_node_ = 0;
  std::size_t combinations_ = 1;  // of what is enumerated
  // The value of T, numbered, in each combination; empty where T itself is enumerated.
  std::vector<std::uint32_t> value_;
  std::size_t values_ = 0;  // of T

  // The tabulated form. Of the values of T that predict S alike whatever the evidence: the sum of
  // P(value, grades of the evidence) H(O | value), and of P(value, grades of the evidence).
  std::vector<double> weighted_entropy_, total_;
  // Of the others: P(value, S, grades of the evidence) where it is not 0, by value and S.
  std::vector<std::uint32_t> bound_;
  std::vector<std::uint8_t> cell_;  // grades of the evidence
  std::vector<double> probability_;

  std::vector<PriorNode> modes_;
};

}  // namespace faultodds::diagnosis
