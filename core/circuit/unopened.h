// Tests that open nothing and fit nothing, derived from the circuit: oil outside, looked for along
// what belongs together, and the temperature of a relief, which oil that leaks past it heats. What
// operators see of a working machine (drift, delivery) and what needs an opened line is derived.h.
#pragma once

#include <vector>

#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/kinds.h"

namespace faultodds::circuit {

// look/<component>, of every actuator and every pump or motor with a flow test: each mode by which
// oil gets outside along what leads to its ports, past load-holding valves and up to the next
// others: what is seen of one function says nothing of the next.
// temperature/<component>, of every component with a relief: each of its modes that leaks inside.
// In that order; within each as the document lists components. Throws Error(limit_exceeded).
std::vector<Observation> unopened_tests(const HydraulicGraph& graph, const Times& times,
                                        Passages& passages);

}  // namespace faultodds::circuit
