// What the generated circuits and cases must contain between them, and how many there are.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/sanitized.h"

namespace oracle {

using tests::kSanitized;
inline constexpr std::uint64_t kAllSeeds = 500;
inline constexpr std::uint64_t kSeeds = kSanitized ? 120 : kAllSeeds;

// Names of features counted by the oracle and the generator; each must occur in all the samples of
// a build without sanitizers.
inline const std::vector<std::string>& features_required() {
  static const std::vector<std::string> all = {
      // circuit
      "gallery", "line", "prior of the component's own", "mode that acts on several elements",
      "barrier with several modes", "one mode leaks several barriers of a path",
      "check passed on a leak path", "leaking check on a leak path",
      "leaking relief on a leak path", "passage on a leak path", "open land on a leak path",
      "open by design", "path over the limit", "set of two", "set of three or more",
      "mode shared by sets of one observation", "own times",
      // observations
      "drift", "static", "delivery", "flow", "look", "temperature", "plugged",
      "plugged away entirely", "static hold of an actuator", "expanding volume is a sink",
      "expanding volume is no sink", "areas given", "return way open", "return way shut",
      "restriction on a delivery way", "leak set that contains a restriction",
      "restriction inside the source", "weakened source", "source named by component",
      "hand-written static", "hand-written drift", "hand-written delivery", "hand-written flow",
      "hand-written symptom", "hand-written test", "hand-written set of several modes",
      "hand-written set that may not show", "override", "other than three outcomes",
      "own leak rates", "relief setting seen by a port", "fitting rating on the way",
      "lockout implied",
      // conditions
      "condition", "wildcard", "raised by component", "raised by type",
      "mode raised twice by one condition", "mode raised by several conditions",
      // prior packs
      "prior of the pack", "prior of the asset's class", "wear-out model",
      "prior by hours in service", "outcome statistics by kind",
      // cases
      "evidence: outcome", "evidence: reading", "evidence: likelihood", "observation repeated",
      "said twice", "looked at again", "said with a time", "reading below the limit",
      "reading of a leak rate", "reading of a pressure decay", "reading of a supply flow",
      "reading of a drift", "reading of a flow", "reading normalised in pressure", "setup done",
      "no evidence", "evidence without a complaint", "one complaint", "two complaints",
      "conflicting evidence"};
  return all;
}

// The same of jobs (generator.h).
inline const std::vector<std::string>& features_required_of_jobs() {
  static const std::vector<std::string> all = {"set of two",
                                               "set of three or more",
                                               "mode that joins sets of several modes",
                                               "sets that share modes in a ring",
                                               "hand-written set that may not show",
                                               "condition",
                                               "mode raised by several conditions",
                                               "evidence: reading",
                                               "evidence: likelihood",
                                               "observation repeated",
                                               "repair",
                                               "seen before a repair",
                                               "time of an observation",
                                               "focus names an observation",
                                               "an abnormal test stands for the complaint",
                                               "evidence without a complaint",
                                               "one complaint",
                                               "two complaints"};
  return all;
}

}  // namespace oracle
