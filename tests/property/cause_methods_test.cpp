// The three ways in which the cause of a complaint can be computed, against each other: whichever
// is chosen for a case, the answer is the same.
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
#include <numeric>
#include <optional>
#include <sstream>

#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/cause.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "core/error.h"
#include "tests/property/coverage.h"
#include "tests/property/generator.h"

using namespace faultodds;
using diagnosis::CaseNumbers;
using diagnosis::CauseAnswer;
using diagnosis::CauseMethod;
using diagnosis::CausePlan;
using diagnosis::Model;

namespace {

constexpr double kAnyBytes = std::numeric_limits<double>::infinity();

// The largest difference of any share and of any number of bits.
double difference(const Model& model, const CaseNumbers& numbers, const CauseAnswer& a,
                  const CauseAnswer& b) {
  REQUIRE(a.values() == b.values());
  double largest = 0;
  for (std::size_t v = 0; v < a.values(); ++v) {
    largest = std::max(largest, std::fabs(a.share(v) - b.share(v)));
  }
  auto seen = numbers.observed.begin();
  for (std::uint32_t o = 0; o < model.analysis().observations.size(); ++o) {
    if (seen != numbers.observed.end() && seen->observation == o) {
      ++seen;
      continue;
    }
    const auto& rows = model.program().rows(o);
    largest = std::max(largest, std::fabs(a.bits(o, rows) - b.bits(o, rows)));
  }
  return largest;
}

// Of every method that keeps its digits for the case: products subtract, and say by how much.
double difference_of_methods(const Model& model, const CaseNumbers& numbers, std::uint32_t focus,
                             const CausePlan& plan) {
  std::vector<std::uint32_t> observed;
  for (const auto& seen : numbers.observed) observed.push_back(seen.observation);
  const double magnitude =
      diagnosis::CauseProducts(model, observed, focus, {}).sum(model, numbers, true).magnitude;
  std::vector<CauseMethod> methods{CauseMethod::junction_tree};
  if (magnitude < 1e3) methods.push_back(CauseMethod::products);
  if (magnitude < 1e7) methods.push_back(CauseMethod::careful_products);
  const CauseAnswer chosen = plan.answer(model, numbers);
  double largest = 0;
  for (const CauseMethod method : methods) {
    largest = std::max(largest,
                       difference(model, numbers, chosen, plan.answer_by(method, model, numbers)));
  }
  return largest;
}

// What a pattern's products are made of: what was observed, and all other observations and modes.
struct Pattern {
  std::vector<std::uint32_t> observed, tests;
};

Pattern pattern_of(const Model& model, const CaseNumbers& numbers) {
  Pattern pattern;
  for (const auto& seen : numbers.observed) pattern.observed.push_back(seen.observation);
  const std::size_t all = model.analysis().observations.size() + model.analysis().modes.size();
  for (std::uint32_t o = 0; o < all; ++o) {
    if (!std::binary_search(pattern.observed.begin(), pattern.observed.end(), o)) {
      pattern.tests.push_back(o);
    }
  }
  return pattern;
}

double total_of(const diagnosis::CauseSums& sums) {
  return std::accumulate(sums.cause.begin(), sums.cause.end(), 0.0);
}

// The largest difference of any sum, in shares of the evidence's probability.
double difference(const diagnosis::CauseSums& a, const diagnosis::CauseSums& b) {
  double largest = 0;
  const auto compare = [&](const std::vector<double>& x, const std::vector<double>& y) {
    REQUIRE(x.size() == y.size());
    for (std::size_t i = 0; i < x.size(); ++i) largest = std::max(largest, std::fabs(x[i] - y[i]));
  };
  compare(a.cause, b.cause);
  compare(a.at_most, b.at_most);
  return largest / total_of(a);
}

// The largest difference between sums of a pattern whose observations are taken apart by bridges
// and those of one whose are not, in shares of the evidence's probability; nothing where there is
// none.
std::optional<double> difference_by_bridges(const Model& model, const CaseNumbers& numbers,
                                            std::uint32_t focus) {
  const auto [observed, tests] = pattern_of(model, numbers);
  const diagnosis::CauseProducts one(model, observed, focus, tests, 1e300);
  const diagnosis::CauseProducts several(model, observed, focus, tests, 0);
  if (one.operations() == several.operations()) return std::nullopt;
  const diagnosis::CauseSums whole = one.sum(model, numbers, true);
  const diagnosis::CauseSums apart = several.sum(model, numbers, true);
  if (!(total_of(whole) > 0) || whole.magnitude > 1e7 || apart.magnitude > 1e7) {
    return std::nullopt;
  }
  return difference(whole, apart);
}

// The largest difference between sums as they come and sums in parts, in shares of the evidence's
// probability; nothing where subtraction loses the digits of either.
std::optional<double> difference_by_parts(const Model& model, const CaseNumbers& numbers,
                                          std::uint32_t focus) {
  const auto [observed, tests] = pattern_of(model, numbers);
  const diagnosis::CauseProducts products(model, observed, focus, tests);
  const diagnosis::CauseSums whole = products.sum(model, numbers, false, 1, kAnyBytes);
  if (whole.magnitude > 1e3) return std::nullopt;
  double largest = 0;
  for (const std::size_t parts : {2U, 3U, 1000U}) {
    const diagnosis::CauseSums in_parts = products.sum(model, numbers, false, parts, kAnyBytes);
    CHECK(in_parts.magnitude == Approx(whole.magnitude));
    largest = std::max(largest, difference(whole, in_parts));
  }
  return largest;
}

std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

Model demo(const std::filesystem::path& circuit) {
  const auto catalogue =
      documents::read_catalogue(documents::parse_json(std::string(documents::kCatalogue)));
  auto description = documents::read_circuit(documents::parse_json(text_of(circuit)), catalogue);
  description.by_grades = true;  // no tree holds a solved one
  return Model::compile(
      circuit::analyse(description, catalogue),
      documents::read_pack(documents::parse_json(std::string(documents::kShippedPack))));
}

// Visits every abnormal observation of the cases of generated circuits: model, numbers,
// observation.
template <typename Visit>
void for_each_abnormal(std::uint64_t seeds, Visit visit) {
  for (std::uint64_t seed = 1; seed <= seeds; ++seed) {
    const oracle::Sample sample = oracle::generate(seed);
    INFO("seed " << seed << "\n" << sample.circuit.dump(1) << "\n" << sample.the_case.dump(1));
    const Model model = Model::compile(
        circuit::analyse(documents::read_circuit(documents::parse_json(sample.circuit.dump())), {}),
        documents::read_pack(documents::parse_json(sample.pack.dump())),
        oracle::asset_class(sample.the_case));
    try {
      const CaseNumbers numbers = read_case(
          model, documents::read_case(documents::parse_json(sample.the_case.dump()), model));
      for (const auto& seen : numbers.observed) {
        if (seen.abnormal) visit(model, numbers, seen.observation);
      }
    } catch (const Error& error) {
      CHECK(error.code() == Code::conflicting_evidence);
    }
  }
}

}  // namespace

