// The engine, through its C interface, against the brute-force oracle on generated circuits.
#include <catch2/catch.hpp>

#include "tests/property/compare.h"
#include "tests/property/coverage.h"
#include "tests/property/engine.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

std::string both_documents(const Sample& sample) {
  return "seed " + std::to_string(sample.seed) + "\ncircuit " + sample.circuit.dump(1) + "\ncase " +
         sample.the_case.dump(1) + "\npack " + sample.pack.dump(1);
}

}  // namespace

TEST_CASE("the engine agrees with brute force to 1e-9 on every generated circuit and case") {
  std::map<std::string, int> features;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    const Sample sample = generate(seed);
    INFO(both_documents(sample));
    const Structure structure = analyse(sample);
    for (const auto& [feature, count] : structure.features) features[feature] += count;
    const Reply reply = ask_engine(sample.circuit, sample.the_case, sample.pack);
    Answer expected;
    try {
      expected = assess(structure, sample.the_case);
    } catch (const Refused& refused) {
      CHECK(faultodds_status_name(reply.status) == refused.status);
      ++features["conflicting evidence"];
      continue;
    }
    for (const auto& [feature, count] : expected.features) features[feature] += count;
    INFO("engine: " << reply.document.dump());
    if (reply.status != FAULTODDS_OK) {
      CHECK(reply.status == FAULTODDS_OK);
      continue;
    }
    CHECK(reply.document["method"] == "exact");
    const auto found = differences(expected, from_assessment(reply.document));
    for (const auto& difference : found) UNSCOPED_INFO(difference);
    CHECK(found.empty());
  }
  for (const auto& feature : features_required()) {
    INFO("never generated: " << feature);
    CHECK(features[feature] > 0);
  }
}

TEST_CASE("larger circuits with much evidence are exact as well") {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const Sample sample = generate(seed, {10, 14});
    INFO(both_documents(sample));
    Answer expected;
    try {
      expected = assess(analyse(sample), sample.the_case);
    } catch (const Refused&) {
      continue;
    }
    const Reply reply = ask_engine(sample.circuit, sample.the_case, sample.pack);
    REQUIRE(reply.status == FAULTODDS_OK);
    CHECK(reply.document["method"] == "exact");
    const auto found = differences(expected, from_assessment(reply.document));
    for (const auto& difference : found) UNSCOPED_INFO(difference);
    CHECK(found.empty());
  }
}

TEST_CASE("a fault that was next to impossible is certain once the evidence leaves nothing else") {
  // What is seen can only be `rare`; the other test then shows it and says nothing more of `usual`.
  const Json circuit = Json::parse(R"({
    "format": "faultodds-circuit/1", "id": "rare", "title": "rare",
    "types": {"part": {"ports": ["port"],
      "elements": {"wall": {"kind": "seal", "from": "port", "to": "outside"}},
      "failure_modes": {
        "usual": {"code": "INL", "title": "", "leaks": "wall", "prior": [0.9, 0.05, 0.05]},
        "rare": {"code": "INL", "title": "", "leaks": "wall",
                 "prior": [0.999999999999998, 1e-15, 1e-15]}}}},
    "components": [{"id": "part", "type": "part"}],
    "observations": [
      {"id": "complaint", "kind": "symptom", "outcomes": ["no", "yes"], "energised": false,
       "matrix": [[0.9, 0.1], [0.2, 0.8], [0.1, 0.9]], "shows": [{"modes": ["part.usual"]}]},
      {"id": "seen", "kind": "test", "outcomes": ["none", "some", "much"], "energised": false,
       "matrix": [[1, 0, 0], [0, 1, 0], [0, 0, 1]], "shows": [{"modes": ["part.rare"]}]},
      {"id": "next", "kind": "test", "outcomes": ["good", "bad"], "energised": false,
       "matrix": [[0.99, 0.01], [0.5, 0.5], [0.4, 0.6]],
       "shows": [{"modes": ["part.usual"]}, {"modes": ["part.rare"]}]}]
  })");
  const Json the_case = Json::parse(R"({"format": "faultodds-case/1", "observations": [
    {"observation": "complaint", "outcome": "yes"}, {"observation": "seen", "outcome": "much"}]})");
  const Reply reply = ask_engine(circuit, the_case);
  INFO(reply.document.dump(1));
  REQUIRE(reply.status == FAULTODDS_OK);
  const auto found =
      differences(assess(analyse(circuit), the_case), from_assessment(reply.document));
  for (const auto& difference : found) UNSCOPED_INFO(difference);
  CHECK(found.empty());
  CHECK(reply.document["tests"][0]["complaint_bits"].get<double>() == Approx(0).margin(1e-12));
}

TEST_CASE("locked-out tests come first, and within a class the more informative per minute") {
  for (std::uint64_t seed = 1; seed <= 100; ++seed) {
    const Sample sample = generate(seed);
    const Reply reply = ask_engine(sample.circuit, sample.the_case, sample.pack);
    if (reply.status != FAULTODDS_OK) continue;
    INFO(both_documents(sample));
    const bool by_complaint = !reply.document["complaint"].empty() &&
                              sample.the_case.value("focus", std::string()) != "circuit";
    const Json* before = nullptr;
    for (const auto& test : reply.document["tests"]) {
      INFO(test.dump());
      const double bits = test[by_complaint ? "complaint_bits" : "information_bits"];
      const double minutes = test["minutes"];
      CHECK(test["bits_per_minute"].get<double>() == Approx(bits / minutes).margin(1e-12));
      if (before) {
        const bool energised = test["energised"], energised_before = (*before)["energised"];
        CHECK(energised >= energised_before);
        if (energised == energised_before) {
          CHECK(test["bits_per_minute"].get<double>() <=
                (*before)["bits_per_minute"].get<double>() + 1e-12);
        }
      }
      before = &test;
    }
  }
}

TEST_CASE("a function that cannot move its actuator is refused by both") {
  int refused = 0;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    Sample sample = generate(seed);
    if (!sample.circuit.contains("functions")) continue;
    for (auto& function : sample.circuit["functions"]) {
      for (auto& position : function["positions"]) position = "neutral";
    }
    sample.circuit.erase("observations");  // overrides of what may no longer exist
    sample.the_case["observations"] = Json::array();
    try {
      analyse(sample.circuit);
    } catch (const Refused&) {
      INFO(both_documents(sample));
      const Reply reply = ask_engine(sample.circuit, sample.the_case, sample.pack);
      CHECK(reply.status == FAULTODDS_INVALID_CIRCUIT);
      CHECK(reply.document["pointer"].get<std::string>().rfind("/circuit/functions/", 0) == 0);
      ++refused;
    }
  }
  CHECK(refused > 10);
}
