// The nodes of a circuit's network: conditions, modes, sets and their largest, with what
// observations share made once. What is compiled of them and kept is program.cpp's.
#include <algorithm>
#include <numeric>
#include <queue>
#include <string>
#include <unordered_map>

#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {

using network::Var;

namespace {

// Of one network before it is compiled; a node without its table is reckoned at so many bytes.
constexpr std::size_t kMostNetworkBytes = std::size_t{1} << 30;
constexpr std::size_t kNodeBytes = 1024;
// Pairs of parts that are counted to find what observations share.
constexpr std::size_t kMostPairs = 400'000;

}  // namespace

NetworkBuilder::NetworkBuilder(const circuit::Analysis& analysis,
                               const std::vector<ModeConditions>& by, bool sharing)
    : analysis_(&analysis), mode_conditions_(&by), sharing_(sharing) {}

Var NetworkBuilder::add(std::string name, std::size_t states, std::size_t rows) {
  bytes_ += kNodeBytes + states * rows * sizeof(double);
  if (bytes_ > kMostNetworkBytes) {
    throw Error(Code::limit_exceeded, "the circuit's network takes more than " +
                                          std::to_string(kMostNetworkBytes) + " bytes");
  }
  if (network_.size() % 1024 == 0) check_stop();
  return network_.add(std::move(name), states);
}

Var NetworkBuilder::condition(std::uint32_t c) {
  if (auto at = conditions_.find(c); at != conditions_.end()) return at->second;
  const auto& condition = analysis_->conditions[c];
  const Var v = add(condition.id, 2, 1);
  network_.set_table(v, {}, {1 - condition.probability, condition.probability});
  return conditions_.emplace(c, v).first->second;
}

Var NetworkBuilder::mode(std::uint32_t m) {
  if (auto at = modes_.find(m); at != modes_.end()) return at->second;
  const ModeConditions& by = (*mode_conditions_)[m];
  const auto& prior = analysis_->modes[m].prior;
  std::vector<Var> parents;
  if (!by.conditions.empty()) {
    auto at = combinations_.find(by.conditions);
    if (at == combinations_.end()) {
      std::vector<Var> single;
      for (std::uint32_t c : by.conditions) single.push_back(condition(c));
      Var combined = single[0];
      if (single.size() > 1) {
        combined = add("", std::size_t{1} << single.size(), std::size_t{1} << single.size());
        network_.set_function(combined, single, [](const std::vector<std::size_t>& index) {
          std::size_t bits = 0;
          for (std::size_t i : index) bits = bits * 2 + i;
          return bits;
        });
      }
      at = combinations_.emplace(by.conditions, combined).first;
    }
    parents.push_back(at->second);
  }
  const Var v = add(analysis_->modes[m].id, kGrades, std::size_t{1} << by.conditions.size());
  std::vector<double> table;
  for (std::size_t i = 0; i < std::size_t{1} << by.conditions.size(); ++i) {
    const Grades row = conditioned(prior, by, i);
    table.insert(table.end(), row.begin(), row.end());
  }
  network_.set_table(v, parents, std::move(table));
  return modes_.emplace(m, v).first->second;
}

std::optional<Var> NetworkBuilder::conditions_of(std::uint32_t m) const {
  const auto& scope = network_.table(modes_.at(m)).scope;
  if (scope.size() < 2) return std::nullopt;
  return scope[0];
}

std::optional<Var> NetworkBuilder::find_mode(std::uint32_t m) const {
  const auto at = modes_.find(m);
  if (at == modes_.end()) return std::nullopt;
  return at->second;
}

network::TreeOptions NetworkBuilder::options_to_ask(const std::vector<Var>& nodes,
                                                    std::size_t memory_budget) const {
  network::TreeOptions options{memory_budget, causes()};
  options.asked.insert(options.asked.end(), nodes.begin(), nodes.end());
  return options;
}

