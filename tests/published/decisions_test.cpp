// Decision problems from the literature: what information is worth and in which order to test. The
// source is named beside each; where a table is from memory its values were computed from it.
#include <algorithm>
#include <array>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "tests/published/hypotheses.h"
#include "tests/unit/advice_optimum.h"

using namespace published;
using advice_test::Machine;
using advice_test::Optimum;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Model;

namespace {

// Raiffa, Decision Analysis, 1968: the oil wildcatter. Dry, wet, soaking; drilling pays -70, 50,
// 200; the seismic test shows a diffuse, open or closed structure and costs 10.
constexpr std::array<double, 3> kOil{.5, .3, .2};
constexpr std::array<double, 3> kDrill{-70, 50, 200};
const std::vector<std::vector<double>> kStructure{{.6, .3, .1}, {.3, .4, .3}, {.1, .4, .5}};

double worth_of_drilling(const std::array<double, 3>& oil) {
  double worth = 0;
  for (std::size_t s = 0; s < 3; ++s) worth += oil[s] * kDrill[s];
  return std::max(worth, 0.0);
}

}  // namespace

TEST_CASE("the oil wildcatter's test is worth 12.5, perfect information 35") {
  const auto ask = GENERATE(static_cast<Ask>(by_engine), static_cast<Ask>(by_brute_force));
  Hypotheses prospect;
  prospect.cause("oil", {kOil[0], kOil[1], kOil[2]});
  const std::vector<std::string> names{"diffuse", "open", "closed"};
  prospect.finding("structure", names, kStructure, {{{"oil"}}}, {1, 0, 0});
  const auto grades = [&](const std::vector<Json>& seen) {
    return ask(prospect.circuit(), the_case(seen)).faults.at("all.oil").grades;
  };
  const auto now = ask(prospect.circuit(), the_case({}));
  const double without = worth_of_drilling(kOil);
  double with = 0;
  for (const std::string& name : names) {
    const auto oil = grades({saw("structure", name)});
    with += now.tests.at("structure").probability.at(name) *
            worth_of_drilling({oil[0], oil[1], oil[2]});
  }
  double certain = 0;
  for (std::size_t s = 0; s < 3; ++s) certain += kOil[s] * std::max(kDrill[s], 0.0);
  CHECK(without == Approx(20));
  CHECK(with == Approx(32.5));
  CHECK(with - 10 == Approx(22.5));
  CHECK(with - without == Approx(12.5));
  CHECK(certain - without == Approx(35));
}

TEST_CASE("as a repair the oil wildcatter's test saves 12.5 too, and is made for its 10") {
  // Drilling is replacing a part for 70. Not drilling forgoes 120 where it is wet and 270 where it
  // is soaking, which is a come-back of 270 for a part that is faulty in 4/9 of the first and in
  // all of the second. Losses are then Raiffa's payoffs, each taken from 0, 120 and 270.
  constexpr double wet = kOil[1] * 120 / 270, faulty = wet + kOil[2];
  Machine prospect;
  const auto well = prospect.mode(prospect.component("well", 70), {1 - faulty, 0, faulty});
  prospect.observation("prospect", {{well}}, {{.5, .5}, {.5, .5}, {.5, .5}}, true);
  std::vector<std::vector<double>> matrix(3, std::vector<double>(3));
  for (std::size_t i = 0; i < 3; ++i) {
    const double both = wet * kStructure[1][i] + kOil[2] * kStructure[2][i];
    const double any =
        kOil[0] * kStructure[0][i] + kOil[1] * kStructure[1][i] + kOil[2] * kStructure[2][i];
    matrix[0][i] = (any - both) / (1 - faulty);
    matrix[1][i] = matrix[2][i] = both / faulty;
  }
  const auto structure = prospect.observation("structure", {{well}}, matrix, false, 10);
  Case the_case;
  the_case.evidence = {advice_test::saw(0, 1)};
  the_case.economics.come_back = 270;
  the_case.economics.bad_new_part = 0;
  the_case.economics.labour_per_hour = 60;
  the_case.economics.downtime_per_hour = 0;
  const auto advice = advise(prospect.compile(), the_case);
  REQUIRE(advice);
  CHECK(90 - advice->repair.expected_cost == Approx(20));
  CHECK(advice->tests.at(0).expected_saving == Approx(12.5));
  CHECK(advice->tests.at(0).net() == Approx(2.5));
  CHECK(advice->test == structure);
  CHECK(90 - Optimum(prospect.analysis, the_case).cost() == Approx(22.5));
}

TEST_CASE("a test matrix is told apart in 2.12 tests at best and in 2.71 by greedy information") {
  // The test-sequencing example of findings_test.cpp, unit costs. Every state must be known for
  // sure before anything is replaced: parts cost far more than tests, a come-back far more again.
  constexpr double part = 1e5;
  const std::vector<double> p{.01, .02, .10, .17};
  const std::vector<std::string> detected{"01001", "00110", "10011", "11000"};
  Machine system;
  std::vector<std::vector<std::uint32_t>> each, pairs;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double odds = p[i] / .70;
    const auto mode = system.mode(system.component("f" + std::to_string(i + 1), part),
                                  {1 / (1 + odds), 0, odds / (1 + odds)});
    for (const auto& other : each) pairs.push_back({other[0], mode});
    each.push_back({mode});
  }
  const std::vector<std::vector<double>> sure{{1, 0}, {0, 1}, {0, 1}};
  const auto complaint =
      system.observation("complaint", each, {{.5, .5}, {.5, .5}, {.5, .5}}, true);
  const auto two_faults = system.observation("two_faults", pairs, sure);
  for (std::size_t t = 0; t < 5; ++t) {
    std::vector<std::vector<std::uint32_t>> sets;
    for (std::size_t i = 0; i < p.size(); ++i) {
      if (detected[i][t] == '1') sets.push_back(each[i]);
    }
    system.observation("t" + std::to_string(t + 1), sets, sure, false, 1);
  }
  Case the_case;
  the_case.evidence = {advice_test::saw(complaint, 1), advice_test::saw(two_faults, 0)};
  the_case.economics.come_back = 1e9;
  the_case.economics.bad_new_part = 0;
  the_case.economics.labour_per_hour = 60;
  the_case.economics.downtime_per_hour = 0;
  Optimum optimum(system.analysis, the_case);
  const double parts = .30 * part;
  CHECK(optimum.cost() - parts == Approx(2.12));
  CHECK(system.analysis.observations[*optimum.first_test()].id == "t2");

  const Model model = system.compile();
  const auto greedy = [&](const Case& now) -> std::optional<std::uint32_t> {
    const auto answer = assess(model, now);
    const auto best = std::max_element(
        answer.tests.begin(), answer.tests.end(),
        [](const auto& a, const auto& b) { return a.information_bits < b.information_bits; });
    if (best == answer.tests.end() || best->information_bits < 1e-9) return std::nullopt;
    return best->observation;
  };
  CHECK(optimum.following(greedy) - parts == Approx(2.71));
}