TEST_CASE("causes summed in parts, which take less memory, are those summed at once") {
  int cases = 0;
  double largest = 0;
  for_each_abnormal(300, [&](const Model& model, const CaseNumbers& numbers, std::uint32_t focus) {
    const auto difference = difference_by_parts(model, numbers, focus);
    if (!difference) return;
    ++cases;
    largest = std::max(largest, *difference);
  });
  CHECK(cases > 200);
  CHECK(largest < 1e-12);
}

TEST_CASE("on the demo circuits every method gives the same causes and bits, to 1e-12") {
  int circuits = 0;
  for (const auto& folder : std::filesystem::directory_iterator(EXAMPLES)) {
    if (!std::filesystem::exists(folder.path() / "circuit.json")) continue;
    ++circuits;
    const Model model = demo(folder.path() / "circuit.json");
    const auto& observations = model.analysis().observations;
    for (std::uint32_t o = 0; o < observations.size(); ++o) {
      if (!observations[o].symptom) continue;
      std::optional<CausePlan> plan;  // one for all outcomes
      for (std::uint32_t i = 0; i < observations[o].outcomes.size(); ++i) {
        INFO(folder.path() << ": " << observations[o].id << " " << observations[o].outcomes[i]);
        diagnosis::Case the_case;
        diagnosis::Evidence evidence;
        evidence.observation = o;
        evidence.outcome = i;
        the_case.evidence = {evidence};
        const CaseNumbers numbers = read_case(model, the_case);
        if (!plan) plan.emplace(model, numbers, o, diagnosis::CauseTests::observations);
        CHECK(difference_of_methods(model, numbers, o, *plan) <= 1e-12);
      }
    }
  }
  CHECK(circuits >= 2);
}

TEST_CASE("on generated circuits every method gives the same causes and bits, to 1e-9") {
  int compared = 0;
  for_each_abnormal(oracle::kSanitized ? 20 : 150,
                    [&](const Model& model, const CaseNumbers& numbers, std::uint32_t observation) {
                      const CausePlan plan(model, numbers, observation,
                                           diagnosis::CauseTests::observations);
                      CHECK(difference_of_methods(model, numbers, observation, plan) <= 1e-9);
                      ++compared;
                    });
  CHECK(compared > (oracle::kSanitized ? 10 : 100));
}

TEST_CASE("observations taken apart by bridges give the causes and tests that they give together") {
  int compared = 0;
  for_each_abnormal(oracle::kSanitized ? 40 : 600,
                    [&](const Model& model, const CaseNumbers& numbers, std::uint32_t observation) {
                      const auto largest = difference_by_bridges(model, numbers, observation);
                      if (!largest) return;
                      CHECK(*largest <= 1e-11);
                      ++compared;
                    });
  CHECK(compared > (oracle::kSanitized ? 20 : 300));
}
