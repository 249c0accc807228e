// What a work order leaves behind: the record that learning reads back, and the note that people
// read.
#include <algorithm>
#include <catch2/catch.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "capi/documents/case_note.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/closing.h"
#include "capi/documents/json.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/error.h"
#include "priors/csv.h"
#include "priors/learning.h"
#include "priors/records.h"
#include "priors/work_order_rows.h"
#include "tests/unit/tilt_circuit.h"

namespace documents_closing_test {

using Catch::Contains;
using faultodds::Code;
using faultodds::circuit::Analysis;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Model;
using faultodds::documents::Closing;
using faultodds::documents::Json;
using faultodds::documents::NoteFormat;
using faultodds::documents::parse_json;
using faultodds::documents::read_closing;
using faultodds::documents::write_record;
namespace priors = faultodds::priors;

namespace {

const Json& circuit_document() {
  static const Json document = parse_json(std::string(R"({
    "format": "faultodds-circuit/1", "id": "tilt", "title": "Tilt <ram> & \"relief\"", "effects": "grades",
      "types": )") + kTiltTypes + R"(,
    "components": [{"id": "ram", "type": "ram", "title": "Tilt ram"},
                   {"id": "relief", "type": "relief", "title": "Relief", "setting": "175 bar"}],
    "connections": [{"from": "relief.in", "to": "ram.cap", "line": "hose"},
                    {"from": "relief.out", "to": "tank"}],
    "fittings": {"ram.rod": {"plug": true}}})");
  return document;
}

const Model& model() {
  static const Model made = Model::compile(
      faultodds::circuit::analyse(faultodds::documents::read_circuit(circuit_document()), {}), {});
  return made;
}

Json case_document(const std::string& members) {
  return parse_json(R"({"format": "faultodds-case/1", )" + members + "}");
}

const Json& worked() {
  static const Json document = case_document(R"("id": "WO 7",
    "asset": {"id": "truck 12", "class": "mobile", "component_hours": {"relief": 5200}},
    "observations": [
      {"observation": "drift/ram/retract", "outcome": "fast"},
      {"observation": "static/relief.in", "reading": {"leak_rate": "400 mL/min"}},
      {"observation": "static/ram.cap", "reading": {"below": "1 mL/min"}},
      {"repaired": ["relief"]},
      {"observation": "drift/ram/retract", "outcome": "none"}])");
  return document;
}

Json closing_document(const std::string& members) {
  return parse_json(R"({"format": "faultodds-closing/1", "work_order": "WO 7",
                        "opened": "2026-03-30", "closed": "2026-03-31", )" +
                    members + "}");
}

const Json& closed() {
  static const Json document = closing_document(
      R"("found": [{"component": "relief", "mode": "seat_leak", "grade": "failed"}],
    "sound": ["ram"], "minutes": 95, "note": "seat scored",
    "parts": [{"component": "relief", "part": "cartridge", "quantity": 1, "cost": 90}])");
  return document;
}

struct Refusal {
  Code code = Code::ok;
  std::string message, pointer;
};

Refusal refusal(const Json& closing, const Json& the_case = worked()) {
  try {
    read_closing(closing, the_case, model());
  } catch (const faultodds::Error& error) {
    return {error.code(), error.what(), error.pointer()};
  }
  return {};
}

std::string note(const Json& the_case, NoteFormat format, bool with_advice = true) {
  const Case read = faultodds::documents::read_case(the_case, model());
  auto assessment = assess(model(), read);
  explain(model(), read, assessment);
  const auto advice = with_advice ? advise(model(), read) : std::nullopt;
  return write_note(model(), the_case, assessment, advice ? &*advice : nullptr, format);
}

}  // namespace

// ---- the record ---------------------------------------------------------------------------------

