#include "bindings/http/prior_routes.h"

#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <variant>

#include "bindings/http/exchange.h"
#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

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
  answer_stored(request, response, current.text, current.etag);
  response.shared = true;
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
  response.set_field("ETag", written.pack->versions.back().etag);
  if (written.created) response.set_field("Location", "/v1/priors/" + id);
}

}  // namespace

void add_prior_routes(Router& router, CircuitStore& store) {
  router.add("GET", "/v1/priors",
             [&store](const Request&, Response& response) { list(store, response); });
  router.add("GET", "/v1/priors/{id}", [&store](const Request& request, Response& response) {
    get(request, request.id, store, response);
  });
  router.add("PUT", "/v1/priors/{id}", [&store](const Request& request, Response& response) {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const auto precondition = precondition_of(request);
    if (const auto* problem = std::get_if<Problem>(&precondition)) {
      return refuse(response, *problem);
    }
    tell(request.id,
         store.put_pack(request.id, request.body, std::get<Precondition>(precondition),
                        request.limit),
         response);
  });
  router.add(
      "POST", "/v1/priors/{id}/rollback", [&store](const Request& request, Response& response) {
        const auto precondition = precondition_of(request);
        if (const auto* problem = std::get_if<Problem>(&precondition)) {
          return refuse(response, *problem);
        }
        tell(request.id,
             store.roll_back_pack(request.id, std::get<Precondition>(precondition), request.limit),
             response);
      });
}

}  // namespace faultodds_http
