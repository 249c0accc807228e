#include "capi/documents/case_note.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <string_view>
#include <utility>
#include <vector>

#include "capi/documents/html_text.h"
#include "core/circuit/cautions.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using diagnosis::Advice;
using diagnosis::Assessment;

constexpr std::size_t kColumns = 78;
constexpr double kWorthNaming = 0.02;  // probability of not sound from which a suspect is listed
constexpr std::size_t kMostSuspects = 8;
constexpr std::size_t kMostChecks = 5;  // before service
constexpr double kSpeaks = 0.5;         // decibans from which an observation speaks for or against

// ---- a page of headings, paragraphs and lists

class TextPage {
 public:
  void title(std::string_view text, const Words&) {
    wrap("", text);
    text_ += std::string(kColumns, '=') + "\n";
  }
  void heading(std::string_view text) {
    text_ += "\n";
    wrap("", text);
    text_ += std::string(kColumns, '-') + "\n";
  }
  void paragraph(std::string_view text) { wrap("", text); }
  void list(const std::vector<std::string>& items) {
    for (const std::string& item : items) wrap("  - ", item);
  }
  void cautions(const std::vector<std::string>& items) {
    for (const std::string& item : items) wrap("  ! ", item);
  }
  std::string take() { return std::move(text_); }

 private:
  // Behind `label`, later lines indented as far. Control characters become spaces.
  void wrap(std::string_view label, std::string_view text) {
    std::string line(label), word;
    std::size_t width = label.size();
    bool empty = true;
    const auto flush = [&] {
      if (word.empty()) return;
      const auto wide = static_cast<std::size_t>(
          std::count_if(word.begin(), word.end(), [](char c) { return (c & 0xC0) != 0x80; }));
      if (!empty && width + 1 + wide > kColumns) {
        text_ += line + "\n";
        line.assign(label.size(), ' ');
        width = label.size();
        empty = true;
      }
      line += (empty ? "" : " ") + word;
      width += (empty ? 0 : 1) + wide;
      empty = false;
      word.clear();
    };
    for (const char c : text) {
      const auto byte = static_cast<unsigned char>(c);
      if (byte <= ' ' || byte == 0x7F) {
        flush();
      } else {
        word += c;
      }
    }
    flush();
    text_ += line + "\n";
  }

  std::string text_;
};

class HtmlPage {
 public:
  void title(std::string_view text, const Words& words) {
    text_ += "<!DOCTYPE html>\n<html lang=\"" + words.language() + "\"" +
             (words.right_to_left() ? " dir=\"rtl\"" : "") +
             "><head><meta charset=\"utf-8\">\n<title>";
    escaped(text);
    text_ +=
        "</title>\n<style>body{font:1rem/1.4 sans-serif;max-width:46rem;margin:1rem auto;"
        "padding:0 1rem;overflow-wrap:anywhere}h2{border-bottom:1px "
        "solid;margin-top:1.5rem}.cautions{border:2px solid;"
        "padding:.5rem;padding-inline-start:2rem;font-weight:bold}</style></head><body>\n";
    element("h1", text);
  }
  void heading(std::string_view text) { element("h2", text); }
  void paragraph(std::string_view text) { element("p", text); }
  void list(const std::vector<std::string>& items) { items_in("<ul>", items); }
  void cautions(const std::vector<std::string>& items) {
    items_in("<ul class=\"cautions\">", items);
  }
  std::string take() {
    text_ += "</body></html>\n";
    return std::move(text_);
  }

 private:
  // Control characters become spaces.
  void escaped(std::string_view text) {
    std::string plain(text);
    std::replace_if(
        plain.begin(), plain.end(),
        [](char c) { return static_cast<unsigned char>(c) < ' ' || c == 0x7F; }, ' ');
    text_ += escape_html(plain);
  }
  void element(const char* name, std::string_view text) {
    text_ += std::string("<") + name + ">";
    escaped(text);
    text_ += std::string("</") + name + ">\n";
  }
  void items_in(const char* begin, const std::vector<std::string>& items) {
    if (items.empty()) return;
    text_ += begin;
    text_ += "\n";
    for (const std::string& item : items) element("li", item);
    text_ += "</ul>\n";
  }