TEST_CASE("the rows of a closed work order read back as the job that they were written from") {
  const Closing closing = read_closing(closed(), worked(), model());
  const Analysis& analysis = model().analysis();
  const std::string file =
      priors::work_order_header() +
      priors::work_order_rows(closing.job, analysis, closing.asset_class, closing.asset);
  const auto types = faultodds::documents::read_circuit(circuit_document()).types;
  const priors::Vocabulary vocabulary = priors::vocabulary_of(types);
  priors::ReadSinks sinks;
  sinks.reject = [](const priors::Reject& reject) { FAIL_CHECK(reject.detail); };
  std::vector<priors::Job> rows;
  std::string asset, asset_class;
  priors::read_work_orders(priors::text_source(file), {}, vocabulary, sinks,
                           [&](const priors::WorkOrder& order) {
                             rows.push_back(job_of(order, vocabulary, analysis, 0));
                             asset = order.asset;
                             asset_class = order.asset_class;
                           });
  REQUIRE(rows.size() == 2);
  priors::Job back = rows[0];
  priors::add_row(back, rows[1]);
  CHECK(asset == "truck 12");
  CHECK(asset_class == "mobile");
  CHECK(back.id == "WO 7");
  CHECK(back.opened == closing.job.opened);
  CHECK(back.closed == closing.job.closed);
  CHECK(back.minutes == 95);
  CHECK(back.component_hours == std::map<std::string, double>{{"relief", 5200}});
  CHECK(back.findings == closing.job.findings);
  CHECK(back.sound == closing.job.sound);
  CHECK(back.complaint == closing.job.complaint);
  REQUIRE(back.evidence.size() == 3);  // what was seen before the repair
  for (std::size_t i = 0; i < 3; ++i) {
    CHECK(back.evidence[i].observation == closing.job.evidence[i].observation);
    CHECK(back.evidence[i].outcome == closing.job.evidence[i].outcome);
  }
  CHECK(back.evidence[1].reading->leak_rate.value() == Approx(400e-6 / 60));
  CHECK(back.evidence[2].outcome == 0);  // nothing seen: held
}

// The evidence that a job of one row, `row` of a file of our own columns, has.
priors::Job job_in(const std::string& file) {
  const priors::Vocabulary vocabulary =
      priors::vocabulary_of(faultodds::documents::read_circuit(circuit_document()).types);
  priors::ReadSinks sinks;
  sinks.reject = [](const priors::Reject& reject) { FAIL_CHECK(reject.detail); };
  priors::Job job;
  priors::read_work_orders(priors::text_source(file), {}, vocabulary, sinks,
                           [&](const priors::WorkOrder& order) {
                             job = job_of(order, vocabulary, model().analysis(), 0);
                           });
  return job;
}

priors::Job job_tested(const std::string& complaint, const std::string& tests) {
  return job_in(
      "work_order,closed,component,position,finding,complaint,tests\r\n"
      "7,2026-03-31,relief,relief,seat_leak," +
      complaint + "," + tests + "\r\n");
}

TEST_CASE("what a closed case was looked at for again is in its rows and its record again") {
  const Json seen = case_document(R"("observations": [
      {"observation": "drift/ram/retract", "outcome": "fast"},
      {"observation": "static/relief.in", "outcome": "held"},
      {"observation": "static/relief.in", "outcome": "held", "again": true},
      {"observation": "static/relief.in", "outcome": "held", "at": "later"},
      {"observation": "static/relief.in", "outcome": "held"},
      {"observation": "static/relief.in", "reading": {"leak_rate": "400 mL/min"}},
      {"observation": "static/relief.in", "reading": {"leak_rate": "400 mL/min"}, "again": true}])");
  const Closing closing = read_closing(closed(), seen, model());
  REQUIRE(closing.job.evidence.size() == 6);  // what was said twice without `again` counts once
  const Json record = parse_json(write_record(closing, model()));
  std::vector<bool> again;
  for (const Json& test : record.at("tests")) again.push_back(test.contains("again"));
  CHECK(again == std::vector<bool>{false, true, true, false, true});
  const priors::Job back = job_in(priors::work_order_header() +
                                  priors::work_order_rows(closing.job, model().analysis(), ""));
  REQUIRE(back.evidence.size() == 6);
  CHECK(back.said_before == 0);
  for (std::size_t i = 0; i < 6; ++i) {
    CHECK(back.evidence[i].outcome == closing.job.evidence[i].outcome);
    CHECK(back.evidence[i].reading.has_value() == closing.job.evidence[i].reading.has_value());
  }
  // And what is read is written as it was.
  CHECK(
      priors::work_order_rows(back, model().analysis(), "")
          .find("static/relief.in=held; static/relief.in=held again; static/relief.in=held again; "
                "static/relief.in=400 mL/min; static/relief.in=400 mL/min again") !=
      std::string::npos);
}

TEST_CASE("what a row of records says twice counts once, unless it says again") {
  const auto evidence = [](const priors::Job& job) { return job.evidence.size(); };
  const priors::Job twice = job_tested("drift/ram/retract=fast",
                                       "static/relief.in=held; drift/ram/retract=fast; "
                                       "static/relief.in=held;static/relief.in = held");
  CHECK(evidence(twice) == 2);
  CHECK(twice.said_before == 3);
  const priors::Job again =
      job_tested("drift/ram/retract=fast", "static/relief.in=held; static/relief.in=held again");
  CHECK(evidence(again) == 3);
  CHECK(again.evidence[2].again);
  CHECK(again.said_before == 0);
  CHECK(evidence(job_tested("", "static/relief.in=40 mL/min; static/relief.in=40 mL/min again")) ==
        2);
  CHECK(evidence(job_tested("", "static/relief.in=40 mL/min; static/relief.in=40 mL/min")) == 1);
  // What says otherwise is no repetition.
  CHECK(evidence(job_tested("", "static/relief.in=held; static/relief.in=bled_down")) == 2);
}

