#include "core/authoring/joint_checks.h"

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

namespace faultodds::authoring {

using circuit::at;
using circuit::ComponentType;
using circuit::Configuration;
using circuit::Element;
using circuit::ElementKind;
using circuit::find_name;
using circuit::PlacedElement;

Joints::Joints(const circuit::HydraulicGraph& of, const Written& as_written, Findings* to)
    : graph(of),
      structure(of.structure()),
      ways(of),
      budget(structure.elements.size() * 4096 + 4'000'000),
      passages(of, &budget),
      written_(as_written),
      findings_(to) {
  const auto& connections = structure.description->connections;
  for (std::size_t i = 0; i < connections.size(); ++i) {
    named_[connections[i].from].push_back(i);
    named_[connections[i].to].push_back(i);
  }
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (!is_pump(c)) continue;
    outlets.push_back(port(c, outlet_of(c)));
    inlets.push_back(port(c, inlet_of(c)));
  }
  at_tank = ways.joined(structure.tank());
  pumped.emplace(ways, outlets, &at_tank);
  in_closed_loop.resize(structure.vertex_count);
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (is_pump(c)) mark_closed_loop(c);
  }
}

void Joints::mark_closed_loop(Index pump) {
  const Index inlet = port(pump, inlet_of(pump));
  if (ways.reachable({inlet}, pump)[structure.tank()]) return;
  const std::vector<bool> low = ways.joined(inlet, pump);
  bool at_actuator = false;
  for (Index c = 0; c < structure.type.size(); ++c) {
    if (!circuit::is_actuator(*structure.type[c])) continue;
    for (const std::string& name : structure.type[c]->ports) {
      at_actuator = at_actuator || (!unjoined(c, name) && low[port(c, name)]);
    }
  }
  if (!at_actuator) return;
  for (const Element& element : structure.type[pump]->elements) {
    if (element.kind != ElementKind::check) continue;
    for (const std::string& end : {element.from, element.to}) {
      const std::vector<bool> joined = ways.joined(port(pump, end), pump);
      for (Index v = 0; v < structure.vertex_count; ++v) {
        in_closed_loop[v] = in_closed_loop[v] || joined[v];
      }
    }
  }
}

Index Joints::port(Index c, const std::string& name) const {
  return structure.gallery[circuit::volume_of(structure, c, name)];
}

bool Joints::has_port(Index c, const std::string& name) const {
  const std::vector<std::string>& ports = structure.type[c]->ports;
  return find_name(ports, name) < ports.size();
}

std::string Joints::outlet_of(Index c) const {
  const ComponentType& type = *structure.type[c];
  if (!type.flow_test || circuit::is_actuator(type)) return "";
  for (const Element& element : type.elements) {
    if (element.kind == ElementKind::check) return element.to;
  }
  return "";
}

std::string Joints::inlet_of(Index c) const {
  for (const Element& element : structure.type[c]->elements) {
    if (element.kind == ElementKind::check) return element.from;
  }
  return "";
}

bool Joints::unjoined(Index c, const std::string& name) const {
  return named_.find(id(c) + "." + name) == named_.end();
}

Finding& Joints::add(const char* rule, std::string pointer, std::string message,
                     std::string expected, std::string cause, Severity severity) {
  std::string value = written_at(written_, pointer);
  return authoring::add(*findings_, severity, rule, std::move(pointer), std::move(value),
                        std::move(message), std::move(expected), std::move(cause),
                        "the elements of the type, core/circuit/catalogue.json");
}

// Points to the connections that name the ports, and to the component.
Finding& Joints::add_at_ports(const char* rule, Index c, const std::vector<std::string>& ports,
                              std::string message, std::string expected, std::string cause) {
  std::vector<std::string> pointers;
  for (const std::string& name : ports) {
    const std::string whole = id(c) + "." + name;
    const auto found = named_.find(whole);
    if (found == named_.end()) continue;
    for (const std::size_t i : found->second) {
      const bool from = structure.description->connections[i].from == whole;
      pointers.push_back(at(at("/connections", i), from ? "from" : "to"));
    }
  }
  pointers.push_back(structure.component_pointer(c));
  Finding& one =
      add(rule, pointers.front(), std::move(message), std::move(expected), std::move(cause));
  one.also.assign(pointers.begin() + 1, pointers.end());
  return one;
}

// Oil gets from there to the tank as the machine stands, the component taken out.
bool Joints::drains(Index from, Index without) {
  Configuration standing;
  standing.removed = without;
  return passages.reaches(from, structure.tank(), standing);
}

bool Joints::is_bypass(const PlacedElement& relief) const {
  for (Index e = structure.first_element[relief.component];
       e < structure.first_element[relief.component + 1]; ++e) {
    const PlacedElement& other = structure.elements[e];
    if (other.element->kind == ElementKind::passage && other.from == relief.from &&
        other.to == relief.to) {
      return true;
    }
  }
  return false;
}
}  // namespace faultodds::authoring
