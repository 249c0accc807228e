#include "bindings/http/authoring_routes.h"

#include <faultodds_circuit.h>

#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "bindings/http/exchange.h"
#include "bindings/http/members.h"
#include "bindings/http/problem.h"
#include "bindings/http/question.h"

namespace faultodds_http {
namespace {

// The members of a body by name: documents as JSON text, the circuits of stored ids as stored.
class Body {
 public:
  struct Wanted {
    const char* name;
    enum { circuit, document, text } kind;
    bool needed;
  };

  std::variant<bool, Problem> read(const Request& request, const std::vector<Wanted>& wanted,
                                   const CircuitStore& store) {
    std::string names;
    for (const Wanted& one : wanted)
      names += (names.empty() ? "`" : ", `") + std::string(one.name) + "`";
    try {
      for (const Member& member : members_of(request.body)) {
        const Wanted* known = nullptr;
        for (const Wanted& one : wanted) {
          if (member.name == one.name) known = &one;
        }
        if (known == nullptr) {
          return Problem{422, "invalid_document",
                         "unknown member " + quoted(member.name) + "; expected " + names,
                         pointer_to(member.name)};
        }
        std::string& text = texts_[known->name];
        const bool is_text = known->kind == Wanted::text;
        if (is_text || (known->kind == Wanted::circuit && member.text.starts_with('"'))) {
          if (!member.text.starts_with('"')) {
            return Problem{422, "invalid_document",
                           quoted(member.name) + " is no text; expected a string",
                           pointer_to(member.name)};
          }
          text = string_value(member.text);
        } else {
          text = member.text;
        }
        if (known->kind == Wanted::circuit && !member.text.starts_with('"')) {
          auto found = store.with_bases(text);
          if (auto* problem = std::get_if<Problem>(&found)) {
            problem->pointer = pointer_to(member.name) + problem->pointer;
            return std::move(*problem);
          }
          text = std::get<CircuitBases>(std::move(found)).text;
        }
        if (known->kind != Wanted::circuit || !member.text.starts_with('"')) continue;
        const auto stored = store.find(text);
        if (!stored) {
          return Problem{404, "unknown_circuit",
                         "there is no circuit " + faultodds_http::quoted(text),
                         pointer_to(member.name)};
        }
        text = stored->whole();
      }
    } catch (const NotAnObject& problem) {
      return Problem{400, "invalid_json",
                     std::string("the body is not a JSON object: ") + problem.what(), ""};
    }
    for (const Wanted& one : wanted) {
      if (one.needed && texts_.count(one.name) == 0) {
        return Problem{422, "invalid_document",
                       "`" + std::string(one.name) + "` is missing; expected it",
                       pointer_to(one.name)};
      }
    }
    return true;
  }

  // NULL where the member was not given.
  const char* data(const char* name) const {
    const auto found = texts_.find(name);
    return found == texts_.end() ? nullptr : found->second.c_str();
  }
  size_t size(const char* name) const {
    const auto found = texts_.find(name);
    return found == texts_.end() ? 0 : found->second.size();
  }

 private:
  std::map<std::string, std::string, std::less<>> texts_;
};

template <typename Call>
void give(Response& response, const char* media_type, const std::string& prefix, Call call) {
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = call(&text, &error);
  const Text owned_text(text);
  const ErrorHandle owned_error(error);
  if (status == FAULTODDS_OK) return answer(response, 200, text, media_type);
  const std::string_view message = faultodds_error_message(error);
  if (message.starts_with("in the case: ")) return refuse(response, from_error(error, "/case"));
  // The other name in a request for a circuit is that of an observation.
  refuse(response, from_error(error, status == FAULTODDS_INVALID_CASE ? "/observation" : prefix));
}

template <typename Call>
void add(Router& router, const CircuitStore& store, const char* path,
         std::vector<Body::Wanted> wanted, const char* media_type, Call call) {
  router.add("POST", path,
             [&store, wanted = std::move(wanted), media_type, call](const Request& request,
                                                                    Response& response) {
               if (const auto problem = no_json_body(request)) return refuse(response, *problem);
               Body body;
               const auto read = body.read(request, wanted, store);
               if (const auto* problem = std::get_if<Problem>(&read)) {
                 return refuse(response, *problem);
               }
               // What is wrong in a diff lies in one of two documents: its message says in which.
               const bool one = std::string_view(wanted.front().name) != "before";
               give(response, media_type, one ? pointer_to(wanted.front().name) : "",
                    [&](char** text, faultodds_error** error) {
                      return call(body, request.limit.options(), text, error);
                    });
             });
}

}  // namespace

void add_authoring_routes(Router& router, const CircuitStore& store) {
  using Options = const faultodds_call_options*;
  const char* const json = "application/json";
  add(router, store, "/v1/check", {{"circuit", Body::Wanted::circuit, true}}, json,
      [](const Body& body, Options options, char** text, faultodds_error** error) {
        return faultodds_circuit_check_json(body.data("circuit"), body.size("circuit"), options,
                                            text, error);
      });
  add(router, store, "/v1/explain",
      {{"circuit", Body::Wanted::circuit, true},
       {"observation", Body::Wanted::text, true},
       {"size", Body::Wanted::text, false}},
      json, [](const Body& body, Options options, char** text, faultodds_error** error) {
        return faultodds_circuit_explain_json(
            body.data("circuit"), body.size("circuit"), body.data("observation"),
            body.size("observation"), body.data("size"), body.size("size"), options, text, error);
      });
  add(router, store, "/v1/diff",
      {{"before", Body::Wanted::circuit, true},
       {"after", Body::Wanted::circuit, true},
       {"case", Body::Wanted::document, false}},
      json, [](const Body& body, Options options, char** text, faultodds_error** error) {
        return faultodds_circuit_diff_json(
            body.data("before"), body.size("before"), body.data("after"), body.size("after"),
            body.data("case"), body.size("case"), options, text, error);
      });
  add(router, store, "/v1/new", {{"parts", Body::Wanted::document, true}}, json,
      [](const Body& body, Options options, char** text, faultodds_error** error) {
        return faultodds_circuit_new_json(body.data("parts"), body.size("parts"), options, text,
                                          error);
      });
  add(router, store, "/v1/expand", {{"circuit", Body::Wanted::circuit, true}}, json,
      [](const Body& body, Options options, char** text, faultodds_error** error) {
        return faultodds_circuit_expand_json(body.data("circuit"), body.size("circuit"), options,
                                             text, error);
      });
  add(router, store, "/v1/draw",
      {{"circuit", Body::Wanted::circuit, true}, {"case", Body::Wanted::document, false}},
      "image/svg+xml", [](const Body& body, Options options, char** text, faultodds_error** error) {
        return faultodds_circuit_draw_svg(body.data("circuit"), body.size("circuit"),
                                          body.data("case"), body.size("case"), options, text,
                                          error);
      });
  router.add("GET", "/v1/schemas/{id}", [](const Request& request, Response& response) {
    const std::string format = request.id + "/1";
    char* text = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status =
        faultodds_schema_json(format.data(), format.size(), nullptr, &text, &error);
    const Text owned_text(text);
    const ErrorHandle owned_error(error);
    if (status == FAULTODDS_INVALID_ARGUMENT) {
      return refuse(response, {404, "not_found", faultodds_error_message(error), ""});
    }
    if (status != FAULTODDS_OK) return refuse(response, from_error(error, ""));
    answer(response, 200, text, "application/schema+json");
  });
}

}  // namespace faultodds_http
