// Text from outside, as a message quotes it: valid UTF-8, without control characters, and never
// more of it than a person reads. Every message that repeats a value goes through this; it decides
// nothing about the value.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace faultodds {

inline constexpr std::size_t kMostQuoted = 200;  // characters of one value

// `text` with every byte that is not part of valid UTF-8 replaced by U+FFFD. (RFC 3629)
std::string valid_utf8(std::string_view text);

// The same, with `?` for each control character, and of a text of more than kMostQuoted characters
// only those and "...", cut between characters.
std::string printable(std::string_view text);

// The same between two marks; of a text that was cut it says how long it is:
// "`aaa...` (of 30000 characters)".
std::string quoted_between(std::string_view text, char mark);
inline std::string in_backticks(std::string_view text) { return quoted_between(text, '`'); }
inline std::string in_quotes(std::string_view text) { return quoted_between(text, '"'); }

}  // namespace faultodds
