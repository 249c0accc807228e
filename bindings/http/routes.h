// What the adapter answers, route by route. Every handler turns a request into one call of the C
// ABI or of the circuit store and back; nothing here knows hydraulics, probability or sockets.
#pragma once

#include <httplib.h>

#include <cstddef>
#include <string>

#include "bindings/http/case_store.h"
#include "bindings/http/circuit_store.h"

namespace faultodds_http {

struct RouteOptions {
  std::size_t max_body = 1024 * 1024;  // bytes; more is 413
  std::string token;                   // bearer token; empty: none is asked for
  std::string site;                    // directory of the files under /site/; empty: none
  CaseStore* cases = nullptr;          // null: there are no routes below /v1/cases
  ModelSettings model;                 // for circuits that come with the request
};

// `store` and the case store outlive the server.
void add_routes(httplib::Server& server, CircuitStore& store, const RouteOptions& options);

}  // namespace faultodds_http
