// The long test of learning: hidden from ordinary runs. `unit_tests "[.long]"`, on as many threads
// as there are.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <thread>

#include "core/in_parallel.h"
#include "priors/generator.h"
#include "priors/learning.h"
#include "tests/unit/lift_fleet.h"

using namespace faultodds;
using namespace faultodds::priors;
using lift_fleet::truth;

namespace {

// Share found not sound of the components that were opened and whose cause is certain.
std::map<ModeName, double> counted(const circuit::Analysis& circuit, const std::vector<Job>& jobs) {
  std::map<ModeName, std::pair<double, double>> counts;  // not sound, all
  const auto named = [&](std::uint32_t m) {
    return ModeName{circuit.modes[m].type, circuit.modes[m].name};
  };
  for (const Job& job : jobs) {
    for (std::uint32_t m : job.sound) counts[named(m)].second += 1;
    for (const Finding& finding : job.findings) {
      if (finding.modes.size() > 1) continue;
      counts[named(finding.modes[0])].first += 1;
      counts[named(finding.modes[0])].second += 1;
    }
  }
  std::map<ModeName, double> shares;
  for (const auto& [name, of] : counts) shares[name] = of.first / of.second;
  return shares;
}

// Of one fleet: P(not sound) by mode, learned, learned without looking at selection, counted.
struct Fleet {
  std::map<ModeName, double> learned, unselected, counted;
  std::map<ModeName, Interval> interval;
  bool converged = false;
};

Fleet fleet(const circuit::Analysis& circuit, std::uint64_t seed) {
  GeneratorOptions options;  // 40 % of the components with several modes are replaced whole
  options.seed = seed;
  Generator generator(circuit, truth(), options);
  std::vector<Job> jobs;
  for (int i = 0; i < 20'000; ++i) jobs.push_back(generator.next());
  std::map<ModeName, Dirichlet> judgement;
  for (const auto& [name, unused] : truth()) judgement[name] = {{4.5, 0.3, 0.2}};
  Fleet result;
  result.counted = counted(circuit, jobs);
  const Learned learned = learn({circuit}, jobs, judgement);
  LearnOptions naive;
  naive.select_by_complaint = naive.intervals = false;
  naive.tolerance = 1e-5;
  const Learned unselected = learn({circuit}, jobs, judgement, naive);
  result.converged = learned.converged;
  for (const auto& [name, unused] : truth()) {
    result.learned[name] = learned.modes.at(name).not_sound;
    result.interval[name] = learned.modes.at(name).not_sound_interval;
    result.unselected[name] = unselected.modes.at(name).not_sound;
  }
  return result;
}

}  // namespace

TEST_CASE(
    "of 200 fleets of 20,000 jobs, 85 to 95 % of the 90 % intervals hold the truth, and only "
    "learning through the circuit is unbiased",
    "[.long]") {
  const circuit::Analysis& lift = lift_fleet::lift();
  std::vector<Fleet> fleets(200);
  in_parallel(fleets.size(), std::max(1u, std::thread::hardware_concurrency()),
              [&](std::size_t i) { fleets[i] = fleet(lift, 1001 + i); });
  int inside = 0, all = 0;
  double worst_counted = 0, worst_unselected = 0;
  for (const auto& [name, grades] : truth()) {
    const double p = 1 - grades[0];
    double learned = 0, counted = 0, unselected = 0;  // mean relative errors
    int inside_of_mode = 0;
    for (const Fleet& one : fleets) {
      REQUIRE(one.converged);
      const auto n = static_cast<double>(fleets.size());
      learned += (one.learned.at(name) / p - 1) / n;
      unselected += (one.unselected.at(name) / p - 1) / n;
      counted += (one.counted.at(name) / p - 1) / n;
      const Interval& interval = one.interval.at(name);
      if (interval.lower < p && p < interval.upper) ++inside_of_mode;
    }
    WARN(name.type << '.' << name.mode << ": " << inside_of_mode
                   << " of 200 intervals hold it; off by " << 100 * learned
                   << " %, not looking at selection " << 100 * unselected << " %, counting "
                   << 100 * counted << " %");
    CHECK(std::abs(learned) < 0.01);
    worst_counted = std::max(worst_counted, std::abs(counted));
    worst_unselected = std::max(worst_unselected, std::abs(unselected));
    inside += inside_of_mode;
    all += static_cast<int>(fleets.size());
  }
  CHECK(worst_counted > 0.3);
  CHECK(worst_unselected > 0.3);
  const double share = static_cast<double>(inside) / all;
  WARN("inside: " << 100 * share << " %");
  CHECK(share > 0.85);
  CHECK(share < 0.95);
}
