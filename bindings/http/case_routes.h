// The routes below /v1/cases: cases that the adapter keeps in a store. They turn requests into
// reads and writes of the store and check every case with the library before it is written; how a
// write survives a crash is the store's affair.
#pragma once

#include <cstddef>

#include "bindings/http/answer_cache.h"
#include "bindings/http/case_store.h"
#include "bindings/http/circuit_store.h"
#include "bindings/http/router.h"

namespace faultodds_http {

struct CaseRouteOptions {
  std::size_t max_body = 1024 * 1024;  // bytes of a stored case
  AnswerCache* answers = nullptr;
};

// Both stores outlive the router.
void add_case_routes(Router& router, CaseStore& cases, const CircuitStore& circuits,
                     const CaseRouteOptions& options);

}  // namespace faultodds_http