std::vector<Var> NetworkBuilder::causes() const {
  std::vector<Var> nodes;
  for (const auto& [c, v] : conditions_) nodes.push_back(v);
  for (const auto& [key, v] : combinations_) nodes.push_back(v);
  for (const auto& [m, v] : modes_) nodes.push_back(v);
  for (const auto& [m, v] : states_) nodes.push_back(v);
  return nodes;
}

Var NetworkBuilder::state(std::uint32_t m) {
  const auto& states = analysis_->modes[m].states;
  if (states.empty()) return mode(m);
  if (auto at = states_.find(m); at != states_.end()) return at->second;
  const Var grade = mode(m);
  const Var v = add("", states.size(), kGrades);
  std::vector<double> table;
  for (std::size_t g = 0; g < kGrades; ++g) {
    for (const circuit::ModeState& one : states) table.push_back(one.grade == g ? one.share : 0);
  }
  network_.set_table(v, {grade}, std::move(table));
  return states_.emplace(m, v).first->second;
}

Var NetworkBuilder::two_input(Var a, Var b, bool is_max) {
  if (a == b) return a;
  const auto key = std::minmax(a, b);
  auto& known = is_max ? max_ : min_;
  if (auto at = known.find(key); sharing_ && at != known.end()) return at->second;
  const Var v = add("", kGrades, kGrades * kGrades);
  network_.set_function(v, {key.first, key.second}, [&](const std::vector<std::size_t>& g) {
    return is_max ? std::max(g[0], g[1]) : std::min(g[0], g[1]);
  });
  if (sharing_) known.emplace(key, v);
  return v;
}

Var NetworkBuilder::set_grade(const std::vector<std::uint32_t>& modes) {
  Var v = mode(modes.front());
  for (std::size_t i = 1; i < modes.size(); ++i) v = two_input(v, mode(modes[i]), false);
  return v;
}

// With several levels of the load, the level is one more parent of what each mode lets it show.
Var NetworkBuilder::by_link(const circuit::ModeSet& set) {
  const circuit::SetLink& link = set.link;
  const std::size_t levels = link.weight.size();
  const auto shows = [&](std::vector<double>& table, double first, double second) {
    table.insert(table.end(), {std::max(0.0, 1 - first), std::max(0.0, first - second), second});
  };
  std::optional<Var> load;
  if (levels > 1 && set.modes.size() > 1) {
    load = add("", levels, 1);
    network_.set_table(*load, {}, link.weight);
  }
  std::optional<Var> least;
  for (std::size_t i = 0; i < set.modes.size(); ++i) {
    const std::vector<double>& exceeds = link.exceeds[i];
    const std::size_t n = exceeds.size() / (2 * levels);
    const Var parent = state(set.modes[i]);
    // Each set draws the size it sees for itself; where nothing is left to draw, sets share the
    // node.
    const bool certain =
        std::all_of(exceeds.begin(), exceeds.end(), [](double p) { return p == 0 || p == 1; });
    const auto key = std::pair(set.modes[i], exceeds);
    const auto known = levels_.find(key);
    Var level = 0;
    if (levels == 1 && certain && sharing_ && known != levels_.end()) {
      level = known->second;
    } else {
      level = add("", kGrades, n * (load ? levels : 1));
      std::vector<double> table;
      for (std::size_t l = 0; l < (load ? levels : 1); ++l) {
        for (std::size_t k = 0; k < n; ++k) {
          double more[2] = {0, 0};
          for (std::size_t t = 0; t < 2; ++t) {
            if (load) {
              more[t] = exceeds[(2 * l + t) * n + k];
            } else {
              for (std::size_t j = 0; j < levels; ++j) {
                more[t] += link.weight[j] * exceeds[(2 * j + t) * n + k];
              }
            }
          }
          shows(table, more[0], more[1]);
        }
      }
      if (load) {
        network_.set_table(level, {*load, parent}, std::move(table));
      } else {
        network_.set_table(level, {parent}, std::move(table));
        if (levels == 1 && certain) levels_.emplace(key, level);
      }
    }
    least = least ? two_input(*least, level, false) : level;
  }
  return *least;
}

