// The minimal sets of failure modes that let oil through from a source to a sink. It does not
// decide which sources and sinks make an observation; derived.cpp does.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <unordered_set>
#include <vector>

#include "core/circuit/hydraulic_graph.h"

namespace faultodds::circuit {

// Most barriers a path may have, whatever the limits say.
inline constexpr int kMostBarriers = 8;

struct LeakSets {
  bool open = false;                     // oil flows with nothing leaking: open by design
  std::vector<std::vector<Index>> sets;  // minimal sets of modes, each sorted; by size, then modes
};

// Keeps of `sets` those that contain no other of them, each sorted, without repetition, ordered by
// size and then lexicographically.
std::vector<std::vector<Index>> minimal(std::vector<std::vector<Index>> sets);

// Searches one graph again and again. Not thread-safe.
class LeakSearch {
 public:
  LeakSearch(const HydraulicGraph& graph, const Limits& limits, StepBudget* budget);

  // A leak path is a simple path over elements from `source` to a vertex of `sinks`; elements that
  // pass cost nothing, each barrier on it must be leaking, a barrier without a failure mode never
  // leaks, and at most limits.barriers_per_path barriers are crossed. `what` names the observation
  // in errors. No path leads through a vertex of `shut`, where that is given, but for source and
  // sinks. Throws Error(limit_exceeded).
  LeakSets search(Index source, const std::vector<Index>& sinks, const Configuration& configuration,
                  const std::string& what, const std::vector<bool>* shut = nullptr);

 private:
  // Modes assumed to leak so far, sorted.
  struct ModeList {
    std::array<Index, kMostBarriers> modes;
    std::uint8_t size = 0;

    bool contains(Index mode) const;
    ModeList with(Index mode) const;  // `mode` is not in it
    bool operator==(const ModeList& other) const;
  };
  struct Label {
    Index vertex;
    ModeList list;
    bool operator==(const Label& other) const = default;
  };
  struct LabelHash {
    std::size_t operator()(const Label& label) const;
  };

  // Whether `table` holds a label of this vertex whose modes are all in `label` and which has at
  // least `smallest` of them.
  static bool dominated(const std::unordered_set<Label, LabelHash>& table, const Label& label,
                        int smallest);

  bool known_to_sink(const ModeList& list) const;  // a subset of it already reaches a sink
  // A subset of it already reached the vertex, or no path leads through that.
  bool known_at(const Label& label) const;

  void mark_sinks(const std::vector<Index>& sinks, const Configuration& configuration,
                  const std::string& what);
  void check_count(std::size_t sets, const std::string& what) const;

  const HydraulicGraph& graph_;
  const Limits limits_;
  StepBudget* budget_;
  // Of the running search when equal to stamp_: the vertex drains freely into a sink; it is reached
  // with nothing leaking; the mode alone reaches a sink.
  std::vector<unsigned> sink_, free_, alone_;
  unsigned stamp_ = 0;
  const std::vector<bool>* shut_ = nullptr;
  Index source_ = kNone;
  // What can let oil into a vertex freely in some configuration. All that only blocks is left out:
  // a reservoir has as many barriers as the machine has parts, and every search begins at one.
  struct Inflow {
    Index from;
    Arc arc;
  };
  std::vector<std::vector<Inflow>> inflows_;
  std::unordered_set<Label, LabelHash> seen_;   // labels of one mode and more
  std::unordered_set<Label, LabelHash> found_;  // sets of two modes and more, as labels of vertex 0
};

}  // namespace faultodds::circuit