TEST_CASE("learning from closed work orders raises what was found and lowers what was sound") {
  const Closing closing = read_closing(closed(), worked(), model());
  const std::vector<priors::Job> jobs(20, closing.job);
  std::map<priors::ModeName, priors::Dirichlet> judgement;
  for (const auto& mode : model().analysis().modes) {
    judgement.try_emplace(
        {mode.type, mode.name},
        priors::Dirichlet{{20 * mode.prior[0], 20 * mode.prior[1], 20 * mode.prior[2]}});
  }
  const auto learned = priors::learn({model().analysis()}, jobs, judgement, {});
  CHECK(learned.modes.at({"relief", "seat_leak"}).not_sound > 0.07);
  CHECK(learned.modes.at({"ram", "piston_leak"}).not_sound < 0.1);
}

TEST_CASE("a record says what was complained of, tested, found and used") {
  const Json record = parse_json(write_record(read_closing(closed(), worked(), model()), model()));
  CHECK(record.at("format") == "faultodds-record/1");
  CHECK(record.at("complaint").at("observation") == "drift/ram/retract");
  CHECK(record.at("complaint").at("outcome") == "fast");
  REQUIRE(record.at("tests").size() == 2);
  CHECK(record.at("tests")[0].at("leak_rate") == "400 mL/min");
  CHECK(record.at("found")[0].at("code") == "INL");
  CHECK(record.at("found")[0].at("grade") == "failed");
  CHECK(record.at("sound") == Json({"ram.piston_leak", "ram.gland_leak"}));
  CHECK(record.at("parts")[0].at("cost") == 90);
  CHECK(record.at("minutes") == 95);
}

TEST_CASE("a record of an order without a complaint says null") {
  const Closing closing = read_closing(closed(), case_document(R"("observations": [
        {"observation": "static/relief.in", "outcome": "held"}])"),
                                       model());
  const Json record = parse_json(write_record(closing, model()));
  CHECK(record["complaint"].is_null());
  CHECK(record["tests"].size() == 1);
}

TEST_CASE("a component found bad in one mode was seen sound in its others") {
  const Closing closing =
      read_closing(closing_document(R"("found": [{"component": "ram", "mode": "gland_leak"}])"),
                   worked(), model());
  REQUIRE(closing.job.sound.size() == 1);
  CHECK(model().analysis().modes[closing.job.sound[0]].id == "ram.piston_leak");
  const Closing unknown = read_closing(
      closing_document(R"("found": [{"component": "ram", "grade": "worn"}])"), worked(), model());
  CHECK(unknown.job.sound.empty());
  CHECK(unknown.job.findings.at(0).modes.size() == 2);
  CHECK_THAT(priors::work_order_rows(unknown.job, model().analysis(), ""),
             Contains(",ram,ram,UNK,worn,"));
}

TEST_CASE("an order on which nothing was opened has a record and no rows") {
  const Closing closing = read_closing(closing_document(R"("note": "ok")"), worked(), model());
  CHECK(priors::work_order_rows(closing.job, model().analysis(), "").empty());
  CHECK(parse_json(write_record(closing, model())).at("found").empty());
}

TEST_CASE("text that a spreadsheet would run is made harmless in rows") {
  Json document = closed();
  document["work_order"] = "=HYPERLINK(\"x\"),1";
  const Closing closing = read_closing(document, worked(), model());
  CHECK_THAT(priors::work_order_rows(closing.job, model().analysis(), ""),
             Catch::StartsWith("\"'=HYPERLINK(\"\"x\"\"),1\",1,"));
}

