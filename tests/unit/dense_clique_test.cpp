// Cliques without a list of their entries: against sums over all combinations, and networks with
// such cliques against the same networks with every clique listed.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <set>
#include <vector>

#include "core/error.h"
#include "core/network/dense_clique.h"
#include "core/network/inference.h"

using namespace faultodds;
using namespace faultodds::network;

namespace {

// Numbers of 0 to 1, a few of them 0.
std::vector<double> numbers(std::size_t n, std::mt19937& random) {
  std::vector<double> list;
  for (std::size_t i = 0; i < n; ++i) {
    list.push_back(random() % 5 == 0 ? 0.0 : static_cast<double>(random() % 1000 + 1) / 1000);
  }
  return list;
}

std::size_t combinations(const std::vector<Var>& scope, const std::vector<std::size_t>& states) {
  std::size_t n = 1;
  for (Var v : scope) n *= states[v];
  return n;
}

struct Sample {
  std::vector<std::size_t> states;
  std::vector<Var> vars;
  std::vector<std::vector<Var>> scopes;  // the first is that of the separator
  std::vector<std::vector<double>> of_scope, of_attached;

  explicit Sample(std::mt19937& random) {
    const std::size_t n = 1 + random() % 7;
    for (Var v = 0; v < n; ++v) {
      states.push_back(1 + random() % 5);
      vars.push_back(v);
      of_attached.push_back(numbers(states[v], random));
    }
    for (std::size_t r = 0; r < 1 + random() % 4; ++r) {
      std::vector<Var> scope;
      for (Var v : vars) {
        if (random() % 2 == 0) scope.push_back(v);
      }
      std::shuffle(scope.begin(), scope.end(), random);
      scopes.push_back(scope);
      of_scope.push_back(numbers(combinations(scope, states), random));
    }
  }

  DenseClique clique() const {
    std::vector<DenseScope> all;
    for (const auto& scope : scopes) all.push_back({scope, false});
    return DenseClique(DenseClique::order_of(vars, states, all), states, scopes, vars);
  }

  // `use` gets the states and the product of each combination.
  template <typename Use>
  void for_all(const Use& use) const {
    std::vector<std::size_t> state(vars.size(), 0);
    do {
      double product = 1;
      for (std::size_t r = 0; r < scopes.size(); ++r) product *= of_scope[r][place(r, state)];
      for (Var v : vars) product *= of_attached[v][state[v]];
      use(state, product);
    } while (next_combination(state, states));
  }
  std::size_t place(std::size_t r, const std::vector<std::size_t>& state) const {
    std::size_t place = 0;
    for (Var v : scopes[r]) place = place * states[v] + state[v];
    return place;
  }
};

std::vector<double> logs(const std::vector<double>& numbers) {
  std::vector<double> list;
  for (double p : numbers) list.push_back(std::log(p));
  return list;
}

// Layers of variables, each with a few of the layer above as parents: cliques of thousands of
// entries. `chance` of each row to be certain of its state.
Network layers(std::mt19937& random, int percent_certain) {
  Network net;
  constexpr Var kWide = 8, kDeep = 5;
  for (Var v = 0; v < kWide * kDeep; ++v) {
    const std::size_t states = 2 + random() % 2;
    net.add("v" + std::to_string(v), states);
    std::set<Var> parents;
    for (int k = 0; v >= kWide && k < 3; ++k) {
      parents.insert((v / kWide - 1) * kWide + static_cast<Var>(random() % kWide));
    }
    std::size_t rows = 1;
    for (Var p : parents) rows *= net.states(p);
    std::vector<double> table;
    for (std::size_t r = 0; r < rows; ++r) {
      const bool certain = static_cast<int>(random() % 100) < percent_certain;
      const std::size_t of = random() % states;
      for (std::size_t s = 0; s < states; ++s) {
        const double most = 1 - 1e-3 * static_cast<double>(states - 1);
        table.push_back(certain ? (s == of ? 1.0 : 0.0) : (s == of ? most : 1e-3));
      }
    }
    net.set_table(v, {parents.begin(), parents.end()}, table);
  }
  return net;
}

void compare(const JunctionTree& listed, Inference::Workspace& workspace,
             const std::vector<std::pair<Var, std::vector<double>>>& told) {
  Propagation with_lists(listed);
  workspace.evidence.clear();
  for (const auto& [v, likelihood] : told) {
    workspace.evidence.multiply(v, likelihood);
    with_lists.multiply_logs(v, logs(likelihood));
  }
  const double expected = with_lists.collect();
  const double found = collect(workspace);
  if (std::isinf(expected)) {
    CHECK(found == expected);
    return;
  }
  CHECK(found == Approx(expected).epsilon(1e-11).margin(1e-9));
  with_lists.distribute();
  distribute(workspace);
  distribute(workspace);  // changes nothing
  double largest = 0;
  for (Var v = 0; v < listed.variables(); ++v) {
    for (std::size_t s = 0; s < listed.states(v); ++s) {
      largest = std::max(
          largest, std::fabs(with_lists.posterior(v)[s] - workspace.propagation.posterior(v)[s]));
    }
  }
  CHECK(largest < 1e-9);
}

}  // namespace

