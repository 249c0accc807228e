// Tests that cannot be made, as documents say so; and the plan as a document and as a card.
#include <algorithm>
#include <catch2/catch.hpp>
#include <functional>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_note.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/closing.h"
#include "capi/documents/json.h"
#include "capi/documents/plan_card.h"
#include "capi/documents/plan_writer.h"
#include "core/circuit/analysis.h"
#include "core/circuit/cautions.h"
#include "core/diagnosis/plan.h"
#include "core/error.h"
#include "tests/unit/tilt_circuit.h"

namespace documents_plan_test {

using Catch::Contains;
using faultodds::Error;
using faultodds::diagnosis::assess;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::make_plan;
using faultodds::diagnosis::Model;
using faultodds::documents::Asset;
using faultodds::documents::Json;
using faultodds::documents::parse_json;
using faultodds::documents::read_case;

namespace {

const Model& model() {
  static const Model made = Model::compile(
      faultodds::circuit::analyse(faultodds::documents::read_circuit(parse_json(std::string(R"({
    "format": "faultodds-circuit/1", "id": "tilt", "title": "Tilt <ram>", "effects": "grades",
    "types": )") + kTiltTypes + R"(,
    "components": [{"id": "ram", "type": "ram", "title": "Tilt <ram>"},
                   {"id": "relief", "type": "relief", "title": "Relief", "setting": "175 bar"}],
    "connections": [{"from": "relief.in", "to": "ram.cap", "line": "hose"},
                    {"from": "relief.out", "to": "tank"}],
    "fittings": {"ram.rod": {"plug": true}}})")),
                                  {}),
      {});
  return made;
}

Json case_document(const std::string& members) {
  return parse_json(R"({"format": "faultodds-case/1", "economics": {"come_back": 2000},
    "observations": [{"observation": "drift/ram/retract", "outcome": "fast"}])" +
                    members + "}");
}

Json plan_of(const Json& document) {
  const auto plan = make_plan(model(), read_case(document, model()));
  return parse_json(faultodds::documents::write_plan(model(), plan ? &*plan : nullptr, Asset{}));
}

std::string card_of(const Json& document) {
  const auto plan = make_plan(model(), read_case(document, model()));
  return faultodds::documents::write_plan_card(model(), document, plan ? &*plan : nullptr);
}

// Of each object of the tree.
void each_node(const Json& node, const std::function<void(const Json&)>& see) {
  see(node);
  if (!node.contains("branches")) return;
  for (const Json& branch : node.at("branches")) {
    if (!branch.at("then").is_null()) each_node(branch.at("then"), see);
  }
}

Error refusal(const std::string& members) {
  try {
    read_case(case_document(members), model());
  } catch (const Error& error) {
    return error;
  }
  FAIL("not refused");
  throw std::logic_error("unreachable");
}

}  // namespace

TEST_CASE("a test that cannot be made is not ranked; the answer, note and record say why") {
  const Json document = case_document(
      R"(, "not_possible": [{"observation": "static/ram.cap", "reason": "hose <painted> over"}])");
  const Case the_case = read_case(document, model());
  auto assessment = assess(model(), the_case);
  const Json answer =
      parse_json(faultodds::documents::write_assessment(model(), assessment, Asset{}));
  for (const Json& test : answer.at("tests")) CHECK(test.at("observation") != "static/ram.cap");
  REQUIRE(answer.at("not_possible").size() == 1);
  CHECK(answer.at("not_possible")[0].at("observation") == "static/ram.cap");
  CHECK(answer.at("not_possible")[0].at("reason") == "hose <painted> over");
  faultodds::diagnosis::explain(model(), the_case, assessment);
  const std::string note = faultodds::documents::write_note(model(), document, assessment, nullptr,
                                                            faultodds::documents::NoteFormat::html);
  CHECK_THAT(note, Contains("Tests that cannot be made") && Contains("hose &lt;painted&gt; over"));
  const Json closing = parse_json(R"({"format": "faultodds-closing/1", "work_order": "7",
    "closed": "2026-03-31"})");
  const Json record = parse_json(faultodds::documents::write_record(
      faultodds::documents::read_closing(closing, document, model()), model()));
  CHECK(record.at("not_possible")[0].at("reason") == "hose <painted> over");
}

TEST_CASE("an answer on a case in which every test can be made has no such list") {
  const Json document = case_document("");
  const Json answer = parse_json(faultodds::documents::write_assessment(
      model(), assess(model(), read_case(document, model())), Asset{}));
  CHECK_FALSE(answer.contains("not_possible"));
}

TEST_CASE("an entry of the observations says so, too, and its last reason counts") {
  const Json document = parse_json(R"({"format": "faultodds-case/1", "observations": [
    {"not_possible": "static/ram.cap", "reason": "no room", "at": "7:40"},
    {"observation": "drift/ram/retract", "outcome": "fast"},
    {"not_possible": "static/ram.cap", "reason": "no adapter", "note": "asked twice"}]})");
  const Case the_case = read_case(document, model());
  REQUIRE(the_case.not_possible.size() == 1);
  CHECK(the_case.not_possible[0].reason == "no adapter");
  CHECK(the_case.evidence.size() == 1);
}

