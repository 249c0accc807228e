// Symptoms as operators report them, besides drift and delivery (derived.h) and oil outside
// (unopened.h): no pressure, noise, heat, jerking, a load that dips as lifting begins, movement
// without a command, a pair that comes unevenly. Each follows from the circuit; from which size a
// mode shows is core/hydraulics/shown_from's. They are taken as a complaint or as evidence and
// never proposed as tests.
#pragma once

#include <vector>

#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/kinds.h"
#include "core/circuit/leak_paths.h"

namespace faultodds::circuit {

// What delivery found of a function; nothing where there is no delivery.
struct FunctionWays {
  bool delivers = false;
  LeakSets leaks;              // from what is pressurised
  LeakSets charge;             // by which a closed loop loses its charge pressure
  std::vector<Index> choking;  // modes that choke its ways
};

// no_pressure/<source>: what one of its functions loses and each other one too, and what takes its
//   flow.
// hot/<source>: single modes that let its pressure down inside, and heat that is not taken away.
// noisy/<pump>: what starves it, and lets air in where it sucks.
// jerky/<actuator>: what sticks on the ways of its functions, and air.
// moves/<actuator>/<direction>: leaks from a source under pressure in neutral to the side that
//   expands.
// dip/<function>: leaks back to the source past what checks the load, valves in their positions.
// uneven/<function>: what one of two actuators of a kind, moved together, has by itself.
//
// In that order; within each as the document lists components and functions. `ways` by function.
std::vector<Observation> reported_symptoms(const HydraulicGraph& graph, const Times& times,
                                           const std::vector<FunctionWays>& ways,
                                           Passages& passages, LeakSearch& search);

}  // namespace faultodds::circuit
