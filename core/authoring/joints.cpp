#include "core/authoring/joints.h"

#include <algorithm>
#include <map>
#include <set>

#include "core/authoring/ways.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/stop.h"

namespace faultodds::authoring {
namespace {

using circuit::at;
using circuit::ComponentType;
using circuit::Configuration;
using circuit::Element;
using circuit::ElementKind;
using circuit::find_name;
using circuit::kOutside;
using circuit::kTank;
using circuit::PlacedElement;
using circuit::PlacedFunction;
using circuit::quoted;
using circuit::Structure;

class Joints {
 public:
  Joints(const circuit::HydraulicGraph& graph, const Written& written, Findings* findings)
      : graph_(graph),
        structure_(graph.structure()),
        written_(written),
        findings_(findings),
        ways_(graph),
        budget_(structure_.elements.size() * 4096 + 4'000'000),
        passages_(graph, &budget_) {
    const auto& connections = structure_.description->connections;
    for (std::size_t i = 0; i < connections.size(); ++i) {
      named_[connections[i].from].push_back(i);
      named_[connections[i].to].push_back(i);
    }
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (!is_pump(c)) continue;
      outlets_.push_back(port(c, outlet_of(c)));
      inlets_.push_back(port(c, inlet_of(c)));
    }
    at_tank_ = ways_.joined(structure_.tank());
  }

  void run() {
    check_connections();
    check_islands();
    for (Index c = 0; c < structure_.type.size(); ++c) {
      check_stop();
      check_ports(c);
      check_bridged(c);
      check_direction(c);
      check_tank_side(c);
      check_valve(c);
      check_load_holding(c);
      check_pump(c);
      if (circuit::is_actuator(*structure_.type[c])) check_actuator(c);
      if (structure_.type[c]->stores_gas) check_store(c);
    }
    check_actuator_pairs();
    check_reliefs_alike();
    check_moved_valves();
    for (std::size_t f = 0; f < structure_.functions.size(); ++f) check_function(f);
  }

 private:
  const std::string& id(Index c) const { return structure_.description->components[c].id; }
  std::string title(Index c) const { return structure_.component_title(c); }
  Index port(Index c, const std::string& name) const {
    return structure_.gallery[circuit::volume_of(structure_, c, name)];
  }
  bool has_port(Index c, const std::string& name) const {
    const std::vector<std::string>& ports = structure_.type[c]->ports;
    return find_name(ports, name) < ports.size();
  }
  // A pump: it is measured by flow, and a check in it leads to an outlet that a mode weakens.
  bool is_pump(Index c) const { return !outlet_of(c).empty(); }
  std::string outlet_of(Index c) const {
    const ComponentType& type = *structure_.type[c];
    if (!type.flow_test || circuit::is_actuator(type)) return "";
    for (const Element& element : type.elements) {
      if (element.kind == ElementKind::check) return element.to;
    }
    return "";
  }
  std::string inlet_of(Index c) const {
    for (const Element& element : structure_.type[c]->elements) {
      if (element.kind == ElementKind::check) return element.from;
    }
    return "";
  }
  bool unjoined(Index c, const std::string& name) const {
    return named_.find(id(c) + "." + name) == named_.end();
  }

  Finding& add(const char* rule, std::string pointer, std::string message, std::string expected,
               std::string cause, Severity severity = Severity::warning) {
    Finding one;
    one.severity = severity;
    one.rule = rule;
    one.value = written_at(written_, pointer);
    one.pointer = std::move(pointer);
    one.message = std::move(message);
    one.expected = std::move(expected);
    one.cause = std::move(cause);
    one.source = "the elements of the type, core/circuit/catalogue.json";
    findings_->push_back(std::move(one));
    return findings_->back();
  }

  // Points to the connections that name the ports, and to the component.
  Finding& add_at_ports(const char* rule, Index c, const std::vector<std::string>& ports,
                        std::string message, std::string expected, std::string cause) {
    std::vector<std::string> pointers;
    for (const std::string& name : ports) {
      const std::string whole = id(c) + "." + name;
      const auto found = named_.find(whole);
      if (found == named_.end()) continue;
      for (const std::size_t i : found->second) {
        const bool from = structure_.description->connections[i].from == whole;
        pointers.push_back(at(at("/connections", i), from ? "from" : "to"));
      }
    }
    pointers.push_back(structure_.component_pointer(c));
    Finding& one =
        add(rule, pointers.front(), std::move(message), std::move(expected), std::move(cause));
    one.also.assign(pointers.begin() + 1, pointers.end());
    return one;
  }

