// Bounded conditioning against brute-force enumeration.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <memory>
#include <random>

#include "core/error.h"
#include "core/network/conditioning.h"
#include "tests/unit/network_enumeration.h"

using namespace faultodds;
using namespace faultodds::network;

namespace {

// Five causes of three states, the first the most probable, and an effect of two states for eight
// pairs of them: a network whose tree shrinks when causes are cut.
constexpr std::size_t kCauses = 5, kEffects = 8;

Network pairs_of_causes(std::mt19937& random) {
  Network net;
  const auto chance = [&] { return static_cast<double>(1 + random() % 100) / 101; };
  for (Var v = 0; v < kCauses; ++v) {
    net.add("cause " + std::to_string(v), 3);
    const double rest = chance() / 2, last = rest * chance();
    net.set_table(v, {}, {1 - rest, rest - last, last});
  }
  for (Var v = kCauses; v < kCauses + kEffects; ++v) {
    const auto a = static_cast<Var>(random() % kCauses);
    const auto b = static_cast<Var>((a + 1 + random() % (kCauses - 1)) % kCauses);
    net.add("effect " + std::to_string(v), 2);
    std::vector<double> table;
    for (int row = 0; row < 9; ++row) {
      const double p = random() % 4 == 0 ? 0 : chance();
      table.insert(table.end(), {1 - p, p});
    }
    net.set_table(v, {a, b}, table);
  }
  return net;
}

// The smallest budget that is enough, as far as steps of an eighth find it, when causes may be cut.
std::unique_ptr<ConditionedTree> least(const Network& net, std::size_t most_instances) {
  for (std::size_t budget = 256; budget < 100'000; budget += budget / 8) {
    try {
      return std::make_unique<ConditionedTree>(net, std::vector<Var>{0, 1, 2, 3, 4},
                                               TreeOptions{budget}, most_instances);
    } catch (const Error& error) {
      REQUIRE(error.code() == Code::limit_exceeded);
    }
  }
  return nullptr;
}

// One likelihood per variable, at most 1; a third of the variables have one.
std::vector<std::vector<double>> random_evidence(const Network& net, std::mt19937& random) {
  std::vector<std::vector<double>> weight;
  for (Var v = 0; v < net.size(); ++v) {
    weight.emplace_back(net.states(v), 1.0);
    if (random() % 3 != 0) continue;
    for (double& w : weight[v]) w = static_cast<double>(random() % 100) / 99;
  }
  return weight;
}

ConditionedTree::Tell telling(const std::vector<std::vector<double>>& weight) {
  return [&weight](ConditionedTree::Lanes& lanes, std::size_t lane) {
    for (Var v = 0; v < weight.size(); ++v) lanes.multiply(v, weight[v], lane);
  };
}

}  // namespace

