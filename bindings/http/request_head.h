// Reads and judges the head of an HTTP/1 request. Heads that the next machine may read differently
// (two Content-Length fields, none at all, lines ended by a bare line feed, chunked bodies) are
// refused. It reads no socket and knows no routes.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/http/problem.h"

namespace faultodds_http {

struct HeadLimits {
  std::size_t target = 2048;       // bytes of the request target; more is 414
  std::size_t fields = 100;        // header fields; more is 431
  std::size_t body = 1024 * 1024;  // bytes of body; more is 413
};

struct RequestHead {
  std::string method;
  std::string target;         // as sent
  std::string authorization;  // empty when there is none
  std::string traceparent;    // empty when there is none or it is malformed
  std::size_t content_length = 0;
  bool keep_alive = false;        // HTTP/1.1 that does not ask to close
  bool expects_continue = false;  // waits to be told before it sends its body
  // Name in lower case and value of the fields the routes use, and of no other.
  std::vector<std::pair<std::string, std::string>> fields;
};

// Whether this is a `traceparent` of the W3C recommendation Trace Context, version 00.
bool is_traceparent(std::string_view value);

// `head` is everything up to and including the empty line.
std::variant<RequestHead, Problem> judge(std::string_view head, const HeadLimits& limits);

}  // namespace faultodds_http
