// The engine from inside against the brute-force oracle on jobs in their course: the causes of what
// is complained about, what each test would tell of them, and all else that an assessment says.
#include <algorithm>
#include <catch2/catch.hpp>
#include <optional>

#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/model.h"
#include "tests/property/compare.h"
#include "tests/property/coverage.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

using faultodds::diagnosis::Assessment;
using faultodds::diagnosis::Model;
using faultodds::diagnosis::TestAssessment;

// An engine that says nothing of causes is compared in all else.
template <class Assessed>
concept TellsCauses = requires(const Assessed& assessed) {
  assessed.causes;
};
template <class Assessed>
concept TellsCauseBits = requires(const Assessed& assessed) {
  assessed.cause_bits;
};

Model model_of(const Sample& sample) {
  using namespace faultodds;
  return Model::compile(
      circuit::analyse(documents::read_circuit(documents::parse_json(sample.circuit.dump())), {}),
      documents::read_pack(documents::parse_json(sample.pack.dump())),
      asset_class(sample.the_case));
}

template <class Assessed>
std::optional<std::vector<Causes>> causes_of(const Model& model, const Assessed& assessed) {
  if constexpr (TellsCauses<Assessed>) {
    const auto& analysis = model.analysis();
    std::vector<Causes> all;
    for (const auto& from : assessed.causes) {
      REQUIRE(from.observation < analysis.observations.size());
      Causes made;
      made.observation = analysis.observations[from.observation].id;
      made.by_design = from.by_design;
      made.elsewhere = from.elsewhere;
      made.nothing = from.nothing;
      double total = made.by_design + made.elsewhere + made.nothing, before = 1;
      for (const auto& cause : from.causes) {
        CHECK(std::is_sorted(cause.components.begin(), cause.components.end()));
        CHECK(cause.probability <= before);
        before = cause.probability;
        total += cause.probability;
        std::set<std::string> components;
        for (const std::uint32_t c : cause.components) {
          REQUIRE(c < analysis.components.size());
          components.insert(analysis.components[c].id);
        }
        const bool is_new = made.sets.emplace(components, cause.probability).second;
        CHECK(is_new);
      }
      CHECK(total == Approx(1).margin(1e-9));
      all.push_back(made);
    }
    return all;
  }
  return std::nullopt;
}

template <class Tested>
std::optional<double> cause_bits_of(const Tested& test) {
  if constexpr (TellsCauseBits<Tested>) return test.cause_bits;
  return std::nullopt;
}

Answer from_engine(const Model& model, const Assessment& assessment) {
  const auto& analysis = model.analysis();
  Answer answer;
  answer.log_evidence = assessment.log_evidence;
  for (const std::uint32_t o : assessment.complaint) {
    answer.complaint.insert(analysis.observations[o].id);
  }
  for (const auto& fault : assessment.faults) {
    Fault& made = answer.faults[analysis.modes[fault.mode].id];
    made.grades = fault.grades;
    if (std::isfinite(fault.prior_odds)) made.prior_odds = fault.prior_odds;
    if (std::isfinite(fault.posterior_odds)) made.posterior_odds = fault.posterior_odds;
    if (fault.prior_odds > 0 && fault.posterior_odds > 0 && std::isfinite(fault.decibans)) {
      made.decibans = fault.decibans;
    }
  }
  for (const TestAssessment& test : assessment.tests) {
    const auto& observation = analysis.observations[test.observation];
    Test& made = answer.tests[observation.id];
    for (std::size_t o = 0; o < observation.outcomes.size(); ++o) {
      made.probability[observation.outcomes[o]] = test.probability[o];
    }
    made.information_bits = test.information_bits;
    made.cause_bits = cause_bits_of(test);
    made.minutes = test.minutes;
    made.energised = observation.energised;
  }
  for (const auto& observation : analysis.observations) {
    if (observation.withheld) answer.withheld.insert(observation.id);
  }
  answer.causes = causes_of(model, assessment);
  return answer;
}

void compare_jobs(std::uint64_t first, std::uint64_t last, std::map<std::string, int>& features) {
  for (std::uint64_t seed = first; seed <= last; ++seed) {
    Sample sample = generate(seed, kJob);
    const std::string focus = sample.the_case.value("focus", std::string("circuit"));
    if (!TellsCauses<Assessment> && focus != "circuit" && focus != "complaint") {
      sample.the_case.erase("focus");
    }
    INFO("seed " << seed << "\ncircuit " << sample.circuit.dump(1) << "\ncase "
                 << sample.the_case.dump(1) << "\npack " << sample.pack.dump(1));
    const Structure structure = analyse(sample);
    for (const auto& [feature, count] : structure.features) features[feature] += count;
    const Model model = model_of(sample);
    const auto the_case = faultodds::documents::read_case(
        faultodds::documents::parse_json(sample.the_case.dump()), model);
    Answer expected;
    try {
      expected = assess(structure, sample.the_case);
    } catch (const Refused&) {
      CHECK_THROWS_AS(faultodds::diagnosis::assess(model, the_case), faultodds::Error);
      continue;
    }
    for (const auto& [feature, count] : expected.features) features[feature] += count;
    const Assessment assessment = faultodds::diagnosis::assess(model, the_case);
    CHECK(assessment.method == "exact");
    const auto found = differences(expected, from_engine(model, assessment));
    for (const auto& difference : found) UNSCOPED_INFO(difference);
    CHECK(found.empty());
  }
}

}  // namespace

TEST_CASE("of jobs in their course the engine says what enumeration says, to 1e-9") {
  std::map<std::string, int> features;
  compare_jobs(1, kSanitized ? 30 : 300, features);
  if (kSanitized) return;
  for (const auto& feature : features_required_of_jobs()) {
    if (!TellsCauses<Assessment> && feature == "focus names an observation") continue;
    INFO("never generated: " << feature);
    CHECK(features[feature] > 0);
  }
  if (!TellsCauses<Assessment>) WARN("this engine says nothing of causes");
}

TEST_CASE("of 10,000 jobs in their course the engine says what enumeration says", "[.long]") {
  std::map<std::string, int> features;
  compare_jobs(1'001, 11'000, features);
}
