// What stands for std::from_chars and std::to_chars of doubles where the library has none, against
// them.
#include "core/number_text.h"

#include <catch2/catch.hpp>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <random>
#include <string>
#include <string_view>
#include <vector>

namespace {

namespace ours = faultodds::by_c_library;

std::string shortest(double value) {
  char buffer[32];
  return {buffer, std::to_chars(buffer, buffer + sizeof buffer, value).ptr};
}

std::string our_shortest(double value) {
  char buffer[32];
  return {buffer, ours::write_number(buffer, buffer + sizeof buffer, value).ptr};
}

double of_bits(std::uint64_t bits) {
  double value;
  std::memcpy(&value, &bits, sizeof value);
  return value;
}

// Numbers of every size, of few digits, of whole units, and the neighbours of powers of two, whose
// gaps to the next numbers differ.
std::vector<double> numbers() {
  std::vector<double> all = {0.0, -0.0, 0.1, 1e5, 1e-5, 123456.0, 5e-324, 9007199254740993.0};
  std::mt19937_64 random(1);
  for (int i = 0; i < 20000; ++i) {
    const double any = of_bits(random());
    if (std::isfinite(any)) all.push_back(any);
    all.push_back(static_cast<double>(random() >> 11) / 9007199254740992.0);
    all.push_back(static_cast<double>(random() % 100000) / 1000);
    all.push_back(static_cast<double>(random()));
  }
  const double largest = std::numeric_limits<double>::max();
  all.push_back(largest);
  for (int exponent = -1074; exponent <= 1023; ++exponent) {
    const double power = std::ldexp(1.0, exponent);
    for (double value : {power, std::nextafter(power, 0.0), -std::nextafter(power, largest)}) {
      all.push_back(value);
    }
  }
  return all;
}

}  // namespace

TEST_CASE("Doubles written by the C library are the shortest digits that read back") {
  std::vector<std::string> wrong;
  for (double value : numbers()) {
    if (our_shortest(value) != shortest(value)) wrong.push_back(our_shortest(value));
  }
  CHECK(wrong == std::vector<std::string>{});
  CHECK(our_shortest(-std::numeric_limits<double>::infinity()) == "-inf");
  CHECK(our_shortest(std::numeric_limits<double>::quiet_NaN()) == "nan");
}

TEST_CASE("Doubles with a number of decimals are rounded as the standard library rounds them") {
  std::mt19937_64 random(2);
  std::vector<std::string> wrong;
  for (double value : numbers()) {
    const int decimals = static_cast<int>(random() % 20);
    char place[400];
    char* const last = place + sizeof place;
    const auto wanted = std::to_chars(place, last, value, std::chars_format::fixed, decimals);
    const std::string expected(place, wanted.ptr);
    const std::string actual(place, ours::write_number(place, last, value, decimals).ptr);
    if (actual != expected) wrong.push_back(actual);
  }
  CHECK(wrong == std::vector<std::string>{});
}

TEST_CASE("A number too long for its place is refused, not cut") {
  char place[4];
  const auto [end, problem] = ours::write_number(place, place + 3, 1234.5);
  CHECK(problem == std::errc::value_too_large);
  CHECK(end == place + 3);
}

TEST_CASE(
    "What the C library reads of a text, and where it stops, is what the standard library does") {
  std::vector<std::string> texts = {
      "",       "-",      ".",     "-.",      "+1",     " 1",
      "1.",     ".5",     "-.5e1", "1e",      "1e+",    "1e-x",
      "1E5bar", "0x10",   "1..2",  "1,5",     "12 mL",  "1e400",
      "-1e400", "1e-400", "0e999", "0.0e-99", "5e-324", "2e-324",
      "1e5.5",  "--1",    "e5",    "007.50",  "1e0005", "123456789012345678901234567890"};
  for (double value : numbers()) texts.push_back(shortest(value) + "x");
  std::vector<std::string> wrong;
  for (const std::string& text : texts) {
    double expected = 17, actual = 17;
    const char* const last = text.data() + text.size();
    const auto wanted = std::from_chars(text.data(), last, expected);
    const auto got = ours::read_number(text.data(), last, actual);
    const bool same = wanted.ec == got.ec && wanted.ptr == got.ptr &&
                      std::memcmp(&expected, &actual, sizeof actual) == 0;
    if (!same) wrong.push_back(text);
  }
  CHECK(wrong == std::vector<std::string>{});
}
