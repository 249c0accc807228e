#include "bindings/http/question.h"

#include <string>
#include <utility>

#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

Problem unknown_circuit(const std::string& id) {
  return {404, "unknown_circuit", "there is no circuit \"" + id.substr(0, 200) + "\"", "/circuit"};
}

// The case's asset class, which chooses among the prior pack's entries. Whatever is wrong with the
// case is left to the library to say.
std::string asset_class_of(std::string_view the_case) {
  const auto member = [](std::string_view object, std::string_view name) -> std::string_view {
    for (const Member& m : members_of(object)) {
      if (m.name == name) return m.text;
    }
    return {};
  };
  try {
    const std::string_view asset = member(the_case, "asset");
    const std::string_view text = asset.empty() ? asset : member(asset, "class");
    return text.empty() ? std::string() : string_value(text);
  } catch (const NotAnObject&) {
    return {};
  }
}

}  // namespace

const Question assessment{faultodds_model_assess_json, "application/json"};
const Question text_note{
    [](const faultodds_model* model, const char* text, size_t length,
       const faultodds_call_options* options, char** note, faultodds_error** error) {
      return faultodds_model_note(model, text, length, FAULTODDS_NOTE_TEXT, options, note, error);
    },
    "text/plain; charset=utf-8"};
const Question html_note{
    [](const faultodds_model* model, const char* text, size_t length,
       const faultodds_call_options* options, char** note, faultodds_error** error) {
      return faultodds_model_note(model, text, length, FAULTODDS_NOTE_HTML, options, note, error);
    },
    "text/html; charset=utf-8"};

const Question plan{
    [](const faultodds_model* model, const char* text, size_t length,
       const faultodds_call_options* options, char** answer, faultodds_error** error) {
      return faultodds_model_plan(model, text, length, FAULTODDS_PLAN_JSON, options, answer, error);
    },
    "application/json"};
const Question plan_card{
    [](const faultodds_model* model, const char* text, size_t length,
       const faultodds_call_options* options, char** card, faultodds_error** error) {
      return faultodds_model_plan(model, text, length, FAULTODDS_PLAN_HTML, options, card, error);
    },
    "text/html; charset=utf-8"};

const Question& plan_for(std::string_view accept) {
  const bool html = accept.find("text/html") != std::string_view::npos;
  return html && accept.find("application/json") == std::string_view::npos ? plan_card : plan;
}

const Question& note_for(std::string_view accept) {
  const bool html = accept.find("text/html") != std::string_view::npos;
  return html && accept.find("text/plain") == std::string_view::npos ? html_note : text_note;
}

std::variant<Answer, Problem> ask(const Question& question, const Asked& asked,
                                  const CircuitStore& circuits, AnswerCache* answers,
                                  const TimeLimit& limit) {
  std::shared_ptr<const StoredCircuit> stored;
  std::string_view document = asked.circuit;
  if (document.starts_with('"')) {
    std::string id;
    try {
      id = string_value(document);
    } catch (const NotAnObject& problem) {
      return Problem{400, "invalid_json", std::string("`circuit`: ") + problem.what(), "/circuit"};
    }
    stored = circuits.find(id);
    if (!stored) return unknown_circuit(id);
    document = stored->whole();
  }
  CircuitBases whole;  // of a document in the request
  if (!stored) {
    auto found = circuits.with_bases(document);
    if (auto* problem = std::get_if<Problem>(&found)) {
      problem->pointer = "/circuit" + problem->pointer;
      return std::move(*problem);
    }
    whole = std::get<CircuitBases>(std::move(found));
    document = whole.text;
  }
  if (!stored || !asked.priors.empty()) answers = nullptr;
  const AnswerCache::Question remembered{stored ? stored->generation() : 0, &question,
                                         asked.the_case};
  if (answers != nullptr) {
    if (Answer before = answers->find(remembered)) return before;
  }
  const ModelSettings settings = circuits.settings();
  std::shared_ptr<const faultodds_model> model;
  if (stored && asked.priors.empty()) {
    // Reading the class costs a pass over the case.
    const std::string asset_class =
        stored->distinguishes_classes() ? asset_class_of(asked.the_case) : std::string();
    auto found = stored->model_for(asset_class, limit);
    if (auto* problem = std::get_if<Problem>(&found)) return std::move(*problem);
    model = std::get<0>(std::move(found));
  } else {
    bool in_priors = false;
    auto compiled = compile(document, asked.priors, asset_class_of(asked.the_case), settings, limit,
                            &in_priors);
    if (auto* problem = std::get_if<Problem>(&compiled)) {
      if (problem->status < 500) {
        problem->pointer = (in_priors ? "/priors" : "/circuit") + problem->pointer;
      }
      return std::move(*problem);
    }
    model = std::get<ModelHandle>(std::move(compiled));
  }
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = question.ask(
      model.get(), asked.the_case.data(), asked.the_case.size(), limit.options(), &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) return from_error(error, "/case");
  Answer answer = std::make_shared<const std::string>(text);
  // What was cut for want of time is no answer to whoever asks next.
  if (answers != nullptr && !limit.passed()) answers->keep(remembered, answer);
  return answer;
}

}  // namespace faultodds_http
