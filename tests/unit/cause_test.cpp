// The cause of a complaint: who gets what share of it, which observation it is of, and what a test
// tells of it. On machines small enough to reckon by hand; against enumeration it is compared in
// tests/property.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/cause_tree.h"
#include "core/error.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::Assessment;
using faultodds::diagnosis::CauseAssessment;
using faultodds::diagnosis::CauseTrees;
using faultodds::diagnosis::Focus;

namespace {

// What is seen is how bad it is, without error.
const std::vector<std::vector<double>> kSure{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
constexpr std::uint32_t kFailedSeen = 2;

Grades failed_with(double q) { return {1 - q, 0, q}; }

double total(const CauseAssessment& of) {
  double sum = of.by_design + of.elsewhere + of.nothing;
  for (const auto& cause : of.causes) sum += cause.probability;
  return sum;
}

double share_of(const CauseAssessment& of, const std::vector<std::uint32_t>& components) {
  const auto at = std::find_if(of.causes.begin(), of.causes.end(),
                               [&](const auto& cause) { return cause.components == components; });
  REQUIRE(at != of.causes.end());
  return at->probability;
}

double cause_bits_of(const Assessment& assessment, std::uint32_t test) {
  for (const auto& one : assessment.tests) {
    if (one.observation == test) return one.cause_bits;
  }
  FAIL("no such test");
  return 0;
}

Assessment of_case(const Machine& machine, std::vector<Evidence> evidence) {
  Case the_case;
  the_case.evidence = std::move(evidence);
  return assess(machine.compile(), the_case);
}

Evidence seen_at(std::uint32_t observation, std::uint32_t outcome, const std::string& at) {
  Evidence e = saw(observation, outcome);
  e.at = at;
  return e;
}

// Two symptoms and two tests that see one part each, in this order of ids: a, b, c, d.
struct Two {
  Machine machine;
  std::uint32_t b = 0, a = 0, d = 0, c = 0;
};

Two two_of_each() {
  Two two;
  Machine& machine = two.machine;
  const std::uint32_t x = machine.part("x", 0.1), y = machine.part("y", 0.1);
  two.b = machine.observation("b", {{x}}, kSure, true);
  two.a = machine.observation("a", {{y}}, kSure, true);
  two.d = machine.observation("d", {{x}}, kSure);
  two.c = machine.observation("c", {{y}}, kSure);
  return two;
}

std::uint32_t complaint_in(const Two& two, std::vector<Evidence> evidence,
                           Focus focus = Focus::automatic, std::uint32_t named = 0) {
  Case the_case;
  the_case.evidence = std::move(evidence);
  the_case.focus = focus;
  the_case.focus_observation = named;
  const Assessment assessment = assess(two.machine.compile(), the_case);
  REQUIRE_FALSE(assessment.causes.empty());
  return assessment.causes.front().observation;
}

}  // namespace

TEST_CASE("the shares of every symptom sum to one") {
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    INFO("seed " << seed);
    const Sample sample = random_sample(seed);
    const Assessment assessment = assess(sample.machine.compile(), sample.the_case);
    REQUIRE_FALSE(assessment.causes.empty());
    for (const auto& of : assessment.causes) CHECK(total(of) == Approx(1).margin(1e-12));
  }
}

TEST_CASE("the more probable cause comes first") {
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    const Sample sample = random_sample(seed);
    for (const auto& of : assess(sample.machine.compile(), sample.the_case).causes) {
      CHECK(std::is_sorted(of.causes.begin(), of.causes.end(), [](const auto& a, const auto& b) {
        return a.probability > b.probability;
      }));
    }
  }
}

TEST_CASE("causes that are equally bad share equally") {
  Machine machine;
  std::vector<std::vector<std::uint32_t>> sets;
  for (const char* id : {"a", "b", "c"}) {
    sets.push_back({machine.mode(machine.component(id), {0, 0, 1})});
  }
  sets.push_back({machine.mode(machine.component("less"), {0, 1, 0})});
  const auto symptom = machine.observation("symptom", sets, kSure, true);
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  const CauseAssessment& of = assessment.causes.at(0);
  for (const std::uint32_t part : {0u, 1u, 2u}) CHECK(share_of(of, {part}) == Approx(1.0 / 3));
  CHECK(share_of(of, {3}) == Approx(0).margin(1e-12));
}

TEST_CASE("of two parts that may both have failed each has its own chance and half of the tie") {
  constexpr double p = 0.2, q = 0.05;
  Machine machine;
  const std::uint32_t a = machine.mode(machine.component("a"), failed_with(p));
  const std::uint32_t b = machine.mode(machine.component("b"), failed_with(q));
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kSure, true);
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  const double any = 1 - (1 - p) * (1 - q);
  CHECK(share_of(assessment.causes.at(0), {0}) ==
        Approx((p * (1 - q) + p * q / 2) / any).epsilon(1e-12));
  CHECK(share_of(assessment.causes.at(0), {1}) ==
        Approx((q * (1 - p) + p * q / 2) / any).epsilon(1e-12));
}

