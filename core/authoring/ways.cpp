#include "core/authoring/ways.h"

#include <algorithm>
#include <boost/range/iterator_range.hpp>
#include <deque>

#include "core/error.h"
#include "core/stop.h"

namespace faultodds::authoring {

using circuit::Arc;
using circuit::ElementKind;

template <typename Passes>
std::vector<bool> Ways::walk(const std::vector<Index>& from, Passes passes,
                             const std::vector<bool>* ends, std::vector<Found>* how) const {
  std::vector<bool> found(structure().vertex_count, false);
  steps_ += found.size() / 64;
  std::vector<Index> left = from;
  for (const Index vertex : from) {
    if (how != nullptr && !found[vertex]) how->push_back({vertex, kNone, kNone});
    found[vertex] = true;
  }
  while (!left.empty()) {
    const Index here = left.back();
    left.pop_back();
    if (reservoir(here) && std::find(from.begin(), from.end(), here) == from.end()) {
      continue;
    }
    if (ends != nullptr && (*ends)[here]) continue;
    check_stop();
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph_.graph()))) {
      if (++steps_ > kMostSteps) {
        throw Error(Code::limit_exceeded, "following what is joined: more than " +
                                              std::to_string(kMostSteps) +
                                              " steps over the whole circuit");
      }
      const auto there = static_cast<Index>(boost::target(edge, graph_.graph()));
      const Arc& arc = graph_.graph()[edge];
      if (found[there] || !passes(arc)) continue;
      found[there] = true;
      if (how != nullptr) {
        const bool line = arc.element == kNone;
        how->push_back({there, here, line ? kNone : structure().elements[arc.element].component});
      }
      left.push_back(there);
    }
  }
  return found;
}

std::vector<bool> Ways::joined(Index from, Index without) const {
  if (without != kNone && !has_passage(without)) return joined(from);
  return walk({from}, [&](const Arc& arc) {
    if (arc.line != kNone) return true;
    const circuit::PlacedElement& one = structure().elements[arc.element];
    return one.component != without && one.element->kind == ElementKind::passage;
  });
}

const std::vector<bool>& Ways::joined(Index from) const {
  const bool same = from == last_from_ || (last_from_ != kNone && !reservoir(from) &&
                                           !reservoir(last_from_) && last_joined_[from]);
  if (!same) {
    last_joined_ = joined(from, kNone);
    last_from_ = from;
  }
  return last_joined_;
}

bool Ways::joins(Index from, Index to, Index without) const {
  if (from == to) return true;
  if (reservoir(from) || (without != kNone && has_passage(without))) {
    return joined(from, without)[to];
  }
  const Region& of = regions_[region(from)];
  if (to == structure().tank()) return of.at_tank;
  if (to == structure().outside()) return of.at_outside;
  return region_[to] == region_[from];
}

Index Ways::region(Index vertex) const {
  if (region_.empty()) find_regions();
  return region_[vertex];
}

void Ways::find_regions() const {
  std::vector<Index> left;
  region_.assign(structure().vertex_count, kNone);
  for (Index first = 0; first < region_.size(); ++first) {
    if (reservoir(first) || region_[first] != kNone) continue;
    const auto number = static_cast<Index>(regions_.size());
    Region& of = regions_.emplace_back();
    region_[first] = number;
    left.push_back(first);
    while (!left.empty()) {
      const Index here = left.back();
      left.pop_back();
      check_stop();
      for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph_.graph()))) {
        const Arc& arc = graph_.graph()[edge];
        if (arc.line == kNone &&
            structure().elements[arc.element].element->kind != ElementKind::passage) {
          continue;
        }
        const auto there = static_cast<Index>(boost::target(edge, graph_.graph()));
        of.at_tank = of.at_tank || there == structure().tank();
        of.at_outside = of.at_outside || there == structure().outside();
        if (reservoir(there) || region_[there] != kNone) continue;
        region_[there] = number;
        left.push_back(there);
      }
    }
  }
}

bool Ways::reservoir(Index vertex) const {
  return vertex == structure().tank() || vertex == structure().outside();
}

bool Ways::has_passage(Index component) const {
  const auto* const all = structure().elements.data();
  return std::any_of(all + structure().first_element[component],
                     all + structure().first_element[component + 1],
                     [](const auto& one) { return one.element->kind == ElementKind::passage; });
}

