// The inference engine against brute-force enumeration of the joint distribution.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <thread>

#include "core/error.h"
#include "core/network/elimination.h"
#include "core/network/junction_tree.h"
#include "tests/unit/network_enumeration.h"

using namespace faultodds;
using namespace faultodds::network;

namespace {

JunctionTree compile(const Network& net, const std::vector<Var>& scope) {
  std::vector<const Factor*> factors;
  for (Var v = 0; v < net.size(); ++v) factors.push_back(&net.table(v));
  return JunctionTree(net.all_states(), factors, scope, {});
}

}  // namespace

TEST_CASE("posteriors, evidence and joints of random networks equal enumeration") {
  std::mt19937 random(20240131);
  int impossible = 0;
  for (int round = 0; round < 1000; ++round) {
    const Network net = random_network(random);
    std::vector<Var> scope;
    std::vector<std::vector<double>> weight(net.size());
    for (Var v = 0; v < net.size(); ++v) {
      weight[v].assign(net.states(v), 1.0);
      if (random() % 3 == 0) scope.push_back(v);
      if (random() % 2 == 0) {
        for (double& x : weight[v]) {
          x = random() % 4 == 0 ? 0.0 : static_cast<double>(random() % 100) / 100;
        }
      }
    }
    const JunctionTree tree = compile(net, scope);
    Propagation propagation(tree);
    const Enumerated prior = enumerate(
        net, std::vector<std::vector<double>>(net.size(), std::vector<double>(3, 1.0)), {});
    const Enumerated truth = enumerate(net, weight, scope);
    for (int again = 0; again < 2; ++again) {  // the second time on used scratch space
      propagation.clear();
      for (Var v = 0; v < net.size(); ++v) {
        if (weight[v] != std::vector<double>(net.states(v), 1.0))
          propagation.multiply(v, weight[v]);
      }
      const double log_evidence = propagation.collect();
      if (truth.evidence == 0) {
        ++impossible;
        REQUIRE(log_evidence == -std::numeric_limits<double>::infinity());
        continue;
      }
      REQUIRE(std::fabs(log_evidence - std::log(truth.evidence)) < 1e-11);
      propagation.distribute();
      for (Var v = 0; v < net.size(); ++v) {
        for (std::size_t s = 0; s < net.states(v); ++s) {
          REQUIRE(std::fabs(propagation.posterior(v)[s] - truth.posterior[v][s] / truth.evidence) <
                  1e-12);
          REQUIRE(std::fabs(tree.prior(v)[s] - prior.posterior[v][s]) < 1e-12);
        }
      }
      if (scope.empty()) continue;
      const std::vector<double> joint = propagation.root_joint(scope);
      for (std::size_t i = 0; i < joint.size(); ++i) {
        REQUIRE(std::fabs(joint[i] - truth.joint[i] / truth.evidence) < 1e-12);
      }
    }
  }
  REQUIRE(impossible > 20);  // the generator does make impossible evidence
}

TEST_CASE("a chain of 1,000 observed variables does not underflow") {
  // A hidden Markov chain; the forward algorithm with rescaling is the independent computation.
  Network net;
  const std::size_t length = 1000;
  const std::vector<double> step{0.99, 0.01, 0.02, 0.98}, emit{1 - 1e-9, 1e-9, 0.3, 0.7};
  std::vector<Var> hidden, seen;
  for (std::size_t i = 0; i < length; ++i) {
    hidden.push_back(net.add("h" + std::to_string(i), 2));
    if (i == 0) {
      net.set_table(hidden[0], {}, {0.6, 0.4});
    } else {
      net.set_table(hidden[i], {hidden[i - 1]}, step);
    }
    seen.push_back(net.add("s" + std::to_string(i), 2));
    net.set_table(seen[i], {hidden[i]}, emit);
  }
  const JunctionTree tree = JunctionTree::of(net);
  Propagation propagation(tree);
  double forward[2] = {0.6, 0.4}, log_evidence = 0;
  for (std::size_t i = 0; i < length; ++i) {
    const std::size_t state = i % 3 == 0 ? 1 : 0;
    const double hard[2] = {state == 0 ? 1.0 : 0.0, state == 1 ? 1.0 : 0.0};
    propagation.multiply(seen[i], hard);
    if (i > 0) {
      const double a = forward[0] * step[0] + forward[1] * step[2];
      const double b = forward[0] * step[1] + forward[1] * step[3];
      forward[0] = a;
      forward[1] = b;
    }
    forward[0] *= emit[state];
    forward[1] *= emit[2 + state];
    const double total = forward[0] + forward[1];
    log_evidence += std::log(total);
    forward[0] /= total;
    forward[1] /= total;
  }
  REQUIRE(log_evidence < -700);  // exp() of it is 0 in double precision
  REQUIRE(propagation.collect() == Approx(log_evidence).epsilon(1e-12));
  propagation.distribute();
  REQUIRE(propagation.posterior(hidden.back())[0] == Approx(forward[0]).epsilon(1e-10));
}