TEST_CASE("what the circuit does not describe is elsewhere, and shares a tie as a part does") {
  constexpr double p = 0.2, background = 0.1;
  Machine machine;
  const std::uint32_t a = machine.mode(machine.component("a"), failed_with(p));
  const auto symptom = machine.observation("symptom", {{a}}, kSure, true);
  machine.analysis.observations[symptom].background = {1 - background, 0, background};
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  const double any = 1 - (1 - p) * (1 - background);
  CHECK(assessment.causes.at(0).elsewhere ==
        Approx((background * (1 - p) + background * p / 2) / any).epsilon(1e-12));
  CHECK(share_of(assessment.causes.at(0), {0}) ==
        Approx((p * (1 - background) + p * background / 2) / any));
}

TEST_CASE("a complaint that only reports what is normal has nothing as its cause") {
  Machine machine;
  const std::uint32_t a = machine.part("a", 0.3);
  const auto symptom = machine.observation("symptom", {{a}}, kSure, true);
  Case the_case;
  the_case.evidence = {saw(symptom, 0)};
  CHECK(assess(machine.compile(), the_case).causes.empty());
  the_case.focus = Focus::observation;
  the_case.focus_observation = symptom;
  const Assessment assessment = assess(machine.compile(), the_case);
  CHECK(assessment.causes.at(0).nothing == Approx(1));
}

TEST_CASE("a complaint of what is seldom reported falsely has nothing with that chance") {
  constexpr double p = 0.2, falsely = 0.05;
  Machine machine;
  const std::uint32_t a = machine.mode(machine.component("a"), failed_with(p));
  const auto symptom =
      machine.observation("symptom", {{a}}, {{1 - falsely, falsely}, {0.5, 0.5}, {0, 1}}, true);
  const Assessment assessment = of_case(machine, {saw(symptom, 1)});
  CHECK(assessment.causes.at(0).nothing ==
        Approx((1 - p) * falsely / (p + (1 - p) * falsely)).epsilon(1e-12));
}

TEST_CASE(
    "very much evidence that makes a false report all but impossible leaves the cause certain") {
  Machine machine;
  const std::uint32_t a = machine.part("a", 0.1), b = machine.part("b", 0.1);
  const auto symptom =
      machine.observation("symptom", {{a}, {b}}, {{0.9, 0.1}, {0.5, 0.5}, {0.1, 0.9}}, true);
  Case the_case;
  the_case.evidence = {saw(symptom, 1)};
  for (std::size_t i = 0; i < 400; ++i) {  // no double holds 1e-6 to the 200th
    const bool of_a = i % 2 == 0;
    Evidence e;
    e.observation = machine.observation("t" + std::to_string(i), {{of_a ? a : b}}, kSure);
    e.likelihood = of_a ? Grades{1e-6, 1e-6, 1} : Grades{1, 1e-6, 1e-6};
    the_case.evidence.push_back(e);
  }
  const CauseAssessment of = assess(machine.compile(), the_case).causes.at(0);
  CHECK(total(of) == Approx(1).margin(1e-12));
  CHECK(share_of(of, {0}) == Approx(1));
}

TEST_CASE("a pair of modes is one cause of two components") {
  Machine machine;
  const std::uint32_t a = machine.part("a", 0.3), b = machine.part("b", 0.3);
  const auto symptom = machine.observation("symptom", {{a, b}}, kSure, true);
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  REQUIRE(assessment.causes.at(0).causes.size() == 1);
  CHECK(share_of(assessment.causes[0], {0, 1}) == Approx(1));
}

TEST_CASE("sets of the same components are one cause") {
  Machine machine;
  const std::uint32_t part = machine.component("a");
  const std::uint32_t one = machine.mode(part, failed_with(0.1));
  const std::uint32_t other = machine.mode(part, failed_with(0.3));
  const std::uint32_t mate = machine.part("b", 0.2);
  const auto symptom =
      machine.observation("symptom", {{one}, {other}, {one, mate}, {other, mate}}, kSure, true);
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  REQUIRE(assessment.causes.at(0).causes.size() == 2);
  CHECK(share_of(assessment.causes[0], {0}) + share_of(assessment.causes[0], {0, 1}) == Approx(1));
}

