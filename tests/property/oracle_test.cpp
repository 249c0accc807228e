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

namespace {

// One component per mode, `a` to whatever, and observations written by hand.
Structure of_modes(const std::vector<Grades>& priors, const std::vector<Json>& observations) {
  Json circuit = {{"format", "faultodds-circuit/1"},
                  {"id", "by-hand"},
                  {"title", "by hand"},
                  {"types", Json::object()},
                  {"components", Json::array()},
                  {"observations", observations}};
  for (std::size_t i = 0; i < priors.size(); ++i) {
    const std::string id(1, static_cast<char>('a' + static_cast<int>(i)));
    circuit["types"][id] = {
        {"ports", {"port"}},
        {"elements", {{"wall", {{"kind", "seal"}, {"from", "port"}, {"to", "outside"}}}}},
        {"failure_modes",
         {{"leak", {{"code", "INL"}, {"title", ""}, {"leaks", "wall"}, {"prior", priors[i]}}}}}};
    circuit["components"].push_back({{"id", id}, {"type", id}});
  }
  return analyse(circuit);
}

Json shows(const std::vector<std::string>& components, double probability = 1) {
  Json set = {{"modes", Json::array()}, {"probability", probability}};
  for (const auto& component : components) set["modes"].push_back(component + ".leak");
  return set;
}

Json symptom(const std::string& id, const std::vector<Json>& sets, const Grades& background) {
  return {{"id", id},
          {"title", id},
          {"kind", "symptom"},
          {"outcomes", {"good", "bad"}},
          {"matrix", {{0.9, 0.1}, {0.4, 0.6}, {0.1, 0.9}}},
          {"background", background},
          {"shows", sets},
          {"energised", false},
          {"minutes", 1}};
}

// Shows one component's grade as it is.
Json look(const std::string& component) {
  Json made = symptom("look/" + component, {shows({component})}, {1, 0, 0});
  made["kind"] = "test";
  made["outcomes"] = {"sound", "worn", "failed"};
  made["matrix"] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
  return made;
}

Json saw(const std::string& id, const std::string& outcome, const std::string& at = {}) {
  Json entry = {{"observation", id}, {"outcome", outcome}};
  if (!at.empty()) entry["at"] = at;
  return entry;
}

Json case_of(const std::vector<Json>& entries) { return {{"observations", entries}}; }

double of(const Causes& causes, const std::set<std::string>& components) {
  return causes.sets.at(components);
}

// Two modes of one prior that both show, and a background: the symptom of the tests that follow.
Structure two_alike() {
  return of_modes({{.5, .3, .2}, {.5, .3, .2}},
                  {symptom("sinks", {shows({"a"}), shows({"b"})}, {.8, .15, .05}), look("a")});
}

}  // namespace

TEST_CASE("two modes and the background share what they rule together") {
  // nothing: .5 x .5 x .8. elsewhere worn: .15 x (.25 + .30 / 2 + .09 / 3); failed: .05 x (.64 +
  // .32 / 2 + .04 / 3). Each weighed by P(bad | G) = .1, .6, .9, which make P(bad) .6176.
  const Answer answer = assess(two_alike(), case_of({saw("sinks", "bad")}));
  REQUIRE(answer.causes->size() == 1);
  const Causes& causes = answer.causes->front();
  CHECK(causes.observation == "sinks");
  CHECK(causes.nothing == Approx(.02 / .6176).epsilon(1e-12));
  CHECK(causes.elsewhere == Approx(.0753 / .6176).epsilon(1e-12));
  CHECK(of(causes, {"a"}) == Approx(.26115 / .6176).epsilon(1e-12));
  CHECK(of(causes, {"b"}) == Approx(.26115 / .6176).epsilon(1e-12));
  CHECK(causes.by_design == 0);
  // The effect is what a and b show, whatever the background: P(S) = .25 .39 .36.
  const Json weighed = {{"observation", "sinks"}, {"likelihood", {.1, .6, .9}}};
  const Answer likely = assess(two_alike(), case_of({weighed}));
  CHECK(likely.causes->front().nothing == Approx(.02 / .583).epsilon(1e-12));
  CHECK(likely.causes->front().elsewhere == Approx(.0407 / .583).epsilon(1e-12));
  CHECK(of(likely.causes->front(), {"a"}) == Approx(.26115 / .583).epsilon(1e-12));
}

