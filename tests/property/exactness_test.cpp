// The engine, through its C interface, against the brute-force oracle on generated circuits.
#include <catch2/catch.hpp>

#include "tests/property/compare.h"
#include "tests/property/coverage.h"
#include "tests/property/engine.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

// The sets of an observation, each by its modes and probability, in one order.
using Sets = std::multiset<std::pair<std::set<std::string>, double>>;

Sets sets_of(const Structure& structure, const Observation& observation) {
  Sets sets;
  for (const auto& set : observation.sets) {
    std::set<std::string> modes;
    for (const int m : set.modes) modes.insert(structure.modes[static_cast<std::size_t>(m)].id);
    sets.emplace(modes, set.probability);
  }
  return sets;
}

Sets sets_of(const Json& described) {
  Sets sets;
  for (const auto& set : described["sets"]) {
    sets.emplace(set["modes"].get<std::set<std::string>>(), set["probability"].get<double>());
  }
  return sets;
}

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
  if (kSanitized) return;
  for (const auto& feature : features_required()) {
    INFO("never generated: " << feature);
    CHECK(features[feature] > 0);
  }
}

TEST_CASE("the engine finds the observations and minimal sets that plain enumeration finds") {
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    const Sample sample = generate(seed);
    INFO(both_documents(sample));
    const Structure structure = analyse(sample);
    const Json described =
        LoadedModel(sample.circuit, sample.pack, asset_class(sample.the_case)).describe();
    CHECK(described["observations"].size() == structure.observations.size());
    for (const auto& got : described["observations"]) {
      INFO(got.dump());
      const Observation* want = structure.find(got["observation"]);
      REQUIRE(want);
      CHECK(got["kind"] == want->kind);
      CHECK(got["symptom"] == want->symptom);
      CHECK(got["outcomes"] == Json(want->outcomes));
      CHECK((sets_of(got) == sets_of(structure, *want)));
      const auto setup = got["setup"].get<std::set<std::string>>();
      CHECK(setup == std::set<std::string>(want->setup.begin(), want->setup.end()));
    }
  }
}

TEST_CASE("larger circuits with much evidence are exact as well") {
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 15 : 40); ++seed) {
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
  CHECK(reply.document["tests"][0]["cause_bits"].get<double>() == Approx(0).margin(1e-12));
}

TEST_CASE("one loaded model answers case after case as if each were its first") {
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 30 : 120); ++seed) {
    const Sample sample = generate(seed);
    INFO(both_documents(sample));
    const LoadedModel model(sample.circuit, sample.pack, asset_class(sample.the_case));
    const Structure structure = analyse(sample);
    std::vector<Json> cases = {sample.the_case};
    cases.insert(cases.end(), sample.further_cases.begin(), sample.further_cases.end());
    cases.push_back(sample.the_case);
    for (const Json& one : cases) {
      INFO("assessed " << one.dump());
      Answer expected;
      try {
        expected = assess(structure, one);
      } catch (const Refused& refused) {
        CHECK(faultodds_status_name(model.assess(one).status) == refused.status);
        continue;
      }
      const Reply reply = model.assess(one);
      INFO("engine: " << reply.document.dump());
      REQUIRE(reply.status == FAULTODDS_OK);
      const auto found = differences(expected, from_assessment(reply.document));
      for (const auto& difference : found) UNSCOPED_INFO(difference);
      CHECK(found.empty());
    }
  }
}

TEST_CASE("an answer for a screen has the causes and the tests of the whole one, in its order") {
  int ranked_by_cause = 0;
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 30 : 120); ++seed) {
    const Sample sample = generate(seed);
    INFO(both_documents(sample));
    const auto loaded = [&] {
      return LoadedModel(sample.circuit, sample.pack, asset_class(sample.the_case));
    };
    // Of models of their own: neither has what the other made.
    const Reply whole = loaded().assess(sample.the_case);
    const Reply screen = loaded().assess_for_screen(sample.the_case);
    REQUIRE(screen.status == whole.status);
    if (whole.status != FAULTODDS_OK) continue;
    CHECK(screen.document["method"] == "exact");
    const Json& tests = whole.document["tests"];
    REQUIRE(screen.document["test_count"] == tests.size());
    std::size_t at = 0;
    for (const char* list : {"tests", "further_tests"}) {
      for (const Json& test : screen.document[list]) {
        CHECK(test["observation"] == tests[at++]["observation"]);
      }
    }
    CHECK(at == std::min<std::size_t>(tests.size(), 8));
    REQUIRE(screen.document["causes"].size() == whole.document["causes"].size());
    for (std::size_t i = 0; i < whole.document["causes"].size(); ++i) {
      CHECK(screen.document["causes"][i]["elsewhere"].get<double>() ==
            Approx(whole.document["causes"][i]["elsewhere"].get<double>()).margin(1e-6));
    }
    ranked_by_cause += !whole.document["causes"].empty();
  }
  CHECK(ranked_by_cause > (kSanitized ? 5 : 20));
}