std::vector<bool> Ways::block(Index from) const {
  return walk({from}, [&](const Arc& arc) {
    return arc.element != kNone &&
           structure().elements[arc.element].element->kind == ElementKind::passage;
  });
}

std::vector<bool> Ways::reachable(const std::vector<Index>& from, Index without,
                                  const std::vector<bool>* ends) const {
  const auto passes = [&](const Arc& arc) {
    if (arc.element != kNone && structure().elements[arc.element].component == without)
      return false;
    return graph_.may_pass(arc);
  };
  return walk(from, passes, ends);
}

std::vector<Ways::Found> Ways::found(const std::vector<Index>& from,
                                     const std::vector<bool>* ends) const {
  std::vector<Found> how;
  walk(
      from, [&](const Arc& arc) { return graph_.may_pass(arc); }, ends, &how);
  return how;
}

Reached::Reached(const Ways& ways, const std::vector<Index>& from, const std::vector<bool>* ends)
    : ways_(ways), from_(from), ends_(ends) {
  const std::vector<Ways::Found> how = ways.found(from, ends);
  const std::size_t vertices = ways.structure().vertex_count;
  std::vector<Index> size(vertices, 1), next(vertices);
  for (auto one = how.rbegin(); one != how.rend(); ++one) {
    if (one->from != kNone) size[one->from] += size[one->vertex];
  }
  first_.assign(vertices, kNone);
  end_.resize(vertices);
  Index root = 0;
  for (const Ways::Found& one : how) {
    Index& place = one.from == kNone ? root : next[one.from];
    first_[one.vertex] = place;
    next[one.vertex] = place + 1;
    end_[one.vertex] = place += size[one.vertex];
    if (one.component != kNone) behind_[one.component].push_back(one.vertex);
  }
}

bool Reached::at(Index vertex, Index without) const {
  if (first_[vertex] == kNone) return false;
  const auto behind = behind_.find(without);
  if (behind == behind_.end()) return true;
  const bool all_lead_through =
      std::any_of(behind->second.begin(), behind->second.end(), [&](Index across) {
        return first_[vertex] >= first_[across] && first_[vertex] < end_[across];
      });
  return !all_lead_through || ways_.reachable(from_, without, ends_)[vertex];
}

std::vector<WayStep> least_blocked_way(const circuit::HydraulicGraph& graph, Index from,
                                       const std::vector<Index>& to,
                                       const circuit::Configuration& configuration,
                                       const std::vector<Index>* leaking) {
  const circuit::Structure& structure = graph.structure();
  constexpr std::size_t kFar = ~std::size_t{0};
  std::vector<std::size_t> cost(structure.vertex_count, kFar);
  std::vector<WayStep> by(structure.vertex_count);
  std::deque<Index> left = {from};
  cost[from] = 0;
  // A vertex may stand in the queue more than once; what it costs only falls.
  while (!left.empty()) {
    const Index here = left.front();
    left.pop_front();
    check_stop();
    if (here != from && (here == structure.tank() || here == structure.outside())) continue;
    for (const auto edge : boost::make_iterator_range(boost::out_edges(here, graph.graph()))) {
      const Arc& arc = graph.graph()[edge];
      if (!graph.present(arc, configuration)) continue;
      bool blocked = !graph.passes(arc, configuration);
      if (blocked && leaking != nullptr) {
        const std::vector<Index>& modes = structure.elements[arc.element].leaking;
        if (std::none_of(modes.begin(), modes.end(), [&](Index mode) {
              return std::find(leaking->begin(), leaking->end(), mode) != leaking->end();
            })) {
          continue;
        }
      }
      const auto there = static_cast<Index>(boost::target(edge, graph.graph()));
      const std::size_t now = cost[here] + (blocked ? 1 : 0);
      if (now >= cost[there]) continue;
      cost[there] = now;
      by[there] = {here, there, arc.element, arc.line, blocked, arc.forward};
      if (blocked) {
        left.push_back(there);
      } else {
        left.push_front(there);
      }
    }
  }
  Index nearest = kNone;
  for (const Index sink : to) {
    if (sink != from && cost[sink] != kFar && (nearest == kNone || cost[sink] < cost[nearest])) {
      nearest = sink;
    }
  }
  std::vector<WayStep> way;
  if (nearest == kNone) return way;
  for (Index at = nearest; at != from; at = by[at].from) way.push_back(by[at]);
  std::reverse(way.begin(), way.end());
  return way;
}

}  // namespace faultodds::authoring
