#include "core/network/elimination.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <queue>
#include <random>
#include <string>
#include <tuple>

#include "core/error.h"
#include "core/stop.h"

namespace faultodds::network {
namespace {

// No machine has room for as many table entries.
constexpr double kMostEntries = 0x1p62;
// Fill is kept exact while an order has looked at no more than this many pairs of neighbours. After
// that only few neighbours are looked at, and of more every pair counts as fill.
constexpr std::size_t kManyPairs = 50'000'000;
constexpr std::size_t kFewNeighbours = 32;
// What rounding may have added to a sum that was changed again and again, as a share of it.
constexpr double kRounded = 1e-6;

// Beside one order by each heuristic, so many more are tried by chance at most, and no more than
// take kShareOfWork steps for each entry of the best order so far: a network whose tables are soon
// made is not kept waiting. Steps are counted, not timed, so that the same network has the same
// tables.
constexpr std::size_t kMostByChance = 256;
constexpr double kShareOfWork = 0.3;
// What looking at a variable once costs, in pairs of neighbours looked at.
constexpr std::size_t kWorkOfVariable = 16;
// A cell of a separator takes as much as so many entries: it is kept, and most entries are not.
constexpr double kWorthOfCell = 4;

enum class Heuristic { min_fill, min_weight, weighted_fill, min_degree };

// Neighbour lists as sorted vectors; elimination works on a copy.
using Graph = std::vector<std::vector<Var>>;

void insert_sorted(std::vector<Var>& list, Var v) {
  auto at = std::lower_bound(list.begin(), list.end(), v);
  if (at == list.end() || *at != v) list.insert(at, v);
}

void erase_sorted(std::vector<Var>& list, Var v) {
  auto at = std::lower_bound(list.begin(), list.end(), v);
  if (at != list.end() && *at == v) list.erase(at);
}

Graph moral_graph(std::size_t n, const std::vector<std::vector<Var>>& scopes) {
  Graph graph(n);
  for (const auto& scope : scopes) {
    for (Var a : scope) {
      for (Var b : scope) {
        if (a != b) graph[a].push_back(b);
      }
    }
  }
  for (auto& list : graph) {
    std::sort(list.begin(), list.end());
    list.erase(std::unique(list.begin(), list.end()), list.end());
  }
  return graph;
}

struct Order {
  std::vector<std::vector<Var>> cliques;  // one per elimination step, the eliminated variable first
  double total = 0;                       // entries of them
  std::size_t work = 0;                   // pairs of neighbours looked at, or as much
};

// The graph that is left while variables are eliminated, and what the heuristics ask of a vertex.
// Nothing is counted anew: each change of an edge changes the sums of the vertices it touches. A
// list keeps vertices that are gone until they are as many as those that are left: to take each out
// at once moves the list of a hub once for every leaf.
class Remaining {
 public:
  // `count_fill`: keeps the weight of the edges that are missing between the neighbours of each
  // vertex, each worth the product of its ends' states if `by_states`, else 1.
  Remaining(Graph graph, const std::vector<std::size_t>& states, bool count_fill, bool by_states)
      : graph_(std::move(graph)), count_fill_(count_fill) {
    const std::size_t n = graph_.size();
    for (std::size_t v = 0; v < n; ++v) {
      log_states_.push_back(std::log2(static_cast<double>(states[v])));
      worth_.push_back(by_states ? static_cast<double>(states[v]) : 1.0);
    }
    log_near_.assign(n, 0.0);
    near_.assign(n, 0.0);
    fill_.assign(n, 0.0);
    changed_.assign(n, false);
    gone_.assign(n, false);
    for (const auto& list : graph_) degree_.push_back(list.size());
    for (Var v = 0; v < n; ++v) {
      double squares = 0;
      for (Var u : graph_[v]) {
        log_near_[v] += log_states_[u];
        near_[v] += worth_[u];
        squares += worth_[u] * worth_[u];
      }
      fill_[v] = (near_[v] * near_[v] - squares) / 2;
    }
    for (Var a = 0; count_fill_ && exact() && a < n; ++a) {
      check_stop();
      for (Var b : graph_[a]) {
        if (a < b) for_common(a, b, [&](Var u) { fill_[u] -= worth_[a] * worth_[b]; });
      }
    }
  }

