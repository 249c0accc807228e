#include "core/quoted_text.h"

#include <catch2/catch.hpp>
#include <string>

using faultodds::in_backticks;
using faultodds::kMostQuoted;
using faultodds::printable;
using faultodds::valid_utf8;

TEST_CASE("text of up to 200 characters is quoted whole, however many bytes they have") {
  CHECK(in_backticks("plain") == "`plain`");
  std::string wide;
  for (std::size_t i = 0; i < kMostQuoted; ++i) wide += "\xF0\x9F\x94\xA7";
  CHECK(in_backticks(wide) == '`' + wide + '`');
}

TEST_CASE("longer text is cut between characters, and its length is said") {
  std::string wide(kMostQuoted - 1, 'a');
  for (int i = 0; i < 3; ++i) wide += "\xC3\xA9";
  CHECK(in_backticks(wide) ==
        '`' + std::string(kMostQuoted - 1, 'a') + "\xC3\xA9...` (of 202 characters)");
  CHECK(in_backticks(std::string(30000, 'x')) ==
        '`' + std::string(kMostQuoted, 'x') + "...` (of 30000 characters)");
}

TEST_CASE("what is no UTF-8 is replaced and control characters are shown as question marks") {
  CHECK(printable("a\xFF"
                  "b\n") ==
        "a\xEF\xBF\xBD"
        "b?");
  CHECK(valid_utf8("a\xFF"
                   "b\n") ==
        "a\xEF\xBF\xBD"
        "b\n");
  // Characters of four bytes: U+1F527 is one; overlong, beyond U+10FFFF and cut short are none.
  CHECK(printable("\xF0\x9F\x94\xA7!") == "\xF0\x9F\x94\xA7!");
  const std::string instead = "\xEF\xBF\xBD";
  for (const char* none : {"\xF0\x8F\xBF\xBF", "\xF4\x90\x80\x80"}) {
    CHECK(printable(none) == instead + instead + instead + instead);
  }
  CHECK(printable("\xF0\x9F\x94") == instead + instead + instead);
  CHECK(printable("\xED\xA0\x80") == instead + instead + instead);
}
