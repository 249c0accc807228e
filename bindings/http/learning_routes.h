// From closed cases to a pack that may be put in force: records of closed cases, learning from
// them, comparing a pack with the one in force. Nothing here changes anything: closing a case is
// case_routes.h's, putting a pack in force prior_routes.h's, and how anything is learned the
// library's.
#pragma once

#include <string_view>

#include "bindings/http/case_store.h"
#include "bindings/http/circuit_store.h"
#include "bindings/http/question.h"
#include "bindings/http/router.h"

namespace faultodds_http {

// Both stores outlive the router.
void add_learning_routes(Router& router, CaseStore& cases, const CircuitStore& circuits);

// POST /v1/close: the record of a case that nobody keeps here.
void close_case(const Request& request, const CircuitStore& circuits, Response& response);

// The record as the request's Accept has it: rows of a work-order file for who names text/csv and
// not JSON.
void tell_record(const Request& request, const Asked& asked, std::string_view closing,
                 const CircuitStore& circuits, Response& response);

}  // namespace faultodds_http