  std::size_t size() const { return graph_.size(); }
  std::size_t looked_at() const { return looked_at_; }
  std::size_t degree(Var v) const { return degree_[v]; }
  const std::vector<Var>& near(Var v) {
    take_out_gone(v);
    return graph_[v];
  }

  // Of the variable and its neighbours: the logarithm of the entries of their table.
  double weight(Var v) {
    double weight = log_states_[v];
    for (Var u : near(v)) weight += log_states_[u];
    return weight;
  }
  // No more than that, at once.
  double least_weight(Var v) const {
    const double weight = log_states_[v] + log_near_[v];
    return weight - kRounded * (1 + weight);
  }

  double fill(Var v) {
    if (exact()) return fill_[v];
    const auto count = static_cast<double>(degree_[v]);
    double fill = count * (count - 1) / 2;
    if (degree_[v] > kFewNeighbours) return fill;
    const std::vector<Var>& near = this->near(v);
    fill = 0;
    for (std::size_t i = 0; i < near.size(); ++i) {
      for (std::size_t j = i + 1; j < near.size(); ++j) {
        if (!are_adjacent(near[i], near[j])) fill += worth_[near[i]] * worth_[near[j]];
      }
    }
    return fill;
  }

  // Takes a vertex out and joins its neighbours with each other. Returns the vertices whose weight
  // or fill that may have changed.
  std::vector<Var> eliminate(Var v) {
    std::vector<Var> stale;
    const auto mark = [&](Var u) {
      if (changed_[u]) return;
      changed_[u] = true;
      stale.push_back(u);
    };
    take_out_gone(v);
    const std::vector<Var> near = std::move(graph_[v]);
    graph_[v].clear();
    gone_[v] = true;
    for (Var u : near) {
      mark(u);
      --degree_[u];
      if (graph_[u].size() > 2 * degree_[u] + kFewNeighbours) take_out_gone(u);
      log_near_[u] -= log_states_[v];
      near_[u] -= worth_[v];
    }
    // The edges that were missing between v and the other neighbours of each.
    if (count_fill_ && exact()) {
      for (Var u : near) fill_[u] -= worth_[v] * near_[u];
    }
    std::vector<std::pair<Var, Var>> missing;
    for (std::size_t i = 0; i < near.size(); ++i) {
      for (std::size_t j = i + 1; j < near.size(); ++j) {
        const Var a = near[i], b = near[j];
        if (!are_adjacent(a, b)) {
          missing.emplace_back(a, b);
        } else if (count_fill_) {
          fill_[a] += worth_[v] * worth_[b];
          fill_[b] += worth_[v] * worth_[a];
        }
      }
    }
    looked_at_ += near.size() * near.size() / 2;
    for (const auto& pair : missing) {
      const Var a = pair.first, b = pair.second;
      if (count_fill_ && exact()) {
        double common = 0;
        for_common(a, b, [&](Var u) {
          common += worth_[u];
          fill_[u] -= worth_[a] * worth_[b];
          mark(u);
        });
        fill_[a] += worth_[b] * (near_[a] - common);
        fill_[b] += worth_[a] * (near_[b] - common);
      }
      insert_sorted(graph_[a], b);
      insert_sorted(graph_[b], a);
      ++degree_[a];
      ++degree_[b];
      near_[a] += worth_[b];
      near_[b] += worth_[a];
      log_near_[a] += log_states_[b];
      log_near_[b] += log_states_[a];
    }
    for (Var u : stale) changed_[u] = false;
    return stale;
  }

 private:
  bool exact() const { return looked_at_ <= kManyPairs; }

  template <typename Use>
  void for_common(Var a, Var b, const Use& use) {
    if (degree_[a] > degree_[b]) std::swap(a, b);
    looked_at_ += degree_[a];
    for (Var u : graph_[a]) {
      if (!gone_[u] && std::binary_search(graph_[b].begin(), graph_[b].end(), u)) use(u);
    }
  }

  bool are_adjacent(Var a, Var b) const {
    if (degree_[a] > degree_[b]) std::swap(a, b);
    return std::binary_search(graph_[a].begin(), graph_[a].end(), b);
  }

  void take_out_gone(Var v) {
    if (graph_[v].size() == degree_[v]) return;
    std::erase_if(graph_[v], [&](Var u) { return gone_[u]; });
  }

