// What a way of the oil needs all along it: failure modes that choke it, or that choke what a pump
// sucks through, and what a pump's signal line loses. Where oil leaks from a way is leak_paths.h.
#pragma once

#include <vector>

#include "core/circuit/hydraulic_graph.h"

namespace faultodds::circuit {

// Not thread-safe. Keeps a reference to `passages`.
class Series {
 public:
  explicit Series(const Structure& structure, Passages* passages)
      : structure_(structure), passages_(*passages) {}

  // Modes that choke an element on every free path from one vertex to the other.
  std::vector<Index> choking(Index from, Index to, const Configuration& configuration);

  // Modes that choke what a pump sucks through: between tank and the inlet, from which its check
  // leads to an outlet.
  std::vector<Index> starving(Index pump, const Configuration& configuration);

  // Modes that choke, on every way, what brings the pressure by which an element with a pilot on
  // one of the ways `from` -> `to`, or of the supplier, opens or strokes: a pilot line, a shuttle.
  std::vector<Index> piloting(Index supplier, Index source,
                              const std::vector<std::pair<Index, Index>>& ways,
                              const Configuration& configuration);

 private:
  bool bypassed(const PlacedElement& choked) const;

  const Structure& structure_;
  Passages& passages_;
};

// Modes that leak from what lines and passages join to a pump's signal port (a load-sensing line
// and its shuttles): a little there takes the pump's stroke.
std::vector<Index> signal_leaks(const HydraulicGraph& graph, Index pump);

// Modes by which air gets in where a pump sucks: what leaks to the outside there, unless it sucks
// what a charge pump keeps under pressure.
std::vector<Index> air_leaks(const HydraulicGraph& graph, Index pump);

}  // namespace faultodds::circuit