  std::string text_;
};

// ---- the note

std::string joined(const std::vector<std::string>& parts, const char* with) {
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : with) + part;
  return text;
}

// "12 bar lost in 5 min at 140 bar", as it was written down.
std::string reading_text(const Json& reading, const Words& words) {
  static constexpr std::array<const char*, 17> kKeys{"leak_rate",
                                                     "supply_flow",
                                                     "flow",
                                                     "rated_flow",
                                                     "below",
                                                     "speed",
                                                     "distance",
                                                     "pressure_drop",
                                                     "time",
                                                     "pressure",
                                                     "temperature_start",
                                                     "temperature_end",
                                                     "gas_volume",
                                                     "gas_pressure",
                                                     "back_pressure",
                                                     "displacement",
                                                     "oil_temperature"};
  std::vector<std::string> parts;
  if (reading.contains("strokes_per_minute")) {
    parts.push_back(words.say("read.strokes", {{"value", reading["strokes_per_minute"].dump()},
                                               {"volume", text_in(reading, "stroke_volume")}}));
  }
  for (const auto& [key, of] : {std::pair{"pressures", "pressure"}, {"distances", "distance"}}) {
    if (!reading.contains(key)) continue;
    std::vector<std::string> points;
    for (const Json& point : reading[key]) {
      points.push_back(words.say(
          "read.point", {{"value", text_in(point, of)}, {"time", text_in(point, "time")}}));
    }
    parts.push_back(joined(points, ", "));
  }
  for (const char* key : kKeys) {
    const std::string value = text_in(reading, key);
    if (!value.empty()) parts.push_back(words.say(std::string("read.") + key, {{"value", value}}));
  }
  if (reading.contains("revolutions_per_minute")) {
    parts.push_back(
        words.say("read.turning", {{"value", reading["revolutions_per_minute"].dump()}}));
  }
  return joined(parts, " ");
}

template <typename Page>
class Note {
 public:
  Note(const Words& words, const Json& the_case, const Assessment& assessment, const Advice* advice,
       const diagnosis::BeforeService* service, Page& page)
      : words_(words),
        analysis_(words.analysis()),
        case_(the_case),
        assessment_(assessment),
        advice_(advice),
        service_(service),
        page_(page) {}

  void write() {
    head();
    heading("ui.cautions");
    paragraph("note.cautions_add");
    page_.cautions(words_.cautions(circuit::general_cautions()));
    observed();
    not_possible();
    not_proposed();
    for (const diagnosis::CauseAssessment& of : assessment_.causes) causes(of);
    suspects();
    if (advice_) {
      evidence();
      decision();
      second_fault();
      verify();
    } else if (service_) {
      before_service();
    } else if (!assessment_.tests.empty()) {
      heading("note.next_test");
      test(assessment_.tests.front().observation);
    }
    if (!assessment_.warnings.empty()) {
      heading("note.warnings");
      std::vector<std::string> items;
      for (const Message& warning : assessment_.warnings) items.push_back(words_.say(warning));
      page_.list(items);
    }
  }

 private:
  using Put = std::initializer_list<MessageWord>;

  void heading(std::string_view id, Put words = {}) { page_.heading(words_.say(id, words)); }
  void paragraph(std::string_view id, Put words = {}) { page_.paragraph(words_.say(id, words)); }
  std::string observation(std::uint32_t o) const { return words_.observation(o); }
  std::string money(double amount) const { return words_.money(amount, advice_->currency); }

  void head() {
    const std::string id = text_in(case_, "id"), title = text_in(case_, "title");
    const std::string name = joined({id, title}, id.empty() || title.empty() ? "" : ": ");
    page_.title(
        name.empty() ? words_.say("note.work_order", {{"circuit", words_.circuit()}}) : name,
        words_);
    paragraph("note.circuit", {{"circuit", words_.circuit()}});
    const auto asset = case_.find("asset");
    if (asset != case_.end()) {
      std::vector<std::string> parts;
      for (const char* key : {"id", "class"}) {
        const std::string text = text_in(*asset, key);
        if (!text.empty()) parts.push_back(text);
      }
      if (!parts.empty()) paragraph("note.machine", {{"machine", joined(parts, ", ")}});
    }
    const std::string note = text_in(case_, "note");
    if (!note.empty()) page_.paragraph(note);
  }

