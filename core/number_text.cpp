#include "core/number_text.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <string>
#include <system_error>

namespace faultodds::by_c_library {
namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }

const char* past_digits(const char* at, const char* last) {
  return std::find_if_not(at, last, is_digit);
}

// The end of the number that begins at `first`; `first` if none does.
const char* end_of_number(const char* first, const char* last) {
  const char* whole = first;
  if (whole != last && *whole == '-') ++whole;
  const char* at = past_digits(whole, last);
  std::ptrdiff_t digits = at - whole;
  if (at != last && *at == '.') {
    const char* const end = past_digits(at + 1, last);
    digits += end - at - 1;
    at = end;
  }
  if (digits == 0) return first;
  if (at != last && (*at == 'e' || *at == 'E')) {
    const char* exponent = at + 1;
    if (exponent != last && (*exponent == '-' || *exponent == '+')) ++exponent;
    const char* const end = past_digits(exponent, last);
    if (end != exponent) at = end;
  }
  return at;
}

template <typename... Values>
std::to_chars_result print(char* first, char* last, const char* format, Values... values) {
  char text[400];  // the largest double has 309 digits before the point
  const int length = std::snprintf(text, sizeof text, format, values...);
  if (length < 0 || length >= static_cast<int>(sizeof text) || length > last - first) {
    return {last, std::errc::value_too_large};
  }
  return {std::copy_n(text, length, first), std::errc{}};
}

// d.ddd times ten to the exponent.
struct Decimal {
  std::string digits;
  int exponent;
};

Decimal rounded(double value, int decimals) {
  char text[32];
  std::snprintf(text, sizeof text, "%.*e", decimals, value);
  const std::string all = text;
  const std::size_t e = all.find('e');
  Decimal result{all.substr(0, e), std::atoi(text + e + 1)};
  if (decimals > 0) result.digits.erase(1, 1);
  return result;
}

bool reads_back(const Decimal& decimal, double value) {
  const std::string text =
      decimal.digits + "e" +
      std::to_string(decimal.exponent + 1 - static_cast<int>(decimal.digits.size()));
  return std::strtod(text.c_str(), nullptr) == value;
}

// The shortest that reads back to `value`, which is not negative; of several the nearest.
Decimal shortest_decimal(double value) {
  // Every number of 15 digits survives as a double, but for the smallest; every double as 17
  // digits.
  for (int decimals = value < std::numeric_limits<double>::min() ? 0 : 14; decimals < 16;
       ++decimals) {
    Decimal decimal = rounded(value, decimals);
    if (reads_back(decimal, value)) return decimal;
    // Below a power of two doubles lie closer together than above it. So what is just above may
    // read back where what is nearer, but below, does not.
    if (decimals == 15 && decimal.digits.back() != '9') {
      ++decimal.digits.back();
      if (reads_back(decimal, value)) return decimal;
    }
  }
  return rounded(value, 16);
}

}  // namespace

std::from_chars_result read_number(const char* first, const char* last, double& value) {
  const char* const end = end_of_number(first, last);
  if (end == first) return {first, std::errc::invalid_argument};
  const std::string text(first, end);
  const double read = std::strtod(text.c_str(), nullptr);
  const bool vanished =
      read == 0 &&
      text.substr(0, text.find_first_of("eE")).find_first_of("123456789") != std::string::npos;
  if (vanished || std::isinf(read)) return {end, std::errc::result_out_of_range};
  value = read;
  return {end, std::errc{}};
}

std::to_chars_result write_number(char* first, char* last, double value) {
  if (!std::isfinite(value)) return print(first, last, "%f", value);
  Decimal shortest = shortest_decimal(std::fabs(value));
  shortest.digits.erase(std::max<std::size_t>(1, shortest.digits.find_last_not_of('0') + 1));
  const int size = static_cast<int>(shortest.digits.size());
  const int exponent = shortest.exponent;
  // Whichever form is the shorter, as std::to_chars chooses.
  const int scientific = size + (size > 1 ? 1 : 0) + (std::abs(exponent) >= 100 ? 5 : 4);
  const int fixed = exponent < 0          ? size + 1 - exponent
                    : exponent < size - 1 ? size + 1
                                          : exponent + 1;
  std::string text = shortest.digits;
  if (fixed > scientific) {
    if (size > 1) text.insert(1, ".");
    return print(first, last, "%s%se%+03d", std::signbit(value) ? "-" : "", text.c_str(), exponent);
  }
  if (exponent >= size - 1) return print(first, last, "%.0f", value);
  if (exponent < 0) text.insert(0, static_cast<std::size_t>(-exponent), '0');
  text.insert(static_cast<std::size_t>(std::max(0, exponent)) + 1, ".");
  return print(first, last, "%s%s", std::signbit(value) ? "-" : "", text.c_str());
}

std::to_chars_result write_number(char* first, char* last, double value, int decimals) {
  return print(first, last, "%.*f", decimals, value);
}

}  // namespace faultodds::by_c_library
