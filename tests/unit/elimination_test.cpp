// Triangulations and the bound on them, on graphs whose treewidth is known (Diestel, Graph Theory,
// section 12.3): a tree 1, a cycle 2, a complete graph of n one less than n, a k-tree k.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <set>
#include <tuple>

#include "core/error.h"
#include "core/network/elimination.h"

using namespace faultodds;
using namespace faultodds::network;

namespace {

using Scopes = std::vector<std::vector<Var>>;

Scopes path(Var n) {
  Scopes edges;
  for (Var v = 1; v < n; ++v) edges.push_back({v - 1, v});
  return edges;
}

Scopes cycle(Var n) {
  Scopes edges = path(n);
  edges.push_back({0, n - 1});
  return edges;
}

Scopes complete(Var n) {
  Scopes edges;
  for (Var a = 0; a < n; ++a) {
    for (Var b = 0; b < a; ++b) edges.push_back({b, a});
  }
  return edges;
}

// Each further vertex is joined to a clique of k that is there.
Scopes k_tree(Var n, Var k, std::mt19937& random) {
  Scopes edges = complete(k + 1);
  std::vector<std::vector<Var>> cliques;
  for (Var left_out = 0; left_out <= k; ++left_out) {
    cliques.emplace_back();
    for (Var v = 0; v <= k; ++v) {
      if (v != left_out) cliques.back().push_back(v);
    }
  }
  for (Var v = k + 1; v < n; ++v) {
    const std::vector<Var> below = cliques[random() % cliques.size()];
    for (std::size_t i = 0; i < below.size(); ++i) {
      edges.push_back({below[i], v});
      std::vector<Var> clique = below;
      clique[i] = v;
      cliques.push_back(clique);
    }
  }
  return edges;
}

std::size_t largest_clique(const CliqueTree& tree) {
  std::size_t largest = 0;
  for (const auto& clique : tree.cliques) largest = std::max(largest, clique.size());
  return largest;
}

}  // namespace

TEST_CASE("the least largest clique of a graph of known treewidth is the treewidth and one") {
  std::mt19937 random(7);
  CHECK(least_largest_clique(0, {}) == 0);
  CHECK(least_largest_clique(3, {}) == 1);
  CHECK(least_largest_clique(40, path(40)) == 2);
  CHECK(least_largest_clique(40, cycle(40)) == 3);
  CHECK(least_largest_clique(25, complete(25)) == 25);
  for (Var k = 1; k < 8; ++k) {
    CAPTURE(k);
    CHECK(least_largest_clique(60, k_tree(60, k, random)) == k + 1);
  }
}

TEST_CASE("no triangulation has a smaller largest clique than the bound") {
  std::mt19937 random(8);
  for (int round = 0; round < 200; ++round) {
    const auto below = [&](Var most) { return static_cast<Var>(random() % most); };
    const Var n = 3 + below(30);
    const Var edges = n + below(2 * n);
    Scopes scopes;
    for (Var i = 0; i < edges; ++i) {
      const Var a = below(n), b = below(n);
      scopes.push_back(a == b ? std::vector<Var>{a} : std::vector<Var>{a, b});
    }
    const std::vector<std::size_t> states(n, 2);
    const std::size_t least = least_largest_clique(n, scopes);
    CHECK(largest_clique(triangulate(states, scopes)) >= least);
    CHECK(largest_clique(triangulate(states, scopes, {}, Orders::one)) >= least);
  }
}

TEST_CASE("one order alone still makes a k-tree's own cliques") {
  std::mt19937 random(9);
  const Scopes scopes = k_tree(50, 4, random);
  const CliqueTree tree = triangulate(std::vector<std::size_t>(50, 2), scopes, {}, Orders::one);
  CHECK(tree.cliques.size() == 46);
  CHECK(largest_clique(tree) == 5);
}

// The total of the best order that is found by counting everything anew at every step.
double least_total(std::size_t n, const std::vector<std::size_t>& states, const Scopes& scopes) {
  double best = std::numeric_limits<double>::infinity();
  for (int heuristic = 0; heuristic < 4; ++heuristic) {
    std::vector<std::set<Var>> near(n);
    for (const auto& scope : scopes) {
      for (Var a : scope) {
        for (Var b : scope) {
          if (a != b) near[a].insert(b);
        }
      }
    }
    std::set<Var> left;
    for (Var v = 0; v < n; ++v) left.insert(v);
    double total = 0;
    while (!left.empty()) {
      std::tuple<double, double, Var> least(std::numeric_limits<double>::infinity(), 0, 0);
      for (Var v : left) {
        double weight = std::log2(static_cast<double>(states[v])), fill = 0;
        for (Var a : near[v]) {
          weight += std::log2(static_cast<double>(states[a]));
          for (Var b : near[v]) {
            if (b <= a || near[a].count(b)) continue;
            fill += heuristic == 2 ? static_cast<double>(states[a] * states[b]) : 1;
          }
        }
        const auto degree = static_cast<double>(near[v].size());
        const double first = heuristic == 1 ? weight : heuristic == 3 ? degree : fill;
        least = std::min(least, std::tuple(first, heuristic == 1 ? 0.0 : weight, v));
      }
      const Var v = std::get<2>(least);
      double entries = static_cast<double>(states[v]);
      for (Var a : near[v]) {
        entries *= static_cast<double>(states[a]);
        for (Var b : near[v]) {
          if (a != b) near[a].insert(b);
        }
        near[a].erase(v);
      }
      total += entries;
      left.erase(v);
    }
    best = std::min(best, total);
  }
  return best;
}

TEST_CASE("orders kept by changes are those found by counting anew") {
  std::mt19937 random(11);
  for (int graph = 0; graph < 200; ++graph) {
    const std::size_t n = 2 + random() % 30;
    std::vector<std::size_t> states;
    for (std::size_t v = 0; v < n; ++v) states.push_back(2 + random() % 4);
    Scopes scopes;
    for (std::size_t f = 0; f < n + random() % n; ++f) {
      std::set<Var> scope;
      for (std::size_t k = 0; k < 2 + random() % 3; ++k) {
        scope.insert(static_cast<Var>(random() % n));
      }
      scopes.emplace_back(scope.begin(), scope.end());
    }
    const CliqueTree tree = triangulate(states, scopes);
    double steps = 0;  // each clique of the tree, with those that were contracted into it
    for (const auto& clique : tree.cliques) {
      double entries = 1;
      for (Var v : clique) entries *= static_cast<double>(states[v]);
      steps += entries;
    }
    CHECK(steps <= least_total(n, states, scopes));
  }
}

TEST_CASE("a star of a hub and thousands of leaves falls into pairs") {
  constexpr Var kLeaves = 20'000;
  Scopes edges;
  for (Var v = 1; v <= kLeaves; ++v) edges.push_back({0, v});
  const CliqueTree tree = triangulate(std::vector<std::size_t>(kLeaves + 1, 2), edges);
  CHECK(tree.cliques.size() == kLeaves);
  CHECK(largest_clique(tree) == 2);
}

TEST_CASE("what needs more entries than can be counted is refused") {
  const std::vector<std::size_t> states(70, 2);
  for (const Orders orders : {Orders::several, Orders::one}) {
    try {
      triangulate(states, complete(70), {}, orders);
      FAIL("it was triangulated");
    } catch (const Error& error) {
      CHECK(error.code() == Code::limit_exceeded);
      CHECK_THAT(error.what(), Catch::Contains("4e18"));
    }
  }
}
