#include "bindings/http/exchange.h"

#include <algorithm>
#include <atomic>

#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

bool is_json(std::string_view type) {
  type = type.substr(0, type.find(';'));
  while (!type.empty() && (type.back() == ' ' || type.back() == '\t')) type.remove_suffix(1);
  return std::ranges::equal(type, std::string_view(json_media_type), [](char c, char expected) {
    return (c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c) == expected;
  });
}

std::optional<unsigned char> hexadecimal(char c) {
  if (c >= '0' && c <= '9') return static_cast<unsigned char>(c - '0');
  if (c >= 'a' && c <= 'f') return static_cast<unsigned char>(c - 'a' + 10);
  if (c >= 'A' && c <= 'F') return static_cast<unsigned char>(c - 'A' + 10);
  return std::nullopt;
}

// Nothing when a % is not followed by two hexadecimal digits. In a query + is a space.
std::optional<std::string> decoded(std::string_view text, bool query) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      out += query && text[i] == '+' ? ' ' : text[i];
      continue;
    }
    if (text.size() - i < 3) return std::nullopt;
    const auto high = hexadecimal(text[i + 1]), low = hexadecimal(text[i + 2]);
    if (!high || !low) return std::nullopt;
    out += static_cast<char>(*high * 16 + *low);
    i += 2;
  }
  return out;
}

std::atomic<std::uint64_t> failures{0};

}  // namespace

std::uint64_t store_failures() { return failures; }

std::string_view Request::field(std::string_view name) const {
  const auto found = std::ranges::find(head.fields, name, [](const auto& f) { return f.first; });
  return found == head.fields.end() ? std::string_view() : std::string_view(found->second);
}

std::size_t Request::field_count(std::string_view name) const {
  return static_cast<std::size_t>(
      std::ranges::count(head.fields, name, [](const auto& f) { return f.first; }));
}

std::optional<std::string> Request::param(std::string_view name) const {
  const auto found = std::ranges::find(params, name, [](const auto& p) { return p.first; });
  return found == params.end() ? std::nullopt : std::optional(found->second);
}

std::optional<Request> read_request(const RequestHead& head, std::string_view body,
                                    const TimeLimit& limit) {
  const std::string_view target = head.target;
  const std::size_t mark = target.find('?');
  auto path = decoded(target.substr(0, mark), false);
  if (!path) return std::nullopt;
  Request out{head, body, limit, std::move(*path), {}, {}};
  std::string_view query = mark == std::string_view::npos ? "" : target.substr(mark + 1);
  while (!query.empty()) {
    const std::string_view one = query.substr(0, query.find('&'));
    query.remove_prefix(std::min(query.size(), one.size() + 1));
    const std::size_t equals = std::min(one.find('='), one.size());
    const std::string_view name = one.substr(0, equals);
    const std::string_view value = one.substr(std::min(one.size(), equals + 1));
    out.params.emplace_back(decoded(name, true).value_or(std::string(name)),
                            decoded(value, true).value_or(std::string(value)));
  }
  return out;
}

void Response::set_field(std::string_view name, std::string value) {
  const auto found = std::ranges::find(fields, name, [](const auto& f) { return f.first; });
  if (found == fields.end()) {
    fields.emplace_back(name, std::move(value));
  } else {
    found->second = std::move(value);
  }
}

void Response::set_body(std::string text, const char* media_type) {
  body = std::make_shared<const std::string>(std::move(text));
  set_field("Content-Type", media_type);
}

void answer(Response& response, int status, std::shared_ptr<const std::string> body,
            const char* media_type) {
  response.status = status;
  response.set_field("Cache-Control", "no-store");
  response.body = std::move(body);
  response.set_field("Content-Type", media_type);
  if (std::string_view(media_type).starts_with("text/html")) {
    // A page of the library's has a style of its own and nothing else.
    response.set_field("Content-Security-Policy",
                       "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'");
    response.set_field("X-Content-Type-Options", "nosniff");
  }
}

void answer(Response& response, int status, std::string body, const char* media_type) {
  answer(response, status, std::make_shared<const std::string>(std::move(body)), media_type);
}

void refuse(Response& response, const Problem& problem) {
  if (problem.code == "store_failed") ++failures;
  response.status = problem.status;
  response.set_field("Cache-Control", "no-store");
  if (problem.status == 503) response.set_field("Retry-After", "1");
  response.set_body(to_json(problem), problem_media_type);
}

std::optional<Problem> no_json_body(const Request& request) {
  const std::string_view type = request.field("content-type");
  if (is_json(type)) return std::nullopt;
  return Problem{415, "unsupported_media_type",
                 "Content-Type is " + (type.empty() ? "missing" : quoted(std::string(type))) +
                     "; expected application/json",
                 ""};
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

void answer_stored(const Request& request, Response& response,
                   std::shared_ptr<const std::string> document, const std::string& etag) {
  if (names_etag(request.field("if-none-match"), etag)) {
    response.status = 304;
  } else {
    answer(response, 200, std::move(document));
  }
  response.set_field("ETag", etag);
  response.set_field("Cache-Control", "no-cache");
}

std::variant<Precondition, Problem> precondition_of(const Request& request) {
  Precondition out;
  if (request.has_field("if-match")) out.if_match = request.field("if-match");
  if (request.has_field("if-none-match")) {
    if (request.field("if-none-match") != "*") {
      return Problem{400, "bad_request", "the only If-None-Match of a write is *", ""};
    }
    out.if_none_match_any = true;
  }
  return out;
}

}  // namespace faultodds_http
