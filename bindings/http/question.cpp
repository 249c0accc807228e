#include "bindings/http/question.h"

#include <string>
#include <utility>

#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

Problem no_such_circuit(const std::string& id) {
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

// The stored circuit that is asked about; null where the circuit comes with the request.
std::variant<std::shared_ptr<const StoredCircuit>, Problem> circuit_of(
    const Asked& asked, const CircuitStore& circuits) {
  if (!asked.circuit.starts_with('"')) return nullptr;
  std::string id;
  try {
    id = string_value(asked.circuit);
  } catch (const NotAnObject& problem) {
    return Problem{400, "invalid_json", std::string("`circuit`: ") + problem.what(), "/circuit"};
  }
  auto stored = circuits.find(id);
  if (!stored) return no_such_circuit(id);
  return stored;
}

using SharedModel = std::shared_ptr<const faultodds_model>;

std::variant<SharedModel, Problem> model_for(const Asked& asked,
                                             const std::shared_ptr<const StoredCircuit>& stored,
                                             const CircuitStore& circuits, const TimeLimit& limit) {
  if (stored && asked.priors.empty()) {
    // Reading the class costs a pass over the case.
    return stored->model_for(
        stored->distinguishes_classes() ? asset_class_of(asked.the_case) : std::string(), limit);
  }
  CircuitBases whole;  // of a document in the request
  if (!stored) {
    auto found = circuits.with_bases(asked.circuit);
    if (auto* problem = std::get_if<Problem>(&found)) {
      problem->pointer = "/circuit" + problem->pointer;
      return std::move(*problem);
    }
    whole = std::get<CircuitBases>(std::move(found));
  }
  bool in_priors = false;
  auto compiled = compile(stored ? stored->whole() : std::string_view(whole.text), asked.priors,
                          asset_class_of(asked.the_case), circuits.settings(), limit, &in_priors);
  if (auto* problem = std::get_if<Problem>(&compiled)) {
    if (problem->status < 500) {
      problem->pointer = (in_priors ? "/priors" : "/circuit") + problem->pointer;
    }
    return std::move(*problem);
  }
  return SharedModel(std::get<ModelHandle>(std::move(compiled)));
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
  const auto found = circuit_of(asked, circuits);
  if (const auto* problem = std::get_if<Problem>(&found)) return *problem;
  const auto& stored = std::get<0>(found);
  if (!stored || !asked.priors.empty()) answers = nullptr;
  const AnswerCache::Question remembered{stored ? stored->generation() : 0, &question,
                                         asked.the_case};
  if (answers != nullptr) {
    if (Answer before = answers->find(remembered)) return before;
  }
  auto model = model_for(asked, stored, circuits, limit);
  if (auto* problem = std::get_if<Problem>(&model)) return std::move(*problem);
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      question.ask(std::get<SharedModel>(model).get(), asked.the_case.data(), asked.the_case.size(),
                   limit.options(), &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) return from_error(error, "/case");
  Answer answer = std::make_shared<const std::string>(text);
  // What was cut for want of time is no answer to whoever asks next.
  if (answers != nullptr && !limit.passed()) answers->keep(remembered, answer);
  return answer;
}

std::variant<Answer, Problem> close(const Asked& asked, std::string_view closing, int format,
                                    const CircuitStore& circuits, const TimeLimit& limit) {
  const auto found = circuit_of(asked, circuits);
  if (const auto* problem = std::get_if<Problem>(&found)) return *problem;
  auto model = model_for(asked, std::get<0>(found), circuits, limit);
  if (auto* problem = std::get_if<Problem>(&model)) return std::move(*problem);
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = faultodds_model_close(
      std::get<SharedModel>(model).get(), asked.the_case.data(), asked.the_case.size(),
      closing.data(), closing.size(), format, limit.options(), &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) {
    // The library's pointers into the case begin with "/case".
    const bool in_case = std::string_view(faultodds_error_pointer(error)).starts_with("/case");
    return from_error(error, in_case ? "" : "/closing");
  }
  return std::make_shared<const std::string>(text);
}

}  // namespace faultodds_http
