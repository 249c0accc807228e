// A request as the routes see it, the response they fill in, and what they share: how header fields
// and bodies are read and how an answer or a refusal is put into a response. It knows no sockets,
// no circuits and no cases.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bindings/http/precondition.h"
#include "bindings/http/problem.h"
#include "bindings/http/request_head.h"
#include "bindings/http/time_limit.h"

namespace faultodds_http {

inline constexpr const char* json_media_type = "application/json";

// Views into what it was read from, which outlives it.
struct Request {
  const RequestHead& head;
  std::string_view body;
  const TimeLimit& limit;
  std::string path;                                         // decoded, without the query
  std::vector<std::pair<std::string, std::string>> params;  // of the query, decoded
  std::string id;                                           // what stands for {id} in the path

  // Empty when there is none; the first when there are several.
  std::string_view field(std::string_view name) const;
  std::size_t field_count(std::string_view name) const;
  bool has_field(std::string_view name) const { return field_count(name) > 0; }
  std::optional<std::string> param(std::string_view name) const;
};

// Nothing when the path holds a malformed escape; one in the query is taken as it is written.
std::optional<Request> read_request(const RequestHead& head, std::string_view body,
                                    const TimeLimit& limit);

struct Response {
  int status = 200;
  std::vector<std::pair<std::string, std::string>> fields;
  std::shared_ptr<const std::string> body;  // null: none
  bool shared = false;                      // the body is part of what is stored
  std::string token_label;                  // of the token the request came with, for the log

  void set_field(std::string_view name, std::string value);  // in place of one before
  void set_body(std::string text, const char* media_type);
};

void answer(Response& response, int status, std::string body,
            const char* media_type = json_media_type);
void answer(Response& response, int status, std::shared_ptr<const std::string> body,
            const char* media_type = json_media_type);
void refuse(Response& response, const Problem& problem);

// How often a refusal was `store_failed`: the disk or the database did not do what it should.
std::uint64_t store_failures();

// Why the body is none a route reads: it must be declared as JSON. Whether it is, is for the reader
// of it to say.
std::optional<Problem> no_json_body(const Request& request);

// Whether an If-Match or If-None-Match list holds `etag` or is `*`.
bool names_etag(std::string_view list, std::string_view etag);

// The GET of something stored: its document, or 304 to who has this revision of it.
void answer_stored(const Request& request, Response& response,
                   std::shared_ptr<const std::string> document, const std::string& etag);

// Of a PUT or another write: If-Match, and If-None-Match, which can only be *.
std::variant<Precondition, Problem> precondition_of(const Request& request);

}  // namespace faultodds_http
