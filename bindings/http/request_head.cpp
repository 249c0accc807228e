#include "bindings/http/request_head.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <optional>

namespace faultodds_http {
namespace {

constexpr std::array<std::string_view, 6> used_fields = {
    "content-type", "accept", "if-match", "if-none-match", "authorization", "idempotency-key"};

Problem bad(std::string detail) { return {400, "bad_request", std::move(detail), ""}; }

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

std::string lowered(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), lower);
  return out;
}

bool is_token(std::string_view text) {
  constexpr std::string_view marks = "!#$%&'*+-.^_`|~";
  return !text.empty() && std::ranges::all_of(text, [&](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           marks.find(c) != std::string_view::npos;
  });
}

bool has_control(std::string_view text) {
  return std::ranges::any_of(text, [](char c) {
    return (static_cast<unsigned char>(c) < 0x20 && c != '\t') || c == 0x7f;
  });
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

// What the fields say about the body, gathered field by field.
struct Framing {
  int hosts = 0;
  std::optional<std::string> content_length, content_encoding, transfer_encoding, expect;
  bool twice = false;  // two Content-Length fields
  bool close = false;  // Connection holds anything but keep-alive
  int authorizations = 0, traceparents = 0;
};

std::optional<Problem> judge_framing(const Framing& framing, RequestHead& head, bool http_1_1,
                                     const HeadLimits& limits) {
  if (framing.hosts > 1 || (http_1_1 && framing.hosts == 0)) {
    return bad("expected one Host field; there are " + std::to_string(framing.hosts));
  }
  if (framing.twice) return bad("two Content-Length fields");
  if (framing.transfer_encoding && framing.content_length) {
    return bad("Transfer-Encoding and Content-Length together");
  }
  if (framing.transfer_encoding) {
    return Problem{411, "bad_request",
                   "Transfer-Encoding is not accepted; send the body with its Content-Length", ""};
  }
  if (framing.content_encoding && lowered(*framing.content_encoding) != "identity") {
    return Problem{415, "unsupported_media_type",
                   "Content-Encoding is not accepted; send the body as it is", ""};
  }
  if (framing.expect && lowered(*framing.expect) != "100-continue") {
    return Problem{417, "bad_request", "the only Expect accepted is 100-continue", ""};
  }
  head.expects_continue = framing.expect && http_1_1;
  head.keep_alive = http_1_1 && !framing.close;
  if (!framing.content_length) {
    if (head.method == "POST" || head.method == "PUT") {
      return Problem{411, "bad_request", head.method + " needs a Content-Length", ""};
    }
    return std::nullopt;
  }
  const std::string& digits = *framing.content_length;
  const bool all_digits =
      !digits.empty() && std::ranges::all_of(digits, [](char c) { return c >= '0' && c <= '9'; });
  if (!all_digits) return bad("Content-Length is not a number");
  const auto [end, error] =
      std::from_chars(digits.data(), digits.data() + digits.size(), head.content_length);
  if (error != std::errc() || head.content_length > limits.body) {
    return Problem{413, "body_too_large",
                   "the body is larger than " + std::to_string(limits.body) + " bytes", ""};
  }
  return std::nullopt;
}

}  // namespace

bool is_traceparent(std::string_view value) {
  // 00-<32 hexadecimal>-<16>-<2>, the ids not all zero.
  if (value.size() != 55 || !value.starts_with("00-") || value[35] != '-' || value[52] != '-') {
    return false;
  }
  const auto hexadecimal = [](std::string_view digits) {
    return digits.find_first_not_of("0123456789abcdef") == std::string_view::npos;
  };
  const auto id = [&](std::string_view digits) {
    return hexadecimal(digits) && digits.find_first_not_of('0') != std::string_view::npos;
  };
  return id(value.substr(3, 32)) && id(value.substr(36, 16)) && hexadecimal(value.substr(53));
}

std::variant<RequestHead, Problem> judge(std::string_view head, const HeadLimits& limits) {
  const std::size_t line_end = head.find("\r\n");
  if (line_end == std::string_view::npos) return bad("the request line does not end");
  const std::string_view line = head.substr(0, line_end);
  if (has_control(line) || line.find('\t') != std::string_view::npos) {
    return bad("a control character in the request line");
  }

  RequestHead out;
  const std::size_t first = line.find(' ');
  const std::size_t last = line.rfind(' ');
  if (first == std::string_view::npos || first == last) return bad("the request line is not HTTP");
  out.method = line.substr(0, first);
  const std::string_view target = line.substr(first + 1, last - first - 1);
  const std::string_view version = line.substr(last + 1);
  if (!is_token(out.method)) return bad("the method is not a token");
  if (!version.starts_with("HTTP/")) return bad("the request line is not HTTP");
  if (version != "HTTP/1.1" && version != "HTTP/1.0") {
    return Problem{505, "bad_request", "expected HTTP/1.1", ""};
  }
  if (target.empty() || target.front() != '/' || target.find(' ') != std::string_view::npos) {
    return bad("expected a request target that begins with /");
  }
  if (target.size() > limits.target) {
    return Problem{414, "bad_request",
                   "the request target is longer than " + std::to_string(limits.target) + " bytes",
                   ""};
  }
  out.target = target;

  Framing framing;
  std::size_t fields = 0;
  std::string_view rest = head.substr(line_end + 2);
  while (!rest.starts_with("\r\n")) {
    const std::size_t end = rest.find("\r\n");
    if (end == std::string_view::npos) return bad("the head does not end with an empty line");
    const std::string_view field = rest.substr(0, end);
    rest.remove_prefix(end + 2);
    if (++fields > limits.fields) {
      return Problem{431, "bad_request",
                     "more than " + std::to_string(limits.fields) + " header fields", ""};
    }
    const std::size_t colon = field.find(':');
    if (colon == std::string_view::npos || !is_token(field.substr(0, colon)) ||
        has_control(field)) {
      return bad("a header field is not \"name: value\" on one line ended by CR LF");
    }
    const std::string name = lowered(field.substr(0, colon));
    std::string value(trimmed(field.substr(colon + 1)));
    if (name == "host") ++framing.hosts;
    if (name == "content-length") {
      framing.twice = framing.twice || framing.content_length.has_value();
      framing.content_length = value;
    }
    if (name == "content-encoding") framing.content_encoding = value;
    if (name == "transfer-encoding") framing.transfer_encoding = value;
    if (name == "expect") framing.expect = value;
    if (name == "connection" && lowered(value) != "keep-alive") framing.close = true;
    if (name == "authorization") {
      if (++framing.authorizations > 1) return bad("two Authorization fields");
      out.authorization = value;
    }
    if (name == "traceparent") {
      out.traceparent = ++framing.traceparents == 1 && is_traceparent(value) ? value : "";
    }
    if (std::ranges::find(used_fields, name) != used_fields.end()) {
      out.fields.emplace_back(name, std::move(value));
    }
  }
  if (auto problem = judge_framing(framing, out, version == "HTTP/1.1", limits)) return *problem;
  return out;
}

}  // namespace faultodds_http
