// Doubles as text and back, as std::from_chars and std::to_chars do: no locale, and the shortest
// digits that read back to the same number. For doubles only, since the standard library of
// Emscripten 3 has neither of the two for them; for whole numbers use std::from_chars.
#pragma once

#include <charconv>
#include <string>

namespace faultodds {

// The same from the C library, whose locale must be "C". Infinities and NaN are written, not read.
// Tests hold them to the standard library's.
namespace by_c_library {
std::from_chars_result read_number(const char* first, const char* last, double& value);
std::to_chars_result write_number(char* first, char* last, double value);
std::to_chars_result write_number(char* first, char* last, double value, int decimals);
}  // namespace by_c_library

#if defined(__EMSCRIPTEN__) && !defined(__cpp_lib_to_chars)  // where there is no other locale
using by_c_library::read_number;
using by_c_library::write_number;
#else
inline std::from_chars_result read_number(const char* first, const char* last, double& value) {
  return std::from_chars(first, last, value);
}

inline std::to_chars_result write_number(char* first, char* last, double value) {
  return std::to_chars(first, last, value);
}

// With that many digits after the point.
inline std::to_chars_result write_number(char* first, char* last, double value, int decimals) {
  return std::to_chars(first, last, value, std::chars_format::fixed, decimals);
}
#endif

// As std::to_string of a double or printf("%.6f") in the locale "C", whichever is set.
inline std::string fixed_text(double value, int decimals = 6) {
  char text[400];  // the largest double has 309 digits before the point
  return std::string(text, write_number(text, text + sizeof text, value, decimals).ptr);
}

}  // namespace faultodds
