// A test whose sets show only sometimes and are so many that what it would tell of the faults is
// not computed but bounded: the truth, by counting machines that are alike, lies within the bound.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <map>
#include <vector>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/query.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::Assessment;
using faultodds::diagnosis::TestAssessment;

namespace {

constexpr std::size_t kPairs = 14;  // 3^14 combinations of grades: more than are enumerated
constexpr Grades kCause{0.9, 0.07, 0.03}, kMate{0.8, 0.15, 0.05}, kBackground{0.95, 0.03, 0.02};
const std::vector<std::vector<double>> kSymptom{{0.9, 0.1}, {0.4, 0.6}, {0.1, 0.9}};
const std::vector<std::vector<double>> kTest{{0.95, 0.05}, {0.3, 0.7}, {0.2, 0.8}};

struct Setting {
  double shows = 1;  // probability of each set of the test
  double dirt = 0;   // probability of a condition that raises the odds of every mate
  double raise = 1;
};

// Causes c of the complaint, each with a mate r of its own; the test sees min(c, r) of each pair.
struct Bounded {
  Machine machine;
  std::uint32_t test = 0;
  Assessment assessment;
};

Bounded assessed(const Setting& setting, bool complaint = true) {
  Bounded bounded;
  Machine& machine = bounded.machine;
  std::vector<std::vector<std::uint32_t>> causes, pairs;
  faultodds::circuit::ConditionEffect dirt;
  dirt.id = dirt.title = "dirt";
  dirt.probability = setting.dirt;
  for (std::size_t i = 0; i < kPairs; ++i) {
    const auto part = machine.component("part" + std::to_string(i));
    const std::uint32_t cause = machine.mode(part, kCause), mate = machine.mode(part, kMate);
    causes.push_back({cause});
    pairs.push_back({cause, mate});
    dirt.raises.emplace_back(mate, setting.raise);
  }
  const auto symptom = machine.observation("symptom", causes, kSymptom, true);
  bounded.test = machine.observation("test", pairs, kTest);
  for (auto& observation : machine.analysis.observations) observation.background = kBackground;
  for (auto& set : machine.analysis.observations[bounded.test].sets) {
    set.probability = setting.shows;
  }
  if (setting.dirt > 0) machine.analysis.conditions.push_back(dirt);
  Case the_case;
  if (complaint) the_case.evidence = {saw(symptom, 1)};
  bounded.assessment = faultodds::diagnosis::assess(machine.compile(), the_case);
  return bounded;
}

double entropy(const std::array<double, 2>& p) {
  double h = 0;
  for (const double x : p) h -= x > 0 ? x * std::log2(x) : 0;
  return h;
}

// P(outcome of the test | P(S <= 0), P(S <= 1)).
std::array<double, 2> outcomes(double at_most_0, double at_most_1) {
  const Grades s{at_most_0, at_most_1 - at_most_0, 1 - at_most_1};
  std::array<double, 2> p{};
  for (std::size_t g = 0; g < 3; ++g) {
    for (std::size_t b = 0; b < 3; ++b) {
      for (std::size_t o = 0; o < 2; ++o) {
        p[o] += s[g] * kBackground[b] * kTest[std::max(g, b)][o];
      }
    }
  }
  return p;
}

// P(the symptom is seen | the worst cause).
double symptom_seen(std::size_t worst) {
  double p = 0;
  for (std::size_t b = 0; b < 3; ++b) p += kBackground[b] * kSymptom[std::max(worst, b)][1];
  return p;
}

Grades raised(const Grades& prior, double factor) {
  const double all = prior[0] + factor * (prior[1] + prior[2]);
  return {prior[0] / all, factor * prior[1] / all, factor * prior[2] / all};
}

// Every way to share `left` out over the classes, with the probability of it.
template <std::size_t N>
void each_count(const std::array<double, N>& share,
                const std::function<void(const std::array<std::size_t, N>&, double)>& visit,
                std::array<std::size_t, N> count = {}, std::size_t at = 0,
                std::size_t left = kPairs, double p = 1) {
  if (at + 1 == N) {
    count[at] = left;
    visit(count, p * std::pow(share[at], static_cast<double>(left)));
    return;
  }
  double ways = 1;
  for (std::size_t k = 0; k <= left; ++k) {
    count[at] = k;
    each_count<N>(share, visit, count, at + 1, left - k, p * ways);
    ways *= share[at] * static_cast<double>(left - k) / static_cast<double>(k + 1);
  }
}

struct Truth {
  std::array<double, 2> probability{};
  double information = 0;
};

Truth truth(const Setting& setting) {
  const double p = setting.shows;
  const auto power = [](double x, std::size_t n) { return std::pow(x, static_cast<double>(n)); };
  std::array<double, 2> probability{};
  double total = 0, given_faults = 0;
  // By classes of pairs (c, min(c, r)): with the grades of all modes known.
  for (const bool dirty : {false, true}) {
    const double holds = dirty ? setting.dirt : 1 - setting.dirt;
    const Grades r = raised(kMate, dirty ? setting.raise : 1);
    const std::array<double, 6> share{kCause[0],        kCause[1] * r[0], kCause[1] * (1 - r[0]),
                                      kCause[2] * r[0], kCause[2] * r[1], kCause[2] * r[2]};
    each_count<6>(share, [&](const std::array<std::size_t, 6>& n, double weight) {
      const std::size_t worst = n[3] + n[4] + n[5] > 0 ? 2 : n[1] + n[2] > 0 ? 1 : 0;
      weight *= holds * symptom_seen(worst);
      const auto o = outcomes(power(1 - p, n[2] + n[4] + n[5]), power(1 - p, n[5]));
      total += weight;
      for (std::size_t k = 0; k < 2; ++k) probability[k] += weight * o[k];
      given_faults += weight * entropy(o);
    });
  }
  Truth truth;
  for (std::size_t k = 0; k < 2; ++k) truth.probability[k] = probability[k] / total;
  const double h = entropy(truth.probability);
  truth.information = h - given_faults / total;
  return truth;
}

}  // namespace

