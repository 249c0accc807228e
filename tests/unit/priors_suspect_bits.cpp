#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "core/diagnosis/assessment.h"
#include "core/error.h"
#include "priors/suspect_bits.h"
#include "tests/unit/circuit_builder.h"

using namespace faultodds;
using namespace faultodds::priors;

namespace {

const diagnosis::Model& lift() {
  static const diagnosis::Model model =
      diagnosis::Model::compile(circuit_test::analyse(circuit_test::lift()), {});
  return model;
}

diagnosis::Evidence saw(const std::string& observation, std::uint32_t outcome) {
  diagnosis::Evidence evidence;
  evidence.observation = lift().find_observation(observation).value();
  evidence.outcome = outcome;
  return evidence;
}

std::array<double, 3> grades_of(const diagnosis::Assessment& assessment, std::uint32_t mode) {
  for (const diagnosis::FaultAssessment& fault : assessment.faults) {
    if (fault.mode == mode) return fault.grades;
  }
  FAIL("no mode " << mode);
  return {};
}

// By what the assessment says after each outcome: sum of P(outcome) KL(after, before).
double by_outcomes(const diagnosis::Case& so_far, const std::set<std::uint32_t>& suspects,
                   std::uint32_t test) {
  const diagnosis::Assessment before = diagnosis::assess(lift(), so_far);
  double bits = 0;
  for (const diagnosis::TestAssessment& one : before.tests) {
    if (one.observation != test) continue;
    for (std::uint32_t k = 0; k < one.probability.size(); ++k) {
      diagnosis::Case then = so_far;
      diagnosis::Evidence evidence;
      evidence.observation = test;
      evidence.outcome = k;
      then.evidence.push_back(evidence);
      const diagnosis::Assessment after = diagnosis::assess(lift(), then);
      for (std::uint32_t m : suspects) {
        const auto p = grades_of(before, m), q = grades_of(after, m);
        for (std::size_t g = 0; g < 3; ++g) {
          if (q[g] > 0) bits += one.probability[k] * q[g] * std::log2(q[g] / p[g]);
        }
      }
    }
  }
  return bits;
}

}  // namespace

TEST_CASE("suspect bits are the sum over the suspects of what each outcome would change") {
  diagnosis::Case so_far;
  so_far.evidence = {saw("drift/boom/extend", 2), saw("static/valve.a", 0)};
  std::set<std::uint32_t> suspects;
  const circuit::Analysis& analysis = lift().analysis();
  for (const circuit::ModeSet& set : analysis.observations[so_far.evidence[0].observation].sets) {
    suspects.insert(set.modes.begin(), set.modes.end());
  }
  const std::vector<double> bits = suspect_bits(lift(), diagnosis::read_case(lift(), so_far));
  REQUIRE(bits.size() == analysis.observations.size());
  int told = 0;
  for (std::uint32_t o = 0; o < bits.size(); ++o) {
    CAPTURE(analysis.observations[o].id);
    if (o == so_far.evidence[0].observation || o == so_far.evidence[1].observation) {
      CHECK(bits[o] == 0);
      continue;
    }
    CHECK(bits[o] == Approx(by_outcomes(so_far, suspects, o)).margin(1e-9));
    if (bits[o] > 0.01) ++told;
  }
  CHECK(told >= 2);
}

TEST_CASE("without an abnormal symptom every mode is a suspect") {
  std::set<std::uint32_t> all;
  for (std::uint32_t m = 0; m < lift().analysis().modes.size(); ++m) all.insert(m);
  const std::vector<double> bits = suspect_bits(lift(), diagnosis::read_case(lift(), {}));
  for (std::uint32_t o = 0; o < bits.size(); ++o) {
    CHECK(bits[o] == Approx(by_outcomes({}, all, o)).margin(1e-9));
  }
}
