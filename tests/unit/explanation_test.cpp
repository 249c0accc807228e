// The sentences that say what a test tells apart and what speaks for a fault, and the lists that
// go with them. Expected numbers follow from Bayes' rule for one part at a time, by hand.
#include <catch2/catch.hpp>

#include "capi/documents/wording.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/cure.h"
#include "core/diagnosis/evidence_trail.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::ambiguity_groups;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::Assessment;
using faultodds::diagnosis::complained_of;
using faultodds::diagnosis::Cure;
using faultodds::diagnosis::evidence_trail;
using faultodds::diagnosis::EvidenceTrail;
using faultodds::diagnosis::explain;
using faultodds::diagnosis::present_of;
using faultodds::diagnosis::read_case;
using faultodds::diagnosis::RepairDecision;
using faultodds::diagnosis::turn_of;
using faultodds::diagnosis::WearOut;
using faultodds::documents::Words;

namespace {

// P(outcome 1): sound 0.1, worn or failed 0.8.
const std::vector<std::vector<double>> kPlain{{0.9, 0.1}, {0.2, 0.8}, {0.2, 0.8}};

void without_background(Machine& machine) {
  for (auto& o : machine.analysis.observations) o.background = {1, 0, 0};
}

std::string because(const Machine& machine, std::uint32_t observation, const Case& the_case = {}) {
  const Model model = machine.compile();
  Assessment assessment = assess(model, the_case);
  explain(model, the_case, assessment);
  for (const auto& test : assessment.tests) {
    if (test.observation == observation) return Words(model).say(test.because);
  }
  return "not among the tests";
}

EvidenceTrail trail_of(const Model& model, const Case& the_case) {
  const auto numbers = read_case(model, the_case);
  const auto items = repair_items(model.analysis(), numbers, the_case, present_of(model));
  Cure cure(model, numbers, items, complained_of(model.analysis(), numbers, present_of(model)));
  RepairDecision decision(cure, items, {the_case.economics.come_back, 0});
  return evidence_trail(model, the_case, numbers, decision, decision.best().set);
}

std::string sentence_of(const Model& model, const Case& the_case) {
  return Words(model).say(trail_of(model, the_case).sentences);
}

Case complaining(std::initializer_list<Evidence> evidence) {
  Case the_case;
  the_case.evidence = evidence;
  the_case.economics.come_back = 500;
  return the_case;
}

}  // namespace

TEST_CASE("a test that reaches every suspect looks at them; two are named, the others counted") {
  Machine machine;
  const auto a = machine.part("a", 0.5), b = machine.part("b", 0.25), c = machine.part("c", 0.125),
             d = machine.part("d", 0.0625);
  const auto one = machine.observation("one", {{a}}, kPlain);
  const auto two = machine.observation("two", {{a}, {b}}, kPlain);
  const auto four = machine.observation("four", {{a}, {b}, {c}, {d}}, kPlain);
  CHECK(because(machine, four) ==
        "Looks at a: m0 (50 %), b: m1 (25 %) and 2 more together: a normal outcome speaks against "
        "all of them.");
  CHECK(because(machine, two) ==
        "Tells a: m0 (50 %) and b: m1 (25 %) apart from c: m2 (12 %) and d: m3 (6 %), which it "
        "does not reach.");
  CHECK(because(machine, one) ==
        "Tells a: m0 (50 %) apart from b: m1 (25 %), c: m2 (12 %) and 1 more, which it does not "
        "reach.");
}

TEST_CASE("a probability is never told as none or all unless it is") {
  Machine machine;
  machine.part("a", 0.5);
  const Model model = machine.compile();
  const Words words(model);
  CHECK(words.percent(0) == "0 %");
  CHECK(words.percent(0.0049) == "under 1 %");
  CHECK(words.percent(0.0051) == "1 %");
  CHECK(words.percent(0.0994) == "10 %");
  CHECK(words.percent(0.105) == "10 %");
  CHECK(words.percent(0.994) == "99 %");
  CHECK(words.percent(0.996) == "over 99 %");
  CHECK(words.percent(1) == "100 %");
}

TEST_CASE("a suspect is named from 2 % on, and what is under half a percent is not told closer") {
  const auto told = [](double faulty) {
    Machine machine;
    const auto a = machine.part("a", faulty);
    const auto b = machine.part("b", 0.0005);
    machine.observation("of a", {{a}}, kPlain);
    return because(machine, machine.observation("of b", {{b}}, kPlain));
  };
  CHECK(told(0.015) == "Looks at b: m1 (under 1 %): a normal outcome speaks against it.");
  CHECK(told(0.03) == "Tells b: m1 (under 1 %) apart from a: m0 (3 %), which it does not reach.");
}

TEST_CASE("what speaks for a fault and what against are weighed in decibans and named") {
  Machine machine;
  const auto a = machine.part("a", 0.3);
  const auto symptom = machine.observation("symptom", {{a}}, kPlain, true);
  const auto strong = machine.observation("strong", {{a}}, {{0.95, 0.05}, {0.5, 0.5}, {0.5, 0.5}});
  const auto against = machine.observation("against", {{a}}, kPlain);
  without_background(machine);
  const Model model = machine.compile();
  // 10 log10 of .8 / .1, of .5 / .05, of .2 / .9.
  CHECK(sentence_of(model, complaining({saw(symptom, 1)})) ==
        "a: m0 is spoken for most by symptom (+9.0 db).");
  CHECK(sentence_of(model, complaining({saw(symptom, 1), saw(strong, 1)})) ==
        "a: m0 is spoken for most by strong (+10.0 db).");
  const std::string mixed = sentence_of(model, complaining({saw(symptom, 1), saw(against, 0)}));
  CHECK_THAT(mixed, Catch::StartsWith(
                        "a: m0 is spoken for most by symptom (+9.0 db) and against by against "
                        "(-6.5 db)."));
}