TEST_CASE("what a test says is within the bound that is given where it is too much to compute") {
  for (const Setting& setting :
       {Setting{1, 0, 1}, Setting{1, 0.3, 4}, Setting{0.8, 0, 1}, Setting{0.8, 0.3, 4}}) {
    INFO("shows " << setting.shows << ", dirt " << setting.dirt);
    const Bounded bounded = assessed(setting);
    const Assessment& assessment = bounded.assessment;
    CHECK(assessment.method == (setting.shows == 1 ? "exact" : "bounded mutual information"));
    REQUIRE(assessment.tests.size() == 1);
    const TestAssessment& test = assessment.tests[0];
    const Truth want = truth(setting);
    CHECK(test.probability[1] == Approx(want.probability[1]).epsilon(1e-9));
    CHECK(std::abs(test.information_bits - want.information) <= assessment.error_bound + 1e-12);
    CHECK(assessment.error_bound < entropy(want.probability));
    if (setting.shows == 1) {  // the grade of the test is a function of the faults: no bound needed
      CHECK(test.information_bits == Approx(want.information).epsilon(1e-9));
    }
  }
}

TEST_CASE("what a test of uncertain sets says is bounded without a complaint, too") {
  const Setting setting{0.8, 0, 1};
  const Bounded bounded = assessed(setting, false);
  const Assessment& assessment = bounded.assessment;
  CHECK(assessment.method == "bounded mutual information");
  const auto test = std::find_if(assessment.tests.begin(), assessment.tests.end(),
                                 [&](const auto& t) { return t.observation == bounded.test; });
  REQUIRE(test != assessment.tests.end());
  // The faults are known through the grade at most: between nothing and I(S; O).
  CHECK(assessment.error_bound > 0);
  CHECK(assessment.error_bound >= test->information_bits);
  CHECK(assessment.error_bound < entropy({test->probability[0], test->probability[1]}));
}

TEST_CASE("what is left open once the grades of sets are known is enumerated through their modes") {
  // Four sets of three modes, which have fewer combinations. A condition raises the first mode,
  // which the test sees.
  constexpr double kDirt = 0.3, kRaise = 6;
  Machine machine;
  const std::uint32_t a = machine.mode(machine.component("a"), kCause);
  const std::uint32_t b = machine.mode(machine.component("b"), kMate);
  const std::uint32_t c = machine.mode(machine.component("c"), kMate);
  faultodds::circuit::ConditionEffect dirt;
  dirt.id = dirt.title = "dirt";
  dirt.probability = kDirt;
  dirt.raises = {{a, kRaise}};
  machine.analysis.conditions.push_back(dirt);
  const auto symptom = machine.observation("symptom", {{a}, {b}, {c}}, kSymptom, true);
  const auto test = machine.observation("test", {{a}}, kTest);
  for (auto& observation : machine.analysis.observations) observation.background = kBackground;
  const std::vector<std::vector<std::uint32_t>> sets{{a, b}, {b, c}, {a, c}, {a, b, c}};

  // By the grades of the sets: the weight of each outcome.
  std::map<std::vector<std::size_t>, std::array<double, 2>> known;
  double total = 0;
  for (const bool dirty : {false, true}) {
    const Grades cause = raised(kCause, dirty ? kRaise : 1);
    for (std::size_t world = 0; world < 27; ++world) {
      const std::array<std::size_t, 3> grade{world % 3, world / 3 % 3, world / 9};
      double weight = (dirty ? kDirt : 1 - kDirt) * cause[grade[0]] * kMate[grade[1]];
      weight *= kMate[grade[2]] * symptom_seen(*std::max_element(grade.begin(), grade.end()));
      std::vector<std::size_t> value;
      for (const auto& set : sets) {
        std::size_t least = 2;
        for (const std::uint32_t m : set) least = std::min(least, grade[m]);
        value.push_back(least);
      }
      const auto o = outcomes(grade[0] == 0 ? 1 : 0, grade[0] <= 1 ? 1 : 0);
      for (std::size_t k = 0; k < 2; ++k) known[value][k] += weight * o[k];
      total += weight;
    }
  }
  double left = 0;
  for (const auto& [value, weight] : known) {
    const double p = weight[0] + weight[1];
    left += p / total * entropy({weight[0] / p, weight[1] / p});
  }

  const Model model = machine.compile();
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  faultodds::diagnosis::QueryTargets targets;
  targets.sets = sets;
  const faultodds::diagnosis::Query query(model, {symptom}, targets, test);
  const auto numbers = faultodds::diagnosis::read_case(model, the_case);
  CHECK(query.conditional_entropy(model, numbers) == Approx(left).epsilon(1e-12));
}
