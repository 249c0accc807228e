#include "priors/record_plan.h"

#include <catch2/catch.hpp>
#include <cmath>

#include "core/diagnosis/evidence.h"
#include "priors/generator.h"
#include "tests/unit/circuit_builder.h"

using namespace faultodds;
using namespace faultodds::priors;

namespace {

// The lift with conditions, looked at by all of its observations that a seed picks.
void compare(const circuit::Analysis& analysis, std::uint64_t seed) {
  Random random(seed);
  const diagnosis::Model model = diagnosis::Model::compile(analysis, diagnosis::Pack{});
  const auto by = diagnosis::mode_conditions(analysis);
  std::vector<std::uint32_t> observations;
  std::vector<Grades> likelihoods;
  diagnosis::Case made;
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    if (random.below(3) > 0 || observations.size() == 5) continue;
    diagnosis::Evidence seen;
    seen.observation = o;
    seen.likelihood = Grades{random.uniform(), random.uniform(), random.uniform()};
    observations.push_back(o);
    likelihoods.push_back(*seen.likelihood);
    made.evidence.push_back(seen);
  }
  const RecordPlan plan(analysis, by, observations, {});
  REQUIRE(plan.affordable());
  std::vector<Grades> priors;
  for (const circuit::FailureMode& mode : analysis.modes) priors.push_back(mode.prior);
  RecordPlan::Scratch scratch;
  const RecordPlan::Answer answer =
      plan.sum(prior_tables(priors, by), likelihoods, {}, true, scratch);
  const auto numbers = diagnosis::read_case(model, made);
  diagnosis::Program::Lease propagation(model.program());
  diagnosis::apply(model, numbers, *propagation);
  double log_probability = propagation->collect();
  for (const auto& seen : numbers.observed) log_probability += seen.log_scale;
  propagation->distribute();
  CHECK(std::log(answer.probability) == Approx(log_probability).epsilon(1e-9));
  for (std::size_t i = 0; i < plan.modes().size(); ++i) {
    const auto p = propagation->posterior(model.program().mode(plan.modes()[i]));
    for (std::size_t g = 0; g < 3; ++g) CHECK(answer.modes[i][g] == Approx(p[g]).margin(1e-9));
  }
  for (std::size_t i = 0; i < observations.size(); ++i) {
    const auto p = propagation->posterior(model.program().observation(observations[i]));
    for (std::size_t g = 0; g < 3; ++g) CHECK(answer.observed[i][g] == Approx(p[g]).margin(1e-9));
  }
}

}  // namespace

TEST_CASE("a record's sum over products is what a propagation through the circuit gives") {
  circuit::Description description = circuit_test::lift();
  description.by_grades = true;
  SECTION("without conditions") {
    const circuit::Analysis analysis = circuit_test::analyse(description);
    for (std::uint64_t seed = 1; seed <= 40; ++seed) compare(analysis, seed);
  }
  SECTION("with a condition") {
    circuit::Condition dirt;
    dirt.id = "dirty_oil";
    dirt.probability = 0.2;
    dirt.raises = {{"*.*leak", 8}, {"valve.bore_wear", 3}};
    description.conditions.push_back(dirt);
    const circuit::Analysis analysis = circuit_test::analyse(description);
    for (std::uint64_t seed = 1; seed <= 40; ++seed) compare(analysis, seed);
  }
}
