#include "bindings/http/routes.h"

#include <faultodds.h>

#include <algorithm>
#include <iterator>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/http/authoring_routes.h"
#include "bindings/http/case_routes.h"
#include "bindings/http/drawing_route.h"
#include "bindings/http/exchange.h"
#include "bindings/http/learning_routes.h"
#include "bindings/http/members.h"
#include "bindings/http/openapi.h"
#include "bindings/http/pages.h"
#include "bindings/http/prior_routes.h"
#include "bindings/http/problem.h"
#include "bindings/http/question.h"
#include "bindings/http/route_table.h"
#include "bindings/http/tokens.h"

namespace faultodds_http {
namespace {

using nlohmann::ordered_json;

constexpr std::string_view circuits_path = "/v1/circuits/";

Problem unknown_circuit(const std::string& id) {
  return {404, "unknown_circuit", "there is no circuit " + quoted(id), ""};
}

// ---- POST /v1/assess, POST /v1/note, POST /v1/plan --------------------------------------------

std::variant<Asked, Problem> read_asked(std::string_view body) {
  Asked out;
  try {
    for (const Member& member : members_of(body)) {
      if (member.name == "circuit") {
        out.circuit = member.text;
      } else if (member.name == "case") {
        out.the_case = member.text;
      } else if (member.name == "priors") {
        out.priors = member.text;
      } else {
        return Problem{422, "invalid_document",
                       "unknown member " + quoted(member.name) +
                           "; expected `circuit`, `case` and optionally `priors`",
                       pointer_to(member.name)};
      }
    }
  } catch (const NotAnObject& problem) {
    return Problem{400, "invalid_json",
                   std::string("the body is not a JSON object: ") + problem.what(), ""};
  }
  if (out.circuit.empty()) {
    return Problem{
        422, "invalid_document",
        "`circuit` is missing; expected the id of a stored circuit or a circuit document",
        "/circuit"};
  }
  if (out.the_case.empty()) {
    return Problem{422, "invalid_document", "`case` is missing; expected a case document", "/case"};
  }
  return out;
}

void answer_question(const Request& request, const Question& question, const CircuitStore& store,
                     const RouteOptions& options, Response& response) {
  if (const auto problem = no_json_body(request)) return refuse(response, *problem);
  const auto asked = read_asked(request.body);
  if (const auto* problem = std::get_if<Problem>(&asked)) return refuse(response, *problem);
  const auto text = ask(question, std::get<Asked>(asked), store, options.answers, request.limit);
  if (const auto* problem = std::get_if<Problem>(&text)) return refuse(response, *problem);
  answer(response, 200, std::get<Answer>(text), question.media_type);
}

// ---- POST /v1/propose ---------------------------------------------------------------------------

// `language` of the text; words are searched in one language's lists only.
void propose(const Request& request, const CircuitStore& store, Response& response) {
  if (const auto problem = no_json_body(request)) return refuse(response, *problem);
  std::string circuit, text, language;
  bool stored = false, has_text = false;
  try {
    for (const Member& member : members_of(request.body)) {
      const bool is_text = member.text.starts_with('"');
      if (member.name == "circuit") {
        stored = is_text;
        circuit = is_text ? string_value(member.text) : std::string(member.text);
        continue;
      }
      if (member.name != "text" && member.name != "language") {
        return refuse(response, {422, "invalid_document",
                                 "unknown member " + quoted(member.name) +
                                     "; expected `circuit`, `text` and optionally `language`",
                                 pointer_to(member.name)});
      }
      if (!is_text) {
        return refuse(response, {422, "invalid_document",
                                 quoted(member.name) + " is no text; expected a string",
                                 pointer_to(member.name)});
      }
      (member.name == "text" ? text : language) = string_value(member.text);
      has_text = has_text || member.name == "text";
    }
  } catch (const NotAnObject& problem) {
    return refuse(response, {400, "invalid_json",
                             std::string("the body is not a JSON object: ") + problem.what(), ""});
  }
  for (const auto& [name, given] : {std::pair("circuit", !circuit.empty()), {"text", has_text}}) {
    if (given) continue;
    return refuse(response,
                  {422, "invalid_document", "`" + std::string(name) + "` is missing; expected it",
                   pointer_to(name)});
  }
  std::shared_ptr<const StoredCircuit> found;
  std::variant<ModelHandle, Problem> compiled = ModelHandle();
  if (stored) {
    found = store.find(circuit);
    if (!found) {
      Problem problem = unknown_circuit(circuit);
      problem.pointer = "/circuit";
      return refuse(response, problem);
    }
  } else {
    bool in_priors = false;
    auto whole = store.with_bases(circuit);
    if (auto* problem = std::get_if<Problem>(&whole)) {
      problem->pointer = "/circuit" + problem->pointer;
      return refuse(response, *problem);
    }
    compiled = compile(std::get<CircuitBases>(whole).text, {}, {}, store.settings(), request.limit,
                       &in_priors);
    if (auto* problem = std::get_if<Problem>(&compiled)) {
      if (problem->status < 500) problem->pointer = "/circuit" + problem->pointer;
      return refuse(response, *problem);
    }
  }
  const faultodds_model* model = stored ? found->model() : std::get<ModelHandle>(compiled).get();
  char* answered = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_model_propose_json(model, text.data(), text.size(), language.data(),
                                   language.size(), request.limit.options(), &answered, &error);
  const Text owned_text(answered);
  const ErrorHandle owned_error(error);
  if (status == FAULTODDS_INVALID_ARGUMENT) {
    return refuse(response, {422, "invalid_document", faultodds_error_message(error), "/language"});
  }
  if (status != FAULTODDS_OK) return refuse(response, from_error(error, "/text"));
  answer(response, 200, answered);
}

// ---- circuits ----------------------------------------------------------------------------------

ordered_json summary(const StoredCircuit& circuit) {
  return {{"id", circuit.id()},
          {"title", circuit.title()},
          {"etag", circuit.etag()},
          {"modes", faultodds_model_count(circuit.model(), FAULTODDS_MODE)},
          {"observations", faultodds_model_count(circuit.model(), FAULTODDS_OBSERVATION)}};
}

void list_circuits(const CircuitStore& store, Response& response) {
  ordered_json circuits = ordered_json::array();
  for (const auto& circuit : store.list()) circuits.push_back(summary(*circuit));
  answer(response, 200, ordered_json{{"circuits", std::move(circuits)}}.dump());
}

void get_circuit(const Request& request, const std::string& id, CircuitStore& store,
                 Response& response) {
  const auto found = store.find_on_disk(id, request.limit);
  if (const auto* problem = std::get_if<Problem>(&found)) return refuse(response, *problem);
  const auto& circuit = std::get<0>(found);
  if (!circuit) return refuse(response, unknown_circuit(id));
  answer_stored(request, response, {circuit, &circuit->text()}, circuit->etag());
  response.shared = true;
}

void put_circuit(const Request& request, CircuitStore& store, Response& response) {
  if (const auto problem = no_json_body(request)) return refuse(response, *problem);
  if (!is_circuit_id(request.id)) {
    return refuse(response, {400, "bad_request",
                             quoted(request.id) + " cannot be a circuit's id; expected at most 128 "
                                                  "of the characters A-Z a-z 0-9 _ . -",
                             ""});
  }
  const auto precondition = precondition_of(request);
  if (const auto* problem = std::get_if<Problem>(&precondition)) return refuse(response, *problem);
  const auto put =
      store.put(request.id, request.body, std::get<Precondition>(precondition), request.limit);
  if (const auto* problem = std::get_if<Problem>(&put)) return refuse(response, *problem);
  const auto& written = std::get<CircuitStore::Written>(put);
  answer(response, written.created ? 201 : 200, summary(*written.circuit).dump());
  response.set_field("ETag", written.circuit->etag());
  if (written.created) response.set_field("Location", std::string(circuits_path) + request.id);
}

// `?detail=screen`: what a screen needs.
void describe_model(const Request& request, const CircuitStore& store, Response& response) {
  const auto circuit = store.find(request.id);
  if (!circuit) return refuse(response, unknown_circuit(request.id));
  bool screen = false;
  for (const auto& [name, value] : request.params) {
    if (name == "detail" && value != "screen" && value != "full") {
      return refuse(response, {400, "invalid_argument",
                               "`detail` is `" + value + "`; expected `screen` or `full`", ""});
    }
    if (name == "detail") screen = value == "screen";
  }
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      (screen ? faultodds_model_describe_screen_json : faultodds_model_describe_json)(
          circuit->model(), nullptr, &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) return refuse(response, from_error(error, ""));
  answer(response, 200, text);
}

// The routes there are, and no other.
std::string description(const RouteOptions& options) {
  if (options.cases != nullptr) return openapi_document;
  auto document = ordered_json::parse(openapi_document);
  auto& paths = document["paths"];
  for (auto path = paths.begin(); path != paths.end();) {
    path = needs_cases(path.key()) ? paths.erase(path) : std::next(path);
  }
  return document.dump(2);
}

// ---- what holds for every route ----------------------------------------------------------------

bool may(const Scope wanted, const std::optional<Bearer>& bearer) {
  return wanted == Scope::open || (bearer && (wanted == Scope::read || bearer->scope == wanted));
}

// True when the request may not go on; why is in the response.
bool refused_by_guard(const Request& request, Response& response, const RouteOptions& options) {
  if (options.tokens != nullptr) {
    const std::string_view authorization = request.field("authorization");
    const auto bearer = options.tokens->find(authorization);
    response.token_label = bearer ? bearer->label : "";
    if (!may(scope_of(request.head.method, request.path), bearer)) {
      if (bearer) {
        refuse(response, {403, "insufficient_scope", "this token may read but not write", ""});
        response.set_field("WWW-Authenticate",
                           "Bearer error=\"insufficient_scope\", scope=\"write\"");
      } else {
        refuse(response, {401, "unauthorized", "expected Authorization: Bearer <token>", ""});
        response.set_field("WWW-Authenticate",
                           authorization.empty() ? "Bearer" : "Bearer error=\"invalid_token\"");
      }
      return true;
    }
  }
  const auto methods = methods_of(request.path, {!options.site.empty(), options.cases != nullptr});
  if (methods.empty()) {
    refuse(response, {404, "not_found", "there is nothing at " + quoted(request.path), ""});
    return true;
  }
  if (std::ranges::find(methods, request.head.method) == methods.end()) {
    std::string allow;
    for (const auto method : methods) allow += (allow.empty() ? "" : ", ") + std::string(method);
    refuse(response,
           {405, "method_not_allowed", "this method is not offered here; expected " + allow, ""});
    response.set_field("Allow", allow);
    return true;
  }
  return false;
}

void tell_ready(const CircuitStore& store, CaseStore* kept, Response& response) {
  if (!store.writable()) {
    return refuse(response,
                  {503, "store_failed", "the directory of circuits cannot be written", ""});
  }
  if (kept != nullptr) {
    if (auto problem = kept->unavailable()) {
      problem->status = 503;
      return refuse(response, *problem);
    }
  }
  answer(response, 200, R"({"status":"ready"})");
}

}  // namespace

bool wants_body(const RequestHead& head, const Tokens& tokens) {
  // An escaped path is judged as it is written, and so never more leniently than by the guard.
  return may(scope_of(head.method, head.target.substr(0, head.target.find('?'))),
             tokens.find(head.authorization));
}

void add_routes(Router& router, CircuitStore& store, const RouteOptions& options) {
  router.set_guard([options](const Request& request, Response& response) {
    return refused_by_guard(request, response, options);
  });
  if (!options.site.empty()) {
    router.add("GET", "/site/", [site = options.site](const Request& request, Response& response) {
      answer_page(site, std::string_view(request.path).substr(6), response);
    });
  }
  router.add("POST", "/v1/assess", [&store, options](const Request& request, Response& response) {
    answer_question(request, assessment, store, options, response);
  });
  router.add("POST", "/v1/note", [&store, options](const Request& request, Response& response) {
    answer_question(request, note_for(request.field("accept")), store, options, response);
  });
  router.add("POST", "/v1/plan", [&store, options](const Request& request, Response& response) {
    answer_question(request, plan_for(request.field("accept")), store, options, response);
  });
  router.add("POST", "/v1/propose", [&store](const Request& request, Response& response) {
    propose(request, store, response);
  });
  router.add("POST", "/v1/close", [&store](const Request& request, Response& response) {
    close_case(request, store, response);
  });
  router.add("GET", "/v1/circuits",
             [&store](const Request&, Response& response) { list_circuits(store, response); });
  router.add("GET", "/v1/circuits/{id}", [&store](const Request& request, Response& response) {
    get_circuit(request, request.id, store, response);
  });
  router.add("GET", "/v1/circuits/{id}/model",
             [&store](const Request& request, Response& response) {
               describe_model(request, store, response);
             });
  router.add("PUT", "/v1/circuits/{id}", [&store](const Request& request, Response& response) {
    put_circuit(request, store, response);
  });
  const auto alive = [](const Request&, Response& response) {
    answer(response, 200, ordered_json{{"status", "ok"}, {"version", faultodds_version()}}.dump());
  };
  router.add("GET", "/livez", alive);
  router.add("GET", "/healthz", alive);
  router.add("GET", "/readyz", [&store, cases = options.cases](const Request&, Response& response) {
    tell_ready(store, cases, response);
  });
  router.add("GET", "/metrics", [options](const Request&, Response& response) {
    answer(response, 200, options.metrics ? options.metrics() : "", "text/plain; version=0.0.4");
  });
  router.add("GET", "/openapi.json",
             [description = std::make_shared<const std::string>(description(options))](
                 const Request&, Response& response) {
               answer(response, 200, description);
               response.shared = true;
             });
  add_prior_routes(router, store);
  add_authoring_routes(router, store);
  add_drawing_route(router, store);
  if (options.cases != nullptr) {
    add_case_routes(router, *options.cases, store, {options.max_body, options.answers});
    add_learning_routes(router, *options.cases, store);
  }
}

}  // namespace faultodds_http
