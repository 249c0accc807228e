#include "core/circuit/unopened.h"

#include <algorithm>
#include <set>

#include "core/circuit/cautions.h"
#include "core/circuit/type_check.h"

namespace faultodds::circuit {
namespace {

Observation begin(ObservationKind kind, const std::string& component, const Times& times,
                  const std::set<Index>& modes) {
  Observation one;
  set_defaults(kind, &one);
  one.id = kind_name(kind) + "/" + component;
  one.perform_minutes = times.to_perform(kind);
  for (const Index mode : modes) one.sets.push_back({{mode}, 1});
  one.cautions = general_cautions();
  if (one.energised) {
    one.cautions.insert(one.cautions.end(), power_on_cautions().begin(), power_on_cautions().end());
  }
  if (const auto more = defaults_of(kind).cautions) {
    one.cautions.insert(one.cautions.end(), more().begin(), more().end());
  }
  return one;
}

// What lines join to a reservoir is part of it; by vertex.
std::vector<bool> joined_to(const HydraulicGraph& graph, Index reservoir) {
  std::vector<bool> joined(graph.structure().vertex_count, false);
  std::vector<Index> left = {reservoir};
  joined[reservoir] = true;
  while (!left.empty()) {
    const Index here = left.back();
    left.pop_back();
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph.graph()))) {
      const auto there = static_cast<Index>(boost::target(edge, graph.graph()));
      if (graph.graph()[edge].line == kNone || joined[there]) continue;
      joined[there] = true;
      left.push_back(there);
    }
  }
  return joined;
}

// Modes by which oil gets from each vertex to the outside.
std::vector<std::set<Index>> outward_modes(const Structure& structure,
                                           const std::vector<bool>& outside) {
  std::vector<std::set<Index>> modes(structure.vertex_count);
  for (const PlacedElement& element : structure.elements) {
    const Index from = structure.gallery[element.from], to = structure.gallery[element.to];
    if (outside[from] == outside[to]) continue;
    modes[outside[from] ? to : from].insert(element.leaking.begin(), element.leaking.end());
  }
  return modes;
}

}  // namespace

std::vector<Observation> unopened_tests(const HydraulicGraph& graph, const Times& times,
                                        Passages& passages) {
  const Structure& structure = graph.structure();
  std::vector<Observation> tests;
  const std::vector<bool> outside = joined_to(graph, structure.outside()),
                          tank = joined_to(graph, structure.tank());
  std::vector<bool> reservoir = tank;
  for (std::size_t v = 0; v < outside.size(); ++v) reservoir[v] = tank[v] || outside[v];
  const std::vector<std::set<Index>> outward = outward_modes(structure, outside);
  for (Index c = 0; c < structure.type.size(); ++c) {
    const ComponentType& type = *structure.type[c];
    if (!is_actuator(type) && !type.flow_test) continue;
    std::set<Index> modes;
    for (std::size_t p = 0; p < type.ports.size(); ++p) {
      const Index port = structure.gallery[structure.first_volume[c] + static_cast<Index>(p)];
      for (const Index reached : passages.conduit(port, reservoir)) {
        if (tank[reached]) continue;  // a reservoir that leaks is no part of this
        modes.insert(outward[reached].begin(), outward[reached].end());
      }
    }
    if (modes.empty()) continue;
    Observation one =
        begin(ObservationKind::look, structure.description->components[c].id, times, modes);
    tests.push_back(std::move(one));
  }
  for (Index c = 0; c < structure.type.size(); ++c) {
    std::set<Index> modes;
    bool relief = false;
    for (Index e = structure.first_element[c]; e < structure.first_element[c + 1]; ++e) {
      const PlacedElement& element = structure.elements[e];
      relief = relief || element.element->kind == ElementKind::relief;
      if (outside[structure.gallery[element.to]]) continue;
      modes.insert(element.leaking.begin(), element.leaking.end());
    }
    if (!relief || modes.empty()) continue;
    Observation one =
        begin(ObservationKind::temperature, structure.description->components[c].id, times, modes);
    tests.push_back(std::move(one));
  }
  return tests;
}

}  // namespace faultodds::circuit