TEST_CASE("the complaint is the abnormal symptom seen first") {
  const Two two = two_of_each();
  CHECK(complaint_in(two, {seen_at(two.a, 2, "2026-03-02"), seen_at(two.b, 2, "2026-03-01")}) ==
        two.b);
  CHECK(complaint_in(two, {seen_at(two.a, 2, "2026-03-01"), seen_at(two.b, 2, "2026-03-02")}) ==
        two.a);
}

TEST_CASE("of symptoms seen at the same time the complaint is the first by id") {
  const Two two = two_of_each();
  CHECK(complaint_in(two, {saw(two.b, 2), saw(two.a, 2)}) == two.a);
  CHECK(complaint_in(two, {seen_at(two.b, 2, "2026-03-01"), seen_at(two.a, 2, "2026-03-01")}) ==
        two.a);
}

TEST_CASE("a symptom with a time was seen before one without") {
  const Two two = two_of_each();
  CHECK(complaint_in(two, {saw(two.a, 2), seen_at(two.b, 2, "2026-03-01")}) == two.b);
}

TEST_CASE("focus names the complaint, whatever was seen first") {
  const Two two = two_of_each();
  const std::vector<Evidence> evidence{saw(two.a, 2), saw(two.b, 2), saw(two.c, 2)};
  CHECK(complaint_in(two, evidence, Focus::observation, two.b) == two.b);
  CHECK(complaint_in(two, evidence, Focus::observation, two.c) == two.c);
}

TEST_CASE("an abnormal test stands for the complaint where no symptom is abnormal") {
  const Two two = two_of_each();
  CHECK(complaint_in(two, {saw(two.d, 2), saw(two.c, 2)}) == two.c);
  CHECK(complaint_in(two, {saw(two.a, 0), saw(two.d, 2)}) == two.d);
  CHECK(complaint_in(two, {saw(two.a, 2), seen_at(two.c, 2, "2026-03-01")}) == two.a);
}

TEST_CASE("the causes of the other abnormal symptoms follow the complaint's") {
  const Two two = two_of_each();
  const Assessment assessment = of_case(two.machine, {saw(two.b, 2), saw(two.a, 1), saw(two.c, 1)});
  REQUIRE(assessment.causes.size() == 2);
  CHECK(assessment.causes[0].observation == two.a);
  CHECK(assessment.causes[1].observation == two.b);
}

TEST_CASE("a test that shares nothing with the complaint tells nothing of its cause") {
  Machine machine;
  const std::uint32_t a = machine.part("a", 0.1), b = machine.part("b", 0.2);
  const std::uint32_t other = machine.part("other", 0.3);
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kSure, true);
  const auto apart = machine.observation("apart", {{other}}, kSure);
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  CHECK(cause_bits_of(assessment, apart) == 0);
}

TEST_CASE("cause bits are the mutual information of the cause and the outcome") {
  constexpr double q = 0.2;
  Machine machine;
  const std::uint32_t a = machine.mode(machine.component("a"), failed_with(q));
  const std::uint32_t b = machine.mode(machine.component("b"), failed_with(q));
  const auto symptom = machine.observation("symptom", {{a}, {b}}, kSure, true);
  const auto test = machine.observation("test", {{a}}, kSure);
  const Assessment assessment = of_case(machine, {saw(symptom, kFailedSeen)});
  const double any = 2 * q * (1 - q) + q * q;
  const double alone = q * (1 - q) / any, tie = q * q / 2 / any;
  // (cause a, a failed), (cause b, a failed), (cause b, a sound)
  const auto term = [](double joint, double cause, double outcome) {
    return joint * std::log2(joint / (cause * outcome));
  };
  const double want = term(alone + tie, 0.5, alone + 2 * tie) + term(tie, 0.5, alone + 2 * tie) +
                      term(alone, 0.5, alone);
  CHECK(cause_bits_of(assessment, test) == Approx(want).epsilon(1e-12));
}

TEST_CASE("junction trees that would be propagated for minutes are refused before they are") {
  // As often as the complaint has sets, times as many: so many that no tree is small enough.
  constexpr std::size_t kSets = 1500;
  Machine machine;
  std::vector<std::vector<std::uint32_t>> parts;
  for (std::size_t i = 0; i < kSets; ++i) {
    parts.push_back({machine.part("part" + std::to_string(i), 0.001)});
  }
  const auto symptom = machine.observation("symptom", parts, kSure, true);
  const Model model = machine.compile();
  try {
    const CauseTrees trees(model, {symptom}, symptom, {}, std::size_t{32} << 20);
    FAIL(trees.bytes() << " bytes were not refused");
  } catch (const faultodds::Error& error) {
    CHECK(error.code() == faultodds::Code::limit_exceeded);
    CHECK(std::string(error.what()) == "what causes 'symptom' takes too long to be summed exactly");
  }
}
