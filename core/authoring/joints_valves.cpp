// Valves, checks and reliefs: which way round they stand, and whether each of their ports leads
// where ports of its name lead.
#include <algorithm>
#include <map>

#include "core/authoring/joint_checks.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

namespace faultodds::authoring {
namespace {

using circuit::ComponentType;
using circuit::Element;
using circuit::ElementKind;
using circuit::find_name;
using circuit::kOutside;
using circuit::PlacedElement;
using circuit::quoted;

bool at_work_port(const Joints& joints, const std::vector<bool>& joined, Index without) {
  for (Index c = 0; c < joints.structure.type.size(); ++c) {
    if (c == without || !joints.has_port(c, "p") || !joints.has_port(c, "t")) continue;
    for (const char* name : {"a", "b", "p"}) {
      if (joints.has_port(c, name) && joined[joints.port(c, name)]) return true;
    }
  }
  return false;
}

// Where a relief lets oil to: the tank, no line of a pump, or across an actuator; a load-holding
// valve to where some position leads on.
bool opens_rightly(Joints& joints, Index c, const PlacedElement& relief, Index from, Index to) {
  if (to == joints.structure.tank()) return true;
  const std::vector<bool> joined = joints.ways.joined(to, c);
  for (const std::vector<Index>* pumps : {&joints.outlets, &joints.inlets}) {
    for (const Index vertex : *pumps) {
      if (joined[vertex] && vertex != joints.structure.tank()) return false;
    }
  }
  if (!relief.element->pilot.empty()) {
    return joints.ways.reachable({to}, c)[joints.structure.tank()];
  }
  if (joints.at_tank[to]) return true;
  const std::vector<bool> pressed = joints.ways.joined(from, c);
  for (Index a = 0; a < joints.structure.type.size(); ++a) {
    for (const ComponentType::Direction& direction : joints.structure.type[a]->directions) {
      if (pressed[joints.port(a, direction.contracting)] &&
          joined[joints.port(a, direction.expanding)]) {
        return true;
      }
    }
  }
  // Back pressure: as the machine stands the oil goes on to the tank.
  for (const Index outlet : joints.outlets) {
    if (pressed[outlet]) return joints.drains(to, c) && !at_work_port(joints, joined, c);
  }
  return joints.drains(to, c);
}

// A return line that goes to a work port of another valve.
void check_return_of(Joints& joints, Index c) {
  if (joints.unjoined(c, "t")) return;
  const std::vector<bool> line = joints.ways.joined(joints.port(c, "t"), c);
  if (joints.port(c, "t") == joints.structure.tank()) return;
  for (Index other = 0; other < joints.structure.type.size(); ++other) {
    if (other == c || !joints.has_port(other, "t") || !joints.has_port(other, "p")) continue;
    for (const char* name : {"a", "b", "p"}) {
      if (!joints.has_port(other, name) || joints.unjoined(other, name) ||
          !line[joints.port(other, name)])
        continue;
      if (joints.port(other, name) == joints.structure.tank()) continue;
      joints
          .add_at_ports("not_at_tank", c, {"t"},
                        "port `t` of " + joints.title(c) + " is joined with port " + quoted(name) +
                            " of " + joints.title(other),
                        "the return line", "a connection names the wrong port")
          .also.push_back(joints.structure.component_pointer(other));
      return;
    }
  }
}

bool supplied(const Joints& joints, Index vertex, Index without) {
  for (Index c = 0; c < joints.structure.type.size(); ++c) {
    const ComponentType& type = *joints.structure.type[c];
    if (!type.stores_gas || c == without) continue;
    for (const std::string& name : type.ports) {
      if (joints.ways.reachable({joints.port(c, name)}, without)[vertex]) return true;
    }
  }
  return false;
}

// Whether a chamber of an actuator is joined there.
bool holds_chamber(const Joints& joints, const std::vector<bool>& joined) {
  for (Index c = 0; c < joints.structure.type.size(); ++c) {
    const ComponentType& type = *joints.structure.type[c];
    for (const ComponentType::Direction& direction : type.directions) {
      if (joined[joints.port(c, direction.contracting)]) return true;
    }
  }
  return false;
}

// Whether the pilot takes a line of another actuator than the one that is held.
void check_pilot_line(Joints& joints, Index c, const std::vector<bool>& at_load,
                      const std::vector<bool>& at_pilot, const std::string& pilot) {
  Index other = kNone;
  for (Index a = 0; a < joints.structure.type.size(); ++a) {
    bool held = false, joined = false;
    for (const ComponentType::Direction& direction : joints.structure.type[a]->directions) {
      held = held || at_load[joints.port(a, direction.contracting)];
      joined = joined || at_pilot[joints.port(a, direction.contracting)];
    }
    if (held && joined) return;
    if (joined && !held) other = a;
  }
  if (other == kNone) return;
  joints.add_at_ports("pilot", c, {pilot},
                      "the pilot of " + joints.title(c) + " takes a line of " + joints.title(other),
                      "the line on the other side of the actuator that it holds",
                      "a connection names the wrong port or line");
}

}  // namespace

// `in` and `out`, `from` and `to` of what passes or opens one way.
void check_direction(Joints& joints, Index c) {
  if (joints.is_pump(c) || circuit::is_actuator(*joints.structure.type[c])) return;
  if (!joints.has_port(c, "in") || !joints.has_port(c, "out") ||
      joints.structure.type[c]->ports.size() != 2)
    return;
  if (joints.unjoined(c, "in") || joints.unjoined(c, "out")) return;
  const std::vector<bool> from_in = joints.ways.joined(joints.port(c, "in"), c);
  const std::vector<bool> from_out = joints.ways.joined(joints.port(c, "out"), c);
  const Index tank = joints.structure.tank();
  const bool in_pumped = joints.pumped->at(joints.port(c, "in"), c);
  const ComponentType& type = *joints.structure.type[c];
  const bool one_way = !type.reduces.empty() ||
                       std::any_of(type.elements.begin(), type.elements.end(),
                                   [](const Element& e) { return e.kind != ElementKind::passage; });
  bool wrong = one_way && !in_pumped && joints.pumped->at(joints.port(c, "out"), c);
  const bool drains_in = from_in[tank], drains_out = from_out[tank];
  bool out_sucked = false, in_sucked = false;
  for (Index pump = 0; pump < joints.structure.type.size(); ++pump) {
    if (!joints.is_pump(pump)) continue;
    const Index inlet = joints.port(pump, joints.inlet_of(pump));
    in_sucked = in_sucked || from_in[inlet];
    out_sucked = out_sucked || from_out[inlet];
  }
  if (in_sucked && drains_out && !out_sucked) wrong = true;  // on the suction side
  if (out_sucked && drains_in && !in_sucked) wrong = false;
  if (drains_in && !drains_out && !out_sucked) {
    // What opens or passes one way, from the tank to what is under pressure.
    wrong = wrong || (one_way &&
                      std::none_of(type.elements.begin(), type.elements.end(),
                                   [](const Element& e) { return e.kind == ElementKind::check; }));
  }
  if (!wrong) return;
  joints.add_at_ports("reversed", c, {"in", "out"},
                      joints.title(c) +
                          " stands the wrong way round: its `out` is on the side that oil comes "
                          "from",
                      "`in` where the oil comes from", "`in` and `out` are exchanged");
}

// Ports that say by their name that they lie at the tank.
void check_tank_side(Joints& joints, Index c) {
  const Index tank = joints.structure.tank();
  for (const std::string& name : joints.structure.type[c]->ports) {
    if (joints.in_closed_loop[joints.port(c, name)]) return;  // check_pump says it
  }
  if (joints.has_port(c, "tank_side") && joints.has_port(c, "port_side") &&
      !joints.unjoined(c, "tank_side") && !joints.unjoined(c, "port_side")) {
    const bool port_drains = joints.ways.joins(joints.port(c, "port_side"), tank, c);
    const bool tank_drains = joints.drains(joints.port(c, "tank_side"), c);
    const std::vector<bool> line = joints.ways.joined(joints.port(c, "port_side"), c);
    const bool pumped = std::any_of(joints.outlets.begin(), joints.outlets.end(),
                                    [&](Index outlet) { return line[outlet]; });
    if (pumped) {
      joints.add_at_ports(
          "at_pump", c, {"port_side"},
          joints.title(c) + " lies at the line of the pump: it protects no actuator",
          "the line to an actuator", "a connection names the wrong port");
    } else if (port_drains && !joints.ways.joins(joints.port(c, "tank_side"), tank, c)) {
      joints.add_at_ports(
          "reversed", c, {"tank_side", "port_side"},
          joints.title(c) + " stands the wrong way round: its `port_side` lies at the tank",
          "`tank_side` at the tank", "`tank_side` and `port_side` are exchanged");
    } else if (!tank_drains) {
      joints.add_at_ports(
          "not_at_tank", c, {"tank_side"},
          "nothing leads from " + quoted(joints.id(c) + ".tank_side") + " to the tank",
          "a way to the tank", "a connection is missing, or names the wrong port");
    }
  }
  if (joints.structure.type[c]->name == "tank" && joints.has_port(c, "suction") &&
      joints.has_port(c, "return")) {
    const std::vector<bool> from_return = joints.ways.joined(joints.port(c, "return"), c);
    for (Index pump = 0; pump < joints.structure.type.size(); ++pump) {
      if (!joints.is_pump(pump) || !from_return[joints.port(pump, joints.inlet_of(pump))]) continue;
      joints.add_at_ports("reversed", c, {"suction", "return"},
                          "the pump sucks at `return` of " + joints.title(c), "`suction`",
                          "`suction` and `return` are exchanged");
      break;
    }
  }
  // A relief that opens into what nothing leads out of.
  for (Index e = joints.structure.first_element[c]; e < joints.structure.first_element[c + 1];
       ++e) {
    const PlacedElement& one = joints.structure.elements[e];
    if (one.element->kind != ElementKind::relief || one.to <= kOutside) continue;
    if (joints.unjoined(c, one.element->to) || joints.unjoined(c, one.element->from)) continue;
    const Index from = joints.structure.gallery[one.from], to = joints.structure.gallery[one.to];
    const bool from_drains = joints.ways.joins(from, tank, c);
    if (!from_drains && opens_rightly(joints, c, one, from, to)) continue;
    if (from_drains && (joints.is_bypass(one) || joints.drains(to, c))) continue;
    joints.add_at_ports(
        from_drains ? "reversed" : "not_at_tank", c, {one.element->to, one.element->from},
        "what " + joints.title(c) + " lets through at " + quoted(one.element->to) +
            " does not go to the tank",
        "a way to the tank, or for a cross-port relief the other side of its actuator",
        from_drains ? "its ports are exchanged"
                    : "a connection is missing, or names the wrong port");
    break;
  }
}

// Directional valves, by the names of their ports.
void check_valve(Joints& joints, Index c) {
  if (!joints.has_port(c, "t") || !joints.has_port(c, "p")) return;
  if (!joints.unjoined(c, "t") && !joints.drains(joints.port(c, "t"), c)) {
    const bool swapped = !joints.unjoined(c, "p") &&
                         joints.ways.joins(joints.port(c, "p"), joints.structure.tank(), c);
    joints.add_at_ports(
        swapped ? "reversed" : "not_at_tank", c, {"t"},
        "port `t` of " + joints.title(c) + " does not lead to the tank", "a way to the tank",
        swapped ? "`p` and `t` are exchanged" : "a connection is missing, or names the wrong port");
  } else if (!joints.unjoined(c, "p") && !joints.outlets.empty() &&
             !joints.pumped->at(joints.port(c, "p"), c) &&
             !supplied(joints, joints.port(c, "p"), c)) {
    joints.add_at_ports(
        "not_supplied", c, {"p"}, "no pump leads to port `p` of " + joints.title(c),
        "a way from a pump or accumulator",
        "a connection is missing, names the wrong port, or a check stands against it");
  }
  check_return_of(joints, c);
  if (!joints.has_port(c, "a") || !joints.has_port(c, "b") || joints.unjoined(c, "a") ||
      joints.unjoined(c, "b"))
    return;
  const std::vector<bool> from_a = joints.ways.joined(joints.port(c, "a"), c);
  for (const char* name : {"a", "b"}) {
    if (!joints.ways.joins(joints.port(c, name), joints.structure.tank(), c)) continue;
    joints.add_at_ports(
        "work_port_at_tank", c, {name},
        "work port " + quoted(name) + " of " + joints.title(c) + " is joined to the tank",
        "an actuator", "a connection names the wrong port");
  }
  if (from_a[joints.port(c, "b")]) {
    joints.add_at_ports("work_ports_joined", c, {"a", "b"},
                        "the work ports of " + joints.title(c) + " are joined with each other",
                        "the two sides of an actuator", "a connection names the wrong port");
  }
}

// Load-holding valves: what a pilot opens.
void check_load_holding(Joints& joints, Index c) {
  for (Index e = joints.structure.first_element[c]; e < joints.structure.first_element[c + 1];
       ++e) {
    const PlacedElement& one = joints.structure.elements[e];
    if (one.element->pilot.empty() || one.from <= kOutside || one.to <= kOutside) continue;
    const std::string &load = one.element->from, &valve = one.element->to,
                      &pilot = one.element->pilot;
    if (joints.unjoined(c, load) || joints.unjoined(c, valve)) return;
    const std::vector<bool> at_load = joints.ways.joined(joints.port(c, load), c);
    const std::vector<bool> at_valve = joints.ways.joined(joints.port(c, valve), c);
    if (!holds_chamber(joints, at_load) && holds_chamber(joints, at_valve)) {
      joints.add_at_ports(
          "reversed", c, {load, valve},
          joints.title(c) + " stands the wrong way round: no actuator is at its " + quoted(load),
          quoted(load) + " at the actuator, " + quoted(valve) + " at the valve",
          quoted(load) + " and " + quoted(valve) + " are exchanged");
      return;
    }
    if (find_name(joints.structure.type[c]->ports, pilot) ==
            joints.structure.type[c]->ports.size() ||
        joints.unjoined(c, pilot)) {
      return;
    }
    const Index opened_by = joints.port(c, pilot);
    const std::vector<bool> at_pilot = joints.ways.joined(opened_by, c);
    const bool of_tank = at_pilot[joints.structure.tank()];
    if (!at_load[opened_by] && !at_valve[opened_by] && !of_tank) {
      check_pilot_line(joints, c, at_load, at_pilot, pilot);
      return;
    }
    joints.add_at_ports(
        "pilot", c, {pilot},
        "the pilot of " + joints.title(c) + " takes " +
            (of_tank ? std::string("the tank's pressure")
                     : "the pressure of its own " + quoted(at_load[opened_by] ? load : valve)),
        "the line on the other side of the actuator", "a connection names the wrong port or line");
    return;
  }
}

// Reliefs across an actuator that open the same way, where one is for each.
void check_reliefs_alike(Joints& joints) {
  std::map<std::pair<Index, Index>, Index> seen;
  for (const PlacedElement& one : joints.structure.elements) {
    if (one.element->kind != ElementKind::relief || !one.element->pilot.empty()) continue;
    const auto way =
        std::pair(joints.structure.gallery[one.from], joints.structure.gallery[one.to]);
    if (joints.at_tank[way.second] || joints.at_tank[way.first]) continue;
    const auto [first, is_new] = seen.try_emplace(way, one.component);
    if (is_new || first->second == one.component) continue;
    joints
        .add_at_ports("reversed", one.component, {one.element->from, one.element->to},
                      joints.title(one.component) + " and " + joints.title(first->second) +
                          " open the same way: nothing limits the other side",
                      "one for each direction", "the ports of one are exchanged")
        .also.push_back(joints.structure.component_pointer(first->second));
  }
}

}  // namespace faultodds::authoring
