#include "core/circuit/leak_paths.h"

#include <algorithm>
#include <bit>
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

bool LeakSearch::dominated(const std::unordered_set<Label, LabelHash>& table, const Label& label,
                           int smallest) {
  if (table.empty()) return false;
  const unsigned subsets = 1U << label.list.size;
  for (unsigned chosen = 1; chosen < subsets; ++chosen) {
    if (std::popcount(chosen) < smallest) continue;
    Label subset{label.vertex, {}};
    for (std::uint8_t i = 0; i < label.list.size; ++i) {
      if ((chosen >> i) & 1U) subset.list.modes[subset.list.size++] = label.list.modes[i];
    }
    if (table.contains(subset)) return true;
  }
  return false;
}

bool LeakSearch::known_to_sink(const ModeList& list) const {
  for (std::size_t i = 0; i < list.size; ++i) {
    if (alone_[list.modes[i]] == stamp_) return true;
  }
  return list.size > 1 && dominated(found_, Label{0, list}, 2);
}

bool LeakSearch::known_at(const Label& label) const {
  const bool shut =
      shut_ != nullptr && (*shut_)[label.vertex] && label.vertex != source_;  // nothing leads on
  return shut || free_[label.vertex] == stamp_ || dominated(seen_, label, 1);
}

LeakSearch::LeakSearch(const HydraulicGraph& graph, const Limits& limits, StepBudget* budget)
    : graph_(graph),
      limits_(limits),
      budget_(budget),
      sink_(boost::num_vertices(graph.graph()), 0),
      free_(sink_.size(), 0),
      alone_(graph.structure().modes.size(), 0),
      inflows_(sink_.size()) {
  if (limits.barriers_per_path < 0 || limits.barriers_per_path > kMostBarriers) {
    throw Error(Code::invalid_argument,
                "barriers_per_path: " + std::to_string(limits.barriers_per_path) +
                    " is given; 0 to " + std::to_string(kMostBarriers) + " was expected");
  }
  const Graph& all = graph.graph();
  for (Index vertex = 0; vertex < inflows_.size(); ++vertex) {
    for (const auto edge : boost::make_iterator_range(boost::out_edges(vertex, all))) {
      Arc inwards = all[edge];
      inwards.forward = !inwards.forward;
      if (graph.may_pass(inwards)) {
        inflows_[vertex].push_back({static_cast<Index>(boost::target(edge, all)), inwards});
      }
    }
  }
}

void LeakSearch::check_count(std::size_t sets, const std::string& what) const {
  if (sets <= limits_.sets_per_observation) return;
  throw Error(Code::limit_exceeded, what + ": more than " +
                                        std::to_string(limits_.sets_per_observation) +
                                        " minimal sets of failure modes");
}

// What drains freely into a sink is as good as a sink: marking it beforehand keeps labels from
// spreading over a whole return gallery before one of them finds the tank.
void LeakSearch::mark_sinks(const std::vector<Index>& sinks, const Configuration& configuration,
                            const std::string& what) {
  std::vector<Index> marked;
  const auto mark = [&](Index vertex) {
    if (sink_[vertex] == stamp_) return;
    sink_[vertex] = stamp_;
    marked.push_back(vertex);
  };
  for (const Index sink : sinks) mark(sink);
  for (std::size_t next = 0; next < marked.size(); ++next) {
    for (const Inflow& inflow : inflows_[marked[next]]) {
      budget_->spend(1, what);
      if (shut_ != nullptr && (*shut_)[inflow.from]) continue;
      if (graph_.present(inflow.arc, configuration) && graph_.passes(inflow.arc, configuration)) {
        mark(inflow.from);
      }
    }
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
                            const Configuration& configuration, const std::string& what,
                            const std::vector<bool>* shut) {
  const Graph& graph = graph_.graph();
  const Structure& structure = graph_.structure();
  ++stamp_;
  seen_.clear();
  found_.clear();
  shut_ = shut;
  source_ = source;
  mark_sinks(sinks, configuration, what);

  LeakSets result;
  // Takes a label up unless a better one is known; at a sink its modes become a set at once, so
  // that all that contains them is dropped as early as can be.
  const auto reach = [&](const Label& there, std::vector<Label>* labels) {
    budget_->spend(std::size_t{1} << there.list.size, what);  // subsets to look up
    if (known_to_sink(there.list)) return;
    if (sink_[there.vertex] == stamp_) {
      if (there.list.size == 0) {
        result.open = true;
        return;
      }
      if (there.list.size == 1) {
        alone_[there.list.modes[0]] = stamp_;
      } else {
        found_.insert({0, there.list});
      }
      result.sets.emplace_back(there.list.modes.begin(),
                               there.list.modes.begin() + there.list.size);
      if (result.sets.size() <= 2 * limits_.sets_per_observation) return;
      result.sets = minimal(std::move(result.sets));
      check_count(result.sets.size(), what);
      return;
    }
    if (known_at(there)) return;
    if (there.list.size == 0) {
      free_[there.vertex] = stamp_;
    } else {
      seen_.insert(there);
      if (seen_.size() > limits_.path_steps / kStepsPerLabel) {
        throw Error(Code::limit_exceeded, what + ": more than " +
                                              std::to_string(limits_.path_steps / kStepsPerLabel) +
                                              " partial paths");
      }
    }
    labels->push_back(there);
  };

  std::vector<Label> round;
  reach({source, {}}, &round);
  for (int barriers = 0; !result.open; ++barriers) {
    for (std::size_t next = 0; next < round.size() && !result.open; ++next) {
      const Label label = round[next];
      if (known_to_sink(label.list)) continue;
      for (const auto edge : boost::make_iterator_range(boost::out_edges(label.vertex, graph))) {
        budget_->spend(1, what);
        const Arc& arc = graph[edge];
        if (!graph_.present(arc, configuration) || !graph_.passes(arc, configuration)) continue;
        reach({static_cast<Index>(boost::target(edge, graph)), label.list}, &round);
      }
    }
    if (barriers == limits_.barriers_per_path) break;

    std::vector<Label> beyond;
    for (const Label& label : round) {
      if (known_to_sink(label.list)) continue;
      for (const auto edge : boost::make_iterator_range(boost::out_edges(label.vertex, graph))) {
        budget_->spend(1, what);
        const Arc& arc = graph[edge];
        if (!graph_.present(arc, configuration) || graph_.passes(arc, configuration)) continue;
        const auto target = static_cast<Index>(boost::target(edge, graph));
        if (free_[target] == stamp_) continue;
        const std::vector<Index>& modes = structure.elements[arc.element].leaking;
        const bool leaks_already = std::any_of(
            modes.begin(), modes.end(), [&](Index mode) { return label.list.contains(mode); });
        if (leaks_already) {
          reach({target, label.list}, &beyond);
          continue;
        }
        for (const Index mode : modes) {
          if (alone_[mode] != stamp_) reach({target, label.list.with(mode)}, &beyond);
        }
      }
    }
    if (beyond.empty()) break;
    round = std::move(beyond);
  }
  // Open is found before any barrier is crossed, hence before any set.
  if (result.open) return result;
  result.sets = minimal(std::move(result.sets));
  check_count(result.sets.size(), what);
  return result;
}

}  // namespace faultodds::circuit
