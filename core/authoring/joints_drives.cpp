// Pumps, stores and actuators: suction and pressure, what limits it, the two sides of an actuator
// and the lines to them.
#include "core/authoring/joint_checks.h"
#include "core/circuit/charge.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

namespace faultodds::authoring {
namespace {

using circuit::ComponentType;
using circuit::ElementKind;
using circuit::PlacedElement;
using circuit::PlacedFunction;
using circuit::quoted;

// What limits the pressure of a pump: a relief that its outlet reaches freely.
void check_relief_of(Joints& joints, Index c, Index outlet) {
  const std::vector<bool> reached = joints.ways.reachable({outlet}, c);
  std::vector<bool> joined(joints.structure.vertex_count, false);
  for (const Index v : joints.passages.region(outlet, {})) joined[v] = true;
  bool limited = false, anywhere = false;
  for (const PlacedElement& one : joints.structure.elements) {
    if (one.element->kind != ElementKind::relief || one.component == c) continue;
    if (joints.is_bypass(one) || joints.at_tank[joints.structure.gallery[one.from]]) continue;
    anywhere = anywhere || reached[joints.structure.gallery[one.from]];
    limited = limited || joined[joints.structure.gallery[one.from]];
  }
  if (limited) return;
  joints.add("no_relief", joints.structure.component_pointer(c),
             "no relief limits the pressure at the outlet of " + joints.title(c),
             "a relief that the outlet reaches whatever position the valves have",
             anywhere
                 ? "the relief stands behind a valve or a check, or its ports are exchanged"
                 : "the main relief is missing, its ports are exchanged, or a connection is wrong");
}

// Somewhere on the way to an actuator a line can be taken off.
void check_lines(Joints& joints, Index c) {
  std::vector<std::string> without;
  for (const std::string& name : joints.structure.type[c]->ports) {
    if (joints.unjoined(c, name)) continue;
    const std::vector<bool> block = joints.ways.block(joints.port(c, name));
    if (block[joints.structure.tank()]) continue;
    bool line = false;
    for (const circuit::Line& one : joints.structure.lines) {
      for (const circuit::LineEnd& end : one.ends) {
        line = line || block[joints.structure.gallery[end.volume]];
      }
    }
    if (!line) without.push_back(name);
  }
  if (without.empty()) return;
  std::string names;
  for (const std::string& name : without) names += (names.empty() ? "" : ", ") + quoted(name);
  joints.add_at_ports("no_line", c, without,
                      "nothing on the way to port " + names + " of " + joints.title(c) +
                          " can be taken off: no hold can be made there",
                      "`line` on the connections that can be opened", "`line` is missing");
}

// A pump over centre delivers at either port: neither is its inlet, and another pump fills its
// loop.
void check_charge(Joints& joints, Index c) {
  const Index high = joints.port(c, joints.inlet_of(c));
  if (circuit::charge_pump_of(joints.structure, joints.passages, c, high, {})) return;
  joints.add("no_charge", joints.structure.component_pointer(c),
             "no pump brings charge pressure to " + joints.title(c),
             "the outlet of a charge pump at its pilot port",
             "a connection is missing, or names the wrong port");
}

}  // namespace

void check_pump(Joints& joints, Index c) {
  if (!joints.is_pump(c)) return;
  const std::string in = joints.inlet_of(c), out = joints.outlet_of(c);
  if (!joints.has_port(c, out)) return check_charge(joints, c);
  if (joints.unjoined(c, in) || joints.unjoined(c, out)) return;
  const Index tank = joints.structure.tank();
  const bool sucks = joints.ways.reachable({joints.port(c, in)}, c)[tank];
  const bool out_drains = joints.ways.joins(joints.port(c, out), tank, c);
  if (out_drains) {
    joints.add_at_ports(
        sucks ? "pressure_at_tank" : "reversed", c, {out},
        "the outlet of " + joints.title(c) + " is joined to the tank by what always passes",
        "valves between",
        sucks ? "a connection names the wrong port" : "inlet and outlet of the pump are exchanged");
  } else if (!sucks && joints.in_closed_loop[joints.port(c, in)]) {
    joints.add_at_ports("closed_loop", c, {in, out},
                        joints.title(c) +
                            " sucks what its actuator gives back: a closed loop, which is not " +
                            "represented. Charge pressure, flushing and the other direction are "
                            "left out, and what " +
                            "is answered for its functions does not count with them",
                        "an open circuit: suction from the tank, returns to it",
                        "a closed-loop transmission; or a return that was meant for the tank names "
                        "the pump's inlet");
  } else if (!sucks) {
    joints.add_at_ports("no_suction", c, {in},
                        "nothing leads from the tank to the inlet of " + joints.title(c),
                        "a way to the tank", "a connection is missing, or names the wrong port");
  }
  if (out_drains) return;
  check_relief_of(joints, c, joints.port(c, out));
}

void check_store(Joints& joints, Index c) {
  for (const std::string& name : joints.structure.type[c]->ports) {
    if (joints.unjoined(c, name) || !joints.drains(joints.port(c, name), c)) continue;
    joints.add_at_ports(
        "store_at_tank", c, {name},
        joints.title(c) + " is open to the tank as the machine stands: it stores nothing",
        "a check or a closed valve between", "a connection names the wrong port");
  }
}

void check_actuator(Joints& joints, Index c) {
  const ComponentType& type = *joints.structure.type[c];
  bool driven = false;
  for (const PlacedFunction& function : joints.structure.functions) {
    driven = driven || function.actuator == c;
  }
  if (!driven) {
    joints.add("no_function", joints.structure.component_pointer(c),
               "no function moves " + joints.title(c) + ": nobody can say that it is slow",
               "a function for each of its directions",
               "a function is missing, or names another actuator");
  }
  const ComponentType::Direction& first = type.directions.front();
  if (joints.unjoined(c, first.contracting) || joints.unjoined(c, first.expanding)) return;
  const Index one = joints.port(c, first.contracting), other = joints.port(c, first.expanding);
  if (joints.ways.joins(one, other) &&
      !(one == joints.structure.tank() || other == joints.structure.tank())) {
    joints.add_at_ports("both_sides_joined", c, {first.contracting, first.expanding},
                        "the two sides of " + joints.title(c) + " are joined with each other",
                        "a line of its own for each", "a connection names the wrong port");
  }
  check_lines(joints, c);
}

// Two actuators of which one side is joined and the other is not.
void check_actuator_pairs(Joints& joints) {
  std::vector<Index> actuators;
  for (Index c = 0; c < joints.structure.type.size(); ++c) {
    if (circuit::is_actuator(*joints.structure.type[c])) actuators.push_back(c);
  }
  if (actuators.size() > 300) return;
  const auto sides = [&](Index c) { return joints.structure.type[c]->directions.front(); };
  for (const Index a : actuators) {
    const Index one = joints.port(a, sides(a).contracting);
    const Index other = joints.port(a, sides(a).expanding);
    for (const Index b : actuators) {
      if (b <= a) continue;
      const Index b_one = joints.port(b, sides(b).contracting),
                  b_other = joints.port(b, sides(b).expanding);
      const Index tank = joints.structure.tank();
      const auto met = [&](Index side, Index vertex) {
        return vertex != tank && joints.ways.joins(side, vertex);
      };
      const bool first = met(one, b_one) || met(one, b_other);
      const bool second = met(other, b_one) || met(other, b_other);
      const Index air = joints.structure.outside();  // of a plunger's other side
      if (first == second || joints.ways.joins(one, air) || joints.ways.joins(other, air)) continue;
      const auto drains = [&](Index side) { return joints.ways.joins(side, tank); };
      if (drains(one) || drains(other) || drains(b_one) || drains(b_other)) continue;
      joints
          .add_at_ports("one_side_joined", b, {sides(b).contracting, sides(b).expanding},
                        "one side of " + joints.title(b) + " is joined with one of " +
                            joints.title(a) + ", their other sides are not",
                        "both sides joined, or neither", "a connection leads to the wrong actuator")
          .also.push_back(joints.structure.component_pointer(a));
    }
  }
}

}  // namespace faultodds::authoring
