// Text to a JSON value, safely: the one way any document enters the library. It refuses what would
// be read differently by two parsers (duplicate keys, integers a double cannot hold, numbers out of
// range, NaN) and what would hurt this process (depth, size, count). It never recurses, so no input
// overflows the stack. It knows nothing of what the documents mean.
#pragma once

#include <cstddef>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "core/error.h"

namespace faultodds::documents {

// Keys stay in the order of the document: "first" means first to its author too.
using Json = nlohmann::ordered_json;

struct JsonLimits {
  std::size_t bytes = std::size_t{16} << 20;  // of the whole text
  std::size_t depth = 64;                     // of nested lists and objects
  std::size_t string_bytes = 65536;           // of one string or key, as decoded
  std::size_t values = 1'000'000;             // numbers, strings, lists, objects, ... together
};

// Throws Error(invalid_json): the message begins with the line and column, the pointer is the place
// reached in the document.
Json parse_json(std::string_view text, const JsonLimits& limits = {});

// The text of a member; empty where there is none.
std::string text_in(const Json& object, const char* key);

}  // namespace faultodds::documents
