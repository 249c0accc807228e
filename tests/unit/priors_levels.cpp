// At what level modes are together, and how many of their faults are another mode's, on counts
// drawn here of known odds.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "priors/levels.h"
#include "priors/misbooking.h"

using namespace faultodds::priors;

namespace {

struct Drawn {
  std::vector<LevelCounts> modes;
  std::vector<double> odds;
};

// 22 modes judged at 1 to 5 %, worth 20 jobs; the truth is off by `spread` in log odds; hours are
// parts times `factor`; a share of the faults is any mode's alike.
Drawn drawn(unsigned seed, double spread, double factor, double wrong) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal;
  Drawn made;
  std::vector<double> expected;
  double total = 0;
  for (int m = 0; m < 22; ++m) {
    const double judged = 0.01 * (1 + m % 5);
    made.odds.push_back(judged / (1 - judged) * std::exp(spread * normal(random)));
    expected.push_back(made.odds.back() * 5000);
    total += expected.back();
    made.modes.push_back({0, 5000 / factor, 20 * judged, 20 * (1 - judged)});
  }
  for (std::size_t m = 0; m < 22; ++m) {
    made.modes[m].faults =
        std::poisson_distribution<int>(expected[m] * (1 - wrong) + total * wrong / 22)(random);
  }
  return made;
}

}  // namespace

TEST_CASE("a factor that all modes are off by is found, and how far judgement of each is off") {
  int held = 0;
  double spread = 0;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    const Level level = common_level(drawn(seed, 0.8, 30, 0).modes);
    const double off = level.log_factor - std::log(30.0);
    held += std::abs(off) < 1.6449 * std::sqrt(level.variance);
    spread += level.spread / 40;
  }
  CHECK(held >= 32);
  CHECK(spread == Approx(0.8).margin(0.1));
}

TEST_CASE("faults of one mode that are booked as another's are known by how many the rarest have") {
  double share = 0, none = 0, as_booked = 0, left = 0;
  for (unsigned seed = 1; seed <= 10; ++seed) {
    const Drawn made = drawn(seed, 1, 1, 0.2);
    const Misbooking found = misbooked(made.modes, {0, 0.01, 1});
    share += found.share / 10;
    none += misbooked(drawn(seed, 1, 1, 0).modes, {0, 0.01, 1}).share / 10;
    for (std::size_t m = 0; m < 22; ++m) {
      const double booked = (made.modes[m].faults + 0.5) / 5000;
      const double own = std::max(booked * found.modes[m].right, 1e-6);
      as_booked += std::pow(std::log(booked / made.odds[m]), 2);
      left += std::pow(std::log(own / made.odds[m]), 2);
    }
  }
  CHECK(share == Approx(0.2).margin(0.07));
  CHECK(none < 0.05);
  CHECK(left < 0.6 * as_booked);
}
