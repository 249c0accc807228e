// Every refusal of the adapter as problem details (RFC 9457). The one place that says which HTTP
// status a faultodds_status becomes. It writes no sockets.
#pragma once

#include <faultodds.h>

#include <string>
#include <string_view>

namespace faultodds_http {

inline constexpr const char* problem_media_type = "application/problem+json";

struct Problem {
  int status = 500;
  std::string code;     // snake_case; the end of `type`, stable for programs
  std::string detail;   // a sentence for a person
  std::string pointer;  // RFC 6901, into the request body; empty for the whole of it
};

// {"type":"urn:faultodds:problem:<code>","title","status","detail","code","pointer"}
std::string to_json(const Problem& problem);

// 400 for what is not JSON, 422 for documents that are wrong, 503 for want of memory, 500 for a
// defect.
int http_status(faultodds_status status);

// The library's error, its pointer put behind `prefix` (the member of the body it was found in).
Problem from_error(const faultodds_error* error, std::string_view prefix);

// The pointer to a member of the body.
std::string pointer_to(std::string_view member);

// "Not Found" for 404, and so on, for every status sent without a route.
const char* reason_phrase(int status);

}  // namespace faultodds_http