TEST_CASE("a pair is the cause where its less leaking part leaks as much as any other") {
  // P(pair) = .75 .21 .04, of c = .6 .3 .1; nothing .45. More than c: .21 x .6 + .04 x .9; equal:
  // .21 x .3 + .04 x .1.
  const Structure structure =
      of_modes({{.5, .3, .2}, {.5, .3, .2}, {.6, .3, .1}},
               {symptom("sinks", {shows({"a", "b"}), shows({"c"})}, {1, 0, 0})});
  Json the_case = case_of({});
  the_case["focus"] = "sinks";
  const Causes causes = assess(structure, the_case).causes->front();
  CHECK(causes.nothing == Approx(.45).epsilon(1e-12));
  CHECK(of(causes, {"a", "b"}) == Approx(.162 + .067 / 2).epsilon(1e-12));
  CHECK(of(causes, {"c"}) == Approx(1 - .45 - .162 - .067 / 2).epsilon(1e-12));
  CHECK(causes.elsewhere == 0);
}

TEST_CASE("sets of the same components are told as one cause, with what each has of a tie") {
  // a twice against b: of what all three rule together a has two thirds. Only failed or sound.
  const Structure structure =
      of_modes({{.5, 0, .5}, {.5, 0, .5}},
               {symptom("sinks", {shows({"a"}), shows({"a"}), shows({"b"})}, {1, 0, 0})});
  Json the_case = case_of({});
  the_case["focus"] = "sinks";
  const Causes causes = assess(structure, the_case).causes->front();
  CHECK(of(causes, {"a"}) == Approx(.25 + .25 * 2 / 3).epsilon(1e-12));
  CHECK(of(causes, {"b"}) == Approx(.25 + .25 / 3).epsilon(1e-12));
}

TEST_CASE("the cause of a leaky noisy-OR is one of the links that work, or the leak") {
  // a works with .1 x .8 = .08, b with .2 x .5 = .1, the leak is .1; seen as it is.
  Json noisy = symptom("noisy", {shows({"a"}, .8), shows({"b"}, .5)}, {.9, 0, .1});
  noisy["matrix"] = {{1, 0}, {0, 1}, {0, 1}};
  const Structure structure = of_modes({{.9, 0, .1}, {.8, 0, .2}}, {noisy, look("a")});
  Json the_case = case_of({});
  the_case["focus"] = "noisy";
  const Answer before = assess(structure, the_case);
  const Causes& causes = before.causes->front();
  const double a = .08 * (.81 + .18 / 2 + .01 / 3), b = .1 * (.828 + .164 / 2 + .008 / 3);
  CHECK(causes.nothing == Approx(.7452).epsilon(1e-12));
  CHECK(of(causes, {"a"}) == Approx(a).epsilon(1e-12));
  CHECK(of(causes, {"b"}) == Approx(b).epsilon(1e-12));
  CHECK(causes.elsewhere == Approx(b).epsilon(1e-12));
  // With a failed: .0722667 a, .0162 nothing, .0057667 each b and elsewhere.
  const double joint_b = .08 * .1 * (.9 / 2 + .1 / 3) + .02 * .1 * (.9 + .1 / 2);
  const auto h = [](const std::vector<double>& p) {
    double sum = 0;
    for (const double x : p) sum -= x > 0 ? x * std::log2(x) : 0;
    return sum;
  };
  const double bits = h({.1, .9}) + h({.7452, a, b, b}) -
                      h({.0162, a, joint_b, joint_b, .7452 - .0162, b - joint_b, b - joint_b});
  CHECK(bits == Approx(0.2943441399).margin(5e-11));
  CHECK(*before.tests.at("look/a").cause_bits == Approx(bits).epsilon(1e-10));
  // Seen, the leaks and links that do not work fall away.
  const Answer seen = assess(structure, case_of({saw("noisy", "bad")}));
  CHECK(of(seen.causes->front(), {"a"}) == Approx(a / (1 - .7452)).epsilon(1e-12));
  CHECK(seen.causes->front().nothing == Approx(0).margin(1e-15));
}