TEST_CASE("zeros of deterministic tables cost no clique entries") {
  Network net;
  std::vector<Var> causes;
  for (int i = 0; i < 6; ++i) {
    causes.push_back(net.add("c", 3));
    net.set_table(causes.back(), {}, {0.9, 0.06, 0.04});
  }
  Var max = causes[0];
  for (std::size_t i = 1; i < causes.size(); ++i) {
    const Var next = net.add("max", 3);
    net.set_function(next, {max, causes[i]},
                     [](const std::vector<std::size_t>& g) { return std::max(g[0], g[1]); });
    max = next;
  }
  const JunctionTree tree = JunctionTree::of(net);
  REQUIRE(tree.dense_entries() == 5 * 27);
  REQUIRE(tree.entries() == 5 * 9);
}

TEST_CASE("a network wider than the memory budget is refused before it is allocated") {
  Network net;
  std::vector<Var> row;
  for (int i = 0; i < 40; ++i) {
    row.push_back(net.add("x", 2));
    net.set_table(row.back(), {}, {0.5, 0.5});
  }
  for (std::size_t i = 0; i < row.size(); ++i) {  // pairwise links: one clique of all
    for (std::size_t j = i + 1; j < row.size(); ++j) {
      const Var v = net.add("y", 2);
      net.set_table(v, {row[i], row[j]}, {0.1, 0.9, 0.2, 0.8, 0.3, 0.7, 0.4, 0.6});
    }
  }
  try {
    JunctionTree::of(net, TreeOptions{1 << 20});
    FAIL("the network was compiled");
  } catch (const Error& error) {
    REQUIRE(error.code() == Code::limit_exceeded);
    REQUIRE(std::string(error.what()).find("1048576") != std::string::npos);
  }
}

TEST_CASE("a variable that cannot be is refused by name") {
  Network net;
  REQUIRE_THROWS_WITH(net.add("a", 0), Catch::Contains("'a' has 0 states; expected 1 to 65535"));
  REQUIRE_THROWS_WITH(net.add("a", 65536), Catch::Contains("'a' has 65536 states"));
  REQUIRE_THROWS_WITH(net.add("a", 2, {"yes", "no", "perhaps"}),
                      Catch::Contains("'a' has 2 states but 3 state names"));
  REQUIRE(net.size() == 0);
}

TEST_CASE("a table that does not fit its variable is refused by name") {
  Network net;
  const Var a = net.add("a", 2), b = net.add("b", 2);
  REQUIRE_THROWS_WITH(net.set_table(a, {}, {0.5, 0.2}), Catch::Contains("'a' sums to 0.7"));
  REQUIRE_THROWS_WITH(net.set_table(a, {}, {0.5}), Catch::Contains("has 1 numbers; expected 2"));
  REQUIRE_THROWS_WITH(net.set_table(a, {}, {1.5, -0.5}), Catch::Contains("-0.5"));
  REQUIRE_THROWS_WITH(net.set_table(a, {}, {1, std::numeric_limits<double>::infinity()}),
                      Catch::Contains("inf"));
  const std::vector<double> four{0.5, 0.5, 0.5, 0.5};
  REQUIRE_THROWS_WITH(net.set_table(a, {a}, four),
                      Catch::Contains("parent of 'a' is the variable"));
  REQUIRE_THROWS_WITH(net.set_table(a, {2}, four), Catch::Contains("does not exist"));
  REQUIRE_THROWS_WITH(net.set_table(a, {b, b}, {0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5}),
                      Catch::Contains("'a' is given 'b' twice"));
  net.set_table(a, {b}, {0.5, 0.5, 0.5, 0.5});
  REQUIRE_THROWS_WITH(net.set_table(b, {a}, {0.5, 0.5, 0.5, 0.5}), Catch::Contains("cycle"));
  REQUIRE_THROWS_WITH(JunctionTree::of(net), Catch::Contains("'b' has no table"));
}

