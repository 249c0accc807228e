// The flow that a function lives on: what its source gives, what the function takes of it at full
// speed, and which failure modes take from the one and which from the other. What size of a mode
// that makes visible is shown_from.cpp's.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <set>
#include <vector>

#include "core/circuit/hydraulic_graph.h"

namespace faultodds::hydraulics {

// mL/min, of a pump or motor: its rated flow, else its displacement at 1,500 rev/min.
std::optional<double> rated_flow(const circuit::Component& component);

// Flows in mL/min. A function that takes less than there is (a motor whose rated flow is below the
// pump's, a steering unit behind a priority valve) does not notice what is lost of the rest: by
// modes that are `before` the valve which meters its flow. `signals` are modes that leak from the
// pump's load-sensing line, where little is much.
struct Supply {
  // What keeps a closed loop filled. It lasts until hardly any of the charge pump's flow is left.
  struct Charge {
    double flow = 0, bar = 0;         // mL/min; the pressure that it stands under
    std::set<circuit::Index> losses;  // modes that take flow from the charge pump
    std::set<circuit::Index> high;    // modes that leak where the loop's high pressure stands
  };

  std::optional<double> flow{}, taken{};
  std::set<circuit::Index> before{};
  std::vector<circuit::Index> signals{};
  std::optional<Charge> charge{};

  static Supply all(const std::optional<double>& flow) { return {flow, flow, {}, {}, {}}; }
  // What has to be lost for `share` percent of the function's speed; only where `flow` is known.
  double lost(double share, bool all_before) const;
};

// Of a function that its source drives. It takes the rated flow of its actuator, or all there is.
// Before the metering are the modes of the source and its suction, leaks at what the source reaches
// without passing a land of the function's own valves, and what chokes there without being a land.
Supply supply_of(const circuit::HydraulicGraph& graph, const circuit::PlacedFunction& function);

// What a leak of 1 mL/min at reference lets through at a pressure in bar, mL/min.
double flow_of_one(bool gap, double pressure, double viscosity);

// Of the flow, what has to be lost until a pump brings no pressure, and a loop has no charge: from
// where it is noticed, and from where nothing is left. Percent, working judgement.
inline constexpr std::array<double, 2> kFlowGone = {70, 95};

// From which sizes modes that are a set together take these shares, in percent, of a function's
// flow: losses are that share, leaks take theirs at the pressure in bar. Nothing where the flow is
// not known, or leaks and losses come together.
std::optional<std::array<double, 2>> sizes_that_lose(const circuit::Structure& structure,
                                                     const std::vector<std::uint32_t>& modes,
                                                     const std::array<double, 2>& shares,
                                                     const Supply& supply, double pressure);

}  // namespace faultodds::hydraulics
