// Observations that contradict each other: the measure against enumeration, and what is advised.
#include "core/diagnosis/contradiction.h"
#include "capi/documents/wording.h"

#include <catch2/catch.hpp>
#include <cmath>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/hypotheses.h"
#include "core/diagnosis/log_evidence.h"
#include "core/diagnosis/program.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::CaseNumbers;
using faultodds::diagnosis::Doubts;
using faultodds::diagnosis::Hypotheses;
using faultodds::diagnosis::LogEvidence;
using faultodds::diagnosis::read_case;

namespace {

// P(these entries | grades), those that are to be right only where the machine shows what they
// speak for.
double seen_right(const Analysis& analysis, const std::vector<Evidence>& entries,
                  const std::vector<bool>& right, const std::vector<int>& grade) {
  double all = 1;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const auto& of = analysis.observations[entries[i].observation];
    const Grades shown = grade_of(analysis, entries[i].observation, grade);
    double largest = 0, p = 0;
    for (const auto& row : of.matrix) largest = std::max(largest, row[*entries[i].outcome]);
    for (std::size_t s = 0; s < 3; ++s) {
      for (std::size_t b = 0; b < 3; ++b) {
        const double l = of.matrix[std::max(s, b)][*entries[i].outcome];
        if (!right[i] || l >= largest / 8) p += shown[s] * of.background[b] * l;
      }
    }
    all *= p;
  }
  return all;
}

}  // namespace

