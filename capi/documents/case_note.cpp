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
#include "core/number_text.h"
#include "core/reading/units.h"

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
  void title(std::string_view text) {
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
  void title(std::string_view text) {
    text_ += "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\n<title>";
    escaped(text);
    text_ +=
        "</title>\n<style>body{font:1rem/1.4 sans-serif;max-width:46rem;margin:1rem auto;"
        "padding:0 1rem}h2{border-bottom:1px solid;margin-top:1.5rem}.cautions{border:2px solid;"
        "padding:.5rem .5rem .5rem 2rem;font-weight:bold}</style></head><body>\n";
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

// ---- words

std::string rounded(double value, int decimals = 0) {
  std::array<char, 400> digits{};
  const auto end = write_number(digits.data(), digits.data() + digits.size(), value, decimals);
  return {digits.data(), end.ptr};
}

std::string percent(double p) {
  if (p > 0 && p < 0.005) return "under 1 %";
  if (p < 1 && p > 0.995) return "over 99 %";
  return rounded(100 * p) + " %";
}

std::string minutes(double value) { return rounded(value) + " min"; }

std::string spaced(std::string name) {
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

std::string text_in(const Json& object, const char* key) {
  const auto at = object.find(key);
  return at != object.end() && at->is_string() ? at->get<std::string>() : std::string();
}

std::string joined(const std::vector<std::string>& parts, const char* with) {
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : with) + part;
  return text;
}

// "12 bar drop, 5 min, at 140 bar", as it was written down.
std::string reading_text(const Json& reading) {
  struct Word {
    const char *key, *before, *after;
  };
  static constexpr std::array<Word, 17> kWords{{{"leak_rate", "leak ", ""},
                                                {"supply_flow", "", " to sustain it"},
                                                {"flow", "flow ", ""},
                                                {"rated_flow", "of rated ", ""},
                                                {"below", "nothing above ", ""},
                                                {"speed", "", ""},
                                                {"distance", "", ""},
                                                {"pressure_drop", "", " lost"},
                                                {"time", "in ", ""},
                                                {"pressure", "at ", ""},
                                                {"temperature_start", "oil from ", ""},
                                                {"temperature_end", "to ", ""},
                                                {"gas_volume", "with gas of ", ""},
                                                {"gas_pressure", "charged to ", ""},
                                                {"back_pressure", "against ", ""},
                                                {"displacement", "displacement ", ""},
                                                {"oil_temperature", "oil at ", ""}}};
  std::vector<std::string> parts;
  if (reading.contains("strokes_per_minute")) {
    parts.push_back(reading["strokes_per_minute"].dump() + " strokes a minute of " +
                    text_in(reading, "stroke_volume"));
  }
  for (const auto& [key, of] : {std::pair{"pressures", "pressure"}, {"distances", "distance"}}) {
    if (!reading.contains(key)) continue;
    std::vector<std::string> points;
    for (const Json& point : reading[key]) {
      points.push_back(text_in(point, of) + " at " + text_in(point, "time"));
    }
    parts.push_back(joined(points, ", "));
  }
  for (const Word& word : kWords) {
    const std::string value = text_in(reading, word.key);
    if (!value.empty()) parts.push_back(word.before + value + word.after);
  }
  if (reading.contains("revolutions_per_minute")) {
    parts.push_back("at " + reading["revolutions_per_minute"].dump() + " rev/min");
  }
  return joined(parts, " ");
}

// ---- the note

template <typename Page>
class Note {
 public:
  Note(const diagnosis::Model& model, const Json& the_case, const Assessment& assessment,
       const Advice* advice, const diagnosis::BeforeService* service, Page& page)
      : model_(model),
        analysis_(model.analysis()),
        case_(the_case),
        assessment_(assessment),
        advice_(advice),
        service_(service),
        page_(page) {}

  void write() {
    head();
    page_.heading("Cautions");
    page_.paragraph(
        "These add to the maker's instructions, local codes and licensed practice, and replace "
        "none of them.");
    page_.cautions(circuit::general_cautions());
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
      page_.heading("Next test");
      test(assessment_.tests.front().observation);
    }
    if (!assessment_.warnings.empty()) {
      page_.heading("Warnings");
      page_.list(assessment_.warnings);
    }
  }

 private:
  const std::string& component(std::uint32_t c) const {
    return analysis_.components[c].display_title();
  }
  std::string components(const std::vector<std::uint32_t>& list, const char* with = ", ") const {
    std::vector<std::string> names;
    for (const std::uint32_t c : list) names.push_back(component(c));
    return joined(names, with);
  }
  const std::string& observation(std::uint32_t o) const { return analysis_.observations[o].title; }
  std::string money(double amount) const {
    return diagnosis::money_text(amount, advice_->currency);
  }

  void head() {
    const std::string id = text_in(case_, "id"), title = text_in(case_, "title");
    const std::string name = joined({id, title}, id.empty() || title.empty() ? "" : ": ");
    page_.title(name.empty() ? "Work order on " + analysis_.title : name);
    page_.paragraph("Circuit: " + analysis_.title);
    const auto asset = case_.find("asset");
    if (asset != case_.end()) {
      std::vector<std::string> parts;
      for (const char* key : {"id", "class"}) {
        const std::string text = text_in(*asset, key);
        if (!text.empty()) parts.push_back(text);
      }
      if (!parts.empty()) page_.paragraph("Machine: " + joined(parts, ", "));
    }
    const std::string note = text_in(case_, "note");
    if (!note.empty()) page_.paragraph(note);
  }

  void observed() {
    page_.heading("Observed");
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
      page_.paragraph("Nothing yet.");
    } else {
      page_.list(items);
    }
  }

  std::string seen(const Json& entry) const {
    const auto repaired = entry.find("repaired");
    if (repaired != entry.end()) {
      std::vector<std::string> names;
      for (const Json& id : *repaired) {
        for (std::uint32_t c = 0; c < analysis_.components.size(); ++c) {
          if (analysis_.components[c].id == id.get<std::string>()) names.push_back(component(c));
        }
      }
      return "replaced: " + joined(names, ", ");
    }
    if (entry.contains("not_possible")) {
      const auto o = model_.find_observation(text_in(entry, "not_possible"));
      return "not possible: " + (o ? observation(*o) : text_in(entry, "not_possible"));
    }
    const auto o = model_.find_observation(text_in(entry, "observation"));
    std::string what = o ? observation(*o) : text_in(entry, "observation");
    const auto reading = entry.find("reading");
    if (reading != entry.end()) return what + ": " + reading_text(*reading);
    const std::string outcome = text_in(entry, "outcome");
    return what + ": " + (outcome.empty() ? "the caller's own likelihood" : spaced(outcome));
  }

  void not_possible() {
    if (assessment_.not_possible.empty()) return;
    page_.heading("Tests that cannot be made");
    std::vector<std::string> items;
    for (const diagnosis::NotPossible& one : assessment_.not_possible) {
      items.push_back(observation(one.observation) + ": " + one.reason);
    }
    page_.list(items);
  }

  void not_proposed() {
    if (assessment_.not_proposed.empty()) return;
    page_.heading("Tests that are left out");
    std::vector<std::string> items;
    for (const diagnosis::NotProposed& one : assessment_.not_proposed) {
      if (items.size() == kMostSuspects) break;
      items.push_back(observation(one.observation) + ": " + one.why);
    }
    const std::size_t more = assessment_.not_proposed.size() - items.size();
    if (more > 0) items.push_back(std::to_string(more) + " more");
    page_.list(items);
  }

  // The complaint's first; the others follow in the same way.
  void causes(const diagnosis::CauseAssessment& of) {
    page_.heading("Cause of: " + observation(of.observation));
    std::vector<std::pair<double, std::string>> lines;
    for (const diagnosis::Cause& cause : of.causes) {
      lines.emplace_back(cause.probability, components(cause.components, " and "));
    }
    lines.emplace_back(of.by_design, "what leaks although all is sound");
    lines.emplace_back(of.elsewhere, "something the circuit document does not describe");
    lines.emplace_back(of.nothing, "nothing wrong found: a false report");
    std::stable_sort(lines.begin(), lines.end(),
                     [](const auto& a, const auto& b) { return a.first > b.first; });
    std::vector<std::string> items;
    double left = 1;
    for (const auto& [p, what] : lines) {
      if (items.size() == kMostSuspects || (p < kWorthNaming && !items.empty())) break;
      items.push_back(percent(p) + "  " + what);
      left -= p;
    }
    if (left > 1e-9) items.push_back(percent(left) + "  everything else together");
    page_.list(items);
  }

  void suspects() {
    page_.heading("Suspects");
    std::vector<std::string> items;
    for (const diagnosis::FaultAssessment& fault : assessment_.faults) {
      const double p = fault.grades[1] + fault.grades[2];
      if (items.size() == kMostSuspects || (p < kWorthNaming && !items.empty())) break;
      items.push_back(percent(p) + "  " + diagnosis::mode_title(analysis_, fault.mode) + " (worn " +
                      percent(fault.grades[1]) + ", failed " + percent(fault.grades[2]) +
                      "; ISO 14224 " + analysis_.modes[fault.mode].code + ")");
    }
    page_.list(items);
    page_.paragraph("A probability, not a finding.");
  }

  void evidence() {
    page_.heading("What speaks for and against");
    const diagnosis::EvidenceTrail& trail = advice_->trail;
    std::vector<std::string> items;
    for (const diagnosis::FaultTrail& fault : trail.faults) {
      std::vector<std::string> weights;
      for (const diagnosis::Weight& weight : fault.weights) {
        if (!(std::abs(weight.decibans) >= kSpeaks)) continue;
        const bool infinite = std::isinf(weight.decibans);
        weights.push_back(
            observation(weight.observation) +
            (infinite ? (weight.decibans > 0 ? " proves it" : " rules it out")
                      : (weight.decibans > 0 ? " +" : " ") + rounded(weight.decibans, 1) + " db"));
      }
      items.push_back(diagnosis::mode_title(analysis_, fault.mode) + ": " +
                      (weights.empty() ? "nothing observed says much" : joined(weights, "; ")));
    }
    page_.list(items);
    page_.paragraph("In decibans (db): 10 multiply the odds by 10.");
    if (!trail.sentence.empty()) page_.paragraph(trail.sentence);
  }

  void decision() {
    page_.heading(advice_->stop ? "Repair" : "Next test");
    page_.paragraph(advice_->reason);
    if (advice_->test) {
      test(*advice_->test);
      return;
    }
    if (advice_->repair.components.empty()) return;
    page_.paragraph(
        "Replace, in this order, checking after each: " + components(advice_->repair.components) +
        ". Cost " + money(advice_->repair.cost) + "; the complaint stays with probability " +
        percent(advice_->repair.residual_risk) + ".");
  }

  // With its cautions first; the general ones head the note.
  void test(std::uint32_t o) {
    const circuit::Observation& of = analysis_.observations[o];
    std::vector<std::string> own;
    const std::vector<std::string>& general = circuit::general_cautions();
    for (const std::string& caution : of.cautions) {
      if (std::find(general.begin(), general.end(), caution) == general.end()) {
        own.push_back(caution);
      }
    }
    if (!own.empty()) page_.paragraph("Besides the cautions above, which all apply:");
    page_.cautions(own);
    std::string what = of.title + (of.energised ? " (energised)" : " (locked out)");
    for (const diagnosis::TestAssessment& one : assessment_.tests) {
      if (one.observation != o) continue;
      what += ": " + minutes(one.minutes) + ". " + one.because;
      std::vector<std::string> steps;
      for (const circuit::SetupStep& step : one.work) {
        steps.push_back(step.title + ", " + minutes(step.minutes));
      }
      for (const std::uint32_t step : one.setup) {
        steps.push_back(analysis_.setup_steps[step].title + ", " +
                        minutes(analysis_.setup_steps[step].minutes));
      }
      page_.paragraph(what);
      if (!steps.empty()) page_.list(steps);
      what.clear();
    }
    if (!what.empty()) page_.paragraph(what);
    own_steps(of, "Before that", circuit::TestStep::When::before_lockout);
    own_steps(of, "Before anything is opened", circuit::TestStep::When::before_opening);
    own_steps(of, "Before pressure is raised", circuit::TestStep::When::before_pressure);
    if (of.test_pressure) {
      page_.paragraph("Test pressure: " + reading::format_pressure(*of.test_pressure) +
                      (of.pressure_limit ? ", limited at " + of.pressure_limit->volume + ": " +
                                               of.pressure_limit->why
                                         : "") +
                      ".");
    } else if (of.no_figure) {
      page_.paragraph("Test pressure: from the maker's documents. " + of.no_figure->why);
    } else if (!of.symptom && of.kind == circuit::ObservationKind::static_hold) {
      page_.paragraph("Test pressure: from the maker's documents.");
    }
    std::vector<std::string> bring;
    for (const circuit::Bring& item : of.bring) {
      std::vector<std::string> words{item.what, item.standard, item.size};
      std::erase(words, "");
      bring.push_back(joined(words, " ") + " for " + item.port);
    }
    if (!bring.empty()) page_.paragraph("Bring: " + joined(bring, "; ") + ".");
    own_steps(of, "Afterwards", circuit::TestStep::When::afterwards);
  }

  void own_steps(const circuit::Observation& of, const char* heading,
                 circuit::TestStep::When when) {
    std::vector<std::string> steps;
    for (const circuit::TestStep& step : of.steps) {
      if (step.when == when) steps.push_back(step.title);
    }
    if (steps.empty()) return;
    page_.paragraph(std::string(heading) + ":");
    page_.list(steps);
  }

  void second_fault() {
    const diagnosis::SecondFault& second = advice_->second_fault;
    if (!advice_->stop || second.checks.empty()) return;
    page_.heading("Before ordering: is there a second fault?");
    page_.paragraph("Another fault can cause the complaint with probability " +
                    percent(second.probability) + "; the target is " + percent(second.target) +
                    ". Each of these, normal, lowers it:");
    for (const diagnosis::SecondFaultCheck& check : second.checks) {
      page_.paragraph(percent(check.probability) + " after " + observation(check.observation) +
                      ", " + minutes(check.minutes) + ":");
      test(check.observation);
    }
  }

  void before_service() {
    const auto money = [&](double amount) {
      return diagnosis::money_text(amount, service_->currency);
    };
    std::vector<std::string> parts;
    for (const diagnosis::ServicePart& part : service_->replace) {
      parts.push_back(component(part.component) +
                      ": fails before the next service with probability " + percent(part.fails) +
                      ", replacing it saves " + money(part.saving));
    }
    if (!parts.empty()) {
      page_.heading("Worth replacing while the machine stands");
      page_.list(parts);
    }
    page_.heading("Worth checking while the machine stands");
    std::size_t shown = 0;
    for (const diagnosis::ServiceTest& one : service_->tests) {
      if (!(one.net() > 0) || shown == kMostChecks) break;
      ++shown;
      std::vector<std::string> finds;
      for (const diagnosis::ServiceTest::Find& find : one.finds) {
        finds.push_back(component(find.component) + " (" + percent(find.probability) + ")");
      }
      page_.paragraph(observation(one.observation) + " is expected to save " +
                      money(one.expected_saving) + " for " + money(one.cost) +
                      " of time. What it would find before it fails: " + joined(finds, ", ") + ".");
      test(one.observation);
    }
    if (shown == 0) page_.paragraph("No test is expected to save what its time costs.");
  }

  void verify() {
    if (!advice_->stop || advice_->verify.empty()) return;
    page_.heading("After the repair");
    for (const diagnosis::Verification& one : advice_->verify) {
      page_.paragraph(observation(one.observation) + " will be normal with probability " +
                      percent(one.normal) +
                      " if the repair is sound; a fault that is left then "
                      "has " +
                      percent(one.risk_if_normal) + ".");
      test(one.observation);
    }
  }

  const diagnosis::Model& model_;
  const Analysis& analysis_;
  const Json& case_;
  const Assessment& assessment_;
  const Advice* advice_;
  const diagnosis::BeforeService* service_;
  Page& page_;
};

template <typename Kind>
std::string written(const diagnosis::Model& model, const Json& the_case,
                    const Assessment& assessment, const Advice* advice,
                    const diagnosis::BeforeService* service) {
  Kind page;
  Note<Kind>(model, the_case, assessment, advice, service, page).write();
  return page.take();
}

}  // namespace

std::string write_note(const diagnosis::Model& model, const Json& case_document,
                       const Assessment& assessment, const Advice* advice, NoteFormat format,
                       const diagnosis::BeforeService* before_service) {
  return format == NoteFormat::html
             ? written<HtmlPage>(model, case_document, assessment, advice, before_service)
             : written<TextPage>(model, case_document, assessment, advice, before_service);
}

}  // namespace faultodds::documents
