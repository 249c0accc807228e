// What an invented fleet of lifts (circuit_builder.h) is really like, for tests of learning.
#pragma once

#include <array>
#include <map>

#include "priors/learning.h"
#include "tests/unit/circuit_builder.h"

namespace lift_fleet {

inline const faultodds::circuit::Analysis& lift() {
  static const auto analysis = [] {
    auto circuit = circuit_test::lift();
    circuit.by_grades = true;  // as records say what was found
    return circuit_test::analyse(circuit);
  }();
  return analysis;
}

inline const std::map<faultodds::priors::ModeName, std::array<double, 3>>& truth() {
  static const std::map<faultodds::priors::ModeName, std::array<double, 3>> t{
      {{"pump", "wear"}, {0.93, 0.05, 0.02}},
      {{"relief", "seat_leak"}, {0.88, 0.07, 0.05}},
      {{"valve", "bore_wear"}, {0.94, 0.04, 0.02}},
      {{"valve", "sticks"}, {0.97, 0.02, 0.01}},
      {{"cylinder", "piston_seal_leak"}, {0.80, 0.12, 0.08}},
      {{"cylinder", "rod_seal_leak"}, {0.95, 0.03, 0.02}}};
  return t;
}

}  // namespace lift_fleet