Var NetworkBuilder::effective_or_sound(const circuit::ModeSet& set) {
  const Var shown = effective(set);
  std::optional<Var> faulty;  // whether one of its modes is not sound
  for (std::uint32_t m : set.modes) {
    const Var one = add("", 2, kGrades);
    network_.set_table(one, {mode(m)}, {1, 0, 0, 1, 0, 1});
    if (faulty) {
      const Var both = add("", 2, 4);
      network_.set_function(both, {*faulty, one}, [](const std::vector<std::size_t>& is) {
        return std::max(is[0], is[1]);
      });
      faulty = both;
    } else {
      faulty = one;
    }
  }
  const Var v = add("", 5, kGrades * 2);
  network_.set_function(v, {shown, *faulty}, [](const std::vector<std::size_t>& is) {
    return is[0] > 0 && is[1] == 0 ? is[0] + 2 : is[0];
  });
  return v;
}

Var NetworkBuilder::effective(const circuit::ModeSet& set) {
  if (!set.link.weight.empty()) return by_link(set);
  const Var grade = set_grade(set.modes);
  if (set.probability >= 1) return grade;
  // Two entries with the same set are independent causes: each has a node of its own.
  const Var v = add("", kGrades, kGrades);
  const double p = set.probability;
  network_.set_table(v, {grade}, {1, 0, 0, 1 - p, p, 0, 1 - p, 0, p});
  return v;
}

Var NetworkBuilder::max_of(const std::vector<Var>& nodes) {
  if (nodes.empty()) {
    if (!zero_) {
      zero_ = add("", kGrades, 1);
      network_.set_table(*zero_, {}, {1, 0, 0});
    }
    return *zero_;
  }
  Var v = nodes[0];
  for (std::size_t i = 1; i < nodes.size(); ++i) v = two_input(v, nodes[i], true);
  return v;
}

std::vector<Var> NetworkBuilder::parts(std::uint32_t o) {
  std::vector<Var> list;
  for (const auto& set : analysis_->observations[o].sets) list.push_back(effective(set));
  return list;
}

// Lists as what they have in common: nodes that occur in the same lists are joined, and those of
// one list alone are taken out, for there is nothing to share.
NetworkBuilder::Shared NetworkBuilder::in_common(std::vector<std::vector<Var>> lists) {
  Shared shared;
  shared.lists.resize(lists.size());
  shared.alone.resize(lists.size());
  std::map<Var, std::vector<std::size_t>> where;
  for (std::size_t l = 0; l < lists.size(); ++l) {
    std::sort(lists[l].begin(), lists[l].end());
    lists[l].erase(std::unique(lists[l].begin(), lists[l].end()), lists[l].end());
    for (const Var v : lists[l]) where[v].push_back(l);
  }
  std::map<std::vector<std::size_t>, std::vector<Var>> together;
  for (auto& [v, in] : where) {
    if (in.size() == 1) {
      shared.alone[in[0]].push_back(v);
    } else {
      together[std::move(in)].push_back(v);
    }
  }
  std::vector<std::pair<Var, const std::vector<std::size_t>*>> joined;
  for (const auto& [in, nodes] : together) joined.emplace_back(max_of(nodes), &in);
  std::sort(joined.begin(), joined.end());
  for (const auto& [v, in] : joined) {
    for (const std::size_t l : *in) shared.lists[l].push_back(v);
    shared.lists_of.emplace(v, *in);
  }
  return shared;
}

