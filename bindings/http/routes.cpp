#include "bindings/http/routes.h"

#include <faultodds.h>

#include <algorithm>
#include <exception>
#include <iterator>
#include <memory>
#include <new>
#include <nlohmann/json.hpp>
#include <optional>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/http/case_routes.h"
#include "bindings/http/exchange.h"
#include "bindings/http/members.h"
#include "bindings/http/openapi.h"
#include "bindings/http/prior_routes.h"
#include "bindings/http/problem.h"
#include "bindings/http/question.h"
#include "bindings/http/route_table.h"
#include "bindings/http/tokens.h"

namespace faultodds_http {
namespace {

using httplib::ContentReader;
using httplib::Request;
using httplib::Response;
using nlohmann::ordered_json;

constexpr std::string_view circuits_path = "/v1/circuits/";

Problem unknown_circuit(const std::string& id) {
  return {404, "unknown_circuit", "there is no circuit " + quoted(id), ""};
}

// ---- POST /v1/assess, POST /v1/note ------------------------------------------------------------

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

void answer_question(const std::string& body, const Question& question, const CircuitStore& store,
                     const RouteOptions& options, Response& response) {
  const auto asked = read_asked(body);
  if (const auto* problem = std::get_if<Problem>(&asked)) return refuse(response, *problem);
  const auto text = ask(question, std::get<Asked>(asked), store, options.answers);
  if (const auto* problem = std::get_if<Problem>(&text)) return refuse(response, *problem);
  answer(response, 200, *std::get<Answer>(text), question.media_type);
}

// ---- circuits ----------------------------------------------------------------------------------

ordered_json summary(const StoredCircuit& circuit) {
  return {{"id", circuit.id()},
          {"title", circuit.title()},
          {"etag", circuit.etag()},
          {"modes", faultodds_model_mode_count(circuit.model())},
          {"observations", faultodds_model_observation_count(circuit.model())}};
}

void list_circuits(const CircuitStore& store, Response& response) {
  ordered_json circuits = ordered_json::array();
  for (const auto& circuit : store.list()) circuits.push_back(summary(*circuit));
  answer(response, 200, ordered_json{{"circuits", std::move(circuits)}}.dump());
}

void get_circuit(const Request& request, const std::string& id, const CircuitStore& store,
                 Response& response) {
  const auto circuit = store.find(id);
  if (!circuit) return refuse(response, unknown_circuit(id));
  answer_stored(request, response, circuit->text(), circuit->etag());
}

void put_circuit(const Request& request, const std::string& id, const std::string& body,
                 CircuitStore& store, Response& response) {
  const auto precondition = precondition_of(request);
  if (const auto* problem = std::get_if<Problem>(&precondition)) return refuse(response, *problem);
  const auto put = store.put(id, body, std::get<Precondition>(precondition));
  if (const auto* problem = std::get_if<Problem>(&put)) return refuse(response, *problem);
  const auto& written = std::get<CircuitStore::Written>(put);
  answer(response, written.created ? 201 : 200, summary(*written.circuit).dump());
  response.set_header("ETag", written.circuit->etag());
  if (written.created) response.set_header("Location", std::string(circuits_path) + id);
}

void describe_model(const std::string& id, const CircuitStore& store, Response& response) {
  const auto circuit = store.find(id);
  if (!circuit) return refuse(response, unknown_circuit(id));
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = faultodds_model_describe_json(circuit->model(), &text, &error);
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
    path = path.key().starts_with("/v1/cases") ? paths.erase(path) : std::next(path);
  }
  return document.dump(2);
}

// ---- what holds for every route ----------------------------------------------------------------

bool may(const Scope wanted, const std::optional<Bearer>& bearer) {
  return wanted == Scope::open || (bearer && (wanted == Scope::read || bearer->scope == wanted));
}

httplib::Server::HandlerResponse guard(const Request& request, Response& response,
                                       const RouteOptions& options) {
  using enum httplib::Server::HandlerResponse;
  if (options.tokens != nullptr) {
    const std::string authorization = request.get_header_value("authorization");
    const auto bearer = options.tokens->find(authorization);
    token_label() = bearer ? bearer->label : "";
    if (!may(scope_of(request.method, request.path), bearer)) {
      if (bearer) {
        refuse(response, {403, "insufficient_scope", "this token may read but not write", ""});
        response.set_header("WWW-Authenticate",
                            "Bearer error=\"insufficient_scope\", scope=\"write\"");
      } else {
        refuse(response, {401, "unauthorized", "expected Authorization: Bearer <token>", ""});
        response.set_header("WWW-Authenticate",
                            authorization.empty() ? "Bearer" : "Bearer error=\"invalid_token\"");
      }
      return Handled;
    }
  }
  const auto methods = methods_of(request.path, {!options.site.empty(), options.cases != nullptr});
  if (methods.empty()) {
    refuse(response, {404, "not_found", "there is nothing at " + quoted(request.path), ""});
    return Handled;
  }
  if (std::ranges::find(methods, request.method) == methods.end()) {
    std::string allow;
    for (const auto method : methods) allow += (allow.empty() ? "" : ", ") + std::string(method);
    refuse(response,
           {405, "method_not_allowed", "this method is not offered here; expected " + allow, ""});
    response.set_header("Allow", allow);
    return Handled;
  }
  return Unhandled;
}

}  // namespace

