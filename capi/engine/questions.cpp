#include "capi/engine/questions.h"

#include <algorithm>
#include <utility>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_note.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_drawing.h"
#include "capi/documents/closing.h"
#include "capi/documents/document.h"
#include "capi/documents/html_text.h"
#include "capi/documents/json.h"
#include "capi/documents/plan_card.h"
#include "capi/documents/plan_writer.h"
#include "capi/documents/screen_writer.h"
#include "capi/documents/wording.h"
#include "core/diagnosis/before_service.h"
#include "core/diagnosis/plan.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/said.h"
#include "core/error.h"
#include "priors/work_order_rows.h"

namespace faultodds::engine {
namespace {

void put_first(const diagnosis::Model& model, const diagnosis::Case& the_case,
               const diagnosis::Advice& advice, std::vector<diagnosis::TestAssessment>& tests) {
  if (advice.again) {
    diagnosis::TestAssessment look;
    look.observation = *advice.test;
    look.again = true;
    look.minutes = advice.minutes;
    look.probability.assign(advice.outcomes.begin(), advice.outcomes.end());
    look.because = advice.reason;
    diagnosis::say_setup(diagnosis::Preparation(model, the_case), look);
    tests.insert(tests.begin(), std::move(look));
    return;
  }
  const auto at = std::find_if(tests.begin(), tests.end(),
                               [&](const auto& test) { return test.observation == *advice.test; });
  if (at != tests.end()) std::rotate(tests.begin(), at, at + 1);
}

struct Answer {
  documents::Asset asset;
  diagnosis::Assessment assessment;
  std::optional<diagnosis::Advice> advice;
  std::optional<diagnosis::BeforeService> before_service;
};

// `whole`: what only the whole answer shows as well.
Answer answer_of(const LoadedModel& loaded, const documents::Json& case_document,
                 bool whole = false) {
  Answer answer;
  answer.asset = documents::read_asset(case_document);
  diagnosis::Case the_case = documents::read_case(case_document, loaded.model);
  the_case.fault_bits = the_case.earlier_causes = whole;
  documents::Json asked = case_document;
  for (const char* form : {"detail", "language"}) asked.erase(form);  // of the answer
  const std::string question = asked.dump();
  answer.assessment =
      diagnosis::assess_once(loaded.model, the_case, (whole ? "all of " : "") + question)
          ->assessment;
  warn_of_said_before(loaded.model, the_case, answer.assessment);
  const std::string& asset_class = answer.asset.asset_class;
  if (asset_class != loaded.asset_class && loaded.pack_classes.count(asset_class) > 0) {
    Message warning{loaded.asset_class.empty() ? "warning.without_class"
                                               : "warning.of_another_class"};
    warning.with("class", MessageValue::text(asset_class));
    warning.with("loaded", MessageValue::text(loaded.asset_class));
    answer.assessment.warnings.push_back(std::move(warning));
  }
  if (documents::wants_advice(case_document)) {
    answer.advice = advise(loaded.model, the_case, answer.assessment, question);
    answer.before_service = diagnosis::before_service(loaded.model, the_case);
  }
  return answer;
}

documents::Words words_of(const LoadedModel& loaded, const documents::Json& case_document) {
  return {loaded.model, loaded.titles, documents::language_of(case_document)};
}

template <typename T>
const T* if_any(const std::optional<T>& value) {
  return value ? &*value : nullptr;
}

std::string written(const LoadedModel& loaded, const documents::Json& case_document,
                    bool whole = false) {
  whole = whole || documents::wants_all(case_document);
  const auto write = whole ? documents::write_assessment : documents::write_screen;
  const Answer answer = answer_of(loaded, case_document, whole);
  return write(words_of(loaded, case_document), answer.assessment, answer.asset,
               if_any(answer.advice), if_any(answer.before_service));
}

constexpr double kCardWidth = 700;  // px of 96 to the inch, within the margins of A4

// The titles of a language, or of the one that it is a kind of: "de-AT" of "de".
const std::map<std::string, std::string>* titles_in(const documents::Titles& titles,
                                                    std::string_view language) {
  for (const std::string_view one : {language, language.substr(0, language.find('-'))}) {
    const auto found = titles.find(std::string(one));
    if (found != titles.end()) return &found->second;
  }
  return nullptr;
}

std::string drawn(const LoadedModel& model, const documents::Json& case_document,
                  const documents::DrawingView& view) {
  const Answer answer = answer_of(model, case_document);
  return documents::case_drawing(
      model.description, model.model.analysis(),
      documents::overlay_of(words_of(model, case_document), answer.assessment), view);
}

std::string drawn(const LoadedModel& model, const documents::Json& case_document, double width,
                  std::string_view language) {
  documents::DrawingView view;
  view.width = width;
  view.concerned = true;
  view.titles = titles_in(model.titles, language);
  return drawn(model, case_document, view);
}

// Of a plan that there is: nothing where no time is left for it, or the circuit is too large.
std::string drawing_for_card(const LoadedModel& model, const documents::Json& case_document) {
  try {
    return drawn(model, case_document, kCardWidth, documents::language_of(case_document));
  } catch (const Error& error) {
    if (error.code() != Code::cancelled && error.code() != Code::limit_exceeded) throw;
    return "";
  }
}

// The card with the drawing on a page of its own behind it, where the cautions have been read.
std::string with_drawing(std::string card, const LoadedModel& model, const std::string& svg) {
  const std::size_t end = card.rfind("</body>");
  if (svg.empty() || end == std::string::npos) return card;
  return card.insert(end, "<figure style=\"break-before:page;margin:0\">\n<figcaption>" +
                              documents::escape_html(model.description.title) + "</figcaption>\n" +
                              svg + "</figure>\n");
}

// The asset class of the case chooses among the pack's entries.
SharedModel loaded_for(std::string_view circuit, std::optional<std::string_view> priors,
                       const documents::Json& case_document, At& at) {
  const Load what{circuit, priors, documents::read_asset(case_document).asset_class, {}, {}};
  SharedModel loaded = load(what, at);
  at = At::the_case;
  return loaded;
}

}  // namespace

std::string assess_once(std::string_view circuit, std::optional<std::string_view> priors,
                        std::string_view case_document, At& at, bool whole) {
  at = At::the_case;
  const documents::Document document = documents::read_document(case_document);
  const SharedModel loaded = loaded_for(circuit, priors, document, at);
  return written(*loaded, document, whole);
}

std::string draw_once(std::string_view circuit, std::string_view case_document, At& at) {
  at = At::the_case;
  const documents::Document document = documents::read_document(case_document);
  const SharedModel loaded = loaded_for(circuit, std::nullopt, document, at);
  return drawn(*loaded, document, documents::DrawingView{});
}

std::string assess(const LoadedModel& model, std::string_view case_document) {
  return written(model, documents::read_document(case_document));
}

std::string note(const LoadedModel& model, std::string_view case_document, NoteFormat format) {
  const documents::Document document = documents::read_document(case_document);
  const Answer answer = answer_of(model, document);
  return documents::write_note(
      words_of(model, document), document, answer.assessment, if_any(answer.advice),
      format == NoteFormat::html ? documents::NoteFormat::html : documents::NoteFormat::text,
      if_any(answer.before_service));
}

std::string plan(const LoadedModel& model, std::string_view case_document, PlanFormat format) {
  const documents::Document document = documents::read_document(case_document);
  const documents::Asset asset = documents::read_asset(document);
  const diagnosis::Case the_case = documents::read_case(document, model.model);
  const std::optional<diagnosis::Plan> made = diagnosis::make_plan(model.model, the_case);
  if (format == PlanFormat::json) {
    return documents::write_plan(words_of(model, document), if_any(made), asset);
  }
  return with_drawing(documents::write_plan_card(words_of(model, document), document, if_any(made)),
                      model, made ? drawing_for_card(model, document) : std::string());
}

std::string draw(const LoadedModel& model, std::string_view case_document, double width,
                 std::string_view language) {
  return drawn(model, documents::read_document(case_document), width, language);
}

std::string close(const LoadedModel& model, std::string_view case_document,
                  std::string_view closing, RecordFormat format) {
  const documents::Closing closed = documents::read_closing(
      documents::read_document(closing), documents::read_document(case_document), model.model);
  if (format == RecordFormat::json) return documents::write_record(closed, model.model);
  return (format == RecordFormat::csv_headed ? priors::work_order_header() : std::string()) +
         priors::work_order_rows(closed.job, model.model.analysis(), closed.asset_class,
                                 closed.asset);
}

std::optional<diagnosis::Advice> advise(const diagnosis::Model& model,
                                        const diagnosis::Case& the_case,
                                        diagnosis::Assessment& assessment,
                                        std::string_view question) {
  try {
    auto advice = question.empty() ? diagnosis::advise(model, the_case)
                                   : diagnosis::advise_once(model, the_case, question)->advice;
    if (advice && advice->test) put_first(model, the_case, *advice, assessment.tests);
    return advice;
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded && error.code() != Code::conflicting_evidence) throw;
    assessment.warnings.push_back({error.code() == Code::limit_exceeded
                                       ? "warning.no_advice_limit"
                                       : "warning.no_advice_conflict"});
    assessment.warnings.back().with("why", MessageValue::text(error.what()));
    return std::nullopt;
  }
}

void warn_of_said_before(const diagnosis::Model& model, const diagnosis::Case& the_case,
                         diagnosis::Assessment& assessment) {
  for (Message& warning : diagnosis::said_before_warnings(model.analysis(), the_case)) {
    assessment.warnings.push_back(std::move(warning));
  }
}

}  // namespace faultodds::engine
