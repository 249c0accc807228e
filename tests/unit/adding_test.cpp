// What DEVELOPERS.md says of adding a component type and a language, done once: each is its
// documents and nothing else; and of adding a kind of observation, for each that there is: all but
// where it is made and what it shows of sizes follows from its row of the table.
#include <algorithm>
#include <catch2/catch.hpp>
#include <string>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/json_schema.h"
#include "capi/documents/pack_reader.h"
#include "capi/documents/words_reader.h"
#include "core/circuit/analysis.h"
#include "core/circuit/kinds.h"
#include "core/diagnosis/model.h"

using namespace faultodds;
using documents::parse_json;

namespace {

// `text` with `addition` behind the first `mark`.
std::string with(std::string_view text, const std::string& mark, const std::string& addition) {
  std::string all(text);
  const std::size_t at = all.find(mark);
  REQUIRE(at != std::string::npos);
  return all.insert(at + mark.size(), addition);
}

}  // namespace

TEST_CASE("a component type is added by an entry in the catalogue and one in the shipped pack") {
  const auto catalogue = documents::read_catalogue(
      parse_json(with(documents::kCatalogue, "\"types\": {",
                      R"("bleed_screw": {"title": "bleed screw", "ports": ["in"],
        "elements": {"seat": {"kind": "seal", "from": "in", "to": "outside"}},
        "failure_modes": {"seat_leak": {"code": "ELU", "leaks": "seat", "prior": [0.95, 0.03, 0.02]}}},)")));
  const auto pack = documents::read_pack(parse_json(
      with(documents::kShippedPack, "\"modes\": [",
           R"({"type": "bleed_screw", "mode": "seat_leak", "grades": [0.95, 0.03, 0.02]},)")));
  const auto circuit = documents::read_circuit(
      parse_json(R"({"format": "faultodds-circuit/1", "id": "c", "components": [
        {"id": "pump", "type": "fixed_pump"}, {"id": "relief", "type": "main_relief"},
        {"id": "screw", "type": "bleed_screw"}],
      "connections": [{"from": "tank", "to": "pump.in"}, {"from": "pump.out", "to": "relief.in"},
        {"from": "relief.out", "to": "tank"}, {"from": "pump.out", "to": "screw.in"}]})"),
      catalogue);
  const circuit::Analysis analysis = circuit::analyse(circuit, catalogue);
  std::size_t screw = analysis.modes.size();
  for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
    if (analysis.modes[m].id == "screw.seat_leak") screw = m;
  }
  REQUIRE(screw < analysis.modes.size());
  std::string seen_by;
  for (const auto& observation : analysis.observations) {
    for (const auto& set : observation.sets) {
      for (const auto mode : set.modes) seen_by += mode == screw ? observation.id + " " : "";
    }
  }
  CHECK_THAT(seen_by, Catch::Contains("look/pump"));
  CHECK_NOTHROW(diagnosis::Model::compile(analysis, pack, ""));
}

TEST_CASE("a language is added by a document of its words") {
  const auto dutch = documents::read_complaint_words(R"({"format": "faultodds-words/1",
      "language": "nl", "source": "made up", "ignored": ["de"], "denials": ["niet"],
      "concepts": {
        "arm": {"kind": "part", "words": ["arm"]},
        "drift": {"kind": "event", "words": ["vanzelf"]},
        "sinks": {"kind": "event", "means": ["drift", "down"], "words": ["zakt"]},
        "down": {"kind": "direction", "words": ["omlaag"]}}})");
  const wording::Complaints complaints(documents::complaint_words("en"), dutch,
                                       {{"sinking",
                                         wording::SymptomKind::drift,
                                         {"arm cylinder"},
                                         {"lowering the arm"},
                                         "",
                                         {"none", "slow", "fast"}},
                                        {"weak",
                                         wording::SymptomKind::delivery,
                                         {"arm cylinder"},
                                         {"lifting the arm"},
                                         "",
                                         {"normal", "slow", "stalled"}}});
  const auto proposals = complaints.propose("de arm zakt vanzelf");
  REQUIRE_FALSE(proposals.empty());
  CHECK(proposals.front().observation == "sinking");
  CHECK(proposals.front().outcome == "slow");
}

TEST_CASE(
    "a kind of observation is read, described in the schema and timed by its row of the table") {
  const auto catalogue = documents::read_catalogue(parse_json(std::string(documents::kCatalogue)));
  const std::string schema = documents::json_schema("faultodds-circuit/1");
  for (const circuit::KindDefaults& kind : circuit::kObservationKinds) {
    INFO(kind.name);
    CHECK(circuit::defaults_of(kind.kind).name == kind.name);
    CHECK_THAT(schema, Catch::Contains("\"" + std::string(kind.name) + "\""));
    const bool has_outcomes = kind.outcomes[0] != nullptr;
    for (const auto& row : kind.matrix) {
      CHECK(row[0] + row[1] + row[2] == Approx(has_outcomes ? 1 : 0));
    }
    const std::string own =
        has_outcomes ? "" : R"("outcomes": ["no", "yes"], "matrix": [[1, 0], [0.1, 0.9], [0, 1]],)";
    const auto circuit = documents::read_circuit(
        parse_json(R"({"format": "faultodds-circuit/1", "id": "c", "components": [
          {"id": "pump", "type": "fixed_pump"}, {"id": "relief", "type": "main_relief"}],
        "connections": [{"from": "tank", "to": "pump.in"}, {"from": "pump.out", "to": "relief.in"},
          {"from": "relief.out", "to": "tank"}],
        "observations": [{"id": "written", "title": "as written", "kind": ")" +
                   std::string(kind.name) + "\", " + own +
                   R"("shows": [{"modes": ["relief.seat_leak"]}]}]})"),
        catalogue);
    const circuit::Analysis analysis = circuit::analyse(circuit, catalogue);
    const auto written =
        std::find_if(analysis.observations.begin(), analysis.observations.end(),
                     [](const circuit::Observation& one) { return one.id == "written"; });
    REQUIRE(written != analysis.observations.end());
    CHECK(written->kind == kind.kind);
    CHECK(written->symptom == kind.complaint);
    CHECK(circuit::Times({}).to_perform(kind.kind) == kind.minutes);
    if (has_outcomes) {
      CHECK(written->outcomes ==
            std::vector<std::string>(kind.outcomes.begin(), kind.outcomes.end()));
    }
    if (kind.cautions != nullptr) {
      for (const std::string& caution : kind.cautions()) {
        CHECK_THAT(written->cautions, Catch::VectorContains(caution));
      }
    }
  }
}
