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
