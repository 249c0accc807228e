// Texts that a document brings into a drawing or a page, however long and odd.
#include <catch2/catch.hpp>
#include <string>

#include "capi/documents/drawing_text.h"
#include "capi/documents/html_text.h"

using faultodds::documents::escape_html;
using faultodds::documents::wrapped;

TEST_CASE("a word longer than a line is divided, between characters") {
  CHECK(wrapped("arm " + std::string(20, 'x'), 8, 9) ==
        std::vector<std::string>{"arm", "xxxxxxxx", "xxxxxxxx", "xxxx"});
  // Of three bytes each: eight bytes have room for two.
  CHECK(wrapped("\xE2\x82\xAC\xE2\x82\xAC\xE2\x82\xAC", 8, 9) ==
        std::vector<std::string>{"\xE2\x82\xAC\xE2\x82\xAC", "\xE2\x82\xAC"});
  CHECK(wrapped("\xE2\x82\xAC", 1, 9) == std::vector<std::string>{"\xE2\x82\xAC"});
}

TEST_CASE("words keep their lines, and what does not fit into the lines is said to be cut") {
  CHECK(wrapped("lift the arm slowly", 8, 9) ==
        std::vector<std::string>{"lift the", "arm", "slowly"});
  CHECK(wrapped("lift the arm slowly", 8, 2) == std::vector<std::string>{"lift the", "arm ..."});
  CHECK(wrapped("lift the arm slowly", 8, std::string::npos).size() == 3);
  CHECK(wrapped("", 8, 3).empty());
  CHECK(wrapped(std::string(100000, 'x'), 10, 2) ==
        std::vector<std::string>{std::string(10, 'x'), std::string(10, 'x') + " ..."});
}

// XML 1.0, section 2.2: the characters that a document may have.
TEST_CASE("what XML has no room for becomes a space, and nothing of a text is markup") {
  CHECK(escape_html("a\x01\x1F\x7F\rb\tc\nd") == "a    b\tc\nd");
  CHECK(escape_html("x\xEF\xBF\xBEy\xEF\xBF\xBFz\xEF\xBF\xBD") == "x y z\xEF\xBF\xBD");
  CHECK(escape_html("<a href=\"'&'\">") == "&lt;a href=&quot;&#39;&amp;&#39;&quot;&gt;");
}
