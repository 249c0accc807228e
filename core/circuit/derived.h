// The observations that follow from the circuit alone: drift, locked-out pressure holds, delivery
// and flow tests, with what each needs to be performed, and those of unopened.h. Hand-written ones
// are in written.h.
#pragma once

#include <vector>

#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/kinds.h"
#include "core/circuit/structure.h"

namespace faultodds::circuit {

// In the order: drift, static, delivery, flow, look, temperature; within each as the document lists
// its components and functions. Throws Error (invalid_circuit for a function that cannot work,
// limit_exceeded). `absent` receives those that there are not.
std::vector<Observation> derive_observations(const HydraulicGraph& graph, const Times& times,
                                             const Limits& limits, std::vector<Absent>* absent);

// Every step that can prepare a test: lockout, lines, cartridges, flow meters.
std::vector<SetupStep> setup_steps(const Structure& structure, const Times& times);

}  // namespace faultodds::circuit
