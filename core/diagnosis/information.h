// How many bits the outcome O of a test would tell about all faults: I(F; O | e) = H(O | e) -
// H(O | F, e). Where every set of the test shows whenever its modes are faulty, S is a function of
// F and one propagation gives it for all tests. Where some show only sometimes, the grades of the
// test's sets are enumerated (query.h). About the cause of a complaint: cause.h.
#pragma once

#include <cstddef>
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
  double error_bound = 0;  // 0 when exact
};

// For one pattern of evidence. Immutable and shared between threads once made; the likelihoods
// themselves may change from case to case.
class InformationPlan {
 public:
  InformationPlan(const Model& model, const CaseNumbers& pattern);

  // The plan for a case's pattern, made on first use and kept with the model; null where every set
  // of every test always shows.
  static std::shared_ptr<const InformationPlan> of(const Model& model, const CaseNumbers& pattern);

  std::size_t bytes() const;

 private:
  friend Bits information(const Model& model, const CaseNumbers& numbers,
                          const InformationPlan* plan, std::uint32_t o, const Grades& grades,
                          std::span<const double> outcome_probability, double error);
  struct Test {
    std::shared_ptr<const Query> query;
    bool bounded = false;  // too many sets to enumerate
  };
  std::vector<Test> tests_;  // by observation
};

// `grades` is P(S | e) and `outcome_probability` P(outcome | e) of observation o, which has no
// evidence. Both may be wrong by `error` in total variation.
Bits information(const Model& model, const CaseNumbers& numbers, const InformationPlan* plan,
                 std::uint32_t o, const Grades& grades, std::span<const double> outcome_probability,
                 double error);

}  // namespace faultodds::diagnosis