TEST_CASE("threads that propagate over one tree agree bit for bit") {
  std::mt19937 random(7);
  const Network net = random_network(random);
  const JunctionTree tree = JunctionTree::of(net);
  const std::vector<double> weight{0.2, 0.7, 0.1};
  auto run = [&](std::vector<double>& out) {
    for (int i = 0; i < 200; ++i) {
      Propagation propagation(tree);
      const Var v = static_cast<Var>(net.size() - 1);
      propagation.multiply(v, std::span(weight.data(), net.states(v)));
      out.clear();
      out.push_back(propagation.collect());
      propagation.distribute();
      for (Var u = 0; u < net.size(); ++u) {
        const auto p = propagation.posterior(u);
        out.insert(out.end(), p.begin(), p.end());
      }
    }
  };
  std::vector<double> results[4];
  std::vector<std::thread> threads;
  for (auto& r : results) threads.emplace_back(run, std::ref(r));
  for (auto& t : threads) t.join();
  for (const auto& r : results) REQUIRE(r == results[0]);
}

TEST_CASE("rows that sum to 1 within a millionth are scaled to sum to 1") {
  Network net;
  net.add("a", 2);
  net.set_table(0, {}, {0.5000005, 0.5});
  CHECK(net.table(0).table[0] == Approx(0.5000005 / 1.0000005).epsilon(1e-15));
  CHECK(net.table(0).table[1] == Approx(0.5 / 1.0000005).epsilon(1e-15));
}

TEST_CASE("evidence whose product a double does not hold makes its lane doubtful, and no other") {
  // h decides x, y and z. Each likelihood alone is harmless.
  Network net;
  for (const char* name : {"h", "x", "y", "z"}) net.add(name, 2);
  net.set_table(0, {}, {0.5, 0.5});
  for (Var v = 1; v < 4; ++v) net.set_table(v, {0}, {1, 0, 0, 1});
  net.add("apart", 2);
  net.set_table(4, {}, {0.5, 0.5});
  const JunctionTree tree = JunctionTree::of(net);
  const std::vector<double> tiny{1e-200, 1};
  const auto doubtful = [&](const std::vector<Var>& told) {
    LanePropagation<kLanes> lanes(tree);
    for (const Var v : told) lanes.multiply(v, tiny, 3);
    lanes.multiply(0, std::vector<double>{0.25, 1}, 5);
    lanes.collect_all();
    for (std::size_t l = 0; l < kLanes; ++l) {
      if (l != 3) CHECK_FALSE(lanes.doubtful(l));
    }
    return lanes.doubtful(3);
  };
  CHECK_FALSE(doubtful({1}));
  CHECK(doubtful({0, 1}));     // of one clique
  CHECK(doubtful({1, 2, 3}));  // from several, however they are joined

  // Through separators: each of six cliques beside h tells it something harmless.
  Network star;
  star.add("h", 2);
  star.set_table(0, {}, {0.5, 0.5});
  for (Var v = 1; v <= 6; ++v) {
    star.add("x" + std::to_string(v), 3);
    star.set_table(v, {0}, {1, 0, 0, 0, 0.5, 0.5});
  }
  const JunctionTree star_tree = JunctionTree::of(star);
  for (Var i = 1; i <= 6; ++i) {
    for (Var k = 1; k < i; ++k) {
      LanePropagation<kLanes> lanes(star_tree);
      for (const Var v : {i, k}) lanes.multiply(v, std::vector<double>{1e-200, 1, 1}, 3);
      lanes.collect_all();
      INFO(i << " and " << k);
      CHECK(lanes.doubtful(3));
      CHECK_FALSE(lanes.doubtful(2));
    }
  }

  // Of one variable, again and again: what is lost would have won.
  LanePropagation<kLanes> lanes(tree);
  lanes.multiply(4, std::vector<double>{1e-200, 1}, 0);
  lanes.multiply(4, std::vector<double>{1e-200, 1}, 0);
  for (int i = 0; i < 3; ++i) lanes.multiply(4, std::vector<double>{1, 1e-300}, 0);
  lanes.collect_all();
  CHECK(lanes.doubtful(0));
}