  // Connections said twice, or that lead outside.
  void check_connections() {
    const auto& connections = structure_.description->connections;
    std::map<std::pair<std::string, std::string>, std::size_t> seen;
    for (std::size_t i = 0; i < connections.size(); ++i) {
      const std::string here = at("/connections", i);
      const auto& [from, to] = std::pair(connections[i].from, connections[i].to);
      const auto [first, is_new] = seen.try_emplace(std::minmax(from, to), i);
      if (!is_new) {
        add("joined_twice", here, quoted(from) + " and " + quoted(to) + " are joined twice",
            "one connection between two ports",
            "a line copied and not changed: another port was probably meant")
            .also = {at("/connections", first->second)};
      }
      if (from == "outside" || to == "outside") {
        add("open_to_outside", at(here, from == "outside" ? "from" : "to"),
            "a port is joined to the outside, where oil is lost", "`tank`, or a port",
            "`tank` was probably meant");
      }
    }
  }

  // Parts that no way, whatever blocks it, joins to the most of the circuit.
  void check_islands() {
    const std::size_t count = structure_.type.size();
    std::vector<Index> group(structure_.vertex_count, kNone);
    std::vector<std::vector<Index>> parts;
    std::vector<std::vector<Index>> at_vertex(structure_.vertex_count);
    for (Index v = kOutside + 1; v < structure_.volume_component.size(); ++v) {
      at_vertex[structure_.gallery[v]].push_back(structure_.volume_component[v]);
    }
    std::vector<bool> seen(count, false);
    for (Index c = 0; c < count; ++c) {
      if (seen[c] || structure_.first_volume[c] == structure_.first_volume[c + 1]) continue;
      parts.emplace_back();
      std::vector<Index> left = {c};
      seen[c] = true;
      while (!left.empty()) {
        const Index part = left.back();
        left.pop_back();
        parts.back().push_back(part);
        for (Index v = structure_.first_volume[part]; v < structure_.first_volume[part + 1]; ++v) {
          join_at(structure_.gallery[v], at_vertex, &seen, &left);
          for (const Index line : structure_.lines_at[v]) {
            for (const circuit::LineEnd& end : structure_.lines[line].ends) {
              join_at(structure_.gallery[end.volume], at_vertex, &seen, &left);
            }
          }
        }
      }
    }
    std::stable_sort(parts.begin(), parts.end(),
                     [](const auto& a, const auto& b) { return a.size() > b.size(); });
    for (std::size_t g = 1; g < parts.size(); ++g) {
      const Index c = parts[g].front();
      const bool has_tank = std::any_of(parts[g].begin(), parts[g].end(), [&](Index part) {
        return structure_.type[part]->name == "tank" || is_pump(part);
      });
      // A circuit whose suction and returns end in `tank` falls apart there, and rightly so.
      if (has_tank && parts[g].size() > 2) continue;
      if (reaches_tank(parts[g]) && parts[g].size() > 2) continue;
      std::string names;
      for (std::size_t i = 0; i < std::min<std::size_t>(parts[g].size(), 4); ++i) {
        names += (i == 0 ? "" : ", ") + quoted(id(parts[g][i]));
      }
      add("joined_to_nothing", structure_.component_pointer(c),
          names + (parts[g].size() > 1 ? " are" : " is") + " joined to nothing else of the circuit",
          "a connection to each port", "a connection is missing, or names another part");
      for (const Index part : parts[g]) lonely_.insert(part);
    }
  }
  void join_at(Index vertex, const std::vector<std::vector<Index>>& at_vertex,
               std::vector<bool>* seen, std::vector<Index>* left) const {
    if (vertex == structure_.tank() || vertex == structure_.outside()) return;
    for (const Index part : at_vertex[vertex]) {
      if ((*seen)[part]) continue;
      (*seen)[part] = true;
      left->push_back(part);
    }
  }
  bool reaches_tank(const std::vector<Index>& parts) const {
    for (const Index part : parts) {
      for (Index v = structure_.first_volume[part]; v < structure_.first_volume[part + 1]; ++v) {
        if (structure_.gallery[v] == structure_.tank()) return true;
      }
    }
    return false;
  }

