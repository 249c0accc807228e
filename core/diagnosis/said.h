// What is said twice counts once. An entry of a case says the same as an earlier one when it is of
// the same observation with the same outcome, reading or likelihood at the same time (or both
// without one), with no repair between; then it is not evidence of its own, unless it says that it
// was looked at again. This decides which entries are evidence, not what they weigh (evidence.h).
#pragma once

#include <cstdint>
#include <string>
#include <unordered_map>
#include <unordered_set>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/message.h"

namespace faultodds::diagnosis {

// The entries of one case, as they are made.
class Said {
 public:
  // Adds `entry` to the case's evidence, or to what was said before.
  void add(Case& to, Evidence entry);
  // What was said of an observation is taken back.
  void forget(Case& of, std::uint32_t observation);

 private:
  std::unordered_map<std::uint32_t, std::unordered_set<std::string>> by_observation_;
};

// A warning for each observation that was said more than once, in the order of the circuit.
Messages said_before_warnings(const circuit::Analysis& analysis, const Case& the_case);

}  // namespace faultodds::diagnosis
