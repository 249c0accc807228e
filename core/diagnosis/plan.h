// The plan: what the advice says now, and what it would say after each outcome of the test it
// names, to a depth of four tests, as one tree. Every node is the advice's own (advice.h): the
// walk adds an outcome to the case, with the setup that the test leaves done, and asks again. It
// weighs nothing itself.
//
// Where a call is ended, the plan keeps what is ready: the most probable nodes are asked first.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/message.h"

namespace faultodds::diagnosis {

inline constexpr std::size_t kPlanDepth = 4;   // tests one after the other
inline constexpr double kLeastReached = 0.02;  // P(a branch is reached | e), to be followed

struct PlanNode {
  // Why nothing, or no further test, is said here.
  enum class Cut { none, depth, time, limit };
  struct Branch {
    std::uint32_t outcome = 0;
    double probability = 0;         // P(outcome | e, the outcomes before)
    std::optional<std::size_t> to;  // index into Plan::nodes; none: it is left out
  };
  double reached = 1;     // P(the outcomes that lead here | e)
  std::size_t depth = 0;  // tests before it
  Cut cut = Cut::none;
  // A test to make, ...
  std::optional<std::uint32_t> test;
  bool again = false;            // it was made before, and is looked at once more
  bool contradicts = false;      // because what was seen contradicts itself
  double minutes = 0;            // with the setup still to do
  std::vector<Branch> branches;  // one per outcome
  // ... or what to do at the end. Nothing where the complaint is gone, or nothing is said.
  std::optional<RepairPlan> repair;
  std::vector<Verification> verify;
};

struct PartNeeded {
  std::uint32_t component = 0;
  double probability = 0;  // P(a leaf that replaces it is reached | e)
};

struct Plan {
  std::uint32_t complaint = 0;  // the observation whose cause is looked for
  std::string currency;
  double come_back = 0;           // what coming again costs where nothing was repaired
  double approximate = 0;         // Advice::error of its first node
  double left_out = 0;            // P(a branch that is not followed, or was cut unasked | e)
  std::vector<PlanNode> nodes;    // the first is where it begins
  std::vector<PartNeeded> parts;  // most probable first
  std::vector<NotPossible> not_possible;  // as the case says
  BringList bring;                        // for every test named in it
  Messages warnings;
};

// Nothing when no abnormal observation is recorded. Throws as advise() does where not even the
// first node is there, Error(cancelled) among it.
std::optional<Plan> make_plan(const Model& model, const Case& the_case);

}  // namespace faultodds::diagnosis
