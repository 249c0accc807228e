// Random flow circuits for tests of the solver: leaks of all sizes, passages, checks, reliefs with
// and without pilots, pumps, held ports, actuators that hold or pull. Each has a steady state.
#pragma once

#include <cstdint>

#include "core/hydraulics/flow_circuit.h"

namespace faultodds::hydraulics {

// The same circuit for the same number, on any machine.
FlowCircuit random_circuit(std::uint64_t number);

}  // namespace faultodds::hydraulics
