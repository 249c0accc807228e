#include "bindings/http/problem.h"

#include <map>
#include <nlohmann/json.hpp>
#include <utility>

namespace faultodds_http {
namespace {

std::string title_of(const std::string& code) {
  static const std::map<std::string, std::string> titles = {
      {"invalid_json", "The body is not acceptable JSON"},
      {"invalid_document", "The body is not the document it should be"},
      {"invalid_circuit", "The circuit cannot be used"},
      {"invalid_case", "The case cannot be used"},
      {"invalid_priors", "The prior pack cannot be used"},
      {"conflicting_evidence", "The observations cannot all be true"},
      {"limit_exceeded", "A stated limit was reached"},
      {"out_of_memory", "Not enough memory for this request"},
      {"cancelled", "The request was stopped"},
      {"internal", "A defect of this program"},
      {"unknown_circuit", "There is no such circuit"},
      {"unknown_priors", "There is no such prior pack"},
      {"not_found", "There is nothing here"},
      {"method_not_allowed", "This method is not offered here"},
      {"body_too_large", "The body is too large"},
      {"unsupported_media_type", "The body is of a kind this program does not read"},
      {"precondition_failed", "What is stored has changed"},
      {"precondition_required", "Replacing what is stored needs its ETag"},
      {"overloaded", "Too many requests at once"},
      {"store_full", "No more can be stored"},
      {"store_failed", "What is stored could not be read or written"},
      {"store_unavailable", "The store cannot be used now"},
      {"disk_full", "The disk is full"},
      {"unknown_case", "There is no such case"},
      {"case_closed", "The case is closed"},
      {"not_closed", "The case is open"},
      {"no_closed_case", "No case is closed"},
      {"no_usable_record", "No record can be learned from"},
      {"idempotency_key_required", "This request needs an Idempotency-Key"},
      {"idempotency_key_reused", "The Idempotency-Key belongs to another request"},
      {"request_in_flight", "The same request is being worked on"},
      {"bad_request", "The request is not acceptable HTTP"},
      {"request_timeout", "The request did not arrive in time"},
      {"unauthorized", "A valid token is required"},
      {"insufficient_scope", "The token does not allow this"},
  };
  const auto found = titles.find(code);
  return found == titles.end() ? "The request was refused" : found->second;
}

}  // namespace

std::string to_json(const Problem& problem) {
  const nlohmann::ordered_json body = {{"type", "urn:faultodds:problem:" + problem.code},
                                       {"title", title_of(problem.code)},
                                       {"status", problem.status},
                                       {"detail", problem.detail},
                                       {"code", problem.code},
                                       {"pointer", problem.pointer}};
  // A path or header quoted in `detail` may hold any bytes.
  return body.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
}

int http_status(faultodds_status status) {
  switch (status) {
    case FAULTODDS_INVALID_JSON:
      return 400;
    case FAULTODDS_INVALID_DOCUMENT:
    case FAULTODDS_INVALID_CIRCUIT:
    case FAULTODDS_INVALID_CASE:
    case FAULTODDS_INVALID_PRIORS:
    case FAULTODDS_CONFLICTING_EVIDENCE:
    case FAULTODDS_LIMIT_EXCEEDED:
      return 422;
    case FAULTODDS_OUT_OF_MEMORY:
    case FAULTODDS_CANCELLED:
      return 503;
    default:
      return 500;
  }
}

Problem from_error(const faultodds_error* error, std::string_view prefix) {
  const faultodds_status status = faultodds_error_code(error);
  const int http = http_status(status);
  std::string pointer = faultodds_error_pointer(error);
  if (http < 500) pointer.insert(0, prefix);  // a defect is in no document
  if (status == FAULTODDS_CANCELLED) {
    return {http, faultodds_status_name(status),
            "this takes longer than one request may; --timeout says how long", ""};
  }
  return {http, faultodds_status_name(status), faultodds_error_message(error), std::move(pointer)};
}

std::string pointer_to(std::string_view member) {
  std::string pointer = "/";
  for (const char c : member) {
    pointer += c == '~' ? "~0" : c == '/' ? "~1" : std::string(1, c);
  }
  return pointer;
}

const char* reason_phrase(int status) {
  switch (status) {
    case 200:
      return "OK";
    case 201:
      return "Created";
    case 204:
      return "No Content";
    case 304:
      return "Not Modified";
    case 400:
      return "Bad Request";
    case 401:
      return "Unauthorized";
    case 403:
      return "Forbidden";
    case 404:
      return "Not Found";
    case 405:
      return "Method Not Allowed";
    case 408:
      return "Request Timeout";
    case 409:
      return "Conflict";
    case 411:
      return "Length Required";
    case 412:
      return "Precondition Failed";
    case 413:
      return "Content Too Large";
    case 414:
      return "URI Too Long";
    case 415:
      return "Unsupported Media Type";
    case 417:
      return "Expectation Failed";
    case 422:
      return "Unprocessable Content";
    case 428:
      return "Precondition Required";
    case 431:
      return "Request Header Fields Too Large";
    case 500:
      return "Internal Server Error";
    case 503:
      return "Service Unavailable";
    case 505:
      return "HTTP Version Not Supported";
    case 507:
      return "Insufficient Storage";
    default:
      return "Error";
  }
}

}  // namespace faultodds_http
