#include "core/circuit/hydraulic_graph.h"

#include <algorithm>
#include <boost/range/iterator_range.hpp>

#include "core/error.h"

namespace faultodds::circuit {

HydraulicGraph::HydraulicGraph(const Structure& structure)
    : structure_(&structure), graph_(structure.vertex_count) {
  const auto join = [this](Index from, Index to, Index element, Index line) {
    if (from == to) return;  // both sides in one gallery: the element bridges nothing
    boost::add_edge(from, to, Arc{element, line, true}, graph_);
    boost::add_edge(to, from, Arc{element, line, false}, graph_);
  };
  for (std::size_t i = 0; i < structure.elements.size(); ++i) {
    const PlacedElement& element = structure.elements[i];
    join(structure.gallery[element.from], structure.gallery[element.to], static_cast<Index>(i),
         kNone);
  }
  for (std::size_t i = 0; i < structure.lines.size(); ++i) {
    const Line& line = structure.lines[i];
    join(structure.gallery[line.ends[0].volume], structure.gallery[line.ends[1].volume], kNone,
         static_cast<Index>(i));
  }
}

bool HydraulicGraph::present(const Arc& arc, const Configuration& configuration) const {
  if (arc.line != kNone) {
    const std::vector<Index>& off = configuration.lines_off;
    return std::find(off.begin(), off.end(), arc.line) == off.end();
  }
  return configuration.removed == kNone ||
         structure_->elements[arc.element].component != configuration.removed;
}

bool HydraulicGraph::passes(const Arc& arc, const Configuration& configuration) const {
  if (arc.line != kNone) return true;
  const PlacedElement& placed = structure_->elements[arc.element];
  switch (placed.element->kind) {
    case ElementKind::passage:
      return true;
    case ElementKind::check:
      return arc.forward;
    case ElementKind::relief:
      return false;
    case ElementKind::seal:
      break;
  }
  const std::vector<std::string>& open_in = placed.element->open_in;
  if (open_in.empty()) return false;
  static const std::string neutral = "neutral";
  const auto given = configuration.positions.find(placed.component);
  const std::string& position = given == configuration.positions.end() ? neutral : given->second;
  return std::find(open_in.begin(), open_in.end(), position) != open_in.end();
}

bool HydraulicGraph::always_passes(const Arc& arc) const {
  return arc.line != kNone ||
         structure_->elements[arc.element].element->kind == ElementKind::passage;
}

bool HydraulicGraph::may_pass(const Arc& arc) const {
  if (arc.line != kNone) return true;
  const Element& element = *structure_->elements[arc.element].element;
  switch (element.kind) {
    case ElementKind::passage:
      return true;
    case ElementKind::check:
      return arc.forward;
    case ElementKind::relief:
      return false;
    case ElementKind::seal:
      break;
  }
  return !element.open_in.empty();
}

void StepBudget::exceeded(const std::string& what) const {
  throw Error(Code::limit_exceeded,
              what + ": more than " + std::to_string(limit_) + " steps over the whole circuit");
}

Passages::Passages(const HydraulicGraph& graph, StepBudget* budget)
    : graph_(graph),
      budget_(budget),
      marked_(boost::num_vertices(graph.graph()), 0),
      path_index_(boost::num_vertices(graph.graph()), kNone) {}

void Passages::step() {
  static const std::string what = "following free passages";
  budget_->spend(1, what);
}

bool Passages::mark(Index vertex) {
  if (marked_[vertex] == stamp_) return false;
  marked_[vertex] = stamp_;
  return true;
}

template <typename Goes, typename Ends>
std::vector<Index> Passages::walk(Index from, const Goes& goes, const Ends& ends) {
  ++stamp_;
  std::vector<Index> found = {from};
  mark(from);
  for (std::size_t next = 0; next < found.size(); ++next) {
    const Index here = found[next];
    if (ends(here)) continue;
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph_.graph()))) {
      step();
      if (!goes(graph_.graph()[edge])) continue;
      const auto there = static_cast<Index>(boost::target(edge, graph_.graph()));
      if (mark(there)) found.push_back(there);
    }
  }
  return found;
}

std::vector<Index> Passages::region(Index from, const Configuration& configuration) {
  const Structure& structure = graph_.structure();
  return walk(
      from,
      [&](const Arc& arc) {
        return graph_.present(arc, configuration) && graph_.passes(arc, configuration);
      },
      [&](Index here) { return here == structure.tank() || here == structure.outside(); });
}

std::vector<Index> Passages::conduit(Index from, const std::vector<bool>& ends) {
  const std::vector<PlacedElement>& elements = graph_.structure().elements;
  return walk(
      from,
      [&](const Arc& arc) {
        return graph_.always_passes(arc) || elements[arc.element].pilot != kNone;
      },
      [&](Index here) { return static_cast<bool>(ends[here]); });
}

