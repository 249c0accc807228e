// What the routes share: how a request's body and header fields are read and how an answer or a
// refusal is put into the library's response. It knows no circuits and no cases.
#pragma once

#include <httplib.h>

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <variant>

#include "bindings/http/precondition.h"
#include "bindings/http/problem.h"

namespace faultodds_http {

inline constexpr const char* json_media_type = "application/json";

void answer(httplib::Response& response, int status, const std::string& body,
            const char* media_type = json_media_type);
void refuse(httplib::Response& response, const Problem& problem);

// How often a refusal was `store_failed`: the disk or the database did not do what it should.
std::uint64_t store_failures();

// The whole body, which must be declared as JSON; whether it is, is for the reader of it to say.
std::variant<std::string, Problem> read_json_body(const httplib::Request& request,
                                                  const httplib::ContentReader& reader,
                                                  std::size_t limit);

// Whether an If-Match or If-None-Match list holds `etag` or is `*`.
bool names_etag(std::string_view list, std::string_view etag);

// The GET of something stored: its document, or 304 to who has this revision of it.
void answer_stored(const httplib::Request& request, httplib::Response& response,
                   const std::string& document, const std::string& etag);

// Of a PUT or another write: If-Match, and If-None-Match, which can only be *.
std::variant<Precondition, Problem> precondition_of(const httplib::Request& request);

}  // namespace faultodds_http
