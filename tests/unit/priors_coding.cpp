// Findings from free text: what decides, what is left for review, and that answers help. How many
// of real orders come out right is tests/priors/test_coding.py's to say.
#include <algorithm>
#include <catch2/catch.hpp>
#include <set>
#include <string>
#include <vector>

#include "capi/documents/coding_tasks.h"
#include "capi/documents/words_reader.h"
#include "core/error.h"
#include "priors/coding.h"

using namespace faultodds;
using namespace faultodds::priors;

namespace {

Coder& coder() {
  static const documents::Trade trade = documents::trade_of("", {});
  return *trade.coder;
}

std::string coded(const std::string& text) {
  const Proposal proposal = coder().propose(text);
  std::string result = proposal.coded.component;
  if (!proposal.coded.finding.empty()) result += "." + proposal.coded.finding;
  if (proposal.coded.grade) result += *proposal.coded.grade == 2 ? " failed" : " worn";
  return proposal.certainty >= 0.9 ? result : "?";
}

}  // namespace

TEST_CASE("a component and what was wrong with it are found", "[coding]") {
  CHECK(coded("BLOWN HYD HOSE ON L/H BOOM CYL") == "hose.external_leak failed");
  CHECK(coded("tilt cyl gland seal leaking") == "cylinder.rod_seal_leak");
  CHECK(coded("piston seal bypassing on lift ram") == "cylinder.piston_seal_leak");
  CHECK(coded("steel pipe weeping on mast") == "tube.external_leak worn");
  CHECK(coded("return filter blocked") == "return_filter.clogged");
  CHECK(coded("gear pump worn") == "fixed_pump.internal_wear worn");
  CHECK(coded("control valve spool sticking") == "valve.spool_sticks");
  CHECK(coded("pump cavitating") == "pump.starved");
  CHECK(coded("swivel leaking") == "swivel_joint.outer_seal_leak");
}

TEST_CASE("a part that was replaced is no part that was faulty", "[coding]") {
  CHECK(coded("CHANGEOUT RH TRAVEL MOTOR") == "rotary_motor.not_stated");
  CHECK(coded("repl. hyd hose") == "hose.not_stated");
}

TEST_CASE("what is stated but no mode of the type is said to be so", "[coding]") {
  CHECK(coded("travel motor leaking oil") == "rotary_motor.not_in_catalogue");
}

TEST_CASE("what carries grease, coolant, fuel or air is none of the catalogue's", "[coding]") {
  for (const char* text :
       {"REPLACE BROKEN GREASE LINE ON BUCKET CYLINDER", "radiator hose split", "fuel line leaking",
        "A/C COMPRESSOR HOSE", "water pump leaking", "REPLACE BUCKET TOOTH", "L/H LIGHT OUT",
        "boom cracked", "ENGINE WONT START", "replace tyre"}) {
    CAPTURE(text);
    CHECK(coded(text) == "none");
  }
}

TEST_CASE("oil without a component, and a symptom, are left for review", "[coding]") {
  for (const char* text : {"HYD OIL LEAK", "repair hydraulic leaks", "no slew", "replace seals"}) {
    CAPTURE(text);
    CHECK(coder().propose(text).coded.component == kUnclear);
  }
}

TEST_CASE("what is denied was found sound", "[coding]") {
  CHECK(coded("checked boom hose, no leak") == "hose.none");
  CHECK(coded("lift cylinder not leaking") == "cylinder.none");
}

TEST_CASE("the words that decided are told", "[coding]") {
  const Proposal proposal = coder().propose("BLOWN HYD HOSE ON BOOM");
  REQUIRE(proposal.because.size() >= 2);
  CHECK(proposal.because[0] == "HOSE");
  CHECK(std::find(proposal.because.begin(), proposal.because.end(), "BLOWN") !=
        proposal.because.end());
}

TEST_CASE("an answer is taken for its own text, whatever its signs, and helps its like",
          "[coding]") {
  const documents::Trade trade = documents::trade_of("", {});
  const double before = trade.coder->propose("CHANGE RH FAN MOTOR").certainty;
  CHECK(before < 0.95);
  trade.coder->learn({{"Change LH fan motor", {"rotary_motor", kNotStated, {}}},
                      {"LH fan motor changed", {"rotary_motor", kNotStated, {}}}});
  const Proposal same = trade.coder->propose("CHANGE  L/H FAN MOTOR.");
  CHECK(same.confirmed);
  CHECK(same.certainty == 1);
  const Proposal like = trade.coder->propose("FAN MOTOR CHANGEOUT");
  CHECK_FALSE(like.confirmed);
  CHECK(like.coded.component == "rotary_motor");
  trade.coder->learn({});
  CHECK(trade.coder->propose("CHANGE RH FAN MOTOR").certainty == before);
}

TEST_CASE("an answer that names no such component or finding is refused with what there is",
          "[coding]") {
  const documents::Trade trade = documents::trade_of("", {});
  CHECK_THROWS_WITH(trade.coder->learn({{"x", {"hosepipe", "leak", {}}}}),
                    Catch::Contains("hosepipe") && Catch::Contains("rotary_motor"));
  CHECK_THROWS_WITH(trade.coder->learn({{"x", {"hose", "seat_leak", {}}}}),
                    Catch::Contains("seat_leak") && Catch::Contains("external_leak"));
}

TEST_CASE("what is asked is uncertain, each once and none like another", "[coding]") {
  const std::vector<std::string> texts = {"BLOWN HYD HOSE", "oil leak at valve thing",
                                          "oil leak on valve thing", "fan pump u/s"};
  const std::vector<std::size_t> asked = coder().ask(texts, {9, 1, 1, 1}, 2);
  REQUIRE(asked.size() == 2);
  CHECK(std::find(asked.begin(), asked.end(), 0) == asked.end());
  CHECK(std::find(asked.begin(), asked.end(), 3) != asked.end());
}

TEST_CASE("every type of the catalogue can be named, and every code of its modes", "[coding]") {
  const documents::Trade trade = documents::trade_of("", {});
  std::set<std::string> named;
  for (const auto& [component, findings] : trade.coder->choices()) named.insert(component);
  for (const auto& [family, types] : trade.coder->families()) {
    named.insert(types.begin(), types.end());
  }
  for (const Vocabulary::Type& type : trade.vocabulary.types) {
    CAPTURE(type.name);
    CHECK(named.contains(type.name));
  }
}

TEST_CASE("words of a shop's own come to the shipped ones", "[coding]") {
  const std::string_view own = R"({"format": "faultodds-words/1", "language": "en", "concepts":
      {"hose": {"kind": "component", "words": ["squirter"]}}})";
  const documents::Trade trade = documents::trade_of("", {own});
  CHECK(trade.coder->propose("blown squirter").coded.component == "hose");
}

TEST_CASE("words documents say what is wrong with them and where", "[coding]") {
  CHECK_THROWS_WITH(documents::coding_words({R"({"format": "faultodds-words/1", "language": "en",
                                   "concepts": {"x": {"kind": "thing"}}})"}),
                    Catch::Contains("thing") && Catch::Contains("expected one of"));
}