TEST_CASE("what is wrong with a test that cannot be made is said of its field") {
  SECTION("an unknown observation") {
    const Error error =
        refusal(R"(, "not_possible": [{"observation": "static/ram.cup", "reason": "no room"}])");
    CHECK(error.pointer() == "/not_possible/0/observation");
    CHECK_THAT(error.what(), Contains("`static/ram.cup`") && Contains("static/ram.cap"));
  }
  SECTION("no reason") {
    const Error error = refusal(R"(, "not_possible": [{"observation": "static/ram.cap"}])");
    CHECK_THAT(error.what(), Contains("reason"));
  }
  SECTION("an empty reason") {
    const Error error =
        refusal(R"(, "not_possible": [{"observation": "static/ram.cap", "reason": ""}])");
    CHECK(error.pointer() == "/not_possible/0/reason");
    CHECK_THAT(error.what(), Contains("why the test cannot be made"));
  }
  SECTION("said twice") {
    const Error error = refusal(R"(, "not_possible": [
      {"observation": "static/ram.cap", "reason": "a"},
      {"observation": "static/ram.cap", "reason": "b"}])");
    CHECK(error.pointer() == "/not_possible/1/observation");
    CHECK_THAT(error.what(), Contains("twice"));
  }
  SECTION("no list") {
    const Error error = refusal(R"(, "not_possible": "static/ram.cap")");
    CHECK(error.pointer() == "/not_possible");
  }
}

TEST_CASE("a plan's node has its cautions before its test, and what the test needs") {
  const Json plan = plan_of(case_document(""));
  CHECK(plan.at("format") == "faultodds-plan/1");
  CHECK(plan.at("complaint") == "drift/ram/retract");
  CHECK(plan.at("cautions").size() == faultodds::circuit::general_cautions().size());
  std::size_t tests = 0, ends = 0;
  each_node(plan.at("tree"), [&](const Json& node) {
    if (node.contains("test")) {
      ++tests;
      CHECK_FALSE(node.at("cautions").empty());
      CHECK(node.at("minutes").get<double>() > 0);
      CHECK(node.contains("bring"));
      CHECK(node.contains("energised"));
      double sum = 0;
      for (const Json& branch : node.at("branches")) sum += branch.at("probability").get<double>();
      CHECK(sum == Approx(1));
    } else {
      ++ends;
      CHECK(node.at("replace").contains("residual_risk"));
      CHECK(node.at("replace").contains("expected_cost"));
      for (const Json& one : node.at("verify")) CHECK_FALSE(one.at("cautions").empty());
    }
  });
  CHECK(tests > 0);
  CHECK(ends > 1);
}

TEST_CASE("a plan without the test it began with is made again, and says what is left out") {
  const Json before = plan_of(case_document(""));
  const std::string first = before.at("tree").at("test").get<std::string>();
  const Json after = plan_of(case_document(R"(, "not_possible": [{"observation": ")" + first +
                                           R"(", "reason": "no room"}])"));
  each_node(after.at("tree"), [&](const Json& node) {
    if (node.contains("test")) CHECK(node.at("test") != first);
    if (!node.contains("verify")) return;
    for (const Json& one : node.at("verify")) CHECK(one.at("observation") != first);
  });
  CHECK(after.at("not_possible")[0].at("observation") == first);
}

TEST_CASE("without a complaint a plan has no tree, and its card says so") {
  const Json document = parse_json(R"({"format": "faultodds-case/1", "observations": []})");
  CHECK(plan_of(document).at("tree").is_null());
  CHECK_THAT(card_of(document), Contains("no complaint") && !Contains("<svg"));
}

TEST_CASE("a card says which readings are doubtful") {
  Json document = case_document("");
  CHECK_THAT(card_of(document), !Contains("Warnings"));
  document["observations"].push_back({{"observation", "static/ram.cap"},
                                      {"reading",
                                       {{"leak_rate", "40 mL/min"},
                                        {"temperature_start", "40 degC"},
                                        {"temperature_end", "37 degC"}}}});
  REQUIRE(plan_of(document).at("warnings").size() == 1);
  CHECK_THAT(card_of(document),
             Contains("Warnings: ") && Contains("The oil temperatures were not used"));
}

TEST_CASE("a card has the cautions of every test on it before everything else") {
  const std::string card = card_of(case_document(R"(, "id": "WO <7>")"));
  const std::size_t body = card.find("<body>"), first = card.find("<h1>");
  REQUIRE(first != std::string::npos);
  CHECK(card.find("<div class=\"cautions\">") == body + 7);
  const std::string head = card.substr(0, first), rest = card.substr(first);
  const Json plan = plan_of(case_document(""));
  std::set<std::string> cautions;
  each_node(plan.at("tree"), [&](const Json& node) {
    if (!node.contains("test")) return;
    for (const Json& caution : node.at("cautions")) cautions.insert(caution.get<std::string>());
  });
  REQUIRE_FALSE(cautions.empty());
  for (const std::string& caution : cautions) {
    std::string escaped;
    for (const char c : caution) escaped += c == '\'' ? std::string("&#39;") : std::string(1, c);
    CHECK_THAT(head, Contains(escaped));
  }
  CHECK(rest.find("T1") != std::string::npos);
  CHECK_THAT(rest, Contains("<svg") && Contains("Replace") && Contains("class=\"line\""));
  CHECK_THAT(card, Contains("WO &lt;7&gt;") && !Contains("WO <7>") && !Contains("Tilt <ram>"));
}

}  // namespace documents_plan_test
