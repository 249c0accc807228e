// The circuit as a graph: a vertex per gallery, two arcs per element and per line. How the machine
// stands (valve positions, lines taken off, a cartridge taken out) filters arcs; no arc or vertex
// is ever removed. It answers what passes freely; what leaks past a barrier is leak_paths.h.
#pragma once

#include <boost/graph/adjacency_list.hpp>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "core/circuit/structure.h"
#include "core/stop.h"

namespace faultodds::circuit {

// How the machine stands. The default is: lines on, cartridges in, every valve in neutral.
struct Configuration {
  std::unordered_map<Index, std::string> positions;  // valve component -> position; else `neutral`
  std::vector<Index> lines_off;
  Index removed = kNone;  // cartridge component, its cavity plugged
};

// One direction of an element, or of a line.
struct Arc {
  Index element = kNone;  // into Structure::elements; kNone for a line
  Index line = kNone;     // into Structure::lines; kNone for an element
  bool forward = true;    // from -> to
};

using Graph =
    boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS, boost::no_property, Arc>;

class HydraulicGraph {
 public:
  // Keeps a reference to `structure`.
  explicit HydraulicGraph(const Structure& structure);

  const Structure& structure() const { return *structure_; }
  const Graph& graph() const { return graph_; }

  // The arc is there at all: its line is on, its component in place.
  bool present(const Arc& arc, const Configuration& configuration) const;

  // Oil passes along it freely. A present arc of an element that does not pass is a barrier.
  bool passes(const Arc& arc, const Configuration& configuration) const;
  // Whether it passes in every configuration in which it is present: a line, a plain passage.
  bool always_passes(const Arc& arc) const;
  // Whether it passes in any configuration.
  bool may_pass(const Arc& arc) const;

 private:
  const Structure* structure_;
  Graph graph_;
};

// Steps that all walks over one circuit may take together.
class StepBudget {
 public:
  explicit StepBudget(std::size_t limit) : limit_(limit) {}

  // Throws Error(limit_exceeded) when the steps are used up; `what` is what was being looked for.
  void spend(std::size_t steps, const std::string& what) {
    if ((used_ + steps) / kStepsBetweenLooks != used_ / kStepsBetweenLooks) check_stop();
    used_ += steps;
    if (used_ > limit_) exceeded(what);
  }

 private:
  static constexpr std::size_t kStepsBetweenLooks = 4096;

  [[noreturn]] void exceeded(const std::string& what) const;

  std::size_t limit_;
  std::size_t used_ = 0;
};

// Answers repeated questions on one graph without touching more of it than each needs. Not
// thread-safe. Every walk ends at a reservoir: nothing comes out of tank or from outside.
class Passages {
 public:
  Passages(const HydraulicGraph& graph, StepBudget* budget);

  // Vertices that oil reaches freely from `from`, itself first.
  std::vector<Index> region(Index from, const Configuration& configuration);
  // Vertices along lines, passages and load-holding valves (what a pilot opens) from `from`, itself
  // first: what leads to a part, up to the next valves. It goes no further than `ends`, by vertex.
  std::vector<Index> conduit(Index from, const std::vector<bool>& ends);

  bool reaches(Index from, Index to, const Configuration& configuration);

  // By vertex, whether oil reaches the tank freely from there: return lines too. And the outside.
  std::vector<bool> drained(const Configuration& configuration);

  // The elements of a shortest free path from a vertex to one of `to`, in order, lines left out;
  // nothing where there is none.
  std::vector<Index> way(Index from, const std::vector<Index>& to,
                         const Configuration& configuration);

  // Elements on every free path from one vertex to the other, in order; empty when there is none.
  std::vector<Index> series_elements(Index from, Index to, const Configuration& configuration);

 private:
  // Vertices from `from` over arcs that `goes`, to those that `ends`.
  template <typename Goes, typename Ends>
  std::vector<Index> walk(Index from, const Goes& goes, const Ends& ends);
  bool mark(Index vertex);  // true when it was not marked since the last clear
  void step();

  const HydraulicGraph& graph_;
  StepBudget* budget_;
  std::vector<unsigned> marked_;
  unsigned stamp_ = 0;
  std::vector<Index> path_index_;
};

}  // namespace faultodds::circuit
