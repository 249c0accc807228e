// The routes for who writes circuit documents: check, explain, diff, new, draw and the JSON
// Schemas, each one call of the C interface.
#pragma once

#include "bindings/http/circuit_store.h"
#include "bindings/http/router.h"

namespace faultodds_http {

void add_authoring_routes(Router& router, const CircuitStore& store);

}  // namespace faultodds_http
