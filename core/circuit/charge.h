// What keeps a closed loop filled: the pump whose outlet stands at the pilot of another pump's
// intakes, and what takes that pressure away. How much has to be lost is
// core/hydraulics/supply.h's.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/leak_paths.h"
#include "core/circuit/series.h"

namespace faultodds::circuit {

struct ChargePump {
  Index component = kNone;
  Index outlet = kNone;  // volume
  Index pilot = kNone;   // vertex that it serves
};

// Of a pump whose intakes have a pilot that its own outlet `source` (a vertex) does not reach.
std::optional<ChargePump> charge_pump_of(const Structure& structure, Passages& passages,
                                         Index supplier, Index source,
                                         const Configuration& configuration);

// Modes that weaken the charge pump, choke its suction or its way to the pilot.
std::vector<Index> weak_charge(const Structure& structure, Series& series, const ChargePump& charge,
                               const Configuration& configuration);

// Least sets by which oil gets away from where the charge pump delivers.
std::vector<std::vector<Index>> charge_leaks(const Structure& structure, LeakSearch& search,
                                             const ChargePump& charge,
                                             const Configuration& configuration,
                                             const std::string& what);

}  // namespace faultodds::circuit