TEST_CASE("a dense clique sums its entries as enumeration does") {
  std::mt19937 random(21);
  for (int round = 0; round < 300; ++round) {
    const Sample sample(random);
    const DenseClique clique = sample.clique();
    std::vector<std::vector<double>> expected, found, in_logs;
    for (const auto& list : sample.of_scope) expected.emplace_back(list.size(), 0.0);
    for (const auto& list : sample.of_attached) expected.emplace_back(list.size(), 0.0);
    double possible = 0;
    sample.for_all([&](const std::vector<std::size_t>& state, double product) {
      possible += product > 0;
      for (std::size_t r = 0; r < sample.scopes.size(); ++r) {
        expected[r][sample.place(r, state)] += product;
      }
      for (Var v : sample.vars) expected[sample.scopes.size() + v][state[v]] += product;
    });

    DenseClique::Numbers plain, as_logs;
    DenseClique::Sums sums, log_sums;
    std::vector<std::vector<double>> kept;
    kept.reserve(expected.size());
    for (const auto& list : expected) {
      found.emplace_back(list.size(), 0.0);
      in_logs.emplace_back(list.size(), 0.0);
    }
    for (std::size_t k = 0; k < expected.size(); ++k) {
      const bool scope = k < sample.scopes.size();
      const auto& list = scope ? sample.of_scope[k] : sample.of_attached[k - sample.scopes.size()];
      kept.push_back(logs(list));
      (scope ? plain.of_scope : plain.of_attached).push_back(list.data());
      (scope ? as_logs.of_scope : as_logs.of_attached).push_back(kept.back().data());
      (scope ? sums.of_scope : sums.of_attached).push_back(found[k].data());
      (scope ? log_sums.of_scope : log_sums.of_attached).push_back(in_logs[k].data());
    }
    DenseClique::Count count;
    clique.sum(plain, sums, &count);
    clique.sum_logs(as_logs, nullptr, log_sums);
    CHECK(count.possible == possible);
    CHECK(count.visited >= possible);
    std::vector<double> most(expected[0].size(), -std::numeric_limits<double>::infinity());
    clique.largest_logs(as_logs, most.data());
    for (std::size_t k = 0; k < expected.size(); ++k) {
      for (std::size_t i = 0; i < expected[k].size(); ++i) {
        CHECK(found[k][i] == Approx(expected[k][i]).margin(1e-300));
        CHECK(in_logs[k][i] == Approx(expected[k][i]).margin(1e-300));
        if (k == 0) CHECK((most[i] > -1e300) == (expected[0][i] > 0));
      }
    }
  }
}

TEST_CASE("a network with dense cliques answers as one with every entry listed") {
  std::mt19937 random(22);
  for (const int percent_certain : {0, 50, 95}) {
    CAPTURE(percent_certain);
    for (int round = 0; round < 4; ++round) {
      Network net = layers(random, percent_certain);
      const JunctionTree listed = JunctionTree::of(net);
      const Inference inference(std::move(net), {});
      Inference::Lease workspace(inference);
      for (Var v = 0; v < listed.variables(); ++v) {
        for (std::size_t s = 0; s < listed.states(v); ++s) {
          CHECK(inference.tree().prior(v)[s] == Approx(listed.prior(v)[s]).margin(1e-12));
        }
      }
      for (std::size_t known : {0U, 1U, 3U, 8U, 20U}) {
        std::vector<std::pair<Var, std::vector<double>>> told;
        for (std::size_t k = 0; k < known; ++k) {
          const auto v = static_cast<Var>(random() % listed.variables());
          std::vector<double> likelihood(listed.states(v), random() % 2 == 0 ? 0.0 : 0.25);
          likelihood[random() % likelihood.size()] = 1;
          told.emplace_back(v, likelihood);
        }
        compare(listed, *workspace, told);
      }
    }
  }
}

TEST_CASE("a network with dense cliques answers evidence that doubles do not span") {
  std::mt19937 random(23);
  Network net = layers(random, 30);
  const JunctionTree listed = JunctionTree::of(net);
  const Inference inference(std::move(net), {});
  Inference::Lease workspace(inference);
  std::vector<std::pair<Var, std::vector<double>>> told;
  for (Var v = 0; v < listed.variables(); ++v) {
    std::vector<double> likelihood(listed.states(v), 1e-200);
    likelihood[v % likelihood.size()] = 1e-250;
    told.emplace_back(v, likelihood);
  }
  compare(listed, *workspace, told);
}

TEST_CASE("the same network has the same numbers, to the bit, whenever it is compiled") {
  std::vector<double> first;
  for (int time = 0; time < 2; ++time) {
    std::mt19937 random(24);
    const Inference inference(layers(random, 50), {});
    Inference::Lease workspace(inference);
    workspace->evidence.observe(39, 0);
    collect(*workspace);
    distribute(*workspace);
    std::vector<double> numbers;
    for (Var v = 0; v < inference.network().size(); ++v) {
      const auto posterior = workspace->propagation.posterior(v);
      numbers.insert(numbers.end(), posterior.begin(), posterior.end());
    }
    if (time == 0) first = numbers;
    CHECK(numbers == first);
  }
}

TEST_CASE("a tree with dense cliques is not propagated for several cases at once") {
  std::mt19937 random(25);
  const Network net = layers(random, 0);
  TreeOptions options;
  options.dense_cliques = true;
  const JunctionTree tree = JunctionTree::of(net, options);
  CHECK_THROWS_AS(LanePropagation<kLanes>(tree), Error);
}
