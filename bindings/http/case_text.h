// Edits the stored text of a case, {"circuit": id, "case": document}, without rewriting it: what is
// not touched stays as it was written, byte for byte. What an entry says is for the library to
// judge, on the whole.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace faultodds_http {

struct Appended {
  std::string text;
  std::size_t position = 0;  // of the new entry in `observations`
};

// `text` with `entry` as the last of the case's observations; the list is made when there is none.
// Throws NotAnObject when `entry` is not one JSON object, or `text` not such a text.
Appended with_observation(std::string_view text, std::string_view entry);

}  // namespace faultodds_http
