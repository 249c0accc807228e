// Functions: their source, where the oil that they displace goes, positions that move nothing, and
// why a source does not reach what it drives.
#include <algorithm>
#include <set>

#include "core/authoring/joint_checks.h"
#include "core/authoring/joints.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

namespace faultodds::authoring {
namespace {

using circuit::at;
using circuit::Configuration;
using circuit::ElementKind;
using circuit::PlacedElement;
using circuit::PlacedFunction;
using circuit::quoted;
using circuit::Structure;

std::string function_title(const Joints& joints, std::size_t f) {
  const circuit::Function& one = joints.structure.description->functions[f];
  return one.title.empty() ? one.id : one.title;
}

std::string blocked_text(const Joints& joints, Index from, const std::vector<Index>& to,
                         const Configuration& configuration) {
  for (const WayStep& step : least_blocked_way(joints.graph, from, to, configuration)) {
    if (!step.blocked) continue;
    const PlacedElement& one = joints.structure.elements[step.element];
    return ": it is blocked at " + quoted(joints.id(one.component) + "." + one.element->name);
  }
  return "";
}

}  // namespace

// Valves that no function moves.
void check_moved_valves(Joints& joints) {
  if (joints.structure.functions.empty()) return;
  std::set<Index> moved;
  for (const PlacedFunction& function : joints.structure.functions) {
    for (const auto& [valve, position] : function.positions) moved.insert(valve);
  }
  for (Index c = 0; c < joints.structure.type.size(); ++c) {
    if (moved.count(c) != 0 || joints.lonely.count(c) != 0) continue;
    const std::vector<std::string> positions = circuit::positions_of(*joints.structure.type[c]);
    if (positions.size() < 2 || !joints.has_port(c, "p")) continue;
    joints.add("never_moved", joints.structure.component_pointer(c),
               "no function moves " + joints.title(c) + " out of neutral",
               "a function with a position of it",
               "a function is missing, or its `positions` name another valve");
  }
}

void check_function(Joints& joints, std::size_t f) {
  const PlacedFunction& function = joints.structure.functions[f];
  const std::string here = at("/functions", f);
  const Index supplier = joints.structure.volume_component[function.source];
  const auto& modes = joints.structure.type[supplier]->failure_modes;
  const bool lowered = function.source == function.contracting;  // by its load
  if (lowered) {
    // derived.cpp refuses it where its oil does not reach the tank.
  } else if (std::none_of(modes.begin(), modes.end(),
                          [](const circuit::FailureModeType& m) { return !m.weakens.empty(); })) {
    joints.add("source", at(here, "source"),
               joints.title(supplier) + " supplies nothing: no failure mode of it delivers less",
               "the outlet of a pump, or an accumulator", "the pump's outlet was probably meant");
  } else if (joints.has_port(supplier, joints.outlet_of(supplier)) &&
             joints.structure.gallery[function.source] ==
                 joints.port(supplier, joints.inlet_of(supplier))) {
    joints.add("source", at(here, "source"), "the source is the inlet of " + joints.title(supplier),
               "its outlet", "the pump's outlet was probably meant");
  }
  for (std::size_t g = 0; g < f; ++g) {
    const PlacedFunction& other = joints.structure.functions[g];
    if (other.actuator == function.actuator && other.direction == function.direction &&
        other.positions == function.positions && other.source == function.source) {
      joints
          .add("said_twice", here,
               "functions " + quoted(function_title(joints, g)) + " and " +
                   quoted(function_title(joints, f)) + " are the same",
               "a difference in actuator, direction or positions",
               "a copy whose direction, actuator or positions were not changed")
          .also = {at("/functions", g)};
    }
  }
  Configuration commanded;
  commanded.positions = function.positions;
  const Index source = joints.structure.gallery[function.source];
  const Index driven = joints.structure.gallery[function.expanding];
  const Index contracting = joints.structure.gallery[function.contracting];
  if (!lowered && !joints.passages.reaches(source, driven, commanded)) {
    return;  // derived.cpp refuses it
  }
  if (!joints.passages.reaches(contracting, joints.structure.tank(), commanded) &&
      !joints.passages.reaches(contracting, joints.structure.outside(), commanded) &&
      !joints.passages.reaches(contracting, driven, commanded)) {
    joints
        .add("no_return", at(here, "positions"),
             "oil that " + function_title(joints, f) + " displaces from " +
                 quoted(joints.structure.volume_name(function.contracting)) + " has nowhere to go" +
                 blocked_text(joints, contracting, {joints.structure.tank()}, commanded),
             "a way to the tank or to the driven side",
             "a load-holding valve stands closed for want of its position, or something stands the "
             "wrong way round")
        .also = {here};
  }
  for (const auto& [valve, position] : function.positions) {
    if (position == "neutral") continue;
    Configuration without = commanded;
    without.positions.erase(valve);
    if (joints.passages.region(source, without) != joints.passages.region(source, commanded) ||
        joints.passages.region(contracting, without) !=
            joints.passages.region(contracting, commanded)) {
      continue;
    }
    joints.add("moves_nothing", at(at(here, "positions"), joints.id(valve)),
               "position " + quoted(position) + " of " + joints.title(valve) +
                   " changes nothing for " + function_title(joints, f),
               "the valve that moves " + joints.title(function.actuator),
               "another valve was probably meant");
  }
}

std::string why_not_reached(const circuit::HydraulicGraph& graph, std::size_t f) {
  const Structure& structure = graph.structure();
  const PlacedFunction& function = structure.functions[f];
  Configuration commanded;
  commanded.positions = function.positions;
  const std::vector<WayStep> way =
      least_blocked_way(graph, structure.gallery[function.source],
                        {structure.gallery[function.expanding]}, commanded);
  if (way.empty()) {
    return "no way at all leads there: a connection is missing, or names another port or part";
  }
  std::string cause;
  for (const WayStep& step : way) {
    if (!step.blocked) continue;
    const PlacedElement& one = structure.elements[step.element];
    const std::string name =
        quoted(structure.description->components[one.component].id + "." + one.element->name);
    cause += cause.empty() ? "the way is blocked at " + name : ", then at " + name;
    if (one.element->kind == ElementKind::check && !step.forward) {
      cause += ", which stands the wrong way round";
    } else if (!one.element->open_in.empty()) {
      cause += ", open in ";
      for (std::size_t i = 0; i < one.element->open_in.size(); ++i) {
        cause += (i == 0 ? "" : ", ") + quoted(one.element->open_in[i]);
      }
    }
  }
  return cause + ": a position, a direction or a connection is wrong";
}

}  // namespace faultodds::authoring