  void observed() {
    heading("ui.seen");
    std::vector<std::string> items;
    const auto list = case_.find("observations");
    if (list != case_.end()) {
      for (const Json& entry : *list) {
        const std::string at = text_in(entry, "at"), note = text_in(entry, "note");
        items.push_back((at.empty() ? "" : at + ": ") + seen(entry) +
                        (note.empty() ? "" : " (" + note + ")"));
      }
    }
    if (items.empty()) {
      paragraph("ui.nothingSeen");
    } else {
      page_.list(items);
    }
  }

  std::string seen(const Json& entry) const {
    const auto repaired = entry.find("repaired");
    if (repaired != entry.end()) {
      std::vector<std::string> names;
      for (const Json& id : *repaired) names.push_back(words_.part(id.get<std::string>()));
      return words_.say("ui.replaced", {{"parts", words_.all(names)}});
    }
    if (entry.contains("not_possible")) {
      return words_.say("note.not_possible",
                        {{"test", words_.observation(text_in(entry, "not_possible"))}});
    }
    const std::string what = words_.observation(text_in(entry, "observation"));
    const auto reading = entry.find("reading");
    if (reading != entry.end()) return what + ": " + reading_text(*reading, words_);
    const std::string outcome = text_in(entry, "outcome");
    return what + ": " +
           (outcome.empty() ? words_.say("note.own_likelihood") : words_.outcome(outcome));
  }

  void not_possible() {
    if (assessment_.not_possible.empty()) return;
    heading("note.tests_not_possible");
    std::vector<std::string> items;
    for (const diagnosis::NotPossible& one : assessment_.not_possible) {
      items.push_back(observation(one.observation) + ": " + one.reason);
    }
    page_.list(items);
  }

  void not_proposed() {
    if (assessment_.not_proposed.empty()) return;
    heading("note.tests_left_out");
    std::vector<std::string> items;
    for (const diagnosis::NotProposed& one : assessment_.not_proposed) {
      if (items.size() == kMostSuspects) break;
      items.push_back(observation(one.observation) + ": " + words_.say(one.why));
    }
    const std::size_t more = assessment_.not_proposed.size() - items.size();
    if (more > 0) items.push_back(words_.say("list.others", {{"count", static_cast<long>(more)}}));
    page_.list(items);
  }

  // The complaint's first; the others follow in the same way.
  void causes(const diagnosis::CauseAssessment& of) {
    heading("note.cause_of", {{"symptom", observation(of.observation)}});
    std::vector<std::pair<double, std::string>> lines;
    for (const diagnosis::Cause& cause : of.causes) {
      lines.emplace_back(cause.probability, words_.parts(cause.components));
    }
    lines.emplace_back(of.by_design, words_.say("ui.causeByDesign"));
    lines.emplace_back(of.elsewhere, words_.say("ui.causeElsewhere"));
    lines.emplace_back(of.nothing, words_.say("ui.causeNothing"));
    std::stable_sort(lines.begin(), lines.end(),
                     [](const auto& a, const auto& b) { return a.first > b.first; });
    std::vector<std::string> items;
    double left = 1;
    for (const auto& [p, what] : lines) {
      if (items.size() == kMostSuspects || (p < kWorthNaming && !items.empty())) break;
      items.push_back(words_.percent(p) + "  " + what);
      left -= p;
    }
    if (left > 1e-9) {
      items.push_back(words_.percent(left) + "  " + words_.say("note.everything_else"));
    }
    page_.list(items);
  }

  void suspects() {
    heading("ui.suspects");
    std::vector<std::string> items;
    for (const diagnosis::FaultAssessment& fault : assessment_.faults) {
      const double p = fault.grades[1] + fault.grades[2];
      if (items.size() == kMostSuspects || (p < kWorthNaming && !items.empty())) break;
      items.push_back(words_.say("note.suspect", {{"share", words_.percent(p)},
                                                  {"fault", words_.fault(fault.mode)},
                                                  {"worn", words_.percent(fault.grades[1])},
                                                  {"failed", words_.percent(fault.grades[2])},
                                                  {"code", analysis_.modes[fault.mode].code}}));
    }
    page_.list(items);
    paragraph("ui.noFinding");
  }

