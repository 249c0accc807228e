// An answer names one next step: the test that its advice names is the first of its tests.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "tests/property/compare.h"
#include "tests/property/coverage.h"
#include "tests/property/engine.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

std::vector<std::string> tests_of(const Json& answer) {
  std::vector<std::string> ids;
  for (const auto& test : answer["tests"]) ids.push_back(test["observation"]);
  return ids;
}

// Whether the advice named a test. `by_rank` is the answer to the same case without advice.
bool check_one_step(const Json& answer, const Json& by_rank) {
  std::vector<std::string> expected = tests_of(by_rank);
  const bool names = answer.contains("advice") && answer["advice"]["test"].is_string();
  if (names) {
    const std::string first = answer["advice"]["test"];
    const auto at = std::find(expected.begin(), expected.end(), first);
    // The complaint, looked at once more, is none of the others.
    if (answer["tests"][0].contains("again")) {
      CHECK(at == expected.end());
    } else {
      REQUIRE(at != expected.end());
      expected.erase(at);
    }
    expected.insert(expected.begin(), first);
  }
  CHECK(tests_of(answer) == expected);
  return names;
}

Json without_advice(Json the_case) {
  the_case["advice"] = false;
  return the_case;
}

}  // namespace

TEST_CASE("in the demo cases the test to make next comes first and the others keep their order") {
  int cases = 0;
  for (const auto& folder : std::filesystem::directory_iterator(EXAMPLES)) {
    if (!std::filesystem::exists(folder.path() / "circuit.json")) continue;
    std::ifstream circuit_file(folder.path() / "circuit.json");
    const LoadedModel model(Json::parse(circuit_file), no_priors(), "");
    for (const auto& file : std::filesystem::directory_iterator(folder)) {
      if (file.path().extension() != ".json" || file.path().stem() == "circuit") continue;
      INFO(file.path());
      std::ifstream text(file.path());
      const Json the_case = Json::parse(text);
      const Reply with = model.assess(the_case), without = model.assess(without_advice(the_case));
      REQUIRE(with.status == FAULTODDS_OK);
      check_one_step(with.document, without.document);
      ++cases;
    }
  }
  CHECK(cases > 2);
}

TEST_CASE(
    "on generated circuits the test to make next comes first and the others keep their order") {
  int named = 0, moved = 0;
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 20 : 100); ++seed) {
    const Sample sample = generate(seed);
    INFO("seed " << seed);
    const Reply with = ask_engine(sample.circuit, sample.the_case, sample.pack);
    if (with.status != FAULTODDS_OK) continue;
    const Reply without = ask_engine(sample.circuit, without_advice(sample.the_case), sample.pack);
    if (!check_one_step(with.document, without.document)) continue;
    ++named;
    moved += tests_of(with.document) != tests_of(without.document) ? 1 : 0;
  }
  if (kSanitized) return;
  CHECK(named > 10);
  CHECK(moved > 0);
}