bool Passages::reaches(Index from, Index to, const Configuration& configuration) {
  const std::vector<Index> found = region(from, configuration);
  return std::find(found.begin(), found.end(), to) != found.end();
}

std::vector<bool> Passages::drained(const Configuration& configuration) {
  const Structure& structure = graph_.structure();
  const std::vector<Index> found = walk(
      structure.tank(),
      [&](const Arc& arc) {
        Arc back = arc;
        back.forward = !back.forward;
        return graph_.present(back, configuration) && graph_.passes(back, configuration);
      },
      [](Index) { return false; });
  std::vector<bool> drained(structure.vertex_count, false);
  for (const Index vertex : found) drained[vertex] = true;
  drained[structure.outside()] = true;
  return drained;
}

std::vector<Index> Passages::way(Index from, const std::vector<Index>& to,
                                 const Configuration& configuration) {
  const Structure& structure = graph_.structure();
  struct Step {
    Index vertex, parent, element;  // parent: index into `found`
  };
  ++stamp_;
  std::vector<Step> found = {{from, kNone, kNone}};
  mark(from);
  std::vector<Index> elements;
  for (std::size_t next = 0; next < found.size(); ++next) {
    const Index here = found[next].vertex;
    if (std::find(to.begin(), to.end(), here) != to.end()) {
      for (std::size_t at = next; found[at].parent != kNone; at = found[at].parent) {
        if (found[at].element != kNone) elements.push_back(found[at].element);
      }
      std::reverse(elements.begin(), elements.end());
      return elements;
    }
    if (here == structure.tank() || here == structure.outside()) continue;
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph_.graph()))) {
      step();
      const Arc& arc = graph_.graph()[edge];
      if (!graph_.present(arc, configuration) || !graph_.passes(arc, configuration)) continue;
      const auto there = static_cast<Index>(boost::target(edge, graph_.graph()));
      if (mark(there)) found.push_back({there, static_cast<Index>(next), arc.element});
    }
  }
  return elements;
}

// An element is on every free path exactly when nothing reached from the path before it, over arcs
// off the path, is on the path behind it. One walk along a shortest path settles all its elements.
std::vector<Index> Passages::series_elements(Index from, Index to,
                                             const Configuration& configuration) {
  if (from == to) return {};
  const Structure& structure = graph_.structure();
  const Graph& graph = graph_.graph();
  struct Step {
    Index vertex;
    Index parent;  // index into `found`
    Graph::edge_descriptor by;
  };
  ++stamp_;
  std::vector<Step> found = {{from, kNone, {}}};
  mark(from);
  Index goal = kNone;
  for (std::size_t next = 0; next < found.size() && goal == kNone; ++next) {
    const Index here = found[next].vertex;
    if (here == structure.tank() || here == structure.outside()) continue;
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph))) {
      step();
      const Arc& arc = graph[edge];
      if (!graph_.present(arc, configuration) || !graph_.passes(arc, configuration)) continue;
      const auto there = static_cast<Index>(boost::target(edge, graph));
      if (!mark(there)) continue;
      found.push_back({there, static_cast<Index>(next), edge});
      if (there == to) {
        goal = static_cast<Index>(found.size() - 1);
        break;
      }
    }
  }
  if (goal == kNone) return {};

  std::vector<Graph::edge_descriptor> path;
  std::vector<Index> vertices = {to};
  for (Index at = goal; found[at].parent != kNone; at = found[at].parent) {
    path.push_back(found[at].by);
    vertices.push_back(found[found[at].parent].vertex);
  }
  std::reverse(path.begin(), path.end());
  std::reverse(vertices.begin(), vertices.end());
  for (std::size_t i = 0; i < vertices.size(); ++i)
    path_index_[vertices[i]] = static_cast<Index>(i);

  std::vector<Index> series;
  ++stamp_;
  std::size_t reached = 0;  // furthest vertex of the path reached so far off the path
  for (std::size_t i = 0; i < path.size(); ++i) {
    std::vector<Index> stack = {vertices[i]};
    while (!stack.empty()) {
      const Index here = stack.back();
      stack.pop_back();
      if (here == structure.tank() || here == structure.outside()) continue;
      for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph))) {
        step();
        const Arc& arc = graph[edge];
        if (!graph_.present(arc, configuration) || !graph_.passes(arc, configuration)) continue;
        const auto there = static_cast<Index>(boost::target(edge, graph));
        const Index on_path = path_index_[there];
        if (on_path != kNone) {
          if (here == vertices[i] && edge == path[i]) continue;
          reached = std::max<std::size_t>(reached, on_path);
        } else if (mark(there)) {
          stack.push_back(there);
        }
      }
    }
    const Arc& arc = graph[path[i]];
    if (reached <= i && arc.element != kNone) series.push_back(arc.element);
    reached = std::max(reached, i + 1);
  }
  for (const Index vertex : vertices) path_index_[vertex] = kNone;
  return series;
}

}  // namespace faultodds::circuit
