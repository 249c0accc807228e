// The brute-force enumerator itself: known structures, published values, and proof that a wrong
// rule would be noticed in the cases it is compared on.
#include "tests/property/oracle.h"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/property/compare.h"
#include "tests/property/coverage.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

// A cylinder on a valve, hand-made: what every set should be is plain to see.
const char* kPress = R"({
  "format": "faultodds-circuit/1", "id": "press", "title": "press",
  "types": {
    "valve": {"ports": ["p", "t", "a", "b"],
      "elements": {"pa": {"kind": "seal", "from": "p", "to": "a", "open_in": ["down"]},
                   "pb": {"kind": "seal", "from": "p", "to": "b", "open_in": ["up"]},
                   "at": {"kind": "seal", "from": "a", "to": "t", "open_in": ["up"]},
                   "bt": {"kind": "seal", "from": "b", "to": "t", "open_in": ["down"]}},
      "failure_modes": {"wear": {"code": "INL", "title": "", "leaks": ["at", "bt"],
                                 "prior": [0.9, 0.06, 0.04]}}},
    "relief": {"ports": ["in", "out"], "cartridge": true,
      "elements": {"poppet": {"kind": "relief", "from": "in", "to": "out"}},
      "failure_modes": {"leak": {"code": "INL", "title": "", "leaks": "poppet",
                                 "prior": [0.95, 0.03, 0.02]}}},
    "cylinder": {"ports": ["cap", "rod"],
      "elements": {"piston": {"kind": "seal", "from": "cap", "to": "rod"},
                   "gland": {"kind": "seal", "from": "rod", "to": "outside"}},
      "failure_modes": {"piston_leak": {"code": "INL", "title": "", "leaks": "piston",
                                        "prior": [0.9, 0.05, 0.05]},
                        "gland_leak": {"code": "ELU", "title": "", "leaks": "gland",
                                       "prior": [0.97, 0.02, 0.01]}},
      "actuator": {"directions": {"retract": ["cap", "rod"], "extend": ["rod", "cap"]}}},
    "pump": {"ports": ["out"], "flow_test": true, "elements": {},
      "failure_modes": {"wear": {"code": "LOO", "title": "", "weakens": true,
                                 "prior": [0.9, 0.07, 0.03]}}}},
  "components": [{"id": "valve", "type": "valve"}, {"id": "relief", "type": "relief"},
                 {"id": "ram", "type": "cylinder"}, {"id": "pump", "type": "pump"}],
  "connections": [{"from": "pump.out", "to": "valve.p", "line": "pressure"},
                  {"from": "valve.t", "to": "tank"},
                  {"from": "valve.a", "to": "relief.in"}, {"from": "relief.out", "to": "tank"},
                  {"from": "valve.a", "to": "ram.cap", "line": "cap_hose"},
                  {"from": "valve.b", "to": "ram.rod", "line": "rod_hose"}],
  "functions": [{"id": "press", "actuator": "ram", "direction": "extend",
                 "positions": {"valve": "down"}, "source": "pump.out"}]
})";

// "{piston_leak} {gland_leak, wear}": the sets of an observation by mode names, in order.
std::string sets_of(const Structure& structure, const std::string& id) {
  const Observation* observation = structure.find(id);
  if (!observation) return "no such observation";
  std::set<std::string> texts;
  for (const auto& set : observation->sets) {
    std::string text;
    for (const int mode : set.modes) {
      text += (text.empty() ? "" : "+") + structure.modes[static_cast<std::size_t>(mode)].id;
    }
    texts.insert(text);
  }
  std::string all;
  for (const auto& text : texts) all += (all.empty() ? "" : " ") + text;
  return all;
}

}  // namespace

