#include "core/hydraulics/supply.h"

#include <algorithm>
#include <cmath>

#include "core/circuit/charge.h"
#include "core/circuit/series.h"
#include "core/hydraulics/effect.h"
#include "core/hydraulics/flow_circuit.h"

namespace faultodds::hydraulics {
namespace {

using circuit::Index;
using circuit::Structure;

constexpr double kMlPerMinute = 6e7;           // per m3/s
constexpr double kSpeed = 1500;                // rev/min of a pump whose flow is not given
constexpr std::size_t kMostWalked = 1'000'000;  // of walks
constexpr double kPascalPerBar = 1e5;
// From a pump's load-sensing line: its damping orifice passes about half a litre a minute at the
// margin. Working judgement.
constexpr double kSignalLost = 500, kSignalGone = 2000;  // mL/min
constexpr double kChargePressure = 20;  // bar, where no relief says it; working judgement

// With every land of the function's valves shut, what its source reaches and is no return line.
std::set<Index> before_metering(const circuit::HydraulicGraph& graph,
                                const circuit::PlacedFunction& function, Index supplier) {
  const Structure& structure = graph.structure();
  circuit::StepBudget budget(kMostWalked);
  circuit::Passages passages(graph, &budget);
  circuit::Configuration commanded, shut;
  commanded.positions = function.positions;
  for (const auto& [valve, position] : function.positions) shut.positions[valve] = "";
  const std::vector<bool> drained = passages.drained(commanded);
  std::vector<bool> reached(structure.vertex_count, false);
  for (const Index vertex : passages.region(structure.gallery[function.source], shut)) {
    reached[vertex] = !drained[vertex];
  }
  std::set<Index> before, after;
  for (const circuit::PlacedElement& element : structure.elements) {
    const bool from = reached[structure.gallery[element.from]],
               to = reached[structure.gallery[element.to]];
    const bool passes = from && to && element.element->kind != circuit::ElementKind::seal;
    (from || to ? before : after).insert(element.leaking.begin(), element.leaking.end());
    (passes ? before : after).insert(element.restricting.begin(), element.restricting.end());
  }
  for (const Index mode : after) before.erase(mode);
  for (const Index mode : circuit::Series(structure, &passages).starving(supplier, {})) {
    before.insert(mode);
  }
  for (Index m = structure.first_mode[supplier]; m < structure.first_mode[supplier + 1]; ++m) {
    before.insert(m);
  }
  return before;
}

// The lowest setting of the reliefs at what the charge pump's oil reaches freely in neutral.
double charge_pressure(const circuit::HydraulicGraph& graph, circuit::Passages& passages,
                       Index outlet) {
  const Structure& structure = graph.structure();
  std::vector<bool> reached(structure.vertex_count, false);
  for (const Index vertex : passages.region(structure.gallery[outlet], {})) reached[vertex] = true;
  double lowest = 0;
  for (const circuit::PlacedElement& element : structure.elements) {
    const auto& setting = structure.description->components[element.component].setting;
    if (element.element->kind != circuit::ElementKind::relief || !setting ||
        !reached[structure.gallery[element.from]]) {
      continue;
    }
    const double bar = *setting / kPascalPerBar;
    if (lowest == 0 || bar < lowest) lowest = bar;
  }
  return lowest > 0 ? lowest : kChargePressure;
}

std::optional<Supply::Charge> charge_of(const circuit::HydraulicGraph& graph,
                                        const circuit::PlacedFunction& function, Index supplier) {
  const Structure& structure = graph.structure();
  circuit::StepBudget budget(kMostWalked);
  circuit::Passages passages(graph, &budget);
  circuit::Configuration commanded;
  commanded.positions = function.positions;
  const auto pump = circuit::charge_pump_of(structure, passages, supplier,
                                            structure.gallery[function.source], commanded);
  if (!pump) return std::nullopt;
  const auto flow = rated_flow(structure.description->components[pump->component]);
  if (!flow) return std::nullopt;
  Supply::Charge charge{*flow, charge_pressure(graph, passages, pump->outlet), {}, {}};
  circuit::Series series(structure, &passages);
  for (const Index mode : circuit::weak_charge(structure, series, *pump, commanded)) {
    charge.losses.insert(mode);
  }
  std::vector<bool> high(structure.vertex_count, false);
  for (const Index v : passages.region(structure.gallery[function.source], commanded)) {
    high[v] = v != structure.tank() && v != structure.outside();
  }
  for (const circuit::PlacedElement& element : structure.elements) {
    if (!high[structure.gallery[element.from]] && !high[structure.gallery[element.to]]) continue;
    charge.high.insert(element.leaking.begin(), element.leaking.end());
  }
  return charge;
}

}  // namespace

std::optional<double> rated_flow(const circuit::Component& component) {
  if (component.rated_flow) return *component.rated_flow * kMlPerMinute;
  if (component.displacement) return *component.displacement * 1e6 * kSpeed;
  return std::nullopt;
}

double Supply::lost(double share, bool all_before) const {
  const double own = share / 100 * *taken;
  return all_before ? *flow - *taken + own : own;
}

Supply supply_of(const circuit::HydraulicGraph& graph, const circuit::PlacedFunction& function) {
  const Structure& structure = graph.structure();
  const Index supplier = structure.volume_component[function.source];
  Supply supply = Supply::all(rated_flow(structure.description->components[supplier]));
  supply.signals = circuit::signal_leaks(graph, supplier);
  supply.charge = charge_of(graph, function, supplier);
  if (supply.charge) supply.signals.clear();  // the pilot of its intakes is the charge
  const circuit::Component& actuator = structure.description->components[function.actuator];
  const double takes = actuator.rated_flow.value_or(0) * kMlPerMinute;
  if (!supply.flow || takes <= 0 || takes >= *supply.flow) return supply;
  supply.taken = takes;
  supply.before = before_metering(graph, function, supplier);
  return supply;
}

double flow_of_one(bool gap, double pressure, double viscosity) {
  return gap ? laminar_conductance(1, viscosity) * pressure
             : orifice_conductance(1) * std::sqrt(pressure);
}

std::optional<std::array<double, 2>> sizes_that_lose(const Structure& structure,
                                                     const std::vector<std::uint32_t>& modes,
                                                     const std::array<double, 2>& shares,
                                                     const Supply& supply, double pressure) {
  std::size_t losses = 0, gaps = 0, before = 0, signals = 0, charging = 0, high = 0;
  for (std::uint32_t m : modes) {
    losses += structure.modes[m].size.law == circuit::SizeLaw::loss;
    gaps += structure.modes[m].size.law == circuit::SizeLaw::laminar;
    before += supply.before.count(m);
    signals += std::find(supply.signals.begin(), supply.signals.end(), m) != supply.signals.end();
    charging += supply.charge && supply.charge->losses.count(m) != 0;
    high += supply.charge && supply.charge->high.count(m) != 0;
  }
  if (losses > 0 && losses < modes.size()) return std::nullopt;
  const bool all_before = before == modes.size();
  const bool of_charge = supply.charge && (losses > 0 ? charging == modes.size() : high == 0);
  std::array<double, 2> from{};
  for (std::size_t t = 0; t < 2; ++t) {
    // Leaks of one size in series share the pressure.
    const double bar = of_charge ? supply.charge->bar : pressure;
    const double one =
        flow_of_one(gaps == modes.size(), bar / static_cast<double>(modes.size()), kHotViscosity);
    if (losses > 0) {
      from[t] = of_charge    ? kFlowGone[t]
                : all_before ? 100 * supply.lost(shares[t], true) / *supply.flow
                             : shares[t];
    } else if (of_charge) {
      from[t] = kFlowGone[t] / 100 * supply.charge->flow / one;
    } else if (signals == 1 && modes.size() == 1) {
      from[t] = t == 0 ? kSignalLost : kSignalGone;
    } else if (supply.flow) {
      from[t] = supply.lost(shares[t], all_before) / one;
    } else {
      return std::nullopt;
    }
  }
  return from;
}

}  // namespace faultodds::hydraulics