TEST_CASE("looking at every instance of the cut variables is exact") {
  std::mt19937 random(20240611);
  int cut = 0;
  for (int round = 0; round < 60; ++round) {
    const Network net = pairs_of_causes(random);
    const auto tree = least(net, 100'000);
    REQUIRE(tree);
    REQUIRE(tree->exhaustive());
    cut += static_cast<int>(tree->cut());
    const auto weight = random_evidence(net, random);
    const Enumerated truth = enumerate(net, weight, {});
    const auto answer = tree->answer(telling(weight));
    CHECK(answer.missed == 0);
    if (truth.evidence == 0) {
      CHECK(std::isinf(answer.log_evidence));
      continue;
    }
    CHECK(answer.log_evidence == Approx(std::log(truth.evidence)).margin(1e-12));
    for (Var v = 0; v < net.size(); ++v) {
      for (std::size_t s = 0; s < net.states(v); ++s) {
        CHECK(std::fabs(tree->view(answer)(v, s) - truth.posterior[v][s] / truth.evidence) < 1e-12);
      }
    }
  }
  CHECK(cut > 60);
}

TEST_CASE("looking at some instances bounds the error of every probability and of the evidence") {
  std::mt19937 random(20240612);
  int incomplete = 0, tight = 0;
  for (int round = 0; round < 120; ++round) {
    const Network net = pairs_of_causes(random);
    const auto tree = least(net, 1 + random() % 20);
    REQUIRE(tree);
    const auto weight = random_evidence(net, random);
    const Enumerated truth = enumerate(net, weight, {});
    const auto answer = tree->answer(telling(weight));
    if (tree->exhaustive()) continue;
    ++incomplete;
    CHECK(answer.missed > 0);
    // P(evidence) lies between what was seen and what was seen or missed.
    const double seen = std::exp(answer.log_evidence);
    CHECK(seen <= truth.evidence * (1 + 1e-12));
    if (seen == 0) continue;
    CHECK(truth.evidence <= seen / (1 - answer.missed) * (1 + 1e-12));
    for (Var v = 0; v < net.size(); ++v) {
      double distance = 0;  // total variation
      for (std::size_t s = 0; s < net.states(v); ++s) {
        distance +=
            std::fabs(tree->view(answer)(v, s) - truth.posterior[v][s] / truth.evidence) / 2;
      }
      CHECK(distance <= answer.missed + 1e-12);
      tight += distance > answer.missed / 4;
    }
  }
  CHECK(incomplete > 30);
  CHECK(tight > 20);
}

TEST_CASE("a changed prior is taken into account in what was missed") {
  std::mt19937 random(20240613);
  const auto nothing = [](ConditionedTree::Lanes&, std::size_t) {};
  // Halves the first, most probable, state of every cause.
  const auto halved = [](const Network& net) {
    return [&net](ConditionedTree::Lanes& lanes, std::size_t lane) {
      for (Var v = 0; v < kCauses; ++v) {
        const double p = net.table(v).table[0];
        const double up = (1 - p / 2) / (1 - p);
        lanes.multiply(v, std::array<double, 3>{0.5, up, up}, lane);
      }
    };
  };
  const Network net = pairs_of_causes(random);
  const auto tree = least(net, 1);
  REQUIRE(tree->cut() > 0);
  // Only the most probable states are looked at. Halving those of every cause halves, for each one
  // that is cut, what they cover.
  const double looked_at = 1 - tree->answer(nothing).missed;
  const double expected = looked_at / std::pow(2, tree->cut());
  const auto answer = tree->answer(nothing, halved(net));
  CHECK(std::exp(answer.log_evidence) == Approx(expected));
  CHECK(answer.missed == Approx(1 - expected));

  // Without evidence all that is not seen is missed, of many instances too.
  std::size_t many = 0;
  for (int round = 0; round < 60; ++round) {
    const Network other = pairs_of_causes(random);
    const auto larger = least(other, 20);
    REQUIRE(larger);
    if (larger->exhaustive() || larger->instances() <= kLanes) continue;
    ++many;
    const auto changed = larger->answer(nothing, halved(other));
    CHECK(changed.missed == Approx(1 - std::exp(changed.log_evidence)).margin(1e-12));
  }
  CHECK(many > 5);
}

TEST_CASE("priors that a case changes hold for every instance, together with its evidence") {
  std::mt19937 random(20240614);
  std::size_t many = 0;
  for (int round = 0; round < 30; ++round) {
    const Network net = pairs_of_causes(random);
    const auto tree = least(net, 100'000);
    REQUIRE(tree);
    REQUIRE(tree->exhaustive());
    many += tree->instances() > kLanes ? 1 : 0;
    // Twice the odds against the first state, for every cause.
    Network changed = net;
    std::vector<std::array<double, 3>> factor(kCauses);
    for (Var v = 0; v < kCauses; ++v) {
      const auto& prior = net.table(v).table;
      const double all = prior[0] + 2 * (prior[1] + prior[2]);
      factor[v] = {1 / all, 2 / all, 2 / all};
      changed.set_table(v, {}, {prior[0] / all, 2 * prior[1] / all, 2 * prior[2] / all});
    }
    const auto weight = random_evidence(net, random);
    const Enumerated truth = enumerate(changed, weight, {});
    const auto answer =
        tree->answer(telling(weight), [&](ConditionedTree::Lanes& lanes, std::size_t lane) {
          for (Var v = 0; v < kCauses; ++v) lanes.multiply(v, factor[v], lane);
        });
    if (truth.evidence == 0) continue;
    CHECK(answer.log_evidence == Approx(std::log(truth.evidence)).margin(1e-12));
    for (Var v = 0; v < net.size(); ++v) {
      for (std::size_t s = 0; s < net.states(v); ++s) {
        CHECK(std::fabs(tree->view(answer)(v, s) - truth.posterior[v][s] / truth.evidence) < 1e-12);
      }
    }
  }
  CHECK(many > 10);
}

TEST_CASE("where cutting every candidate is not enough, the bytes needed are said") {
  std::mt19937 random(7);
  const Network net = pairs_of_causes(random);
  REQUIRE_THROWS_WITH(ConditionedTree(net, {0, 1, 2, 3, 4}, TreeOptions{16}),
                      Catch::Contains("the memory budget is 16"));
}

TEST_CASE("what stays too wide with 32 variables fixed is refused") {
  // Every pair of the causes has an effect: with 32 fixed, the others are one clique still.
  const auto refusal = [](std::size_t causes, std::size_t states) {
    Network net;
    std::vector<Var> candidates;
    std::vector<double> prior(states, 0.05);
    prior[0] = 1 - 0.05 * static_cast<double>(states - 1);
    for (Var v = 0; v < causes; ++v) {
      candidates.push_back(v);
      net.add("cause " + std::to_string(v), states);
      net.set_table(v, {}, prior);
    }
    for (Var b = 1; b < causes; ++b) {
      for (Var a = 0; a < b; ++a) {
        const Var effect = net.add("effect", 2);
        std::vector<double> table;
        for (std::size_t row = 0; row < states * states; ++row) {
          table.insert(table.end(), {0.4, 0.6});
        }
        net.set_table(effect, {a, b}, table);
      }
    }
    try {
      ConditionedTree(net, candidates, TreeOptions{1 << 20});
    } catch (const Error& error) {
      REQUIRE(error.code() == Code::limit_exceeded);
      return std::string(error.what());
    }
    return std::string("it was compiled");
  };
  CHECK_THAT(refusal(100, 2), Catch::Contains("more than 63 variables, even with 32"));
  CHECK_THAT(refusal(60, 2), Catch::StartsWith("with ") && Catch::Contains(" variables fixed, "));
}
