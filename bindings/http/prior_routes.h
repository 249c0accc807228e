// The routes below /v1/priors: packs that are in force for stored circuits. Compiling, keeping and
// going back are the circuit store's affair.
#pragma once

#include <httplib.h>

#include <cstddef>

#include "bindings/http/circuit_store.h"

namespace faultodds_http {

// `store` outlives the server; a body is at most `max_body` bytes.
void add_prior_routes(httplib::Server& server, CircuitStore& store, std::size_t max_body);

}  // namespace faultodds_http
