// What the engine answers when the memory it may take is less than exact inference needs.
#include <catch2/catch.hpp>
#include <cmath>
#include <optional>

#include "tests/property/compare.h"
#include "tests/property/coverage.h"
#include "tests/property/engine.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

// Of every probability, of the logarithm of the evidence and of every number of bits.
double largest_error(const Answer& truth, const Answer& got) {
  double error = std::fabs(truth.log_evidence - got.log_evidence);
  const auto compare = [&](double a, double b) { error = std::max(error, std::fabs(a - b)); };
  for (const auto& [mode, fault] : truth.faults) {
    for (std::size_t g = 0; g < 3; ++g) compare(fault.grades[g], got.faults.at(mode).grades[g]);
  }
  for (const auto& [id, test] : truth.tests) {
    if (got.withheld.count(id)) continue;
    const Test& other = got.tests.at(id);
    for (const auto& [outcome, p] : test.probability) compare(p, other.probability.at(outcome));
    compare(test.information_bits, other.information_bits);
    if (other.cause_bits) compare(*test.cause_bits, *other.cause_bits);
  }
  return error;
}

// What became of the samples.
struct Tally {
  int refused = 0, exact = 0, approximate = 0;
  double tightest = 1;
};

// `truth` is null where the sample must be refused, as the status `refused` says.
void check(const Sample& sample, std::uint64_t memory_budget, const Answer* truth,
           const std::string& refused, Tally& tally) {
  INFO("seed " << sample.seed << ", " << memory_budget << " bytes\n"
               << sample.circuit.dump(1) << sample.the_case.dump(1) << sample.pack.dump(1));
  const LoadedModel model(sample.circuit, sample.pack, asset_class(sample.the_case), memory_budget);
  if (model.status() != FAULTODDS_OK) {
    CHECK(model.status() == FAULTODDS_LIMIT_EXCEEDED);
    ++tally.refused;
    return;
  }
  const Reply reply = model.assess(sample.the_case);
  if (!truth) {
    // Evidence that is impossible, or so improbable that what was looked at says so.
    CHECK((faultodds_status_name(reply.status) == refused ||
           reply.status == FAULTODDS_LIMIT_EXCEEDED));
    return;
  }
  if (reply.status == FAULTODDS_LIMIT_EXCEEDED) {
    ++tally.refused;
    return;
  }
  REQUIRE(reply.status == FAULTODDS_OK);
  const Answer got = from_assessment(reply.document);
  const Json& method = reply.document["method"];
  if (method == "exact") {
    ++tally.exact;
    const auto found = differences(*truth, got);
    for (const auto& difference : found) UNSCOPED_INFO(difference);
    CHECK(found.empty());
    return;
  }
  ++tally.approximate;
  CHECK(method["name"] == "bounded conditioning");
  const Reply screen = model.assess_for_screen(sample.the_case);
  REQUIRE(screen.status == FAULTODDS_OK);
  CHECK(screen.document["method"]["name"] == method["name"]);
  CHECK(screen.document["warnings_said"][0]["id"] == "warning.approximate");
  const double bound = method["error_bound"];
  tally.tightest = std::min(tally.tightest, bound);
  CHECK(largest_error(*truth, got) <= bound + 1e-9);
  for (const auto& [mode, fault] : truth->faults) {
    const auto& prior = got.faults.at(mode).prior_odds;
    CHECK(prior.has_value() == fault.prior_odds.has_value());
    if (prior && fault.prior_odds) CHECK(*prior == Approx(*fault.prior_odds).epsilon(1e-9));
  }
}

}  // namespace

// The machine with failure modes as rare as they are in service, and with little evidence: the
// bound is of use where that is not itself improbable.
Sample with_rare_faults(Sample sample) {
  for (auto& type : sample.circuit["types"]) {
    for (auto& mode : type["failure_modes"]) mode["prior"] = {0.985, 0.01, 0.005};
  }
  for (auto& component : sample.circuit["components"]) component.erase("priors");
  sample.pack = no_priors();
  auto& observations = sample.the_case["observations"];
  while (observations.size() > 1) observations.erase(observations.size() - 1);
  return sample;
}

TEST_CASE("with too little memory the answer is exact all the same, or says how wrong it may be") {
  Tally tally;
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 2 : 35); ++seed) {
    Sample sample = generate(seed, {13, 8});
    if (seed % 3 != 0) sample = with_rare_faults(std::move(sample));
    std::optional<Answer> truth;
    std::string refused;
    try {
      truth = assess(analyse(sample), sample.the_case);
    } catch (const Refused& why) {
      refused = why.status;
    }
    for (const std::uint64_t memory_budget : {12'000U, 15'000U, 21'000U, 30'000U, 60'000U}) {
      check(sample, memory_budget, truth ? &*truth : nullptr, refused, tally);
    }
  }
  if (kSanitized) return;
  INFO(tally.refused << " refused, " << tally.exact << " exact, " << tally.approximate
                     << " approximate");
  // Questions are answered one by one where one tree is too large, so that what does not fit is
  // seldom approximate; check() holds what is to its bound, and no bound may pass 0.05.
  CHECK(tally.exact > 60);
  CHECK(tally.refused > 10);
  if (tally.approximate > 0) CHECK(tally.tightest <= 0.05);
}
