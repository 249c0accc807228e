// What the adapter answers, route by route. Every handler turns a request into one call of the C
// ABI or of the circuit store and back; nothing here knows hydraulics, probability or sockets.
#pragma once

#include <cstddef>
#include <functional>
#include <string>

#include "bindings/http/answer_cache.h"
#include "bindings/http/case_store.h"
#include "bindings/http/circuit_store.h"
#include "bindings/http/request_head.h"
#include "bindings/http/router.h"
#include "bindings/http/tokens.h"

namespace faultodds_http {

struct RouteOptions {
  std::size_t max_body = 1024 * 1024;    // bytes of a stored case
  const Tokens* tokens = nullptr;        // null: none are asked for
  std::string site;                      // directory of the files under /site/; empty: none
  CaseStore* cases = nullptr;            // null: there are no routes below /v1/cases
  AnswerCache* answers = nullptr;        // null: none are kept
  std::function<std::string()> metrics;  // the text of /metrics
};

// Whether a request with this head may do what it asks, so that its body is worth reading.
bool wants_body(const RequestHead& head, const Tokens& tokens);

// `store` and what the options point to outlive the router.
void add_routes(Router& router, CircuitStore& store, const RouteOptions& options);

}  // namespace faultodds_http
