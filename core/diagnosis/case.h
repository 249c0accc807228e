// What is known of one machine so far: the evidence of a work order. A value type; not thread-safe
// while it is changed. It refers to observations and modes by index into the model's analysis.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/reading/reading.h"

namespace faultodds::diagnosis {

// One observation made. Exactly one of outcome, reading and likelihood is set.
struct Evidence {
  std::uint32_t observation = 0;         // index into Analysis::observations
  std::optional<std::uint32_t> outcome;  // index into its outcomes
  std::optional<reading::Reading> reading;
  std::optional<std::array<double, 3>> likelihood;  // over the structural grade S
  std::string pointer;                              // its place in the case document
};

enum class Focus { automatic, complaint, circuit };

struct Case {
  std::vector<Evidence> evidence;  // repeated observations multiply (semantics section 5)
  std::vector<std::string> setup_done;
  std::map<std::string, double> component_hours;
  Focus focus = Focus::automatic;
};

}  // namespace faultodds::diagnosis
