// Walks over a circuit as its author thinks of it: what is joined by what always passes, what could
// be reached in any position of any valve. It judges nothing. Leak paths are in
// core/circuit/leak_paths.h, what passes as the machine stands in core/circuit/hydraulic_graph.h.
#pragma once

#include <string>
#include <unordered_map>
#include <vector>

#include "core/circuit/hydraulic_graph.h"

namespace faultodds::authoring {

using circuit::Index;
using circuit::kNone;

class Ways {
 public:
  // Keeps a reference. Its walks together take at most kMostSteps: Error(limit_exceeded).
  static constexpr std::size_t kMostSteps = 200'000'000;
  explicit Ways(const circuit::HydraulicGraph& graph) : graph_(graph) {}

  // By vertex: what galleries, lines and passages join to `from`, with one component left out.
  // Walks end at the reservoirs.
  std::vector<bool> joined(Index from, Index without) const;
  // With none left out.
  const std::vector<bool>& joined(Index from) const;
  // Of that, one vertex: looked up among regions, which are found once. `region` is of no
  // reservoir; kNone for those.
  bool joins(Index from, Index to, Index without = kNone) const;
  Index region(Index vertex) const;
  // The same without lines.
  std::vector<bool> block(Index from) const;
  // By vertex: what oil could reach from any of `from` in some position of the valves, and no
  // further than `ends` where they are given.
  std::vector<bool> reachable(const std::vector<Index>& from, Index without = kNone,
                              const std::vector<bool>* ends = nullptr) const;

  // How each vertex was first found, with nothing left out.
  struct Found {
    Index vertex = kNone, from = kNone;  // none: where it began
    Index component = kNone;             // that was crossed; none: a line
  };
  std::vector<Found> found(const std::vector<Index>& from, const std::vector<bool>* ends) const;

  const circuit::Structure& structure() const { return graph_.structure(); }
  Index vertex(Index volume) const { return structure().gallery[volume]; }

 private:
  template <typename Passes>
  std::vector<bool> walk(const std::vector<Index>& from, Passes passes,
                         const std::vector<bool>* ends = nullptr,
                         std::vector<Found>* how = nullptr) const;

  bool reservoir(Index vertex) const;
  bool has_passage(Index component) const;
  void find_regions() const;

  const circuit::HydraulicGraph& graph_;
  mutable std::size_t steps_ = 0;
  mutable std::vector<bool> last_joined_;  // with nothing left out: the same for all that it joins
  mutable Index last_from_ = kNone;
  struct Region {
    bool at_tank = false, at_outside = false;
  };
  mutable std::vector<Index> region_;  // by vertex
  mutable std::vector<Region> regions_;
};

// What reachable() finds from one set with any one component left out: most vertices were found by
// ways that do not cross it, and only the others are looked for again.
class Reached {
 public:
  // Keeps references.
  Reached(const Ways& ways, const std::vector<Index>& from, const std::vector<bool>* ends);
  bool at(Index vertex, Index without) const;

 private:
  const Ways& ways_;
  const std::vector<Index>& from_;
  const std::vector<bool>* ends_;
  // The tree of how vertices were found: each has the places from `first_` to before `end_`.
  std::vector<Index> first_, end_;
  std::unordered_map<Index, std::vector<Index>> behind_;  // component -> vertices found across it
};

// A step of a way through the circuit.
struct WayStep {
  Index from = kNone, to = kNone;  // vertices
  Index element = kNone;           // kNone: a line
  Index line = kNone;
  bool blocked = false;  // it passes only where it leaks
  bool forward = true;
};

// The way from a vertex to one of `to` with the fewest blocking elements on it; those that have a
// mode of `leaking` count as passing if `leaking` is not null, and others are then not crossed.
// Empty where there is none.
std::vector<WayStep> least_blocked_way(const circuit::HydraulicGraph& graph, Index from,
                                       const std::vector<Index>& to,
                                       const circuit::Configuration& configuration,
                                       const std::vector<Index>* leaking = nullptr);

}  // namespace faultodds::authoring
