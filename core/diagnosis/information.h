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
// per pattern of evidence (query.h).
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {

class Query;

struct Bits {
  double information = 0;
  double complaint = 0;
  double error_bound = 0;  // of either; 0 when exact
};

// How to compute the bits of every test for one pattern: which observations have evidence and which
// of them are the complaint. Immutable and shared between threads once made; the likelihoods
// themselves may change from case to case.
class InformationPlan {
 public:
  InformationPlan(const Model& model, const CaseNumbers& pattern);

  // The plan for a case's pattern, made on first use and kept with the model.
  static std::shared_ptr<const InformationPlan> of(const Model& model, const CaseNumbers& pattern);

  // `outcome_probability` is P(outcome | e) of observation o, which has no evidence. It and
  // `posterior` may be wrong by `error` in total variation.
  Bits bits(const Model& model, const CaseNumbers& numbers, const network::Posterior& posterior,
            std::uint32_t o, std::span<const double> outcome_probability, double error) const;

 private:
  enum class Rule : std::uint8_t {
    none,            // no complaint
    as_information,  // all the test's sets are the complaint's
    zero,            // nothing shared
    rest_apart,      // shared sets and, independently, modes that nothing known bears on
    query,           // H(O | T, e) from one query
    between          // too large to be exact: between two queries
  };
  struct Test {
    Rule rule = Rule::none;
    std::shared_ptr<const Query> complaint;           // also the one that knows too little
    std::shared_ptr<const Query> complaint_and_more;  // knows too much
    std::shared_ptr<const Query> information;         // for sets that show only sometimes
    bool information_bounded = false;                 // ... and are too many
    std::vector<std::uint32_t> rest;                  // modes, for rest_apart
  };

  std::vector<Test> tests_;  // by observation
};

}  // namespace faultodds::diagnosis
