// The stored text of a case, {"circuit": id, "case": document} and once it is closed "closing":
// read, and edited without rewriting it: what is not touched stays as it was written, byte for
// byte. What an entry says is for the library to judge, on the whole.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <variant>

#include "bindings/http/problem.h"
#include "bindings/http/question.h"

namespace faultodds_http {

struct CaseBody {
  std::string circuit;       // id
  Asked asked;               // views into the text
  std::string_view closing;  // a document; empty: the case is open
};
std::variant<CaseBody, Problem> read_case_body(std::string_view text);

struct Appended {
  std::string text;
  std::size_t position = 0;  // of the new entry in `observations`
};

// `text` with `entry` as the last of the case's observations; the list is made when there is none.
// Throws NotAnObject when `entry` is not one JSON object, or `text` not such a text.
Appended with_observation(std::string_view text, std::string_view entry);

// `text` closed with `closing`. Throws NotAnObject when that is not one JSON object.
std::string with_closing(std::string_view text, std::string_view closing);

}  // namespace faultodds_http