// Pairs that occur together in most lists get a node of their own, again and again: the shared
// parts of nested observations become shared nodes. Counting takes the square of a list's length;
// the longest lists are left as they are where it would take too long. Tells which.
std::vector<bool> NetworkBuilder::join_pairs(Shared& shared) {
  std::vector<std::vector<Var>>& lists = shared.lists;
  std::vector<std::size_t> by_length(lists.size());
  std::iota(by_length.begin(), by_length.end(), std::size_t{0});
  std::stable_sort(by_length.begin(), by_length.end(),
                   [&](std::size_t a, std::size_t b) { return lists[a].size() < lists[b].size(); });
  std::vector<bool> counted(lists.size(), false);
  std::size_t pairs = 0;
  for (const std::size_t l : by_length) {
    pairs += lists[l].size() * lists[l].size() / 2;
    counted[l] = pairs <= kMostPairs;
  }
  std::unordered_map<std::uint64_t, int> count;  // by the smaller node, then the larger
  count.reserve(std::min(pairs, kMostPairs));
  const auto key = [](Var a, Var b) {
    return std::uint64_t{std::min(a, b)} << 32 | std::uint64_t{std::max(a, b)};
  };
  std::priority_queue<std::tuple<int, Var, Var>> queue;  // most frequent first
  const auto change = [&](Var a, Var b, int by) {
    if (a == b) return;
    const int now = count[key(a, b)] += by;
    if (by > 0 && now >= 2) queue.emplace(now, std::min(a, b), std::max(a, b));
  };
  for (std::size_t l = 0; l < lists.size(); ++l) {
    check_stop();
    if (!counted[l]) continue;
    for (std::size_t i = 0; i < lists[l].size(); ++i) {
      for (std::size_t j = i + 1; j < lists[l].size(); ++j) ++count[key(lists[l][i], lists[l][j])];
    }
  }
  for (const auto& [pair, times] : count) {
    if (times < 2) continue;
    queue.emplace(times, static_cast<Var>(pair >> 32), static_cast<Var>(pair & 0xffffffff));
  }
  while (!queue.empty()) {
    const auto [times, a, b] = queue.top();
    queue.pop();
    check_stop();
    const int now = count[key(a, b)];
    if (now < 2) continue;
    if (now != times) {
      queue.emplace(now, a, b);
      continue;
    }
    const Var node = two_input(a, b, true);
    for (std::size_t l : std::vector<std::size_t>(shared.lists_of[a])) {
      if (!counted[l]) continue;
      auto& list = lists[l];
      const auto at_a = std::find(list.begin(), list.end(), a);
      const auto at_b = std::find(list.begin(), list.end(), b);
      if (at_a == list.end() || at_b == list.end()) continue;
      for (Var other : list) {
        if (other != a) change(a, other, -1);
        if (other != a && other != b) change(b, other, -1);
      }
      std::erase_if(list, [first = a, second = b](Var v) { return v == first || v == second; });
      for (Var other : list) change(node, other, 1);
      if (std::find(list.begin(), list.end(), node) == list.end()) list.push_back(node);
      shared.lists_of[node].push_back(l);
    }
  }
  return counted;
}

std::vector<Var> NetworkBuilder::shared_max(std::vector<std::vector<Var>> lists) {
  std::vector<Var> result;
  if (!sharing_) {
    for (auto& list : lists) {
      std::sort(list.begin(), list.end());
      list.erase(std::unique(list.begin(), list.end()), list.end());
      result.push_back(max_of(list));
    }
    return result;
  }
  Shared shared = in_common(std::move(lists));
  const std::vector<bool> counted = join_pairs(shared);
  for (std::size_t l = 0; l < counted.size(); ++l) {
    std::vector<Var>& list = shared.lists[l];
    // What is left is joined in a chain, what occurs in few lists first, so that it can be summed
    // out early; where pairs were not counted what occurs in many, so that chains begin alike.
    std::stable_sort(list.begin(), list.end(), [&](Var a, Var b) {
      const std::size_t in_a = shared.lists_of[a].size(), in_b = shared.lists_of[b].size();
      return counted[l] ? in_a < in_b : in_a > in_b;
    });
    list.insert(counted[l] ? list.begin() : list.end(), shared.alone[l].begin(),
                shared.alone[l].end());
    result.push_back(max_of(list));
  }
  return result;
}

}  // namespace faultodds::diagnosis