TEST_CASE("an open case that gains and loses evidence gives the answer of a fresh one") {
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 30 : 120); ++seed) {
    const Sample sample = generate(seed);
    INFO(both_documents(sample));
    const LoadedModel model(sample.circuit, sample.pack, asset_class(sample.the_case));
    const Structure structure = analyse(sample);
    OpenCase open(model);
    // First other evidence, which is then taken back.
    for (const auto& entry : sample.further_cases.back()["observations"]) open.observe(entry);
    open.assess();
    for (const auto& entry : sample.further_cases.back()["observations"]) {
      open.retract(entry["observation"]);
    }
    const Json observations = sample.the_case["observations"];
    for (const auto& entry : observations) open.observe(entry);
    const Json the_case = {{"observations", observations}};
    Answer expected;
    try {
      expected = assess(structure, the_case);
    } catch (const Refused& refused) {
      CHECK(faultodds_status_name(open.assess()) == refused.status);
      continue;
    }
    REQUIRE(open.assess() == FAULTODDS_OK);
    CHECK(open.log_evidence() == Approx(expected.log_evidence).epsilon(1e-9).margin(1e-9));
    const auto grades = open.posteriors();
    REQUIRE(grades.size() == 3 * expected.faults.size());
    for (std::uint32_t m = 0; m < expected.faults.size(); ++m) {
      const auto& want =
          expected.faults.at(faultodds_model_id(model.get(), FAULTODDS_MODE, m)).grades;
      for (std::size_t g = 0; g < 3; ++g) {
        CHECK(grades[3 * m + g] == Approx(want[g]).margin(1e-9));
      }
    }
    const auto tests = open.tests();
    std::size_t withheld = 0;
    const Json described = model.describe();
    for (const auto& one : described["withheld"]) {
      withheld += expected.tests.count(one["observation"]);
    }
    REQUIRE(tests.size() == expected.tests.size() - withheld);
    for (const auto& test : tests) {
      const auto& want = expected.tests.at(
          faultodds_model_id(model.get(), FAULTODDS_OBSERVATION, test.observation));
      CHECK(test.information_bits == Approx(want.information_bits).margin(1e-9));
      CHECK(test.minutes == Approx(want.minutes).margin(1e-9));
    }
  }
}

TEST_CASE("no hold is pressed beyond 80 % of a relief its port sees, nor a rating on the way") {
  int limited = 0;
  for (std::uint64_t seed = 1; seed <= kSeeds; ++seed) {
    const Sample sample = generate(seed);
    const Structure structure = analyse(sample);
    const Reply reply = ask_engine(sample.circuit, {{"format", "faultodds-case/1"}}, sample.pack);
    REQUIRE(reply.status == FAULTODDS_OK);
    for (const auto& test : reply.document["tests"]) {
      const Observation* observation = structure.find(test["observation"]);
      if (test["test_pressure"].is_null() || !observation->pressure_ceiling) continue;
      ++limited;
      INFO(both_documents(sample));
      INFO(test.dump());
      CHECK(quantity(test["test_pressure"]) <= *observation->pressure_ceiling * 1.0005);
    }
  }
  CHECK(limited > (kSanitized ? 5 : 50));
}

TEST_CASE("locked-out tests come first, and within a class the more informative per minute") {
  for (std::uint64_t seed = 1; seed <= (kSanitized ? 30 : 100); ++seed) {
    const Sample sample = generate(seed);
    const Reply reply = ask_engine(sample.circuit, sample.the_case, sample.pack);
    if (reply.status != FAULTODDS_OK) continue;
    INFO(both_documents(sample));
    const bool by_cause = !reply.document["causes"].empty() &&
                          sample.the_case.value("focus", std::string()) != "circuit";
    const Json* before = nullptr;
    for (const auto& test : reply.document["tests"]) {
      INFO(test.dump());
      if (test.contains("again")) {
        CHECK(test["observation"] == reply.document["advice"]["test"]);
        CHECK(&test == &reply.document["tests"][0]);
        continue;
      }
      const double bits = test[by_cause ? "cause_bits" : "information_bits"];
      const double minutes = test["minutes"];
      CHECK(test["bits_per_minute"].get<double>() == Approx(bits / minutes).margin(1e-12));
      // What the advice names comes before them all.
      if (reply.document.contains("advice") &&
          test["observation"] == reply.document["advice"]["test"]) {
        CHECK(&test == &reply.document["tests"][0]);
        continue;
      }
      if (before) {
        // Those that fit an instrument to a machine under power come last; a hand-written one
        // without setup reads what is fitted.
        const auto instrument = [&](const Json& of) {
          const std::string kind = of["kind"];
          for (const Json& written : sample.circuit.value("observations", Json::array())) {
            if (written["id"] == of["observation"] && written.contains("shows") &&
                written.value("setup", Json::array()).empty() &&
                !written.value("opens_line", false)) {
              return false;
            }
          }
          const bool seat =
              kind == "drift" || kind == "delivery" || kind == "symptom" || kind == "temperature";
          return of["energised"].get<bool>() && !seat;
        };
        CHECK(instrument(test) >= instrument(*before));
        if (instrument(test) == instrument(*before)) {
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
