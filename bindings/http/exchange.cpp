#include "bindings/http/exchange.h"

#include <algorithm>
#include <atomic>

#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

bool is_json(const httplib::Request& request) {
  std::string type = request.get_header_value("content-type");
  type = type.substr(0, type.find(';'));
  while (!type.empty() && (type.back() == ' ' || type.back() == '\t')) type.pop_back();
  std::ranges::transform(type, type.begin(), [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  });
  return type == json_media_type;
}

std::atomic<std::uint64_t> failures{0};

}  // namespace

std::uint64_t store_failures() { return failures; }

void answer(httplib::Response& response, int status, const std::string& body,
            const char* media_type) {
  response.status = status;
  response.set_header("Cache-Control", "no-store");
  response.set_content(body, media_type);
  if (std::string_view(media_type).starts_with("text/html")) {
    // A page of the library's has a style of its own and nothing else.
    response.set_header("Content-Security-Policy",
                        "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'");
    response.set_header("X-Content-Type-Options", "nosniff");
  }
}

void refuse(httplib::Response& response, const Problem& problem) {
  if (problem.code == "store_failed") ++failures;
  response.status = problem.status;
  response.set_header("Cache-Control", "no-store");
  if (problem.status == 503) response.set_header("Retry-After", "1");
  response.set_content(to_json(problem), problem_media_type);
}

std::variant<std::string, Problem> read_json_body(const httplib::Request& request,
                                                  const httplib::ContentReader& reader,
                                                  std::size_t limit) {
  if (!is_json(request)) {
    const std::string type = request.get_header_value("content-type");
    return Problem{415, "unsupported_media_type",
                   "Content-Type is " + (type.empty() ? "missing" : quoted(type)) +
                       "; expected application/json",
                   ""};
  }
  std::string body;
  bool too_large = false;
  const bool whole = reader([&](const char* data, std::size_t size) {
    too_large = body.size() + size > limit;
    if (!too_large) body.append(data, size);
    return !too_large;
  });
  if (too_large) {
    return Problem{413, "body_too_large",
                   "the body is larger than " + std::to_string(limit) + " bytes", ""};
  }
  if (!whole) return Problem{400, "bad_request", "the body ended early or came too slowly", ""};
  return body;
}

bool names_etag(std::string_view list, std::string_view etag) {
  while (!list.empty()) {
    std::string_view entry = list.substr(0, list.find(','));
    list.remove_prefix(std::min(list.size(), entry.size() + 1));
    while (entry.starts_with(' ')) entry.remove_prefix(1);
    while (entry.ends_with(' ')) entry.remove_suffix(1);
    if (entry == "*" || entry == etag) return true;
  }
  return false;
}

void answer_stored(const httplib::Request& request, httplib::Response& response,
                   const std::string& document, const std::string& etag) {
  if (names_etag(request.get_header_value("if-none-match"), etag)) {
    response.status = 304;
  } else {
    answer(response, 200, document);
    response.headers.erase("Cache-Control");
  }
  response.set_header("ETag", etag);
  response.set_header("Cache-Control", "no-cache");
}

std::variant<Precondition, Problem> precondition_of(const httplib::Request& request) {
  Precondition out;
  if (request.has_header("if-match")) out.if_match = request.get_header_value("if-match");
  if (request.has_header("if-none-match")) {
    if (request.get_header_value("if-none-match") != "*") {
      return Problem{400, "bad_request", "the only If-None-Match of a write is *", ""};
    }
    out.if_none_match_any = true;
  }
  return out;
}

}  // namespace faultodds_http
