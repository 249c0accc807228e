// Hand-written observations and overrides of derived ones.
#pragma once

#include <vector>

#include "core/circuit/kinds.h"
#include "core/circuit/structure.h"

namespace faultodds::circuit {

// Applies the description's `observations` in document order to the derived ones: an entry without
// `shows` whose id is a derived observation's overrides that one's statistics, minutes and
// cautions; every other entry is appended. `steps` are the setup steps that exist. Throws
// Error(invalid_circuit).
void add_written_observations(const Structure& structure, const Times& times,
                              const std::vector<SetupStep>& steps, const Limits& limits,
                              std::vector<Observation>* observations);

}  // namespace faultodds::circuit
