#include "core/circuit/series.h"

#include <algorithm>
#include <set>

namespace faultodds::circuit {
namespace {

// What lines and passages join to the vertices of `left`, no further than the reservoirs.
std::set<Index> joined_to(const HydraulicGraph& graph, std::vector<Index> left) {
  const Structure& structure = graph.structure();
  std::set<Index> joined(left.begin(), left.end());
  while (!left.empty()) {
    const Index here = left.back();
    left.pop_back();
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph.graph()))) {
      if (!graph.always_passes(graph.graph()[edge])) continue;
      const auto there = static_cast<Index>(boost::target(edge, graph.graph()));
      if (there == structure.tank() || there == structure.outside()) continue;
      if (joined.insert(there).second) left.push_back(there);
    }
  }
  return joined;
}

// Whether a line or a passage leads from one of the vertices to `to`.
bool opens_to(const HydraulicGraph& graph, const std::set<Index>& vertices, Index to) {
  for (const Index vertex : vertices) {
    for (const auto edge : boost::make_iterator_range(boost::out_edges(vertex, graph.graph()))) {
      if (boost::target(edge, graph.graph()) != to) continue;
      if (graph.always_passes(graph.graph()[edge])) return true;
    }
  }
  return false;
}

// Modes that leak an element at one of the vertices; only to `to`, unless it is kNone.
std::vector<Index> leaking_at(const HydraulicGraph& graph, const std::set<Index>& vertices,
                              Index to) {
  const Structure& structure = graph.structure();
  std::set<Index> modes;
  for (const Index vertex : vertices) {
    for (const auto edge : boost::make_iterator_range(boost::out_edges(vertex, graph.graph()))) {
      const Arc& arc = graph.graph()[edge];
      if (arc.element == kNone) continue;
      if (to != kNone && boost::target(edge, graph.graph()) != to) continue;
      const std::vector<Index>& leaking = structure.elements[arc.element].leaking;
      modes.insert(leaking.begin(), leaking.end());
    }
  }
  return {modes.begin(), modes.end()};
}

}  // namespace

// A passage past which a relief of its own leads, such as a filter's bypass, stops nothing.
bool Series::bypassed(const PlacedElement& choked) const {
  if (choked.element->kind != ElementKind::passage) return false;
  const PlacedElement* const elements = structure_.elements.data();
  const PlacedElement* const first = elements + structure_.first_element[choked.component];
  const PlacedElement* const last = elements + structure_.first_element[choked.component + 1];
  return std::any_of(first, last, [&](const PlacedElement& other) {
    return other.element->kind == ElementKind::relief && other.from == choked.from &&
           other.to == choked.to;
  });
}

std::vector<Index> Series::choking(Index from, Index to, const Configuration& configuration) {
  std::vector<Index> modes;
  for (const Index e : passages_.series_elements(from, to, configuration)) {
    const PlacedElement& element = structure_.elements[e];
    if (bypassed(element)) continue;
    modes.insert(modes.end(), element.restricting.begin(), element.restricting.end());
  }
  return modes;
}

std::vector<Index> Series::starving(Index pump, const Configuration& configuration) {
  std::vector<Index> modes;
  Configuration without = configuration;
  without.removed = pump;  // no way leads through it
  if (!structure_.type[pump]->flow_test) return modes;
  for (Index e = structure_.first_element[pump]; e < structure_.first_element[pump + 1]; ++e) {
    const PlacedElement& element = structure_.elements[e];
    if (element.element->kind != ElementKind::check) continue;
    const auto found = choking(structure_.gallery[element.from], structure_.tank(), without);
    modes.insert(modes.end(), found.begin(), found.end());
  }
  return modes;
}

std::vector<Index> Series::piloting(Index supplier, Index source,
                                    const std::vector<std::pair<Index, Index>>& ways,
                                    const Configuration& configuration) {
  std::set<Index> pilots;
  const auto note = [&](Index e) {
    const Index pilot = structure_.elements[e].pilot;
    if (pilot != kNone) pilots.insert(structure_.gallery[pilot]);
  };
  for (const auto& [from, to] : ways) {
    for (const Index e : passages_.series_elements(from, to, configuration)) note(e);
  }
  for (Index e = structure_.first_element[supplier]; e < structure_.first_element[supplier + 1];
       ++e) {
    if (structure_.elements[e].element->kind == ElementKind::check) note(e);
  }
  std::vector<Index> modes;
  for (const Index pilot : pilots) {
    const std::vector<Index> found = choking(source, pilot, configuration);
    modes.insert(modes.end(), found.begin(), found.end());
  }
  return modes;
}

std::vector<Index> signal_leaks(const HydraulicGraph& graph, Index pump) {
  const Structure& structure = graph.structure();
  std::vector<Index> signals;
  for (Index e = structure.first_element[pump]; e < structure.first_element[pump + 1]; ++e) {
    const PlacedElement& element = structure.elements[e];
    if (element.element->kind != ElementKind::check || element.pilot == kNone) continue;
    signals.push_back(structure.gallery[element.pilot]);
  }
  if (signals.empty()) return {};
  return leaking_at(graph, joined_to(graph, std::move(signals)), kNone);
}

std::vector<Index> air_leaks(const HydraulicGraph& graph, Index pump) {
  const Structure& structure = graph.structure();
  std::vector<Index> inlets;
  for (Index e = structure.first_element[pump]; e < structure.first_element[pump + 1]; ++e) {
    const PlacedElement& element = structure.elements[e];
    if (element.element->kind != ElementKind::check) continue;
    const Index inlet = structure.gallery[element.from];
    if (inlet != structure.tank()) inlets.push_back(inlet);
  }
  const std::set<Index> joined = joined_to(graph, std::move(inlets));
  if (!opens_to(graph, joined, structure.tank())) return {};  // a closed loop is under pressure
  return leaking_at(graph, joined, structure.outside());
}

}  // namespace faultodds::circuit