  // Ports that no connection names.
  void check_ports(Index c) {
    if (lonely_.count(c) != 0 && structure_.type[c]->ports.size() > 1) return;
    for (const std::string& name : structure_.type[c]->ports) {
      if (!unjoined(c, name)) continue;
      const Index volume = circuit::volume_of(structure_, c, name);
      const auto fitting = structure_.fitting.find(volume);
      if (fitting != structure_.fitting.end() && fitting->second->plug) continue;
      add("unjoined_port", structure_.component_pointer(c),
          "port " + quoted(id(c) + "." + name) + " (" + title(c) + ") is joined to nothing",
          "a connection that names it, or a fitting with `plug: true`",
          "a connection is missing, or names another port or part")
          .value = id(c) + "." + name;
    }
  }

  // Elements both of whose sides are one gallery.
  void check_bridged(Index c) {
    for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
      const PlacedElement& one = structure_.elements[e];
      if (one.from <= kOutside || one.to <= kOutside) continue;
      if (structure_.gallery[one.from] != structure_.gallery[one.to]) continue;
      if (structure_.gallery[one.from] == structure_.tank() &&
          circuit::is_actuator(*structure_.type[c])) {
        continue;
      }
      add_at_ports(
          "both_sides_joined", c, {one.element->from, one.element->to},
          "both sides of " + quoted(id(c) + "." + one.element->name) +
              " are one gallery: it separates nothing",
          quoted(one.element->from) + " and " + quoted(one.element->to) + " in different galleries",
          "a connection names the wrong port, or one is too many");
      return;
    }
  }

  // `in` and `out`, `from` and `to` of what passes or opens one way.
  void check_direction(Index c) {
    if (is_pump(c) || circuit::is_actuator(*structure_.type[c])) return;
    if (!has_port(c, "in") || !has_port(c, "out") || structure_.type[c]->ports.size() != 2) return;
    if (unjoined(c, "in") || unjoined(c, "out")) return;
    const std::vector<bool> pumped = ways_.reachable(outlets_, c, &at_tank_);
    const std::vector<bool> from_in = ways_.joined(port(c, "in"), c);
    const std::vector<bool> from_out = ways_.joined(port(c, "out"), c);
    const Index tank = structure_.tank();
    const bool in_pumped = pumped[port(c, "in")], out_pumped = pumped[port(c, "out")];
    const ComponentType& type = *structure_.type[c];
    const bool one_way =
        !type.reduces.empty() ||
        std::any_of(type.elements.begin(), type.elements.end(),
                    [](const Element& e) { return e.kind != ElementKind::passage; });
    bool wrong = one_way && out_pumped && !in_pumped;
    const bool drains_in = from_in[tank], drains_out = from_out[tank];
    bool out_sucked = false, in_sucked = false;
    for (Index pump = 0; pump < structure_.type.size(); ++pump) {
      if (!is_pump(pump)) continue;
      const Index inlet = port(pump, inlet_of(pump));
      in_sucked = in_sucked || from_in[inlet];
      out_sucked = out_sucked || from_out[inlet];
    }
    if (in_sucked && drains_out && !out_sucked) wrong = true;  // on the suction side
    if (out_sucked && drains_in && !in_sucked) wrong = false;
    if (drains_in && !drains_out && !out_sucked) {
      // What opens or passes one way, from the tank to what is under pressure.
      wrong =
          wrong ||
          (one_way && std::none_of(type.elements.begin(), type.elements.end(),
                                   [](const Element& e) { return e.kind == ElementKind::check; }));
    }
    if (!wrong) return;
    add_at_ports("reversed", c, {"in", "out"},
                 title(c) +
                     " stands the wrong way round: its `out` is on the side that oil comes "
                     "from",
                 "`in` where the oil comes from", "`in` and `out` are exchanged");
  }