TEST_CASE("a closing document that cannot be is refused at its place") {
  struct Row {
    std::string members, pointer, words;
  };
  const Row rows[] = {
      {R"("found": [{"component": "pump"}])", "/found/0/component", "`pump`"},
      {R"("found": [{"component": "ram", "mode": "seat_leak"}])", "/found/0/mode", "piston_leak"},
      {R"("found": [{"component": "ram", "grade": "sound"}])", "/found/0/grade", "`worn`"},
      {R"("found": [{"component": "ram"}, {"component": "ram", "mode": "gland_leak"}])", "/found/1",
       "before"},
      {R"("found": [{"component": "ram"}], "sound": ["ram"])", "/sound/0", "`ram`"},
      {R"("sound": ["mast"])", "/sound/0", "`mast`"},
      {R"("parts": [{"component": "relief", "quantity": -1}])", "/parts/0/quantity", "-1"},
      {R"("cause": "relief")", "/cause", "cause"},
  };
  for (const Row& row : rows) {
    const Refusal refused = refusal(closing_document(row.members));
    INFO(row.members << ": " << refused.message);
    CHECK(refused.code != Code::ok);
    CHECK(refused.pointer == row.pointer);
    CHECK_THAT(refused.message, Contains(row.words));
  }
  const auto dated = [](const std::string& opened, const std::string& shut) {
    return parse_json(R"({"format": "faultodds-closing/1", "work_order": "1", "opened": ")" +
                      opened + R"(", "closed": ")" + shut + R"("})");
  };
  CHECK(refusal(dated("2026-03-31", "2026-03-30")).pointer == "/opened");
  for (const char* day : {"2026-02-30", "31.3.2026", "2026-3-31", "2026-03-31x", ""}) {
    INFO(day);
    CHECK(refusal(dated("2026-01-01", day)).pointer == "/closed");
  }
  const Refusal unnamed = refusal(
      parse_json(R"({"format": "faultodds-closing/1", "work_order": "", "closed": "2026-03-31"})"));
  CHECK(unnamed.pointer == "/work_order");
  CHECK_THAT(unnamed.message, Contains("empty"));
  CHECK(refusal(closed(), case_document(R"("observations": [{"observation": "no"}])")).pointer ==
        "/case/observations/0/observation");
}

TEST_CASE("nothing can be found in a component that cannot fail") {
  Json with_guard = circuit_document();
  with_guard["types"]["guard"] = {{"ports", {"a"}}};
  with_guard["components"].push_back({{"id", "guard"}, {"type", "guard"}});
  const Model guarded = Model::compile(
      faultodds::circuit::analyse(faultodds::documents::read_circuit(with_guard), {}), {});
  try {
    read_closing(closing_document(R"("found": [{"component": "guard"}])"), worked(), guarded);
    FAIL("it was taken");
  } catch (const faultodds::Error& error) {
    CHECK(error.code() == Code::invalid_case);
    CHECK(error.pointer() == "/found/0/component");
    CHECK_THAT(error.what(), Contains("`guard`") && Contains("no failure modes"));
  }
}

// ---- the note -----------------------------------------------------------------------------------

TEST_CASE("a note shows cautions before tests, the evidence, the repair and its verification") {
  const Json sinks = case_document(R"("id": "WO 7", "note": "left in the yard", "observations": [
    {"observation": "drift/ram/retract", "outcome": "fast", "at": "7:40"},
    {"observation": "static/relief.in", "reading": {"leak_rate": "400 mL/min"}}])");
  Json decided = sinks;
  decided["observations"].push_back({{"observation", "static/ram.cap"}, {"outcome", "held"}});
  decided["observations"].push_back({{"observation", "static/ram.rod"}, {"outcome", "held"}});
  const std::string text = note(decided, NoteFormat::text);
  const std::size_t general = text.find("Lock out and tag out every source of energy");
  REQUIRE(general != std::string::npos);
  CHECK(general < text.find("What was seen"));
  CHECK_THAT(text, Contains("left in the yard"));
  CHECK_THAT(text, Contains("7:40: "));
  CHECK_THAT(text, Contains("leak 400"));
  CHECK_THAT(text, Contains("Relief: seat leaks"));
  CHECK_THAT(text, Contains(" db"));
  // Of every test that is shown, its own cautions stand between its naming and its instructions.
  const std::size_t after = text.find("After the repair");
  REQUIRE(after != std::string::npos);
  const std::size_t caution = text.find("  ! ", after), how = text.find("(power off)", after);
  REQUIRE(caution != std::string::npos);
  CHECK(caution < how);
}

TEST_CASE("a note without advice names the best test with its cautions") {
  const Json sinks =
      case_document(R"("observations": [{"observation": "drift/ram/retract", "outcome": "fast"}])");
  const std::string text = note(sinks, NoteFormat::text, false);
  const std::size_t next = text.find("Next test");
  REQUIRE(next != std::string::npos);
  CHECK(text.find("  ! ", next) != std::string::npos);
}

TEST_CASE("a note of a case without a name or an observation says so") {
  const std::string text = note(case_document(R"("observations": [])"), NoteFormat::text);
  CHECK_THAT(text, Catch::StartsWith("Work order on Tilt <ram> & \"relief\""));
  CHECK_THAT(text, Contains("Nothing has been entered yet."));
}

