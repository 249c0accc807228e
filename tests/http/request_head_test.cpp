// What is taken from a request's head, and what is not.
#include <catch2/catch.hpp>
#include <string>
#include <variant>

#include "bindings/http/request_head.h"

using faultodds_http::HeadLimits;
using faultodds_http::judge;
using faultodds_http::Problem;
using faultodds_http::RequestHead;

namespace {

RequestHead accepted(const std::string& head) {
  const auto judged = judge(head, HeadLimits{});
  if (const auto* problem = std::get_if<Problem>(&judged)) FAIL(problem->detail);
  return std::get<RequestHead>(judged);
}

int refused(const std::string& head) {
  const auto judged = judge(head, HeadLimits{});
  const auto* problem = std::get_if<Problem>(&judged);
  return problem == nullptr ? 0 : problem->status;
}

}  // namespace

TEST_CASE("a plain request is accepted", "[http]") {
  const RequestHead head = accepted("GET /livez HTTP/1.1\r\nHost: x\r\n\r\n");
  CHECK(head.method == "GET");
  CHECK(head.content_length == 0);
  CHECK(head.target == "/livez");
  CHECK(head.fields.empty());
}

TEST_CASE("only the fields the routes use are kept", "[http]") {
  const RequestHead head = accepted(
      "PUT /a HTTP/1.1\r\nHost: x\r\nRange: bytes=0-,0-\r\nREMOTE_ADDR: 10.0.0.1\r\n"
      "Content-Length:\t12 \r\nConnection: keep-alive\r\nIf-Match: \"a\"\r\n\r\n");
  CHECK(head.content_length == 12);
  REQUIRE(head.fields.size() == 1);
  CHECK(head.fields[0] == std::pair<std::string, std::string>("if-match", "\"a\""));
}

TEST_CASE("a body at the limit is accepted and one byte more is not", "[http]") {
  const std::string limit = std::to_string(HeadLimits{}.body);
  const std::string more = std::to_string(HeadLimits{}.body + 1);
  CHECK(accepted("POST / HTTP/1.1\r\nHost: x\r\nContent-Length: " + limit + "\r\n\r\n")
            .content_length == HeadLimits{}.body);
  CHECK(refused("POST / HTTP/1.1\r\nHost: x\r\nContent-Length: " + more + "\r\n\r\n") == 413);
}

TEST_CASE("leading zeros of a length do not make it another length", "[http]") {
  CHECK(accepted("POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 0010\r\n\r\n").content_length ==
        10);
}

TEST_CASE("a head that stops anywhere is refused, never read past", "[http]") {
  const std::string whole = "POST /a HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\n\r\n";
  for (std::size_t n = 0; n < whole.size(); ++n) {
    INFO(n);
    CHECK(refused(whole.substr(0, n)) == 400);
  }
}
