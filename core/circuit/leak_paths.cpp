#include "core/circuit/leak_paths.h"

#include <algorithm>
#include <boost/range/iterator_range.hpp>

#include "core/error.h"

namespace faultodds::circuit {
namespace {

constexpr std::size_t kStepsPerLabel = 10;  // labels kept: at most a tenth of the steps allowed

}  // namespace

std::vector<std::vector<Index>> minimal(std::vector<std::vector<Index>> sets) {
  for (std::vector<Index>& set : sets) {
    std::sort(set.begin(), set.end());
    set.erase(std::unique(set.begin(), set.end()), set.end());
  }
  std::sort(sets.begin(), sets.end(), [](const auto& a, const auto& b) {
    return a.size() != b.size() ? a.size() < b.size() : a < b;
  });
  // Kept sets are found again through their first mode, which any superset contains.
  std::unordered_map<Index, std::vector<std::size_t>> by_first_mode;
  std::vector<std::vector<Index>> kept;
  for (std::vector<Index>& set : sets) {
    if (!kept.empty() && kept.front().empty()) break;
    const bool has_subset = std::any_of(set.begin(), set.end(), [&](Index mode) {
      const auto candidates = by_first_mode.find(mode);
      if (candidates == by_first_mode.end()) return false;
      return std::any_of(candidates->second.begin(), candidates->second.end(), [&](std::size_t i) {
        return std::includes(set.begin(), set.end(), kept[i].begin(), kept[i].end());
      });
    });
    if (has_subset) continue;
    if (!set.empty()) by_first_mode[set.front()].push_back(kept.size());
    kept.push_back(std::move(set));
  }
  return kept;
}

bool LeakSearch::ModeList::contains(Index mode) const {
  return std::find(modes.begin(), modes.begin() + size, mode) != modes.begin() + size;
}

LeakSearch::ModeList LeakSearch::ModeList::with(Index mode) const {
  ModeList out = *this;
  std::size_t place = out.size++;
  for (; place > 0 && out.modes[place - 1] > mode; --place) out.modes[place] = out.modes[place - 1];
  out.modes[place] = mode;
  return out;
}

bool LeakSearch::ModeList::operator==(const ModeList& other) const {
  return size == other.size && std::equal(modes.begin(), modes.begin() + size, other.modes.begin());
}

std::size_t LeakSearch::LabelHash::operator()(const Label& label) const {
  std::uint64_t hash = 0x9e3779b97f4a7c15ULL ^ label.vertex;
  for (std::size_t i = 0; i < label.list.size; ++i) {
    hash = (hash ^ (hash >> 29)) * 0xbf58476d1ce4e5b9ULL + label.list.modes[i];
  }
  hash = (hash ^ (hash >> 32)) * 0x94d049bb133111ebULL;
  return static_cast<std::size_t>(hash ^ (hash >> 31));
}

bool LeakSearch::dominated(const std::unordered_set<Label, LabelHash>& table, const Label& label) {
  if (table.empty()) return false;
  const unsigned subsets = 1U << label.list.size;
  for (unsigned chosen = 0; chosen < subsets; ++chosen) {
    Label subset{label.vertex, {}};
    for (std::uint8_t i = 0; i < label.list.size; ++i) {
      if ((chosen >> i) & 1U) subset.list.modes[subset.list.size++] = label.list.modes[i];
    }
    if (table.contains(subset)) return true;
  }
  return false;
}

LeakSearch::LeakSearch(const HydraulicGraph& graph, const Limits& limits)
    : graph_(graph), limits_(limits), sink_(boost::num_vertices(graph.graph()), 0) {
  if (limits.barriers_per_path < 0 || limits.barriers_per_path > kMostBarriers) {
    throw Error(Code::invalid_argument,
                "barriers_per_path: " + std::to_string(limits.barriers_per_path) +
                    " is given; 0 to " + std::to_string(kMostBarriers) + " was expected");
  }
}

void LeakSearch::step(const std::string& what) {
  if (++steps_ > limits_.path_steps) {
    throw Error(Code::limit_exceeded, "searching leak paths of " + what + ": more than " +
                                          std::to_string(limits_.path_steps) +
                                          " steps over the whole circuit");
  }
}

// Labels (vertex, modes assumed leaking) spread outwards, one barrier per round. Within a round oil
// runs freely; then every label crosses each barrier it meets, once for each mode that makes the
// barrier leak. A label is dropped when the same vertex was reached over no more barriers with a
// subset of its modes, or when a subset is already known to reach a sink: whatever it might still
// reach, the other reaches with fewer. A walk that visits a vertex twice contains a simple path
// over a subset of its barriers, so nothing is lost or gained by not asking whether paths are
// simple.
LeakSets LeakSearch::search(Index source, const std::vector<Index>& sinks,
                            const Configuration& configuration, const std::string& what) {
  const Graph& graph = graph_.graph();
  const Structure& structure = graph_.structure();
  ++stamp_;
  for (const Index sink : sinks) sink_[sink] = stamp_;
  seen_.clear();
  found_.clear();

  LeakSets result;
  std::vector<Label> round = {{source, {}}};
  seen_.insert(round.front());
  for (int barriers = 0; !round.empty(); ++barriers) {
    for (std::size_t next = 0; next < round.size(); ++next) {
      const Label label = round[next];
      if (sink_[label.vertex] == stamp_) {
        const Label sunk{0, label.list};
        if (dominated(found_, sunk)) continue;
        found_.insert(sunk);
        result.sets.emplace_back(label.list.modes.begin(),
                                 label.list.modes.begin() + label.list.size);
        if (label.list.size == 0) {
          result.open = true;
          result.sets.clear();
          return result;
        }
        if (result.sets.size() > 2 * limits_.sets_per_observation) {
          result.sets = minimal(std::move(result.sets));
          if (result.sets.size() > limits_.sets_per_observation) break;
        }
        continue;
      }
      if (dominated(found_, Label{0, label.list})) continue;
      for (const auto edge : boost::make_iterator_range(boost::out_edges(label.vertex, graph))) {
        step(what);
        const Arc& arc = graph[edge];
        if (!graph_.present(arc, configuration) || !graph_.passes(arc, configuration)) continue;
        const Label there{static_cast<Index>(boost::target(edge, graph)), label.list};
        if (!dominated(seen_, there)) {
          seen_.insert(there);
          round.push_back(there);
        }
      }
    }
    if (result.sets.size() > limits_.sets_per_observation) {
      result.sets = minimal(std::move(result.sets));
    }
    if (result.sets.size() > limits_.sets_per_observation) {
      throw Error(Code::limit_exceeded, "leak paths of " + what + " have more than " +
                                            std::to_string(limits_.sets_per_observation) +
                                            " minimal sets of failure modes");
    }
    if (barriers == limits_.barriers_per_path) break;

    std::vector<Label> beyond;
    const auto reach = [&](const Label& there) {
      step(what);
      if (dominated(found_, Label{0, there.list}) || dominated(seen_, there)) return;
      seen_.insert(there);
      beyond.push_back(there);
      if (seen_.size() > limits_.path_steps / kStepsPerLabel) {
        throw Error(Code::limit_exceeded, "searching leak paths of " + what + ": more than " +
                                              std::to_string(limits_.path_steps / kStepsPerLabel) +
                                              " partial paths");
      }
    };
    for (const Label& label : round) {
      if (sink_[label.vertex] == stamp_ || dominated(found_, Label{0, label.list})) continue;
      for (const auto edge : boost::make_iterator_range(boost::out_edges(label.vertex, graph))) {
        step(what);
        const Arc& arc = graph[edge];
        if (!graph_.present(arc, configuration) || graph_.passes(arc, configuration)) continue;
        const std::vector<Index>& modes = structure.elements[arc.element].leaking;
        const auto target = static_cast<Index>(boost::target(edge, graph));
        const bool leaks_already = std::any_of(
            modes.begin(), modes.end(), [&](Index mode) { return label.list.contains(mode); });
        if (leaks_already) {
          reach({target, label.list});
          continue;
        }
        for (const Index mode : modes) reach({target, label.list.with(mode)});
      }
    }
    round = std::move(beyond);
  }
  result.sets = minimal(std::move(result.sets));
  return result;
}

}  // namespace faultodds::circuit