  void evidence() {
    heading("note.evidence");
    const diagnosis::EvidenceTrail& trail = advice_->trail;
    std::vector<std::string> items;
    for (const diagnosis::FaultTrail& fault : trail.faults) {
      std::vector<std::string> weights;
      for (const diagnosis::Weight& weight : fault.weights) {
        if (!(std::abs(weight.decibans) >= kSpeaks)) continue;
        const std::string test = observation(weight.observation);
        if (std::isinf(weight.decibans)) {
          weights.push_back(
              words_.say(weight.decibans > 0 ? "note.proves" : "note.rules_out", {{"test", test}}));
        } else {
          weights.push_back(test + (weight.decibans > 0 ? " +" : " ") +
                            words_.number(weight.decibans, 1) + " db");
        }
      }
      items.push_back(words_.fault(fault.mode) + ": " +
                      (weights.empty() ? words_.say("note.says_little") : joined(weights, "; ")));
    }
    page_.list(items);
    paragraph("note.decibans");
    if (!trail.sentences.empty()) page_.paragraph(words_.say(trail.sentences));
  }

  void decision() {
    heading(advice_->stop ? "note.repair" : "note.next_test");
    page_.paragraph(words_.say(advice_->reason));
    if (advice_->test) {
      test(*advice_->test);
      return;
    }
    if (advice_->repair.components.empty()) return;
    paragraph("note.replace", {{"parts", words_.parts(advice_->repair.components)},
                               {"cost", money(advice_->repair.cost)},
                               {"risk", words_.percent(advice_->repair.residual_risk)}});
  }

  // With its cautions first; the general ones head the note.
  void test(std::uint32_t o) {
    const circuit::Observation& of = analysis_.observations[o];
    std::vector<std::string> own;
    for (const std::string& caution : of.cautions) {
      if (!is_general_caution(caution)) own.push_back(words_.caution(caution));
    }
    if (!own.empty()) paragraph("note.further_cautions");
    page_.cautions(own);
    std::string what = words_.say(
        "note.test", {{"test", words_.observation(of)},
                      {"power", words_.say(of.energised ? "ui.energised" : "ui.powerOff")}});
    for (const diagnosis::TestAssessment& one : assessment_.tests) {
      if (one.observation != o) continue;
      what += ": " + words_.minutes(one.minutes) + ". " + words_.say(one.because);
      std::vector<std::string> steps;
      const auto add = [&](const circuit::SetupStep& step) {
        steps.push_back(words_.step(step) + ", " + words_.minutes(step.minutes));
      };
      for (const circuit::SetupStep& step : one.work) add(step);
      for (const std::uint32_t step : one.setup) add(analysis_.setup_steps[step]);
      page_.paragraph(what);
      if (!steps.empty()) page_.list(steps);
      what.clear();
    }
    if (!what.empty()) page_.paragraph(what);
    own_steps(of, "note.before_that", circuit::TestStep::When::before_lockout);
    own_steps(of, "note.before_opening", circuit::TestStep::When::before_opening);
    own_steps(of, "note.before_pressure", circuit::TestStep::When::before_pressure);
    pressure(of);
    std::vector<std::string> bring;
    for (const circuit::Bring& item : of.bring) {
      std::vector<std::string> parts{words_.fitting(item.what), item.standard, item.size};
      std::erase(parts, "");
      bring.push_back(words_.say(
          "note.fitting", {{"what", joined(parts, " ")}, {"port", words_.place(item.port)}}));
    }
    if (!bring.empty()) paragraph("note.bring", {{"list", joined(bring, "; ")}});
    own_steps(of, "ui.afterwards", circuit::TestStep::When::afterwards);
  }

