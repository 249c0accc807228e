// Cuts a JSON object into its members without reading their values, so that each document inside a
// request body reaches the library byte for byte and is judged by the library's own reader: numbers
// keep their digits and duplicate keys inside are still seen. It is no JSON parser: what a value
// holds is not checked here.
#pragma once

#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace faultodds_http {

struct Member {
  std::string name;       // unescaped
  std::string_view text;  // its value as written, without surrounding white space
};

// Not an object, or its own braces, names, colons and commas are wrong.
struct NotAnObject : std::runtime_error {
  using std::runtime_error::runtime_error;
};

// A value as a message of the adapter quotes it: at most 200 characters, cut between them, and then
// how many there are.
std::string quoted(const std::string& text);

// In document order, duplicate names refused. Throws NotAnObject. The views are into `text`.
std::vector<Member> members_of(std::string_view text);

// The string a member's text spells; throws NotAnObject when it is not a JSON string.
std::string string_value(std::string_view text);

}  // namespace faultodds_http