  // Ports that say by their name that they lie at the tank.
  void check_tank_side(Index c) {
    const Index tank = structure_.tank();
    if (has_port(c, "tank_side") && has_port(c, "port_side") && !unjoined(c, "tank_side") &&
        !unjoined(c, "port_side")) {
      const bool port_drains = ways_.joined(port(c, "port_side"), c)[tank];
      const bool tank_drains = drains(port(c, "tank_side"), c);
      const std::vector<bool> line = ways_.joined(port(c, "port_side"), c);
      const bool pumped =
          std::any_of(outlets_.begin(), outlets_.end(), [&](Index outlet) { return line[outlet]; });
      if (pumped) {
        add_at_ports("at_pump", c, {"port_side"},
                     title(c) + " lies at the line of the pump: it protects no actuator",
                     "the line to an actuator", "a connection names the wrong port");
      } else if (port_drains && !ways_.joined(port(c, "tank_side"), c)[tank]) {
        add_at_ports("reversed", c, {"tank_side", "port_side"},
                     title(c) + " stands the wrong way round: its `port_side` lies at the tank",
                     "`tank_side` at the tank", "`tank_side` and `port_side` are exchanged");
      } else if (!tank_drains) {
        add_at_ports("not_at_tank", c, {"tank_side"},
                     "nothing leads from " + quoted(id(c) + ".tank_side") + " to the tank",
                     "a way to the tank", "a connection is missing, or names the wrong port");
      }
    }
    if (structure_.type[c]->name == "tank" && has_port(c, "suction") && has_port(c, "return")) {
      const std::vector<bool> from_return = ways_.joined(port(c, "return"), c);
      for (Index pump = 0; pump < structure_.type.size(); ++pump) {
        if (!is_pump(pump) || !from_return[port(pump, inlet_of(pump))]) continue;
        add_at_ports("reversed", c, {"suction", "return"},
                     "the pump sucks at `return` of " + title(c), "`suction`",
                     "`suction` and `return` are exchanged");
        break;
      }
    }
    // A relief that opens into what nothing leads out of.
    for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
      const PlacedElement& one = structure_.elements[e];
      if (one.element->kind != ElementKind::relief || one.to <= kOutside) continue;
      if (unjoined(c, one.element->to) || unjoined(c, one.element->from)) continue;
      const Index from = structure_.gallery[one.from], to = structure_.gallery[one.to];
      const bool from_drains = ways_.joined(from, c)[tank];
      if (!from_drains && opens_rightly(c, one, from, to)) continue;
      if (from_drains && (is_bypass(one) || drains(to, c))) continue;
      add_at_ports(from_drains ? "reversed" : "not_at_tank", c,
                   {one.element->to, one.element->from},
                   "what " + title(c) + " lets through at " + quoted(one.element->to) +
                       " does not go to the tank",
                   "a way to the tank, or for a cross-port relief the other side of its actuator",
                   from_drains ? "its ports are exchanged"
                               : "a connection is missing, or names the wrong port");
      break;
    }
  }

  // Where a relief lets oil to: the tank, no line of a pump, or across an actuator; a load-holding
  // valve to where some position leads on.
  bool opens_rightly(Index c, const PlacedElement& relief, Index from, Index to) {
    if (to == structure_.tank()) return true;
    const std::vector<bool> joined = ways_.joined(to, c);
    for (const std::vector<Index>* pumps : {&outlets_, &inlets_}) {
      for (const Index vertex : *pumps) {
        if (joined[vertex] && vertex != structure_.tank()) return false;
      }
    }
    if (!relief.element->pilot.empty()) {
      return ways_.reachable({to}, c)[structure_.tank()];
    }
    if (at_tank_[to]) return true;
    const std::vector<bool> pressed = ways_.joined(from, c);
    for (Index a = 0; a < structure_.type.size(); ++a) {
      for (const ComponentType::Direction& direction : structure_.type[a]->directions) {
        if (pressed[port(a, direction.contracting)] && joined[port(a, direction.expanding)]) {
          return true;
        }
      }
    }
    // Back pressure: as the machine stands the oil goes on to the tank.
    for (const Index outlet : outlets_) {
      if (pressed[outlet]) return drains(to, c) && !at_work_port(joined, c);
    }
    return drains(to, c);
  }
  bool at_work_port(const std::vector<bool>& joined, Index without) const {
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (c == without || !has_port(c, "p") || !has_port(c, "t")) continue;
      for (const char* name : {"a", "b", "p"}) {
        if (has_port(c, name) && joined[port(c, name)]) return true;
      }
    }
    return false;
  }

  // Oil gets from there to the tank as the machine stands, the component taken out.
  bool drains(Index from, Index without) {
    Configuration standing;
    standing.removed = without;
    return passages_.reaches(from, structure_.tank(), standing);
  }

  // Directional valves, by the names of their ports.
  void check_valve(Index c) {
    if (!has_port(c, "t") || !has_port(c, "p")) return;
    if (!unjoined(c, "t") && !drains(port(c, "t"), c)) {
      const bool swapped = !unjoined(c, "p") && ways_.joined(port(c, "p"), c)[structure_.tank()];
      add_at_ports(swapped ? "reversed" : "not_at_tank", c, {"t"},
                   "port `t` of " + title(c) + " does not lead to the tank", "a way to the tank",
                   swapped ? "`p` and `t` are exchanged"
                           : "a connection is missing, or names the wrong port");
    } else if (!unjoined(c, "p") && !outlets_.empty() &&
               !ways_.reachable(outlets_, c, &at_tank_)[port(c, "p")] &&
               !supplied(port(c, "p"), c)) {
      add_at_ports("not_supplied", c, {"p"}, "no pump leads to port `p` of " + title(c),
                   "a way from a pump or accumulator",
                   "a connection is missing, names the wrong port, or a check stands against it");
    }
    check_return_of(c);
    if (!has_port(c, "a") || !has_port(c, "b") || unjoined(c, "a") || unjoined(c, "b")) return;
    const std::vector<bool> from_a = ways_.joined(port(c, "a"), c);
    for (const char* name : {"a", "b"}) {
      if (!ways_.joined(port(c, name), c)[structure_.tank()]) continue;
      add_at_ports("work_port_at_tank", c, {name},
                   "work port " + quoted(name) + " of " + title(c) + " is joined to the tank",
                   "an actuator", "a connection names the wrong port");
    }
    if (from_a[port(c, "b")]) {
      add_at_ports("work_ports_joined", c, {"a", "b"},
                   "the work ports of " + title(c) + " are joined with each other",
                   "the two sides of an actuator", "a connection names the wrong port");
    }
  }

  // A return line that goes to a work port of another valve.
  void check_return_of(Index c) {
    if (unjoined(c, "t")) return;
    const std::vector<bool> line = ways_.joined(port(c, "t"), c);
    if (port(c, "t") == structure_.tank()) return;
    for (Index other = 0; other < structure_.type.size(); ++other) {
      if (other == c || !has_port(other, "t") || !has_port(other, "p")) continue;
      for (const char* name : {"a", "b", "p"}) {
        if (!has_port(other, name) || unjoined(other, name) || !line[port(other, name)]) continue;
        if (port(other, name) == structure_.tank()) continue;
        add_at_ports("not_at_tank", c, {"t"},
                     "port `t` of " + title(c) + " is joined with port " + quoted(name) + " of " +
                         title(other),
                     "the return line", "a connection names the wrong port")
            .also.push_back(structure_.component_pointer(other));
        return;
      }
    }
  }

  bool supplied(Index vertex, Index without) const {
    for (Index c = 0; c < structure_.type.size(); ++c) {
      const ComponentType& type = *structure_.type[c];
      if (!type.stores_gas || c == without) continue;
      for (const std::string& name : type.ports) {
        if (ways_.reachable({port(c, name)}, without)[vertex]) return true;
      }
    }
    return false;
  }

  // Whether a chamber of an actuator is joined there.
  bool holds_chamber(const std::vector<bool>& joined) const {
    for (Index c = 0; c < structure_.type.size(); ++c) {
      const ComponentType& type = *structure_.type[c];
      for (const ComponentType::Direction& direction : type.directions) {
        if (joined[port(c, direction.contracting)]) return true;
      }
    }
    return false;
  }

  // Load-holding valves: what a pilot opens.
  void check_load_holding(Index c) {
    for (Index e = structure_.first_element[c]; e < structure_.first_element[c + 1]; ++e) {
      const PlacedElement& one = structure_.elements[e];
      if (one.element->pilot.empty() || one.from <= kOutside || one.to <= kOutside) continue;
      const std::string &load = one.element->from, &valve = one.element->to,
                        &pilot = one.element->pilot;
      if (unjoined(c, load) || unjoined(c, valve)) return;
      const std::vector<bool> at_load = ways_.joined(port(c, load), c);
      const std::vector<bool> at_valve = ways_.joined(port(c, valve), c);
      if (!holds_chamber(at_load) && holds_chamber(at_valve)) {
        add_at_ports(
            "reversed", c, {load, valve},
            title(c) + " stands the wrong way round: no actuator is at its " + quoted(load),
            quoted(load) + " at the actuator, " + quoted(valve) + " at the valve",
            quoted(load) + " and " + quoted(valve) + " are exchanged");
        return;
      }
      if (find_name(structure_.type[c]->ports, pilot) == structure_.type[c]->ports.size() ||
          unjoined(c, pilot)) {
        return;
      }
      const Index opened_by = port(c, pilot);
      const std::vector<bool> at_pilot = ways_.joined(opened_by, c);
      const bool of_tank = at_pilot[structure_.tank()];
      if (!at_load[opened_by] && !at_valve[opened_by] && !of_tank) {
        check_pilot_line(c, at_load, at_pilot, pilot);
        return;
      }
      add_at_ports(
          "pilot", c, {pilot},
          "the pilot of " + title(c) + " takes " +
              (of_tank ? std::string("the tank's pressure")
                       : "the pressure of its own " + quoted(at_load[opened_by] ? load : valve)),
          "the line on the other side of the actuator",
          "a connection names the wrong port or line");
      return;
    }
  }

  // Whether the pilot takes a line of another actuator than the one that is held.
  void check_pilot_line(Index c, const std::vector<bool>& at_load,
                        const std::vector<bool>& at_pilot, const std::string& pilot) {
    Index other = kNone;
    for (Index a = 0; a < structure_.type.size(); ++a) {
      bool held = false, joined = false;
      for (const ComponentType::Direction& direction : structure_.type[a]->directions) {
        held = held || at_load[port(a, direction.contracting)];
        joined = joined || at_pilot[port(a, direction.contracting)];
      }
      if (held && joined) return;
      if (joined && !held) other = a;
    }
    if (other == kNone) return;
    add_at_ports("pilot", c, {pilot},
                 "the pilot of " + title(c) + " takes a line of " + title(other),
                 "the line on the other side of the actuator that it holds",
                 "a connection names the wrong port or line");
  }

  void check_pump(Index c) {
    if (!is_pump(c)) return;
    const std::string in = inlet_of(c), out = outlet_of(c);
    if (unjoined(c, in) || unjoined(c, out)) return;
    const Index tank = structure_.tank();
    const bool sucks = ways_.reachable({port(c, in)}, c)[tank];
    const bool out_drains = ways_.joined(port(c, out), c)[tank];
    if (out_drains) {
      add_at_ports(sucks ? "pressure_at_tank" : "reversed", c, {out},
                   "the outlet of " + title(c) + " is joined to the tank by what always passes",
                   "valves between",
                   sucks ? "a connection names the wrong port"
                         : "inlet and outlet of the pump are exchanged");
    } else if (!sucks) {
      add_at_ports("no_suction", c, {in}, "nothing leads from the tank to the inlet of " + title(c),
                   "a way to the tank", "a connection is missing, or names the wrong port");
    }
    if (out_drains) return;
    check_relief_of(c, port(c, out));
  }

  // What limits the pressure of a pump: a relief that its outlet reaches freely.
  void check_relief_of(Index c, Index outlet) {
    const std::vector<bool> reached = ways_.reachable({outlet}, c);
    std::vector<bool> joined(structure_.vertex_count, false);
    for (const Index v : passages_.region(outlet, {})) joined[v] = true;
    bool limited = false, anywhere = false;
    for (const PlacedElement& one : structure_.elements) {
      if (one.element->kind != ElementKind::relief || one.component == c) continue;
      if (is_bypass(one) || at_tank_[structure_.gallery[one.from]]) continue;
      anywhere = anywhere || reached[structure_.gallery[one.from]];
      limited = limited || joined[structure_.gallery[one.from]];
    }
    if (limited) return;
    add("no_relief", structure_.component_pointer(c),
        "no relief limits the pressure at the outlet of " + title(c),
        "a relief that the outlet reaches whatever position the valves have",
        anywhere ? "the relief stands behind a valve or a check, or its ports are exchanged"
                 : "the main relief is missing, its ports are exchanged, or a connection is wrong");
  }
  bool is_bypass(const PlacedElement& relief) const {
    for (Index e = structure_.first_element[relief.component];
         e < structure_.first_element[relief.component + 1]; ++e) {
      const PlacedElement& other = structure_.elements[e];
      if (other.element->kind == ElementKind::passage && other.from == relief.from &&
          other.to == relief.to) {
        return true;
      }
    }
    return false;
  }

  void check_store(Index c) {
    for (const std::string& name : structure_.type[c]->ports) {
      if (unjoined(c, name) || !drains(port(c, name), c)) continue;
      add_at_ports("store_at_tank", c, {name},
                   title(c) + " is open to the tank as the machine stands: it stores nothing",
                   "a check or a closed valve between", "a connection names the wrong port");
    }
  }

  void check_actuator(Index c) {
    const ComponentType& type = *structure_.type[c];
    bool driven = false;
    for (const PlacedFunction& function : structure_.functions) {
      driven = driven || function.actuator == c;
    }
    if (!driven) {
      add("no_function", structure_.component_pointer(c),
          "no function moves " + title(c) + ": nobody can say that it is slow",
          "a function for each of its directions",
          "a function is missing, or names another actuator");
    }
    const ComponentType::Direction& first = type.directions.front();
    if (unjoined(c, first.contracting) || unjoined(c, first.expanding)) return;
    const Index one = port(c, first.contracting), other = port(c, first.expanding);
    if (ways_.joined(one)[other] && !(one == structure_.tank() || other == structure_.tank())) {
      add_at_ports("both_sides_joined", c, {first.contracting, first.expanding},
                   "the two sides of " + title(c) + " are joined with each other",
                   "a line of its own for each", "a connection names the wrong port");
    }
    check_lines(c);
  }

  // Somewhere on the way to an actuator a line can be taken off.
  void check_lines(Index c) {
    std::vector<std::string> without;
    for (const std::string& name : structure_.type[c]->ports) {
      if (unjoined(c, name)) continue;
      const std::vector<bool> block = ways_.block(port(c, name));
      if (block[structure_.tank()]) continue;
      bool line = false;
      for (const circuit::Line& one : structure_.lines) {
        for (const circuit::LineEnd& end : one.ends) {
          line = line || block[structure_.gallery[end.volume]];
        }
      }
      if (!line) without.push_back(name);
    }
    if (without.empty()) return;
    std::string names;
    for (const std::string& name : without) names += (names.empty() ? "" : ", ") + quoted(name);
    add_at_ports("no_line", c, without,
                 "nothing on the way to port " + names + " of " + title(c) +
                     " can be taken off: no hold can be made there",
                 "`line` on the connections that can be opened", "`line` is missing");
  }

  // Two actuators of which one side is joined and the other is not.
  void check_actuator_pairs() {
    std::vector<Index> actuators;
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (circuit::is_actuator(*structure_.type[c])) actuators.push_back(c);
    }
    if (actuators.size() > 300) return;
    const auto sides = [&](Index c) { return structure_.type[c]->directions.front(); };
    for (const Index a : actuators) {
      const std::vector<bool> one = ways_.joined(port(a, sides(a).contracting));
      const std::vector<bool> other = ways_.joined(port(a, sides(a).expanding));
      for (const Index b : actuators) {
        if (b <= a) continue;
        const Index b_one = port(b, sides(b).contracting), b_other = port(b, sides(b).expanding);
        const Index tank = structure_.tank();
        const auto met = [&](const std::vector<bool>& joined, Index vertex) {
          return vertex != tank && joined[vertex];
        };
        const bool first = met(one, b_one) || met(one, b_other);
        const bool second = met(other, b_one) || met(other, b_other);
        if (first == second || one[tank] || other[tank]) continue;
        if (ways_.joined(b_one)[tank] || ways_.joined(b_other)[tank]) continue;
        add_at_ports("one_side_joined", b, {sides(b).contracting, sides(b).expanding},
                     "one side of " + title(b) + " is joined with one of " + title(a) +
                         ", their other sides are not",
                     "both sides joined, or neither", "a connection leads to the wrong actuator")
            .also.push_back(structure_.component_pointer(a));
      }
    }
  }

  // Reliefs across an actuator that open the same way, where one is for each.
  void check_reliefs_alike() {
    std::map<std::pair<Index, Index>, Index> seen;
    for (const PlacedElement& one : structure_.elements) {
      if (one.element->kind != ElementKind::relief || !one.element->pilot.empty()) continue;
      const auto way = std::pair(structure_.gallery[one.from], structure_.gallery[one.to]);
      if (at_tank_[way.second] || at_tank_[way.first]) continue;
      const auto [first, is_new] = seen.try_emplace(way, one.component);
      if (is_new || first->second == one.component) continue;
      add_at_ports("reversed", one.component, {one.element->from, one.element->to},
                   title(one.component) + " and " + title(first->second) +
                       " open the same way: nothing limits the other side",
                   "one for each direction", "the ports of one are exchanged")
          .also.push_back(structure_.component_pointer(first->second));
    }
  }

  // Valves that no function moves.
  void check_moved_valves() {
    if (structure_.functions.empty()) return;
    std::set<Index> moved;
    for (const PlacedFunction& function : structure_.functions) {
      for (const auto& [valve, position] : function.positions) moved.insert(valve);
    }
    for (Index c = 0; c < structure_.type.size(); ++c) {
      if (moved.count(c) != 0 || lonely_.count(c) != 0) continue;
      const std::vector<std::string> positions = circuit::positions_of(*structure_.type[c]);
      if (positions.size() < 2 || !has_port(c, "p")) continue;
      add("never_moved", structure_.component_pointer(c),
          "no function moves " + title(c) + " out of neutral", "a function with a position of it",
          "a function is missing, or its `positions` name another valve");
    }
  }

  std::string function_title(std::size_t f) const {
    const circuit::Function& one = structure_.description->functions[f];
    return one.title.empty() ? one.id : one.title;
  }

  void check_function(std::size_t f) {
    const PlacedFunction& function = structure_.functions[f];
    const std::string here = at("/functions", f);
    const Index supplier = structure_.volume_component[function.source];
    const auto& modes = structure_.type[supplier]->failure_modes;
    if (std::none_of(modes.begin(), modes.end(),
                     [](const circuit::FailureModeType& m) { return !m.weakens.empty(); })) {
      add("source", at(here, "source"),
          title(supplier) + " supplies nothing: no failure mode of it delivers less",
          "the outlet of a pump, or an accumulator", "the pump's outlet was probably meant");
    } else if (is_pump(supplier) &&
               structure_.gallery[function.source] == port(supplier, inlet_of(supplier))) {
      add("source", at(here, "source"), "the source is the inlet of " + title(supplier),
          "its outlet", "the pump's outlet was probably meant");
    }
    for (std::size_t g = 0; g < f; ++g) {
      const PlacedFunction& other = structure_.functions[g];
      if (other.actuator == function.actuator && other.direction == function.direction &&
          other.positions == function.positions && other.source == function.source) {
        add("said_twice", here,
            "functions " + quoted(function_title(g)) + " and " + quoted(function_title(f)) +
                " are the same",
            "a difference in actuator, direction or positions",
            "a copy whose direction, actuator or positions were not changed")
            .also = {at("/functions", g)};
      }
    }
    Configuration commanded;
    commanded.positions = function.positions;
    const Index source = structure_.gallery[function.source];
    const Index driven = structure_.gallery[function.expanding];
    const Index contracting = structure_.gallery[function.contracting];
    if (!passages_.reaches(source, driven, commanded)) return;  // derived.cpp refuses it
    if (!passages_.reaches(contracting, structure_.tank(), commanded) &&
        !passages_.reaches(contracting, driven, commanded)) {
      add("no_return", at(here, "positions"),
          "oil that " + function_title(f) + " displaces from " +
              quoted(structure_.volume_name(function.contracting)) + " has nowhere to go" +
              blocked_text(contracting, {structure_.tank()}, commanded),
          "a way to the tank or to the driven side",
          "a load-holding valve stands closed for want of its position, or something stands the "
          "wrong way round")
          .also = {here};
    }
    for (const auto& [valve, position] : function.positions) {
      if (position == "neutral") continue;
      Configuration without = commanded;
      without.positions.erase(valve);
      if (passages_.region(source, without) != passages_.region(source, commanded) ||
          passages_.region(contracting, without) != passages_.region(contracting, commanded)) {
        continue;
      }
      add("moves_nothing", at(at(here, "positions"), id(valve)),
          "position " + quoted(position) + " of " + title(valve) + " changes nothing for " +
              function_title(f),
          "the valve that moves " + title(function.actuator), "another valve was probably meant");
    }
  }

  std::string blocked_text(Index from, const std::vector<Index>& to,
                           const Configuration& configuration) const {
    for (const WayStep& step : least_blocked_way(graph_, from, to, configuration)) {
      if (!step.blocked) continue;
      const PlacedElement& one = structure_.elements[step.element];
      return ": it is blocked at " + quoted(id(one.component) + "." + one.element->name);
    }
    return "";
  }

  const circuit::HydraulicGraph& graph_;
  const Structure& structure_;
  const Written& written_;
  Findings* findings_;
  Ways ways_;
  circuit::StepBudget budget_;
  circuit::Passages passages_;
  std::map<std::string, std::vector<std::size_t>> named_;  // port -> connections
  std::vector<Index> outlets_, inlets_;                    // vertices of the pumps'
  std::vector<bool> at_tank_;  // by vertex: return and suction lines, joined by what always passes
  std::set<Index> lonely_;
};

}  // namespace

void check_joints(const circuit::HydraulicGraph& graph, const Written& written,
                  Findings* findings) {
  Joints(graph, written, findings).run();
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