bool wants_body(const RequestHead& head, const Tokens& tokens) {
  // An escaped path is judged as it is written, and so never more leniently than by the guard.
  return may(scope_of(head.method, head.target.substr(0, head.target.find('?'))),
             tokens.find(head.authorization));
}

void add_routes(httplib::Server& server, CircuitStore& store, const RouteOptions& options) {
  server.set_pre_routing_handler([options](const Request& request, Response& response) {
    return guard(request, response, options);
  });
  // What the library refuses by itself gets the same form as everything else.
  server.set_error_handler([](const Request&, Response& response) {
    if (!response.body.empty()) return;
    const int status = response.status;
    refuse(response, {status,
                      status == 413   ? "body_too_large"
                      : status == 404 ? "not_found"
                                      : "bad_request",
                      reason_phrase(status), ""});
  });
  // The text of an exception may hold anything: it stays here.
  server.set_exception_handler([](const Request&, Response& response, std::exception_ptr cause) {
    try {
      std::rethrow_exception(cause);
    } catch (const std::bad_alloc&) {
      refuse(response, {503, "out_of_memory", "not enough memory for this request", ""});
    } catch (...) {
      refuse(response, {500, "internal", "a defect of this program; please report it", ""});
    }
  });

  if (!options.site.empty()) {
    server.set_mount_point("/site", options.site);
    server.set_file_extension_and_mimetype_mapping("js", "text/javascript");
    server.set_file_extension_and_mimetype_mapping("wasm", "application/wasm");
    server.set_file_request_handler([](const Request&, Response& response) {
      response.set_header("Cache-Control", "no-cache");
      response.set_header(
          "Content-Security-Policy",
          "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; object-src 'none'; "
          "base-uri 'none'");
      response.set_header("X-Content-Type-Options", "nosniff");
    });
  }

  server.Post("/v1/assess", [&store, options](const Request& request, Response& response,
                                              const ContentReader& reader) {
    const auto body = read_json_body(request, reader, options.max_body);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    answer_question(std::get<std::string>(body), assessment, store, options, response);
  });
  server.Post("/v1/note", [&store, options](const Request& request, Response& response,
                                            const ContentReader& reader) {
    const auto body = read_json_body(request, reader, options.max_body);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    answer_question(std::get<std::string>(body), note_for(request.get_header_value("accept")),
                    store, options, response);
  });
  server.Get("/v1/circuits",
             [&store](const Request&, Response& response) { list_circuits(store, response); });
  server.Get("/v1/circuits/([^/]+)", [&store](const Request& request, Response& response) {
    get_circuit(request, request.matches[1], store, response);
  });
  server.Get("/v1/circuits/([^/]+)/model", [&store](const Request& request, Response& response) {
    describe_model(request.matches[1], store, response);
  });
  server.Put("/v1/circuits/([^/]+)", [&store, options](const Request& request, Response& response,
                                                       const ContentReader& reader) {
    const std::string id = request.matches[1];
    const auto body = read_json_body(request, reader, options.max_body);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    if (!is_circuit_id(id)) {
      return refuse(response, {400, "bad_request",
                               quoted(id) + " cannot be a circuit's id; expected at most 128 of "
                                            "the characters A-Z a-z 0-9 _ . -",
                               ""});
    }
    put_circuit(request, id, std::get<std::string>(body), store, response);
  });
  const auto alive = [](const Request&, Response& response) {
    answer(response, 200, ordered_json{{"status", "ok"}, {"version", faultodds_version()}}.dump());
  };
  server.Get("/livez", alive);
  server.Get("/healthz", alive);
  server.Get("/readyz", [&store, cases = options.cases](const Request&, Response& response) {
    if (!store.writable()) {
      return refuse(response,
                    {503, "store_failed", "the directory of circuits cannot be written", ""});
    }
    if (cases != nullptr) {
      if (auto problem = cases->unavailable()) {
        problem->status = 503;
        return refuse(response, *problem);
      }
    }
    answer(response, 200, R"({"status":"ready"})");
  });
  server.Get("/metrics", [options](const Request&, Response& response) {
    answer(response, 200, options.metrics ? options.metrics() : "", "text/plain; version=0.0.4");
  });
  server.Get("/openapi.json",
             [description = description(options)](const Request&, Response& response) {
               answer(response, 200, description);
             });
  add_prior_routes(server, store, options.max_body);
  if (options.cases != nullptr) {
    add_case_routes(server, *options.cases, store, {options.max_body, options.answers});
  }
}

}  // namespace faultodds_http
