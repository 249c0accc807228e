#include "bindings/http/prior_routes.h"

#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <variant>

#include "bindings/http/exchange.h"
#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

using httplib::ContentReader;
using httplib::Request;
using httplib::Response;
using nlohmann::ordered_json;

ordered_json summary(const CircuitStore::PackSummary& pack) {
  ordered_json before = ordered_json::array();  // newest first
  for (std::size_t i = pack.versions.size() - 1; i-- > 0;) {
    before.push_back(pack.versions[i].etag);
  }
  return {{"id", pack.id},
          {"etag", pack.versions.back().etag},
          {"bytes", pack.versions.back().text->size()},
          {"before", std::move(before)}};
}

void list(const CircuitStore& store, Response& response) {
  ordered_json priors = ordered_json::array();
  for (const auto& pack : store.packs()) priors.push_back(summary(pack));
  answer(response, 200, ordered_json{{"priors", std::move(priors)}}.dump());
}

void get(const Request& request, const std::string& id, const CircuitStore& store,
         Response& response) {
  const auto pack = store.pack(id);
  if (!pack) {
    return refuse(response, {404, "unknown_priors", "there is no prior pack " + quoted(id), ""});
  }
  const PackVersion& current = pack->versions.back();
  answer_stored(request, response, *current.text, current.etag);
}

void tell(const std::string& id, const std::variant<CircuitStore::PackWritten, Problem>& outcome,
          Response& response) {
  if (const auto* problem = std::get_if<Problem>(&outcome)) return refuse(response, *problem);
  const auto& written = std::get<CircuitStore::PackWritten>(outcome);
  if (!written.pack) {
    response.status = 204;
    return;
  }
  answer(response, written.created ? 201 : 200, summary(*written.pack).dump());
  response.set_header("ETag", written.pack->versions.back().etag);
  if (written.created) response.set_header("Location", "/v1/priors/" + id);
}

}  // namespace

void add_prior_routes(httplib::Server& server, CircuitStore& store, std::size_t max_body) {
  server.Get("/v1/priors", [&store](const Request&, Response& response) { list(store, response); });
  server.Get("/v1/priors/([^/]+)", [&store](const Request& request, Response& response) {
    get(request, request.matches[1], store, response);
  });
  server.Put("/v1/priors/([^/]+)", [&store, max_body](const Request& request, Response& response,
                                                      const ContentReader& reader) {
    const std::string id = request.matches[1];
    const auto body = read_json_body(request, reader, max_body);
    if (const auto* problem = std::get_if<Problem>(&body)) return refuse(response, *problem);
    const auto precondition = precondition_of(request);
    if (const auto* problem = std::get_if<Problem>(&precondition)) {
      return refuse(response, *problem);
    }
    tell(id, store.put_pack(id, std::get<std::string>(body), std::get<Precondition>(precondition)),
         response);
  });
  server.Post("/v1/priors/([^/]+)/rollback",
              [&store](const Request& request, Response& response, const ContentReader&) {
                const std::string id = request.matches[1];
                const auto precondition = precondition_of(request);
                if (const auto* problem = std::get_if<Problem>(&precondition)) {
                  return refuse(response, *problem);
                }
                tell(id, store.roll_back_pack(id, std::get<Precondition>(precondition)), response);
              });
}

}  // namespace faultodds_http
