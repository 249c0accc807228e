// The long test of learning: hidden from ordinary runs, run it with `unit_tests "[.long]"` (about a
// quarter of an hour).
#include <catch2/catch.hpp>

#include "priors/generator.h"
#include "priors/learning.h"
#include "tests/unit/circuit_builder.h"

using namespace faultodds;
using namespace faultodds::priors;

TEST_CASE("of 200 fleets of 20,000 jobs, 85 to 95 % of the 90 % intervals hold the truth",
          "[.long]") {
  const circuit::Analysis lift = circuit_test::analyse(circuit_test::lift());
  const std::map<ModeName, std::array<double, 3>> truth{
      {{"pump", "wear"}, {0.93, 0.05, 0.02}},
      {{"relief", "seat_leak"}, {0.88, 0.07, 0.05}},
      {{"valve", "bore_wear"}, {0.94, 0.04, 0.02}},
      {{"valve", "sticks"}, {0.97, 0.02, 0.01}},
      {{"cylinder", "piston_seal_leak"}, {0.80, 0.12, 0.08}},
      {{"cylinder", "rod_seal_leak"}, {0.95, 0.03, 0.02}}};
  std::map<ModeName, Dirichlet> judgement;
  for (const auto& [name, unused] : truth) judgement[name] = {{4.5, 0.3, 0.2}};
  int inside = 0, all = 0;
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    GeneratorOptions options;
    options.seed = 1000 + seed;
    Generator generator(lift, truth, options);
    std::vector<Job> jobs;
    for (int i = 0; i < 20'000; ++i) jobs.push_back(generator.next());
    const Learned learned = learn({lift}, jobs, judgement);
    REQUIRE(learned.converged);
    for (const auto& [name, grades] : truth) {
      const LearnedMode& mode = learned.modes.at(name);
      const double p = 1 - grades[0];
      ++all;
      if (mode.not_sound_interval.lower < p && p < mode.not_sound_interval.upper) ++inside;
    }
  }
  const double share = static_cast<double>(inside) / all;
  CAPTURE(share);
  CHECK(share > 0.85);
  CHECK(share < 0.95);
}