  Graph graph_;
  std::vector<std::size_t> degree_;  // of those that are left
  std::vector<bool> gone_;
  bool count_fill_;
  std::vector<double> log_states_, worth_;
  std::vector<double> log_near_, near_;  // sums over the neighbours
  std::vector<double> fill_;
  std::vector<bool> changed_;
  std::size_t looked_at_ = 0;
};

// Eliminates every variable, cheapest first by `heuristic`, times what each is out of favour by.
// Stops early once the total passes `give_up` (the best total known), returning a total of
// infinity.
Order eliminate(const Graph& graph, const std::vector<std::size_t>& states, Heuristic heuristic,
                double give_up, const std::vector<double>& disfavour = {}) {
  Remaining remaining(graph, states,
                      heuristic == Heuristic::min_fill || heuristic == Heuristic::weighted_fill,
                      heuristic == Heuristic::weighted_fill);

  // A weight is summed up only when its variable comes up: until then the second number is
  // kUnknown, less than any.
  constexpr double kUnknown = -1;
  using Entry = std::tuple<double, double, Var, std::uint32_t>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  std::vector<std::uint32_t> version(remaining.size(), 0);
  std::vector<bool> done(remaining.size(), false);
  // That of a fill of 0 counts too.
  const auto of_favour = [&](Var v, double first) {
    return disfavour.empty() ? first : (first + 1) * disfavour[v];
  };
  const auto first_of = [&](Var v) {
    if (heuristic == Heuristic::min_weight) return of_favour(v, remaining.least_weight(v));
    if (heuristic == Heuristic::min_degree) return static_cast<double>(remaining.degree(v));
    return of_favour(v, remaining.fill(v));
  };
  const auto push = [&](Var v) { queue.emplace(first_of(v), kUnknown, v, ++version[v]); };
  for (Var v = 0; v < remaining.size(); ++v) push(v);

  Order order;
  while (!queue.empty()) {
    const auto [first, second, v, stamp] = queue.top();
    queue.pop();
    if (done[v] || stamp != version[v]) continue;
    if (second == kUnknown) {
      const double weight = remaining.weight(v);
      if (heuristic == Heuristic::min_weight) {
        queue.emplace(of_favour(v, weight), 0.0, v, stamp);
      } else {
        queue.emplace(first, weight, v, stamp);
      }
      continue;
    }
    done[v] = true;
    check_stop();
    std::vector<Var> clique{v};
    double entries = static_cast<double>(states[v]);
    for (Var u : remaining.near(v)) {
      clique.push_back(u);
      entries *= static_cast<double>(std::max<std::size_t>(states[u], 2));  // one state: no less
    }
    order.total += entries;
    order.cliques.push_back(std::move(clique));
    order.work += kWorkOfVariable;
    if (order.total > give_up) {
      order.total = std::numeric_limits<double>::infinity();
      order.work += remaining.looked_at();
      return order;
    }
    for (Var u : remaining.eliminate(v)) {
      if (!done[u]) push(u);
      order.work += kWorkOfVariable;
    }
  }
  order.work += remaining.looked_at();
  return order;
}

// Elimination cliques form a tree: the parent of a step's clique is the step that eliminates the
// first of its other variables. A clique inside a child is contracted into it.
struct Steps {
  std::vector<int> parent;
  std::vector<std::size_t> stands;  // the step whose clique stands for each; itself if it is kept
};

Steps join(const Order& order) {
  const std::size_t steps = order.cliques.size();
  std::vector<std::size_t> step_of(steps);
  for (std::size_t i = 0; i < steps; ++i) step_of[order.cliques[i][0]] = i;
  Steps joined{std::vector<int>(steps, -1), std::vector<std::size_t>(steps)};
  for (std::size_t i = 0; i < steps; ++i) {
    joined.stands[i] = i;
    std::size_t next = steps;
    for (std::size_t k = 1; k < order.cliques[i].size(); ++k) {
      next = std::min(next, step_of[order.cliques[i][k]]);
    }
    if (next < steps) joined.parent[i] = static_cast<int>(next);
  }
  // Children come before parents, so a parent that equals a child's separator is absorbed by that
  // child. The parent holds all of i's clique but the variable i eliminated: it is a subset of i's
  // clique exactly when it is one smaller.
  for (std::size_t i = 0; i < steps; ++i) {
    if (joined.parent[i] < 0) continue;
    const auto p = static_cast<std::size_t>(joined.parent[i]);
    if (joined.stands[p] == p && order.cliques[p].size() + 1 == order.cliques[i].size()) {
      joined.stands[p] = i;
    }
  }
  return joined;
}

double product(const std::vector<Var>& vars, const std::vector<std::size_t>& states) {
  double p = 1;
  for (Var v : vars) p *= static_cast<double>(states[v]);
  return p;
}

// Of the tree that an order makes: its entries and the cells of its separators.
double cost(const Order& order, const std::vector<std::size_t>& states) {
  const Steps joined = join(order);
  double cost = 0;
  for (std::size_t i = 0; i < order.cliques.size(); ++i) {
    const double entries = product(order.cliques[i], states);
    if (joined.stands[i] == i) cost += entries;
    if (joined.parent[i] >= 0 && joined.stands[static_cast<std::size_t>(joined.parent[i])] != i) {
      cost += kWorthOfCell * entries / static_cast<double>(states[order.cliques[i][0]]);
    }
  }
  return cost;
}

// Tries orders by chance, about as good ones as `best`, and returns the cheapest of all that have
// no more entries.
Order by_chance(const Graph& graph, const std::vector<std::size_t>& states, double many_entries,
                Order best) {
  constexpr double kMostDisfavour[] = {1e-6, 0.05, 0.15, 0.4};
  constexpr Heuristic kTried[] = {Heuristic::min_fill, Heuristic::min_weight,
                                  Heuristic::weighted_fill};
  std::mt19937 random(1);
  std::vector<double> disfavour(graph.size());
  double least = cost(best, states);
  double most_work =
      kShareOfWork * std::min(best.total, many_entries) - static_cast<double>(best.work);
  const double give_up = best.total;
  for (std::size_t i = 0; i < kMostByChance && most_work > 0; ++i) {
    const double most = kMostDisfavour[i / std::size(kTried) % std::size(kMostDisfavour)];
    for (double& d : disfavour) d = 1 + most * (static_cast<double>(random()) * 0x1p-32);
    Order order = eliminate(graph, states, kTried[i % std::size(kTried)], give_up, disfavour);
    most_work -= static_cast<double>(order.work);
    if (!(order.total <= give_up)) continue;
    const double its = cost(order, states);
    if (its < least) {
      least = its;
      best = std::move(order);
    }
  }
  return best;
}

// Contracts the vertex with the fewest neighbours into the one of them that has the fewest, again
// and again: every graph on the way is a minor, whose treewidth is no larger.
std::size_t least_width(Graph graph) {
  using Entry = std::pair<std::size_t, Var>;
  std::priority_queue<Entry, std::vector<Entry>, std::greater<>> queue;
  std::vector<bool> done(graph.size(), false);
  for (Var v = 0; v < graph.size(); ++v) queue.emplace(graph[v].size(), v);
  std::size_t width = 0;
  while (!queue.empty()) {
    const auto [degree, v] = queue.top();
    queue.pop();
    if (done[v] || degree != graph[v].size()) continue;
    done[v] = true;
    check_stop();
    width = std::max(width, degree);
    if (degree == 0) continue;
    const std::vector<Var> near = std::move(graph[v]);
    const Var into = *std::min_element(
        near.begin(), near.end(), [&](Var a, Var b) { return graph[a].size() < graph[b].size(); });
    for (Var u : near) {
      erase_sorted(graph[u], v);
      if (u == into) continue;
      insert_sorted(graph[u], into);
      insert_sorted(graph[into], u);
    }
    for (Var u : near) queue.emplace(graph[u].size(), u);
  }
  return width;
}

}  // namespace

std::vector<std::vector<Var>> scopes_of(const std::vector<const Factor*>& factors) {
  std::vector<std::vector<Var>> scopes;
  for (const Factor* f : factors) scopes.push_back(f->scope);
  return scopes;
}

std::size_t least_largest_clique(std::size_t n, const std::vector<std::vector<Var>>& scopes) {
  return n == 0 ? 0 : least_width(moral_graph(n, scopes)) + 1;
}

CliqueTree triangulate(const std::vector<std::size_t>& states,
                       const std::vector<std::vector<Var>>& scopes,
                       const std::vector<Var>& root_scope, Orders orders, double many_entries) {
  const std::size_t n = states.size();
  std::vector<std::vector<Var>> all = scopes;
  if (!root_scope.empty()) all.push_back(root_scope);
  const Graph graph = moral_graph(n, all);

  Order best;
  best.total = kMostEntries;
  for (Heuristic h : {Heuristic::min_fill, Heuristic::min_weight, Heuristic::weighted_fill,
                      Heuristic::min_degree}) {
    Order order = eliminate(graph, states, h, best.total);
    if (order.total < best.total) best = std::move(order);
    // Each neighbour counts as two states or more: every order's total is 2^width or more.
    if (best.cliques.empty() && h == Heuristic::min_fill &&
        std::exp2(least_width(graph)) >= kMostEntries) {
      break;
    }
    if (orders == Orders::one) break;
  }
  if (orders == Orders::several && !best.cliques.empty()) {
    best = by_chance(graph, states, many_entries, std::move(best));
  }
  if (n > 0 && best.cliques.empty()) {
    throw Error(
        Code::limit_exceeded,
        "exact inference needs tables of more than 4e18 entries, if no combination of states "
        "is impossible");
  }

  const std::size_t steps = best.cliques.size();
  const Steps joined = join(best);
  const std::vector<int>& parent = joined.parent;
  const std::vector<std::size_t>& stands = joined.stands;
  for (auto& clique : best.cliques) std::sort(clique.begin(), clique.end());
  auto find = [&](std::size_t i) {
    while (stands[i] != i) i = stands[i];
    return i;
  };
  CliqueTree tree;
  std::vector<int> index(steps, -1);
  for (std::size_t i = 0; i < steps; ++i) {
    if (stands[i] != i) continue;
    index[i] = static_cast<int>(tree.cliques.size());
    tree.cliques.push_back(best.cliques[i]);
  }
  const std::size_t m = tree.cliques.size();
  std::vector<std::vector<std::size_t>> near(m);
  for (std::size_t i = 0; i < steps; ++i) {
    if (parent[i] < 0) continue;
    const auto a = static_cast<std::size_t>(index[find(i)]);
    const auto b = static_cast<std::size_t>(index[find(static_cast<std::size_t>(parent[i]))]);
    if (a != b) {
      near[a].push_back(b);
      near[b].push_back(a);
    }
  }

  // Root each connected part: at the clique that holds root_scope, else at its largest clique.
  std::vector<Var> wanted = root_scope;
  std::sort(wanted.begin(), wanted.end());
  std::vector<std::size_t> by_size(m);
  for (std::size_t c = 0; c < m; ++c) by_size[c] = c;
  std::vector<double> entries(m);
  for (std::size_t c = 0; c < m; ++c) {
    entries[c] = product(tree.cliques[c], states);
    tree.total_entries += entries[c];
    tree.largest_clique = std::max(tree.largest_clique, entries[c]);
  }
  std::stable_sort(by_size.begin(), by_size.end(),
                   [&](std::size_t a, std::size_t b) { return entries[a] > entries[b]; });
  if (!wanted.empty()) {
    auto holds = [&](std::size_t c) {
      return std::includes(tree.cliques[c].begin(), tree.cliques[c].end(), wanted.begin(),
                           wanted.end());
    };
    auto at = std::find_if(by_size.rbegin(), by_size.rend(), holds);
    const std::size_t root = *at;
    by_size.insert(by_size.begin(), root);
  }
  tree.parent.assign(m, -1);
  std::vector<bool> seen(m, false);
  std::vector<std::size_t> order;
  for (std::size_t root : by_size) {
    if (seen[root]) continue;
    seen[root] = true;
    std::vector<std::size_t> stack{root};
    while (!stack.empty()) {
      const std::size_t c = stack.back();
      stack.pop_back();
      order.push_back(c);
      for (std::size_t d : near[c]) {
        if (seen[d]) continue;
        seen[d] = true;
        tree.parent[d] = static_cast<int>(c);
        stack.push_back(d);
      }
    }
  }
  tree.collect_order.assign(order.rbegin(), order.rend());
  return tree;
}

}  // namespace faultodds::network
