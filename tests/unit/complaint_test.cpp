// What follows from single turns of phrase; the shares of whole complaints are tests/wording's.
#include "core/wording/complaint.h"

#include <catch2/catch.hpp>

namespace faultodds::wording {
namespace {

ComplaintWords words() {
  ComplaintWords words;
  words.concepts = {{"arm", "part", {"arm", "boom"}},
                    {"pump", "part", {"pump"}},
                    {"drift", "event", {"by itself", "creeps"}},
                    {"sinks", "event", {"sinks"}},
                    {"slow", "event", {"slow"}},
                    {"stalled", "event", {"stalls", "stalled"}},
                    {"fast", "event", {"fast"}},
                    {"noise", "event", {"whines", "noise"}},
                    {"no_pressure", "event", {"no pressure"}},
                    {"dip", "event", {"before it lifts"}},
                    {"leak", "event", {"leaks"}},
                    {"cylinder", "part", {"cylinder"}},
                    {"left", "direction", {"left"}},
                    {"right", "direction", {"right"}},
                    {"up", "direction", {"up", "lift", "lifting"}},
                    {"down", "direction", {"down", "lowering"}},
                    {"holds", "hold", {"stay"}},
                    {"foreign", "foreign", {"window"}}};
  words.means["sinks"] = {"drift", "down"};
  words.language.denials = {"wont", "no", "not"};
  words.language.ignored = {"the", "is", "a"};
  return words;
}

Symptom symptom(const char* id, SymptomKind kind, const char* part, const char* direction,
                std::vector<std::string> outcomes) {
  return {id, kind, {part}, {direction}, "", std::move(outcomes)};
}

// "observation=outcome" of each proposal.
std::string proposed(const std::string& text) {
  static const Complaints complaints(
      words(), words(),
      {symptom("sinking", SymptomKind::drift, "arm cylinder", "lowering the arm",
               {"none", "slow", "fast"}),
       symptom("rising", SymptomKind::drift, "arm cylinder", "lifting the arm",
               {"none", "slow", "fast"}),
       symptom("lift", SymptomKind::delivery, "arm cylinder", "lifting the arm",
               {"normal", "slow", "stalled"}),
       symptom("pump_whines", SymptomKind::written, "pump whines", "pump whines",
               {"quiet", "whines"}),
       symptom("flap", SymptomKind::drift, "hopper flap", "flap sinks", {"none", "slow", "fast"})});
  std::string all;
  for (const SymptomProposal& one : complaints.propose(text)) {
    all += (all.empty() ? "" : " ") + one.observation + "=" + one.outcome;
  }
  return all;
}

}  // namespace

TEST_CASE("what sinks drifts down, by its outcome as fast as it is said", "[wording]") {
  CHECK(proposed("the arm sinks") == "sinking=slow");
  CHECK(proposed("arm sinks fast") == "sinking=fast");
  CHECK(proposed("arm creeps up by itself") == "rising=slow");
}

TEST_CASE("what does not stay drifts the other way", "[wording]") {
  CHECK(proposed("arm wont stay up") == "sinking=slow");
  CHECK(proposed("arm wont stay down") == "rising=slow");
}

TEST_CASE("a movement that is denied stalls", "[wording]") {
  CHECK(proposed("boom wont lift") == "lift=stalled");
  CHECK(proposed("arm is slow lifting").substr(0, 9) == "lift=slow");
}

TEST_CASE("what is denied and what is of no part of the circuit proposes nothing", "[wording]") {
  CHECK(proposed("the pump whines") == "pump_whines=whines");
  CHECK(proposed("no noise at the pump").empty());
  CHECK(proposed("window wont lift").empty());
  CHECK(proposed("trombone is slow lifting").empty());
  CHECK(proposed("the arm is a arm").empty());
  CHECK(proposed("").empty());
}

TEST_CASE("what is said of the machine needs no part, what is said of another part is not it",
          "[wording]") {
  const Complaints complaints(
      words(), words(),
      {symptom("none", SymptomKind::no_pressure, "pump", "no pressure", {"normal", "low", "none"}),
       symptom("lift", SymptomKind::delivery, "arm", "lifting", {"normal", "slow", "stalled"})});
  const auto all = complaints.propose("no pressure");
  REQUIRE(all.size() == 1);
  CHECK(all[0].observation == "none");
  CHECK(all[0].outcome == "none");
  for (const SymptomProposal& one : complaints.propose("no pressure lifting the arm")) {
    CHECK(one.observation == "lift");
  }
  CHECK(complaints.propose("no pressure at the trombone").empty());
}

TEST_CASE("what sinks before it lifts dips, and does not drift", "[wording]") {
  const Complaints complaints(
      words(), words(),
      {symptom("sinking", SymptomKind::drift, "arm", "lowering", {"none", "slow", "fast"}),
       symptom("dip", SymptomKind::dip, "arm", "lifting", {"none", "dips", "drops"})});
  const auto found = complaints.propose("arm sinks before it lifts");
  REQUIRE(found.size() == 1);
  CHECK(found[0].observation == "dip");
  CHECK(complaints.propose("arm sinks").front().observation == "sinking");
}

TEST_CASE("of two of a kind the side that is said is meant", "[wording]") {
  const Complaints complaints(
      words(), words(),
      {symptom("look_left", SymptomKind::look, "left cylinder", "", {"dry", "film", "drips"}),
       symptom("look_right", SymptomKind::look, "right cylinder", "", {"dry", "film", "drips"})});
  const auto found = complaints.propose("right cylinder leaks");
  REQUIRE(found.size() == 1);
  CHECK(found[0].observation == "look_right");
}

TEST_CASE("a part that no list of words has is known by the circuit's title", "[wording]") {
  CHECK(proposed("flap sinks") == "flap=slow");
  CHECK(proposed("hopper creeps down") == "flap=slow");
}

}  // namespace faultodds::wording