TEST_CASE("a weight of less than a twentieth of a deciban speaks neither for nor against") {
  const auto told = [](double ratio) {
    Machine machine;
    const auto a = machine.part("a", 0.3);
    const double p = 0.5 * ratio;
    const auto symptom =
        machine.observation("symptom", {{a}}, {{0.5, 0.5}, {1 - p, p}, {1 - p, p}}, true);
    without_background(machine);
    return sentence_of(machine.compile(), complaining({saw(symptom, 1)}));
  };
  CHECK(told(std::pow(10, 0.004)) ==
        "a: m0 is neither spoken for nor against by what was observed.");
  CHECK(told(std::pow(10, 0.008)) == "a: m0 is spoken for most by symptom (+0.1 db).");
  CHECK(told(std::pow(10, -0.004)) ==
        "a: m0 is neither spoken for nor against by what was observed.");
  CHECK(told(std::pow(10, -0.008)) == "a: m0 is spoken against most by symptom (-0.1 db).");
}

TEST_CASE("a trail begins from the odds that the component's hours give") {
  // Weibull with shape 1: in h hours a share of 1 - exp(-h / scale) becomes faulty. A fault lasts
  // 0.3 of a life.
  Machine machine;
  const auto a = machine.part("a", 0.3);
  const auto symptom = machine.observation("symptom", {{a}}, kPlain, true);
  without_background(machine);
  const Model fresh = machine.compile();
  Case the_case = complaining({saw(symptom, 1)});
  const EvidenceTrail without = trail_of(fresh, the_case);
  CHECK(without.faults[0].prior_decibans == Approx(10 * std::log10(0.3 / 0.7)));
  WearOut wear;
  wear.shape = 1;
  wear.scale_hours = 1000;
  wear.failed_share = 0.5;
  const Model aged = Model::compile(machine.analysis, {wear}, {std::nullopt});
  the_case.component_hours["a"] = 1000;
  const EvidenceTrail with = trail_of(aged, the_case);
  const double faulty = 1 - std::exp(-0.3);
  CHECK(with.faults[0].prior_decibans == Approx(10 * std::log10(faulty / (1 - faulty))));
  CHECK(with.faults[0].decibans == Approx(10 * std::log10(0.8 / 0.1)));
}

TEST_CASE("a trail lists the turns of every observation within 30 decibans, the nearest first") {
  std::size_t listed = 0, left_out = 0;
  for (std::uint64_t seed = 600; seed < 800; ++seed) {
    const Sample sample = random_sample(seed);
    const Model model = sample.machine.compile();
    const auto numbers = read_case(model, sample.the_case);
    const auto items = repair_items(model.analysis(), numbers, sample.the_case, present_of(model));
    Cure cure(model, numbers, items, complained_of(model.analysis(), numbers, present_of(model)));
    RepairDecision decision(cure, items, {sample.the_case.economics.come_back, 0});
    const auto best = decision.best().set;
    std::vector<std::pair<std::uint32_t, double>> expected;
    for (const auto& seen : numbers.observed) {
      for (const bool upwards : {false, true}) {
        const auto turn = turn_of(decision, best, seen.observation, upwards);
        if (!turn) continue;
        if (turn->at >= 1e-3 && turn->at <= 1e3) {
          expected.emplace_back(seen.observation, turn->at);
        } else {
          ++left_out;
        }
      }
    }
    std::stable_sort(expected.begin(), expected.end(), [](const auto& x, const auto& y) {
      return std::fabs(std::log(x.second)) < std::fabs(std::log(y.second));
    });
    const EvidenceTrail trail = evidence_trail(model, sample.the_case, numbers, decision, best);
    INFO("seed " << seed);
    REQUIRE(trail.turns.size() == expected.size());
    for (std::size_t i = 0; i < expected.size(); ++i) {
      CHECK(trail.turns[i].observation == expected[i].first);
      CHECK(trail.turns[i].factor == Approx(expected[i].second));
    }
    listed += expected.size();
  }
  CHECK(listed > 40);
  CHECK(left_out > 0);
}

TEST_CASE("modes that show in the same sets of every observation cannot be told apart") {
  Machine machine;
  const auto a = machine.part("a", 0.1), b = machine.part("b", 0.1), c = machine.part("c", 0.1),
             d = machine.part("d", 0.1), e = machine.part("e", 0.1);
  machine.observation("alone", {{a}, {b}, {c}}, kPlain);
  // With the same partners, told in another order; c has one partner less.
  machine.observation("together", {{a, d}, {a, e}, {b, e}, {b, d}, {c, d}}, kPlain);
  CHECK(ambiguity_groups(machine.analysis) == std::vector<std::vector<std::uint32_t>>{{a, b}});
}

TEST_CASE("faults are listed the most probable first") {
  Machine machine;
  const auto a = machine.part("a", 0.1), b = machine.part("b", 0.4), c = machine.part("c", 0.2);
  machine.observation("test", {{a}, {b}, {c}}, kPlain);
  const Assessment assessment = assess(machine.compile(), {});
  std::vector<std::uint32_t> order;
  for (const auto& fault : assessment.faults) order.push_back(fault.mode);
  CHECK(order == std::vector<std::uint32_t>{b, c, a});
}
