// The routes below /v1/priors: packs that are in force for stored circuits. Compiling, keeping and
// going back are the circuit store's affair.
#pragma once

#include "bindings/http/circuit_store.h"
#include "bindings/http/router.h"

namespace faultodds_http {

// `store` outlives the router.
void add_prior_routes(Router& router, CircuitStore& store);

}  // namespace faultodds_http