  void pressure(const circuit::Observation& of) {
    if (of.test_pressure && of.pressure_limit) {
      paragraph("note.pressure_limited", {{"pressure", words_.pressure(*of.test_pressure)},
                                          {"at", words_.place(of.pressure_limit->volume)},
                                          {"why", words_.limit(*of.pressure_limit)}});
    } else if (of.test_pressure) {
      paragraph("note.pressure", {{"pressure", words_.pressure(*of.test_pressure)}});
    } else if (!of.symptom && of.kind == circuit::ObservationKind::static_hold) {
      paragraph("note.makers_pressure",
                {{"why", of.no_figure ? words_.reason(*of.no_figure) : std::string()}});
    }
  }

  void own_steps(const circuit::Observation& of, const char* id, circuit::TestStep::When when) {
    std::vector<std::string> steps;
    for (const circuit::TestStep& step : of.steps) {
      if (step.when == when) steps.push_back(words_.step(step));
    }
    if (steps.empty()) return;
    page_.paragraph(words_.say(id) + ":");
    page_.list(steps);
  }

  void second_fault() {
    const diagnosis::SecondFault& second = advice_->second_fault;
    if (!advice_->stop || second.checks.empty()) return;
    heading("note.second_fault");
    paragraph("note.second_fault_risk", {{"risk", words_.percent(second.probability)},
                                         {"target", words_.percent(second.target)}});
    for (const diagnosis::SecondFaultCheck& check : second.checks) {
      paragraph("note.check", {{"risk", words_.percent(check.probability)},
                               {"test", observation(check.observation)},
                               {"minutes", words_.minutes(check.minutes)}});
      test(check.observation);
    }
  }

  void before_service() {
    const auto amount = [&](double value) { return words_.money(value, service_->currency); };
    std::vector<std::string> parts;
    for (const diagnosis::ServicePart& part : service_->replace) {
      parts.push_back(words_.say("note.fails_before", {{"part", words_.part(part.component)},
                                                       {"risk", words_.percent(part.fails)},
                                                       {"saving", amount(part.saving)}}));
    }
    if (!parts.empty()) {
      heading("note.worth_replacing");
      page_.list(parts);
    }
    heading("note.worth_checking");
    std::size_t shown = 0;
    for (const diagnosis::ServiceTest& one : service_->tests) {
      if (!(one.net() > 0) || shown == kMostChecks) break;
      ++shown;
      std::vector<std::string> finds;
      for (const diagnosis::ServiceTest::Find& find : one.finds) {
        finds.push_back(words_.part(find.component) + " (" + words_.percent(find.probability) +
                        ")");
      }
      paragraph("note.service_test", {{"test", observation(one.observation)},
                                      {"saving", amount(one.expected_saving)},
                                      {"cost", amount(one.cost)},
                                      {"finds", joined(finds, ", ")}});
      test(one.observation);
    }
    if (shown == 0) paragraph("note.no_test_pays");
  }

  void verify() {
    if (!advice_->stop || advice_->verify.empty()) return;
    heading("ui.verify");
    for (const diagnosis::Verification& one : advice_->verify) {
      paragraph("note.verify", {{"test", observation(one.observation)},
                                {"normal", words_.percent(one.normal)},
                                {"risk", words_.percent(one.risk_if_normal)}});
      test(one.observation);
    }
  }

  const Words& words_;
  const Analysis& analysis_;
  const Json& case_;
  const Assessment& assessment_;
  const Advice* advice_;
  const diagnosis::BeforeService* service_;
  Page& page_;
};

template <typename Kind>
std::string written(const Words& words, const Json& the_case, const Assessment& assessment,
                    const Advice* advice, const diagnosis::BeforeService* service) {
  Kind page;
  Note<Kind>(words, the_case, assessment, advice, service, page).write();
  return page.take();
}

}  // namespace

std::string write_note(const Words& words, const Json& case_document, const Assessment& assessment,
                       const Advice* advice, NoteFormat format,
                       const diagnosis::BeforeService* before_service) {
  return format == NoteFormat::html
             ? written<HtmlPage>(words, case_document, assessment, advice, before_service)
             : written<TextPage>(words, case_document, assessment, advice, before_service);
}

}  // namespace faultodds::documents
