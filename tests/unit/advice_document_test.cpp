// Advice in documents: what a case may say of money, repairs and the visit, and what the answer
// then holds.
#include <catch2/catch.hpp>
#include <string>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/json.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/error.h"
#include "tests/unit/tilt_circuit.h"

using faultodds::Code;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Model;
using faultodds::documents::Json;
using faultodds::documents::parse_json;
using faultodds::documents::read_case;
using faultodds::documents::wants_advice;
using faultodds::documents::write_assessment;

namespace {

const Model& model() {
  static const Model made = [] {
    const auto circuit = faultodds::documents::read_circuit(parse_json(std::string(R"({
      "format": "faultodds-circuit/1", "id": "tilt", "title": "Tilt ram",
      "types": )") + kTiltTypes + R"(,
      "components": [{"id": "ram", "type": "ram", "part_cost": 900, "minutes": "180 min"},
                     {"id": "relief", "type": "relief", "setting": "175 bar", "part_cost": 80,
                      "lead_days": 1}],
      "connections": [{"from": "relief.in", "to": "ram.cap", "line": "hose"},
                      {"from": "relief.out", "to": "tank"}],
      "fittings": {"relief.in": {"standard": "ISO 8434-2", "size": "3/4", "rating": "250 bar"}}})"));
    return Model::compile(faultodds::circuit::analyse(circuit, {}), {});
  }();
  return made;
}

Json document(const std::string& members) {
  return parse_json(R"({"format": "faultodds-case/1", )" + members + "}");
}

Json advice(const std::string& members) {
  const Json read = document(members);
  const Case the_case = read_case(read, model());
  auto assessment = assess(model(), the_case);
  explain(model(), the_case, assessment);
  const auto advised = advise(model(), the_case);
  const Json answer =
      parse_json(write_assessment(model(), assessment, {}, advised ? &*advised : nullptr));
  return answer.contains("advice") ? answer.at("advice") : Json();
}

struct Refusal {
  Code code = Code::ok;
  std::string message, pointer;
};

Refusal refusal(const std::string& members) {
  try {
    read_case(document(members), model());
  } catch (const faultodds::Error& error) {
    return {error.code(), error.what(), error.pointer()};
  }
  return {};
}

const std::string kSinks =
    R"("observations": [{"observation": "drift/ram/retract", "outcome": "fast"}])";

}  // namespace

TEST_CASE("the answer to a complaint advises; without one it does not") {
  CHECK(advice(R"("observations": [])").is_null());
  const Json answer = advice(kSinks);
  CHECK(answer.at("stop").is_boolean());
  CHECK(answer.at("currency") == "XXX");
  CHECK(answer.at("repair").at("expected_cost").get<double>() > 0);
  CHECK(answer.at("evidence").at("faults").at(0).at("weights").at(0).at("observation") ==
        "drift/ram/retract");
  CHECK(answer.at("visit").is_null());
}

TEST_CASE("economics of the case rule over the circuit's and the defaults") {
  const Json answer = advice(kSinks + R"(, "economics": {"currency": "EUR", "come_back": 100000,
      "labour_per_hour": 60, "downtime_per_hour": 0, "components": {"relief": {"part_cost": 5,
      "minutes": "30 min", "lead_days": 0}}})");
  CHECK(answer.at("currency") == "EUR");
  // At such a come-back cost everything is replaced: 5 + 30 min, 900 + 180 min at 60 an hour.
  CHECK(answer.at("repair").at("components").size() == 2);
  CHECK(answer.at("repair").at("cost").get<double>() == Approx(5 + 30 + 900 + 180));
}

TEST_CASE("a verifying test is written with its cautions") {
  const Json answer = advice(kSinks + R"(, "economics": {"come_back": 100000})");
  REQUIRE(answer.at("verify").size() >= 1);
  bool complaint = false;
  for (const Json& test : answer.at("verify")) {
    CHECK(!test.at("cautions").empty());
    complaint = complaint || test.at("is_complaint").get<bool>();
  }
  CHECK(complaint);
}

TEST_CASE("a visit of given length is planned with what to bring") {
  const Json answer = advice(kSinks + R"(, "advice": {"visit": "40 min"})");
  CHECK(answer.at("visit").at("available") == 40);
  CHECK(answer.at("visit").at("minutes").get<double>() <= 40);
  CHECK(answer.at("visit").at("tests").size() >= 1);
  CHECK(answer.at("bring").at("items").size() >= 1);
  CHECK(answer.at("bring").at("items").at(0).at("ports").size() >= 1);
}

TEST_CASE("a repair among the observations renews the part and says how it was in hindsight") {
  const std::string before =
      R"("observations": [{"observation": "drift/ram/retract", "outcome": "fast"},
                          {"observation": "static/relief.in", "outcome": "would_not_build"},
                          {"repaired": ["relief"], "at": "10:40"})";
  const Json done =
      advice(before + R"(, {"observation": "drift/ram/retract", "outcome": "none"}])");
  CHECK(done.at("replaced").at(0).at("component") == "relief");
  CHECK(done.at("replaced").at(0).at("faulty").get<double>() > 0.9);
  CHECK(done.at("repair").at("components").empty());
  // The drift that is gone speaks against the ram, too.
  const Json still = advice(before + "]");
  CHECK(done.at("repair").at("residual_risk").get<double>() <
        still.at("repair").at("residual_risk").get<double>());
  // The hold was seen with the old part in: it says nothing of the new one.
  const Case the_case = read_case(document(before + "]"), model());
  const auto assessment = assess(model(), the_case);
  for (const auto& fault : assessment.faults) {
    CHECK(fault.mode < model().analysis().modes.size());
    if (model().analysis().modes[fault.mode].component == "relief") {
      CHECK(fault.grades[0] == Approx(0.99));
    }
  }
  CHECK(assessment.complaint.size() == 1);
}

TEST_CASE("a case can do without advice") {
  CHECK(wants_advice(document(kSinks)));
  CHECK(wants_advice(document(kSinks + R"(, "advice": {"steps": 1})")));
  CHECK_FALSE(wants_advice(document(kSinks + R"(, "advice": false)")));
  CHECK_FALSE(read_case(document(kSinks + R"(, "advice": {"steps": 1})"), model()).look_further);
}

TEST_CASE("economics that make no sense are refused at their place") {
  Refusal bad = refusal(R"("economics": {"currency": "euro"})");
  CHECK(bad.pointer == "/economics/currency");
  CHECK(bad.message.find("ISO 4217") != std::string::npos);
  bad = refusal(R"("economics": {"come_back": -1})");
  CHECK(bad.pointer == "/economics/come_back");
  bad = refusal(R"("economics": {"second_fault_target": 5})");
  CHECK(bad.pointer == "/economics/second_fault_target");
  bad = refusal(R"("economics": {"components": {"releif": {"part_cost": 1}}})");
  CHECK(bad.code == Code::invalid_case);
  CHECK(bad.pointer == "/economics/components/releif");
  CHECK(bad.message.find("relief") != std::string::npos);
  bad = refusal(R"("economics": {"price": 1})");
  CHECK(bad.message.find("price") != std::string::npos);
  bad = refusal(R"("advice": {"steps": 1.5})");
  CHECK(bad.pointer == "/advice/steps");
  bad = refusal(R"("advice": "no")");
  CHECK(bad.pointer == "/advice");
  bad = refusal(R"("observations": [{"repaired": ["relief", "releif"]}])");
  CHECK(bad.pointer == "/observations/0/repaired/1");
}
