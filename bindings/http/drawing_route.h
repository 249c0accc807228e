// The drawing of the part of a circuit that a case concerns, as a screen shows it.
#pragma once

#include "bindings/http/circuit_store.h"
#include "bindings/http/router.h"

namespace faultodds_http {

// The store must outlive the router.
void add_drawing_route(Router& router, const CircuitStore& store);

}  // namespace faultodds_http
