// The checks of joints.h one by one, and what all of them look at: ports by name, pumps, what is
// joined by what always passes. Nothing outside of joints*.cpp includes it.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/authoring/finding.h"
#include "core/authoring/ways.h"
#include "core/circuit/hydraulic_graph.h"

namespace faultodds::authoring {

class Joints {
 public:
  // Keeps references.
  Joints(const circuit::HydraulicGraph& of, const Written& as_written, Findings* to);
  Joints(const Joints&) = delete;
  Joints& operator=(const Joints&) = delete;

  const std::string& id(Index c) const { return structure.description->components[c].id; }
  std::string title(Index c) const { return structure.component_title(c); }
  Index port(Index c, const std::string& name) const;  // its vertex
  bool has_port(Index c, const std::string& name) const;
  bool unjoined(Index c, const std::string& name) const;  // no connection names it
  // A pump: it is measured by flow, and a check in it leads to an outlet that a mode weakens.
  bool is_pump(Index c) const { return !outlet_of(c).empty(); }
  std::string outlet_of(Index c) const;
  std::string inlet_of(Index c) const;
  bool is_bypass(const circuit::PlacedElement& relief) const;
  // Oil gets from there to the tank as the machine stands, the component taken out.
  bool drains(Index from, Index without);

  Finding& add(const char* rule, std::string pointer, std::string message, std::string expected,
               std::string cause, Severity severity = Severity::warning);
  // Points to the connections that name the ports, and to the component.
  Finding& add_at_ports(const char* rule, Index c, const std::vector<std::string>& ports,
                        std::string message, std::string expected, std::string cause);

  const circuit::HydraulicGraph& graph;
  const circuit::Structure& structure;
  Ways ways;
  circuit::StepBudget budget;  // of the passages
  circuit::Passages passages;
  std::vector<Index> outlets, inlets;  // vertices of the pumps'
  std::vector<bool> at_tank;  // by vertex: return and suction lines, joined by what always passes
  std::optional<Reached> pumped;  // from the outlets, as far as what lies at the tank
  // By vertex: both lines of a pump that sucks at an actuator, and nowhere at the tank.
  std::vector<bool> in_closed_loop;
  std::set<Index> lonely;  // components joined to nothing: check_islands

 private:
  void mark_closed_loop(Index pump);

  const Written& written_;
  Findings* findings_;
  std::map<std::string, std::vector<std::size_t>> named_;  // port -> connections
};

// joints_connections.cpp
void check_connections(Joints& joints);
void check_islands(Joints& joints);
void check_ports(Joints& joints, Index c);
void check_bridged(Joints& joints, Index c);

// joints_valves.cpp
void check_direction(Joints& joints, Index c);
void check_tank_side(Joints& joints, Index c);
void check_valve(Joints& joints, Index c);
void check_load_holding(Joints& joints, Index c);
void check_reliefs_alike(Joints& joints);

// joints_drives.cpp
void check_pump(Joints& joints, Index c);
void check_store(Joints& joints, Index c);
void check_actuator(Joints& joints, Index c);
void check_actuator_pairs(Joints& joints);

// joints_functions.cpp
void check_moved_valves(Joints& joints);
void check_function(Joints& joints, std::size_t f);

}  // namespace faultodds::authoring
