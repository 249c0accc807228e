// What is worth checking before service: against enumeration of every combination of grades.
#include "core/diagnosis/before_service.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "core/error.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::before_service;
using faultodds::diagnosis::Economics;
using faultodds::diagnosis::Focus;

namespace {

// A machine at service: what was seen of it is normal.
Sample random_service(std::uint64_t seed) {
  Sample sample = random_sample(seed);
  Case& the_case = sample.the_case;
  std::mt19937_64 random(seed + 77);
  for (Evidence& e : the_case.evidence) e.outcome = 0;
  if (seed % 3 == 0) the_case.evidence.clear();
  the_case.focus = Focus::circuit;
  the_case.economics.second_visit = 100 + 400 * static_cast<double>(random() % 5);
  the_case.economics.worn_fails = 0.1 * static_cast<double>(random() % 8);
  the_case.economics.labour_per_hour = 20;
  return sample;
}

double saving_of(const Analysis& analysis, const Economics& e, std::uint32_t c, double fails) {
  const auto& component = analysis.components[c];
  const double unplanned = e.second_visit + *component.part_cost +
                           *component.minutes * (e.labour_per_hour + e.downtime_per_hour) / 60 +
                           *component.lead_days * e.downtime_hours_per_day * e.downtime_per_hour;
  const double planned = *component.part_cost + *component.minutes * e.labour_per_hour / 60;
  return std::max(0.0, (fails - e.bad_new_part) * unplanned - planned);
}

// P(component c fails in service | grades).
double fails_in_service(const Analysis& analysis, const Economics& e, std::uint32_t c,
                        const std::vector<int>& grade) {
  double lasts = 1;
  for (std::size_t m = 0; m < grade.size(); ++m) {
    if (analysis.modes[m].component_index != c) continue;
    lasts *= grade[m] == 0 ? 1 : grade[m] == 1 ? 1 - e.worn_fails : 0;
  }
  return 1 - lasts;
}

double expected_saving(const Analysis& analysis, const Economics& e, const Enumeration& posterior,
                       std::uint32_t o) {
  std::vector<bool> looked_at(analysis.components.size(), false);
  for (const auto& set : analysis.observations[o].sets) {
    for (const std::uint32_t m : set.modes) looked_at[analysis.modes[m].component_index] = true;
  }
  double sum = 0;
  for (std::uint32_t c = 0; c < looked_at.size(); ++c) {
    if (!looked_at[c]) continue;
    const auto fails = [&](const std::vector<int>& grade) {
      return fails_in_service(analysis, e, c, grade);
    };
    sum -= saving_of(analysis, e, c, posterior.mean(fails));
    for (std::size_t i = 0; i < analysis.observations[o].outcomes.size(); ++i) {
      const auto seen = [&](const std::vector<int>& grade) {
        return outcome_probability(analysis, o, i, grade);
      };
      const double p = posterior.mean(seen);
      sum += p * saving_of(analysis, e, c, posterior.mean([&](const std::vector<int>& grade) {
               return seen(grade) * fails(grade);
             }) / p);
    }
  }
  return sum;
}

}  // namespace

TEST_CASE("what a test saves before service is exact, and every test that saves is listed") {
  std::size_t listed = 0, replaced = 0;
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    const Sample sample = random_service(seed);
    const Analysis& analysis = sample.machine.analysis;
    const Economics& economics = sample.the_case.economics;
    INFO("seed " << seed);
    const auto found = before_service(sample.machine.compile(), sample.the_case);
    REQUIRE(found);
    const Enumeration posterior(analysis, sample.the_case);
    std::map<std::uint32_t, double> by_test;
    double before = std::numeric_limits<double>::infinity();
    for (const auto& test : found->tests) {
      by_test[test.observation] = test.expected_saving;
      CHECK(test.cost == Approx(test.minutes * economics.per_minute()));
      CHECK(test.net() / test.minutes <= before + 1e-9);
      before = test.net() / test.minutes;
    }
    for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
      const bool seen =
          std::any_of(sample.the_case.evidence.begin(), sample.the_case.evidence.end(),
                      [&](const Evidence& e) { return e.observation == o; });
      if (seen) {
        CHECK(!by_test.count(o));
        continue;
      }
      const double expected = expected_saving(analysis, economics, posterior, o);
      if (by_test.count(o)) {
        CHECK(by_test[o] == Approx(expected).epsilon(1e-9).margin(1e-9));
      } else {
        CHECK(std::fabs(expected) < 1e-5);
      }
      listed += by_test.count(o);
    }
    for (const auto& part : found->replace) {
      const double fails = posterior.mean([&](const std::vector<int>& grade) {
        return fails_in_service(analysis, economics, part.component, grade);
      });
      CHECK(part.fails == Approx(fails).epsilon(1e-9));
      CHECK(part.saving == Approx(saving_of(analysis, economics, part.component, fails)));
      ++replaced;
    }
  }
  CHECK(listed > 200);
  CHECK(replaced > 50);
}

TEST_CASE("what is found before service names the parts that would fail") {
  Machine machine;
  const auto a = machine.part("a", 0.1), b = machine.part("b", 0.1);
  const std::vector<std::vector<double>> sharp{{0.98, 0.02}, {0.02, 0.98}, {0.02, 0.98}};
  machine.observation("complaint", {{a}, {b}}, sharp, true);
  const auto looks = machine.observation("looks", {{a}}, sharp, false, 1);
  Case the_case;
  the_case.focus = Focus::circuit;
  the_case.economics.second_visit = 5000;
  the_case.economics.worn_fails = 1;
  const auto found = before_service(machine.compile(), the_case);
  REQUIRE(found);
  const auto test = std::find_if(found->tests.begin(), found->tests.end(),
                                 [&](const auto& t) { return t.observation == looks; });
  REQUIRE(test != found->tests.end());
  REQUIRE(test->finds.size() == 1);
  CHECK(test->finds[0].component == 0);
  CHECK(test->finds[0].probability == Approx(0.1 * 0.98));
}

TEST_CASE("with a complaint, or where it is not asked for, nothing is said of service") {
  Sample sample = random_service(2);
  REQUIRE_FALSE(sample.the_case.evidence.empty());
  const Model model = sample.machine.compile();
  CHECK(before_service(model, sample.the_case));
  sample.the_case.focus = Focus::automatic;
  CHECK_FALSE(before_service(model, sample.the_case));
  sample.the_case.focus = Focus::circuit;
  sample.the_case.evidence[0].outcome = 1;
  CHECK_FALSE(before_service(model, sample.the_case));
}