TEST_CASE("a test tells of the cause only where the modes it shows bear on it") {
  const Structure structure =
      of_modes({{.5, .3, .2}, {.5, .3, .2}},
               {symptom("sinks", {shows({"a"})}, {.8, .15, .05}), look("a"), look("b")});
  const Answer answer = assess(structure, case_of({saw("sinks", "bad")}));
  CHECK(*answer.tests.at("look/a").cause_bits > 0.1);
  CHECK(*answer.tests.at("look/b").cause_bits == Approx(0).margin(1e-15));
  CHECK(answer.tests.at("look/b").information_bits > 1);
  CHECK(*assess(structure, case_of({})).tests.at("look/a").cause_bits == 0);
}

TEST_CASE("the complaint is what focus names, else the earliest abnormal symptom, else test") {
  const std::vector<Json> sets = {shows({"a"})};
  const Structure structure =
      of_modes({{.9, .05, .05}}, {symptom("s1", sets, {1, 0, 0}), symptom("s2", sets, {1, 0, 0}),
                                  symptom("s3", sets, {1, 0, 0}), look("a")});
  const auto complaint = [&](const std::vector<Json>& entries, const std::string& focus = {}) {
    Json the_case = case_of(entries);
    if (!focus.empty()) the_case["focus"] = focus;
    std::string all;
    const Answer answer = assess(structure, the_case);
    for (const auto& causes : *answer.causes) all += (all.empty() ? "" : " ") + causes.observation;
    return all;
  };
  CHECK(complaint({saw("s1", "bad"), saw("s2", "bad")}) == "s1 s2");
  CHECK(complaint({saw("s1", "bad"), saw("s2", "bad", "2024-05-02")}) == "s2 s1");
  CHECK(complaint({saw("s1", "bad", "2024-05-03"), saw("s2", "bad", "2024-05-02"),
                   saw("s3", "bad")}) == "s2 s1 s3");
  CHECK(complaint({saw("s1", "bad"), saw("s2", "good")}, "s2") == "s2 s1");
  CHECK(complaint({saw("s1", "good"), saw("look/a", "worn")}) == "look/a");
  CHECK(complaint({saw("s1", "bad"), saw("look/a", "worn")}) == "s1");
  CHECK(complaint({saw("s1", "good"), saw("look/a", "sound")}).empty());
}

TEST_CASE("what was seen before a repair is about the part that was in") {
  const Structure structure = two_alike();
  const Json before = saw("sinks", "bad"), repair = {{"repaired", Json::array({"a"})}};
  const Answer answer = assess(structure, case_of({before, repair}));
  CHECK(answer.log_evidence == Approx(std::log(.6176)).epsilon(1e-12));
  CHECK(of(answer.causes->front(), {"a"}) == Approx(.26115 / .6176).epsilon(1e-12));
  CHECK(answer.faults.at("a.leak").grades[0] == Approx(.99).epsilon(1e-12));
  const Answer without = assess(structure, case_of({before}));
  CHECK(answer.faults.at("b.leak").grades[0] ==
        Approx(without.faults.at("b.leak").grades[0]).epsilon(1e-12));
  CHECK(answer.tests.count("sinks") == 1);  // worth looking at again
  CHECK(without.tests.count("sinks") == 0);
  // Then the part that was in says nothing of the new one, but b may show both times.
  const Answer good = assess(structure, case_of({before, repair, saw("sinks", "good")}));
  CHECK(good.faults.at("b.leak").grades[0] > answer.faults.at("b.leak").grades[0] + .2);
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
  for (std::uint64_t seed = 1; seed <= 2 * kAllSeeds; ++seed) {
    const Sample sample = seed % 2 == 0 ? generate(seed / 2) : generate(seed / 2 + 1, kJob);
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
  REQUIRE(asked > 400);
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
