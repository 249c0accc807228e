// Evidence so long, or so contradictory, that products of its likelihoods are no doubles.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <memory>
#include <random>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/error.h"

using namespace faultodds;
using namespace faultodds::diagnosis;

namespace {

// Two failure modes, each with a thousand tests of its own and with one test of both.
constexpr std::size_t kTests = 1000;

circuit::Analysis two_modes() {
  circuit::Analysis analysis;
  for (const char* name : {"a", "b"}) {
    circuit::FailureMode mode;
    mode.id = std::string("part.") + name;
    mode.component = "part";
    mode.name = name;
    mode.prior = {0.9, 0.07, 0.03};
    analysis.modes.push_back(mode);
  }
  circuit::Component part;
  part.id = "part";
  analysis.components.push_back(part);
  for (std::size_t i = 0; i <= 2 * kTests; ++i) {
    circuit::Observation observation;
    observation.id = "test " + std::to_string(i);
    observation.title = observation.id;
    observation.outcomes = {"no", "yes"};
    observation.matrix = {{0.99, 0.01}, {0.4, 0.6}, {0.05, 0.95}};
    observation.background = {1, 0, 0};
    if (i != kTests) observation.sets.push_back({{i < kTests ? 0u : 1u}, 1});
    if (i == kTests) observation.sets = {{{0}, 1}, {{1}, 1}};
    analysis.observations.push_back(observation);
  }
  return analysis;
}

void tell(Case& the_case, std::size_t test, const std::array<double, 3>& likelihood) {
  Evidence evidence;
  evidence.observation = static_cast<std::uint32_t>(test);
  evidence.likelihood = likelihood;
  the_case.evidence.push_back(evidence);
}

struct Truth {
  double log_evidence = 0;
  std::array<std::array<double, 3>, 2> grades{};
};

// All nine combinations of grades, in logarithms.
Truth enumerate(const circuit::Analysis& analysis, const Case& the_case) {
  std::array<double, 9> logs{};
  for (std::size_t i = 0; i < 9; ++i) {
    const std::size_t grade[] = {i / 3, i % 3};
    for (std::size_t m = 0; m < 2; ++m) logs[i] += std::log(analysis.modes[m].prior[grade[m]]);
    for (const Evidence& evidence : the_case.evidence) {
      std::size_t s = 0;
      for (const auto& set : analysis.observations[evidence.observation].sets) {
        s = std::max(s, grade[set.modes[0]]);
      }
      logs[i] += std::log((*evidence.likelihood)[s]);
    }
  }
  const double most = *std::max_element(logs.begin(), logs.end());
  Truth truth;
  double sum = 0;
  for (double log : logs) sum += std::exp(log - most);
  truth.log_evidence = most + std::log(sum);
  for (std::size_t i = 0; i < 9; ++i) {
    const double p = std::exp(logs[i] - truth.log_evidence);
    truth.grades[0][i / 3] += p;
    truth.grades[1][i % 3] += p;
  }
  return truth;
}

void check(const Assessment& assessment, const Truth& truth) {
  CHECK(assessment.method == "exact");
  CHECK(assessment.log_evidence == Approx(truth.log_evidence).epsilon(1e-9));
  for (const FaultAssessment& fault : assessment.faults) {
    for (std::size_t g = 0; g < 3; ++g) {
      CHECK(fault.grades[g] == Approx(truth.grades[fault.mode][g]).margin(1e-9));
    }
  }
}

}  // namespace

TEST_CASE("a thousand observations that contradict each other are weighed to the last") {
  const Model model = Model::compile(two_modes(), Pack{});
  // Half say that a is sound and half that it failed, and in the end they say the same; of b one
  // more says that it failed. No single product of likelihoods is a double.
  Case the_case;
  for (std::size_t i = 0; i < kTests; ++i) {
    const bool failed = i % 2 == 0;
    const std::array<double, 3> likelihood{failed ? 1e-3 : 1, 0.04, failed ? 1 : 1e-3};
    tell(the_case, i, likelihood);
    if (i > 0) tell(the_case, kTests + i, likelihood);
  }
  const Truth truth = enumerate(model.analysis(), the_case);
  REQUIRE(truth.log_evidence < -6000);
  check(assess(model, the_case), truth);
}

TEST_CASE("among cases assessed together, one with too much evidence is answered as if alone",
          "[enumerated]") {
  const Model model = Model::compile(two_modes(), Pack{});
  std::mt19937 random(20240701);
  std::vector<Case> cases(11);
  for (std::size_t c = 0; c < cases.size(); ++c) {
    for (std::size_t i = 0; i < 2 * kTests; i += 3) {
      const double small = c % 2 == 0 ? 1e-6 : 0.9;
      const bool failed = random() % 2 == 0;
      tell(cases[c], i, {failed ? small : 1, 0.95, failed ? 1 : small});
    }
  }
  std::vector<const Case*> pointers;
  for (const Case& one : cases) pointers.push_back(&one);
  std::vector<Assessed> together(cases.size());
  assess_many(model, pointers, together);
  for (std::size_t c = 0; c < cases.size(); ++c) {
    REQUIRE(!together[c].error);
    check(together[c].assessment, enumerate(model.analysis(), cases[c]));
    const Assessment alone = assess(model, cases[c]);
    CHECK(alone.log_evidence == together[c].assessment.log_evidence);
    for (std::size_t f = 0; f < alone.faults.size(); ++f) {
      CHECK(alone.faults[f].grades == together[c].assessment.faults[f].grades);
    }
  }
}

TEST_CASE("a thousand observations of which two exclude each other are a conflict of these two") {
  const Model model = Model::compile(two_modes(), Pack{});
  Case the_case;
  for (std::size_t i = 0; i < kTests; ++i) {
    if (i == 300) {
      tell(the_case, i, {1, 0, 0});
    } else if (i == 700) {
      tell(the_case, i, {0, 1, 1});
    } else {
      tell(the_case, i, {1e-3, 0.5, 1});
    }
  }
  REQUIRE_THROWS_WITH(assess(model, the_case), Catch::Contains("test 300") &&
                                                   Catch::Contains("test 700") &&
                                                   !Catch::Contains("test 301"));
}