TEST_CASE("the oracle finds the leak paths of a press that a person finds") {
  const Structure press = analyse(Json::parse(kPress));
  // Creeping in: through the valve or relief, or past the piston and on from the rod side.
  CHECK(sets_of(press, "drift/ram/retract") ==
        "ram.piston_leak+ram.gland_leak relief.leak valve.wear");
  // Creeping out under a pulling load: the piston seal alone is enough.
  CHECK(sets_of(press, "drift/ram/extend") == "ram.gland_leak ram.piston_leak valve.wear");
  CHECK(sets_of(press, "static/valve.a") == "relief.leak valve.wear");
  CHECK(sets_of(press, "static/valve.a/plugged/relief") == "valve.wear");
  CHECK(sets_of(press, "static/valve.b") == "valve.wear");
  CHECK(sets_of(press, "static/ram.cap") == "ram.piston_leak");
  CHECK(sets_of(press, "static/ram.rod") == "ram.gland_leak ram.piston_leak");
  CHECK(sets_of(press, "delivery/press") == "pump.wear ram.piston_leak relief.leak valve.wear");
  CHECK(sets_of(press, "flow/pump") == "pump.wear");
  CHECK_FALSE(press.find("static/valve.p"));  // nothing modelled leaks there
}

TEST_CASE("a second leak that the piston seal needs is one of the valve's other side too") {
  Json document = Json::parse(kPress);
  document["types"]["valve"]["failure_modes"]["wear"]["leaks"] = "bt";
  CHECK(sets_of(analyse(document), "drift/ram/retract") ==
        "ram.piston_leak+ram.gland_leak relief.leak valve.wear+ram.piston_leak");
}

TEST_CASE("a function whose source does not reach the actuator is refused") {
  Json document = Json::parse(kPress);
  document["functions"][0]["positions"]["valve"] = "up";
  CHECK_THROWS_AS(analyse(document), Refused);
}

TEST_CASE("evidence of probability zero is refused") {
  Json document = Json::parse(kPress);
  document["observations"] = {{{"id", "static/ram.cap"},
                               {"matrix", {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}},
                               {"background", {1, 0, 0}}}};
  const Json the_case = {{"observations",
                          {{{"observation", "static/ram.cap"}, {"outcome", "held"}},
                           {{"observation", "static/ram.cap"}, {"outcome", "bled_down"}}}}};
  CHECK_THROWS_AS(assess(analyse(document), the_case), Refused);
}

TEST_CASE("quantities become SI") {
  CHECK(quantity("175 bar") == Approx(17.5e6));
  CHECK(quantity("2500 psi") == Approx(17236893.2329));
  CHECK(quantity("30 mL/min") == Approx(5e-7));
  CHECK(quantity("3 mm/min") == Approx(5e-5));
}

// A comparison is worth what it would notice: each rule of the semantics, broken alone, must give
// other answers on some of the cases that the engine is compared on.
TEST_CASE("every rule of the semantics matters to the generated cases") {
  std::map<Broken, int> noticed;
  int asked = 0;
  for (std::uint64_t seed = 1; seed <= kAllSeeds; ++seed) {
    const Sample sample = generate(seed);
    const Structure structure = analyse(sample);
    Answer right;
    try {
      right = assess(structure, sample.the_case);
    } catch (const Refused&) {
      continue;
    }
    ++asked;
    for (int i = 1; i < kBrokenCount; ++i) {
      const auto rule = static_cast<Broken>(i);
      if (noticed[rule] >= 3) continue;
      try {
        const Answer wrong = assess(analyse(sample, rule), sample.the_case, rule);
        if (!differences(right, wrong).empty()) ++noticed[rule];
      } catch (const Refused&) {
        // An observation is gone: noticed as well, but numbers are what counts here.
      }
    }
  }
  REQUIRE(asked > 200);
  for (int i = 1; i < kBrokenCount; ++i) {
    const auto rule = static_cast<Broken>(i);
    INFO("rule broken: " << name(rule));
    CHECK(noticed[rule] >= 3);
  }
}

TEST_CASE("the same seed gives the same documents") {
  CHECK(generate(7).circuit == generate(7).circuit);
  CHECK(generate(7).the_case == generate(7).the_case);
  CHECK(generate(7).circuit != generate(8).circuit);
}