TEST_CASE("how doubtful what was seen is, is exact, with a tree and without") {
  std::size_t doubtful = 0, compared = 0, without_tree = 0, from_hypotheses = 0;
  for (std::uint64_t seed = 0; seed < 150; ++seed) {
    const Sample sample = random_sample(seed);
    const Analysis& analysis = sample.machine.analysis;
    const auto& entries = sample.the_case.evidence;
    INFO("seed " << seed);
    const auto probability = [&](const std::vector<bool>& right) {
      return Enumeration(analysis,
                         [&](const std::vector<int>& grade) {
                           return seen_right(analysis, entries, right, grade);
                         })
          .total();
    };
    const double seen = probability(std::vector<bool>(entries.size(), false));
    for (const std::size_t budget : {std::size_t{128} << 20, std::size_t{44} << 10}) {
      const Model model = Model::compile(analysis, faultodds::diagnosis::Pack{}, {}, {budget});
      without_tree += !model.program().has_tree();
      const CaseNumbers numbers = read_case(model, sample.the_case);
      Doubts found(model, numbers);
      REQUIRE(numbers.observed.size() == entries.size());
      for (std::size_t i = 0; i < entries.size(); ++i) {
        std::vector<bool> right(entries.size(), false);
        right[i] = true;
        CHECK(found.wrong(i) == Approx(1 - probability(right) / seen).margin(1e-9));
        ++compared;
      }
      const double none = probability(std::vector<bool>(entries.size(), true)) / seen;
      const double any = found.any();
      CHECK(any == Approx(1 - none).margin(1e-9));
      doubtful += any > 0.5;
      // From hypotheses that are complete they are exact, too.
      if (budget < 1 << 20) continue;
      const Hypotheses hypotheses(model, numbers, {}, {}, {100'000, 300, 0});
      if (!hypotheses.complete()) continue;
      ++from_hypotheses;
      Doubts summed(model, numbers, &hypotheses);
      CHECK(summed.any() == Approx(any).margin(1e-9));
      for (std::size_t i = 0; i < entries.size(); ++i) {
        CHECK(summed.wrong(i) == Approx(found.wrong(i)).margin(1e-9));
      }
    }
  }
  CHECK(doubtful > 10);
  CHECK(compared > 500);
  CHECK(without_tree > 30);
  CHECK(from_hypotheses > 100);
}

TEST_CASE("the probability of what was seen is refused where no method of it keeps to the budget") {
  // Found by a job on the arm of a truck: 1.7 GB were summed under a budget of 128 MiB.
  const std::vector<std::vector<double>> blunt{{0.8, 0.1, 0.1}, {0.2, 0.6, 0.2}, {0.1, 0.2, 0.7}};
  Machine machine;
  std::vector<std::vector<std::uint32_t>> pairs;
  for (std::uint32_t i = 0; i < 9; ++i) {
    const std::uint32_t part = machine.part("part" + std::to_string(i), 0.01);
    for (std::uint32_t k = 0; k < part; ++k) pairs.push_back({k, part});
  }
  Case the_case;
  for (std::uint32_t i = 0; i < 7; ++i) {
    const auto test = machine.observation("test" + std::to_string(i), pairs, blunt, i == 0);
    Evidence& one = the_case.evidence.emplace_back();
    one.observation = test;
    one.outcome = i % 2 + 1;
  }
  const auto log_evidence = [&](std::size_t budget) {
    const auto model = Model::compile(machine.analysis, faultodds::diagnosis::Pack{}, {}, {budget});
    const CaseNumbers numbers = read_case(model, the_case);
    return LogEvidence(model, numbers)(numbers);
  };
  CHECK(log_evidence(std::size_t{32} << 20) ==
        Approx(log_evidence(std::size_t{256} << 20)).epsilon(1e-12));
  try {
    log_evidence(std::size_t{4} << 20);
    FAIL("it was summed");
  } catch (const faultodds::Error& error) {
    CHECK(error.code() == faultodds::Code::limit_exceeded);
  }
}

namespace {

// A part that is seen by a symptom and by two tests, one of which contradicts the other.
struct Contradicting {
  Machine machine;
  std::uint32_t symptom = 0, holds = 0, bleeds = 0;
  Case the_case;

  Contradicting() {
    const std::vector<std::vector<double>> sharp{
        {0.98, 0.01, 0.01}, {0.015, 0.97, 0.015}, {0.015, 0.015, 0.97}};
    const auto a = machine.part("a", 0.1), b = machine.part("b", 0.02);
    symptom = machine.observation("symptom", {{a}, {b}}, sharp, true);
    holds = machine.observation("holds", {{a}, {b}}, sharp, false, 4);
    bleeds = machine.observation("bleeds", {{a}}, sharp, false, 9);
    for (auto& o : machine.analysis.observations) o.background = {1, 0, 0};
    the_case.evidence = {saw(symptom, 1), saw(holds, 0), saw(bleeds, 1)};
    the_case.economics.come_back = 5000;
  }
};

}  // namespace

TEST_CASE(
    "nothing is ordered on a finding that all the rest contradicts before it was seen again") {
  Contradicting it;
  const Model model = it.machine.compile();
  const auto first = advise(model, it.the_case);
  REQUIRE(first);
  REQUIRE(first->contradiction);
  CHECK(first->contradiction->observation == it.holds);
  CHECK(first->contradiction->wrong > 0.5);
  CHECK(first->contradiction->any_wrong >= first->contradiction->wrong);
  CHECK(first->test == it.holds);
  CHECK(first->again);
  CHECK_FALSE(first->stop);
  CHECK(first->minutes == 4);
  CHECK(first->repair.components.empty());
  REQUIRE(!first->alternatives.empty());
  CHECK(first->alternatives[0].components == std::vector<std::uint32_t>{0});
  CHECK(first->outcomes[0] + first->outcomes[1] + first->outcomes[2] == Approx(1));
  CHECK(faultodds::documents::Words(model).say(first->reason).find("Look again at holds") !=
        std::string::npos);

  Evidence again = saw(it.holds, 0);
  again.again = true;
  Case later = it.the_case;
  later.evidence.push_back(again);
  const auto then = advise(model, later);
  REQUIRE(then);
  CHECK((!then->contradiction || then->contradiction->observation != it.holds));

  Case said = it.the_case;  // that it was looked at again
  said.evidence[1].again = true;
  const auto once = advise(model, said);
  REQUIRE(once);
  CHECK((!once->contradiction || once->contradiction->observation != it.holds));
}

TEST_CASE("what is sure is not looked at again before an order, though something else is wrong") {
  Contradicting it;
  const std::vector<std::vector<double>> sharp =  // a copy: observations are added
      it.machine.analysis.observations[it.bleeds].matrix;
  for (const char* id : {"bleeds_too", "bleeds_as_well"}) {
    it.the_case.evidence.push_back(saw(it.machine.observation(id, {{0}}, sharp), 1));
    it.machine.analysis.observations.back().background = {1, 0, 0};
  }
  it.the_case.evidence[1].again = true;  // what all of them contradict was looked at again
  const Model model = it.machine.compile();
  CHECK(Doubts(model, read_case(model, it.the_case)).any() > 0.9);
  const auto advice = advise(model, it.the_case);
  REQUIRE(advice);
  CHECK_FALSE(advice->contradiction);
  CHECK(advice->repair.components == std::vector<std::uint32_t>{0});
}

TEST_CASE("what cannot be made again is not asked for again") {
  Contradicting it;
  const Model model = it.machine.compile();
  for (const std::uint32_t o : {it.symptom, it.holds, it.bleeds}) {
    it.the_case.not_possible.push_back({o, "the line is welded"});
  }
  const auto advice = advise(model, it.the_case);
  REQUIRE(advice);
  CHECK_FALSE(advice->contradiction);
  CHECK_FALSE(advice->repair.components.empty());
}

TEST_CASE("findings that agree are ordered on") {
  Contradicting it;
  it.the_case.evidence[1] = saw(it.holds, 1);
  const auto advice = advise(it.machine.compile(), it.the_case);
  REQUIRE(advice);
  CHECK_FALSE(advice->contradiction);
  CHECK(advice->repair.components == std::vector<std::uint32_t>{0});
}

TEST_CASE("a rare cause that a test has shown is no contradiction") {
  Machine machine;
  const std::vector<std::vector<double>> sharp{
      {0.98, 0.01, 0.01}, {0.015, 0.97, 0.015}, {0.015, 0.015, 0.97}};
  const auto common = machine.part("common", 0.3), rare = machine.part("rare", 0.002);
  const auto symptom = machine.observation("symptom", {{common}, {rare}}, sharp, true);
  const auto clears = machine.observation("clears", {{common}}, sharp);
  const auto shows = machine.observation("shows", {{rare}}, sharp);
  Case the_case;
  the_case.evidence = {saw(symptom, 1), saw(clears, 0), saw(shows, 1)};
  the_case.economics.come_back = 5000;
  const auto advice = advise(machine.compile(), the_case);
  REQUIRE(advice);
  CHECK_FALSE(advice->contradiction);
  CHECK(advice->repair.components.front() == 1);
}