TEST_CASE("a note shows what the answer warns of") {
  const Json sinks = case_document(R"("observations": [{"observation": "static/relief.in",
    "reading": {"leak_rate": "400 mL/min", "temperature_start": "20 degC",
                "temperature_end": "40 degC"}}])");
  const std::string text = note(sinks, NoteFormat::html);
  const std::size_t warnings = text.find("<h2>Warnings</h2>");
  REQUIRE(warnings != std::string::npos);
  CHECK_THAT(text.substr(warnings), Contains("The oil temperatures were not used"));
}

TEST_CASE("a note says of a likelihood that it was the caller's own") {
  const Json sinks = case_document(
      R"("observations": [{"observation": "static/relief.in", "likelihood": [1, 0, 0]}])");
  CHECK_THAT(note(sinks, NoteFormat::html), Contains(": the caller’s own likelihood</li>"));
}

TEST_CASE("a probability in a note is never rounded to impossible or certain") {
  const Json sinks = case_document(R"("observations": [
    {"observation": "drift/ram/retract", "likelihood": [1e-9, 1, 1]},
    {"observation": "static/relief.in", "likelihood": [1e-9, 1e-6, 1]}])");
  const std::string text = note(sinks, NoteFormat::text);
  CHECK_THAT(text, Contains("over 99 % Relief: seat leaks (worn under 1 %, failed over 99 %"));
  const std::string suspects = text.substr(0, text.find("What speaks"));
  CHECK_THAT(suspects, !Contains(" 0 %") && !Contains("100 %"));
}

TEST_CASE("a note names the tests for a second fault before the repair's verification") {
  const Json decided =
      case_document(R"("economics": {"second_fault_target": 0.001, "come_back": 500},
    "observations": [{"observation": "drift/ram/retract", "outcome": "fast"},
                     {"observation": "static/relief.in", "reading": {"leak_rate": "400 mL/min"}}])");
  const Case read = faultodds::documents::read_case(decided, model());
  const auto advice = advise(model(), read);
  REQUIRE(advice);
  REQUIRE(advice->stop);
  REQUIRE(!advice->second_fault.checks.empty());
  const std::string text = note(decided, NoteFormat::html);
  const std::size_t before = text.find("Before ordering: is there a second fault?");
  const std::size_t after = text.find("After the repair");
  REQUIRE(before != std::string::npos);
  REQUIRE(after != std::string::npos);
  REQUIRE(before < after);
  const std::string section = text.substr(before, after - before);
  CHECK_THAT(section, Contains("the target is under 1 %"));
  for (const auto& check : advice->second_fault.checks) {
    CHECK_THAT(section,
               Contains(faultodds::documents::Words(model()).observation(check.observation)));
  }
  CHECK_THAT(section, Contains("class=\"cautions\""));
}

TEST_CASE("no line of a text note is longer than 78 columns, and none holds control characters") {
  Json sinks = worked();
  sinks["note"] = "umlauts \xC3\xA4\xC3\xB6\xC3\xBC and\x1b[31m red\r\n" + std::string(200, ' ');
  const std::string text = note(sinks, NoteFormat::text);
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    const auto columns =
        std::count_if(line.begin(), line.end(), [](char c) { return (c & 0xC0) != 0x80; });
    INFO(line);
    CHECK(columns <= 78);
    CHECK(std::none_of(line.begin(), line.end(),
                       [](char c) { return static_cast<unsigned char>(c) < ' '; }));
  }
}

TEST_CASE(
    "everything from a document is escaped in an HTML note, which refers to nothing outside") {
  Json sinks = worked();
  sinks["title"] = "<script>alert('x')</script>";
  sinks["note"] = "a & b \"c\"";
  sinks["observations"][0]["note"] = "</li><img src=x onerror=alert(1)>";
  sinks["asset"]["id"] = "<b>";
  const std::string page = note(sinks, NoteFormat::html);
  CHECK_THAT(page, Contains("&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;"));
  CHECK_THAT(page, Contains("a &amp; b &quot;c&quot;"));
  CHECK_THAT(page, Contains("Tilt &lt;ram&gt; &amp; &quot;relief&quot;"));
  for (const char* never : {"<script", "<img", "<b>", "http:", "https:", "src=\"", "href"}) {
    INFO(never);
    CHECK(page.find(never) == std::string::npos);
  }
  CHECK(page.find("<!DOCTYPE html>") == 0);
  CHECK(page.rfind("</html>\n") == page.size() - 8);
}

}  // namespace documents_closing_test
