#include "bindings/http/routes.h"

#include <faultodds.h>

#include <algorithm>
#include <exception>
#include <memory>
#include <new>
#include <nlohmann/json.hpp>
#include <optional>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/http/members.h"
#include "bindings/http/openapi.h"
#include "bindings/http/problem.h"

namespace faultodds_http {
namespace {

using httplib::ContentReader;
using httplib::Request;
using httplib::Response;
using nlohmann::ordered_json;

constexpr const char* json_media_type = "application/json";
constexpr std::string_view circuits_path = "/v1/circuits/";
constexpr std::string_view model_suffix = "/model";
constexpr std::string_view site_path = "/site/";

void answer(Response& response, int status, const std::string& body,
            const char* media_type = json_media_type) {
  response.status = status;
  response.set_header("Cache-Control", "no-store");
  response.set_content(body, media_type);
}

void refuse(Response& response, const Problem& problem) {
  response.status = problem.status;
  response.set_header("Cache-Control", "no-store");
  if (problem.status == 503) response.set_header("Retry-After", "1");
  response.set_content(to_json(problem), problem_media_type);
}

std::string quoted(const std::string& text) { return "\"" + text.substr(0, 200) + "\""; }

Problem unknown_circuit(const std::string& id, std::string pointer) {
  return {404, "unknown_circuit", "there is no circuit " + quoted(id), std::move(pointer)};
}

// A string of the library's, freed on every way out.
struct FreeText {
  void operator()(char* text) const { faultodds_free(text); }
};
using Text = std::unique_ptr<char, FreeText>;

struct FreeError {
  void operator()(faultodds_error* error) const { faultodds_error_free(error); }
};
using ErrorHandle = std::unique_ptr<faultodds_error, FreeError>;

// ---- which methods a path offers; empty when there is no such path ----------------------------

std::vector<std::string_view> methods_of(std::string_view path, bool with_site) {
  if (with_site && path.starts_with(site_path)) return {"GET", "HEAD"};
  if (path == "/v1/assess" || path == "/v1/note") return {"POST"};
  if (path == "/v1/circuits" || path == "/healthz" || path == "/livez" || path == "/readyz" ||
      path == "/openapi.json") {
    return {"GET", "HEAD"};
  }
  if (path.starts_with(circuits_path)) {
    std::string_view rest = path.substr(circuits_path.size());
    const bool model = rest.ends_with(model_suffix);
    if (model) rest.remove_suffix(model_suffix.size());
    if (rest.empty() || rest.find('/') != std::string_view::npos) return {};
    if (model) return {"GET", "HEAD"};
    return {"GET", "HEAD", "PUT"};
  }
  return {};
}

// A browser cannot send a token with a page's address; the pages hold nothing of the circuits.
bool needs_no_token(std::string_view path) {
  return path == "/healthz" || path == "/livez" || path == "/readyz" || path.starts_with(site_path);
}

// Takes the same time wherever the first difference is.
bool same_secret(std::string_view given, std::string_view wanted) {
  unsigned difference = given.size() == wanted.size() ? 0 : 1;
  for (std::size_t i = 0; i < given.size(); ++i) {
    difference |= static_cast<unsigned char>(given[i]) ^
                  static_cast<unsigned char>(wanted[i % wanted.size()]);
  }
  return difference == 0;
}

bool authorised(const Request& request, const std::string& token) {
  if (token.empty() || needs_no_token(request.path)) return true;
  const std::string given = request.get_header_value("authorization");
  constexpr std::string_view scheme = "Bearer ";
  const bool bearer = given.size() >= scheme.size() &&
                      std::equal(scheme.begin(), scheme.end(), given.begin(), [](char a, char b) {
                        return a == b || (a >= 'A' && a <= 'Z' && a - 'A' + 'a' == b);
                      });
  return bearer && same_secret(std::string_view(given).substr(scheme.size()), token);
}

// ---- bodies ------------------------------------------------------------------------------------

bool is_json(const Request& request) {
  std::string type = request.get_header_value("content-type");
  type = type.substr(0, type.find(';'));
  while (!type.empty() && (type.back() == ' ' || type.back() == '\t')) type.pop_back();
  std::ranges::transform(type, type.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return type == json_media_type;
}

std::variant<std::string, Problem> read_json_body(const Request& request,
                                                  const ContentReader& reader, std::size_t limit) {
  if (!is_json(request)) {
    const std::string type = request.get_header_value("content-type");
    return Problem{415, "unsupported_media_type",
                   "Content-Type is " + (type.empty() ? "missing" : quoted(type)) +
                       "; expected application/json",
                   ""};
  }
  std::string body;
  bool too_large = false;
  const bool whole = reader([&](const char* data, std::size_t size) {
    too_large = body.size() + size > limit;
    if (!too_large) body.append(data, size);
    return !too_large;
  });
  if (too_large) {
    return Problem{413, "body_too_large",
                   "the body is larger than " + std::to_string(limit) + " bytes", ""};
  }
  if (!whole) return Problem{400, "bad_request", "the body ended early or came too slowly", ""};
  return body;
}

// ---- POST /v1/assess, POST /v1/note ------------------------------------------------------------

struct AssessBody {
  std::string_view circuit, the_case, priors;
};

std::variant<AssessBody, Problem> read_assess_body(std::string_view body) {
  AssessBody out;
  try {
    for (const Member& member : members_of(body)) {
      if (member.name == "circuit") {
        out.circuit = member.text;
      } else if (member.name == "case") {
        out.the_case = member.text;
      } else if (member.name == "priors") {
        out.priors = member.text;
      } else {
        std::string pointer = "/";
        for (const char c : member.name) {
          pointer += c == '~' ? "~0" : c == '/' ? "~1" : std::string(1, c);
        }
        return Problem{422, "invalid_document",
                       "unknown member " + quoted(member.name) +
                           "; expected `circuit`, `case` and optionally `priors`",
                       pointer};
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

// What the library is asked about a case, and what its text is.
struct Question {
  faultodds_status (*ask)(const faultodds_model*, const char*, size_t, char**, faultodds_error**);
  const char* media_type;
};

constexpr Question kAssessment{faultodds_model_assess_json, json_media_type};
constexpr Question kTextNote{[](const faultodds_model* model, const char* text, size_t length,
                                char** note, faultodds_error** error) {
                               return faultodds_model_note(model, text, length, FAULTODDS_NOTE_TEXT,
                                                           note, error);
                             },
                             "text/plain; charset=utf-8"};
constexpr Question kHtmlNote{[](const faultodds_model* model, const char* text, size_t length,
                                char** note, faultodds_error** error) {
                               return faultodds_model_note(model, text, length, FAULTODDS_NOTE_HTML,
                                                           note, error);
                             },
                             "text/html; charset=utf-8"};

// HTML for who accepts it and does not ask for plain text.
const Question& note_for(const Request& request) {
  const std::string accept = request.get_header_value("accept");
  const bool html = accept.find("text/html") != std::string::npos;
  return html && accept.find("text/plain") == std::string::npos ? kHtmlNote : kTextNote;
}

void ask(const std::string& body, const Question& question, const CircuitStore& store,
         const RouteOptions& options, Response& response) {
  const auto read = read_assess_body(body);
  if (const auto* problem = std::get_if<Problem>(&read)) return refuse(response, *problem);
  const AssessBody& parts = std::get<AssessBody>(read);

  const std::string asset_class = asset_class_of(parts.the_case);

  // The model: a stored circuit's own, or one compiled for this request alone.
  std::shared_ptr<const faultodds_model> model;
  std::shared_ptr<const StoredCircuit> stored;
  std::string_view document = parts.circuit;
  if (parts.circuit.front() == '"') {
    std::string id;
    try {
      id = string_value(parts.circuit);
    } catch (const NotAnObject& problem) {
      return refuse(response,
                    {400, "invalid_json", std::string("`circuit`: ") + problem.what(), "/circuit"});
    }
    stored = store.find(id);
    if (!stored) return refuse(response, unknown_circuit(id, "/circuit"));
    document = stored->text();
  }
  if (stored && parts.priors.empty()) {
    auto found = stored->model_for(asset_class);
    if (const auto* problem = std::get_if<Problem>(&found)) return refuse(response, *problem);
    model = std::get<0>(std::move(found));
  } else {
    bool in_priors = false;
    auto compiled = compile(document, parts.priors, asset_class, options.model, &in_priors);
    if (auto* problem = std::get_if<Problem>(&compiled)) {
      if (problem->status < 500) {
        problem->pointer = (in_priors ? "/priors" : "/circuit") + problem->pointer;
      }
      return refuse(response, *problem);
    }
    model = std::get<ModelHandle>(std::move(compiled));
  }

  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      question.ask(model.get(), parts.the_case.data(), parts.the_case.size(), &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) return refuse(response, from_error(error, "/case"));
  answer(response, 200, text, question.media_type);
  if (&question == &kHtmlNote) {
    // The page has a style of its own and nothing else.
    response.set_header("Content-Security-Policy",
                        "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'");
    response.set_header("X-Content-Type-Options", "nosniff");
  }
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

// Whether an If-Match or If-None-Match list holds `etag` or is `*`.
bool names_etag(std::string_view list, std::string_view etag) {
  while (!list.empty()) {
    std::string_view entry = list.substr(0, list.find(','));
    list.remove_prefix(std::min(list.size(), entry.size() + 1));
    while (entry.starts_with(' ')) entry.remove_prefix(1);
    while (entry.ends_with(' ')) entry.remove_suffix(1);
    if (entry == "*" || entry == etag) return true;
  }
  return false;
}

void get_circuit(const Request& request, const std::string& id, const CircuitStore& store,
                 Response& response) {
  const auto circuit = store.find(id);
  if (!circuit) return refuse(response, unknown_circuit(id, ""));
  if (names_etag(request.get_header_value("if-none-match"), circuit->etag())) {
    response.status = 304;
  } else {
    answer(response, 200, circuit->text());
    response.headers.erase("Cache-Control");
  }
  response.set_header("ETag", circuit->etag());
  response.set_header("Cache-Control", "no-cache");
}

void put_circuit(const Request& request, const std::string& id, const std::string& body,
                 CircuitStore& store, Response& response) {
  CircuitStore::Precondition precondition;
  if (request.has_header("if-match")) precondition.if_match = request.get_header_value("if-match");
  if (request.has_header("if-none-match")) {
    if (request.get_header_value("if-none-match") != "*") {
      return refuse(response, {400, "bad_request", "the only If-None-Match of a PUT is *", ""});
    }
    precondition.if_none_match_any = true;
  }
  auto put = store.put(id, body, precondition);
  if (const auto* problem = std::get_if<Problem>(&put)) return refuse(response, *problem);
  const auto& written = std::get<CircuitStore::Written>(put);
  answer(response, written.created ? 201 : 200, summary(*written.circuit).dump());
  response.set_header("ETag", written.circuit->etag());
  if (written.created) response.set_header("Location", std::string(circuits_path) + id);
}

void describe_model(const std::string& id, const CircuitStore& store, Response& response) {
  const auto circuit = store.find(id);
  if (!circuit) return refuse(response, unknown_circuit(id, ""));
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = faultodds_model_describe_json(circuit->model(), &text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status != FAULTODDS_OK) return refuse(response, from_error(error, ""));
  answer(response, 200, text);
}

// ---- what holds for every route ----------------------------------------------------------------

httplib::Server::HandlerResponse guard(const Request& request, Response& response,
                                       const RouteOptions& options) {
  using enum httplib::Server::HandlerResponse;
  if (!authorised(request, options.token)) {
    refuse(response, {401, "unauthorized", "expected Authorization: Bearer <token>", ""});
    response.set_header("WWW-Authenticate", "Bearer");
    return Handled;
  }
  const auto methods = methods_of(request.path, !options.site.empty());
  if (methods.empty()) {
    refuse(response, {404, "not_found", "there is nothing at " + quoted(request.path), ""});
    return Handled;
  }
  if (std::ranges::find(methods, request.method) == methods.end()) {
    std::string allow;
    for (const auto method : methods) allow += (allow.empty() ? "" : ", ") + std::string(method);
    refuse(response, {405, "method_not_allowed",
                      request.method + " is not offered here; expected " + allow, ""});
    response.set_header("Allow", allow);
    return Handled;
  }
  return Unhandled;
}

}  // namespace

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
    server.set_file_request_handler([](const Request&, Response& response) {
      response.set_header("Cache-Control", "no-cache");
      response.set_header("Content-Security-Policy",
                          "default-src 'self'; object-src 'none'; base-uri 'none'");
      response.set_header("X-Content-Type-Options", "nosniff");
    });
  }

  server.Post("/v1/assess", [&store, options](const Request& request, Response& response,
                                              const ContentReader& reader) {
    const auto body = read_json_body(request, reader, options.max_body);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    ask(std::get<std::string>(body), kAssessment, store, options, response);
  });
  server.Post("/v1/note", [&store, options](const Request& request, Response& response,
                                            const ContentReader& reader) {
    const auto body = read_json_body(request, reader, options.max_body);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    ask(std::get<std::string>(body), note_for(request), store, options, response);
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
  server.Get("/readyz", [&store](const Request&, Response& response) {
    if (store.writable()) return answer(response, 200, R"({"status":"ready"})");
    refuse(response, {503, "store_failed", "the directory of circuits cannot be written", ""});
  });
  server.Get("/openapi.json",
             [](const Request&, Response& response) { answer(response, 200, openapi_document); });
}

}  // namespace faultodds_http
