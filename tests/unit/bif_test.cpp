// The reader of BIF texts: what good ones become and how bad ones are refused.
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "capi/documents/bif_reader.h"
#include "core/error.h"

using faultodds::Code;
using faultodds::Error;
using faultodds::documents::NetworkLimits;
using faultodds::documents::read_bif;
using faultodds::network::Network;
using faultodds::network::Var;

namespace {

const std::string kVariables =
    "network family {\n}\n"
    "variable out {\n  type discrete [ 2 ] { yes, no };\n}\n"
    "variable light {\n  type discrete [ 3 ] { off, dim, bright };\n}\n";

const std::string kOut = "probability ( out ) {\n  table 0.25, 0.75;\n}\n";

std::string refusal(const std::string& text, const NetworkLimits& limits = {},
                    Code code = Code::invalid_document) {
  try {
    read_bif(text, limits);
  } catch (const Error& error) {
    CHECK(error.code() == code);
    CHECK(error.pointer().empty());
    return error.what();
  }
  FAIL("accepted: " << text);
  return {};
}

// What is refused of the table of `light`, which begins on line 12.
std::string refused_table(const std::string& body) {
  return refusal(kVariables + kOut + "probability ( light | out ) {\n" + body + "}\n");
}

}  // namespace

TEST_CASE("BIF: rows by the states of the parents, in any order") {
  const Network net = read_bif(kVariables + kOut +
                               "probability ( light | out ) {\n"
                               "  (no) 0.1, 0.2, 0.7;\n  (yes) 0.5, 0.25, 0.25;\n}\n");
  REQUIRE(net.size() == 2);
  CHECK(net.name(0) == "out");
  CHECK(net.state_names(1) == std::vector<std::string>{"off", "dim", "bright"});
  CHECK(net.table(0).table == std::vector<double>{0.25, 0.75});
  CHECK(net.table(1).scope == std::vector<Var>{0, 1});
  CHECK(net.table(1).table == std::vector<double>{0.5, 0.25, 0.25, 0.1, 0.2, 0.7});
}

TEST_CASE("BIF: a whole table lists the child slowest") {
  const Network net = read_bif(kVariables + kOut +
                               "probability ( light | out ) { table 0.5 0.1 0.25 0.2 0.25 0.7; }");
  CHECK(net.table(1).table == std::vector<double>{0.5, 0.25, 0.25, 0.1, 0.2, 0.7});
}

TEST_CASE("BIF: the default stands for every row that is not given") {
  const Network net = read_bif(kVariables + kOut +
                               "probability ( light | out ) { default 0.5, 0.25, 0.25;\n"
                               "  (no) 0.1, 0.2, 0.7; }");
  CHECK(net.table(1).table == std::vector<double>{0.5, 0.25, 0.25, 0.1, 0.2, 0.7});
}

TEST_CASE("BIF: comments, properties, quoted names, a byte order mark, no commas") {
  const Network net = read_bif(
      "\xEF\xBB\xBF// one\nnetwork \"a network\" { property author me; }\n"
      "variable \"two words\" /* here\nor here */ { type discrete[2] { \"<5\" >=7.5 };\n"
      "  property position = (1, 2);\n}\n"
      "probability(\"two words\") { property source; table 0.5 0.5; }");
  CHECK(net.name(0) == "two words");
  CHECK(net.state_names(0) == std::vector<std::string>{"<5", ">=7.5"});
}

TEST_CASE("BIF: a parent may be declared after its child") {
  const Network net = read_bif(
      "variable b { type discrete [ 1 ] { x }; } variable a { type discrete [ 2 ] { x, y }; }"
      "probability ( b | a ) { (x) 1; (y) 1; } probability ( a ) { table 0.5, 0.5; }");
  CHECK(net.table(0).scope == std::vector<Var>{1, 0});
}

TEST_CASE("BIF: rows that sum to 1 but for rounding are rescaled") {
  const Network net = read_bif(
      "variable a { type discrete [ 3 ] { x, y, z }; }"
      "probability ( a ) { table 0.3333333, 0.3333333, 0.3333333; }");
  CHECK(net.table(0).table[0] == Approx(1.0 / 3).margin(1e-16));
}

TEST_CASE("BIF: what is too small for a double is 0") {
  const Network net = read_bif(
      "variable a { type discrete [ 2 ] { x, y }; } probability ( a ) { table 1e-400, 1; }");
  CHECK(net.table(0).table == std::vector<double>{0, 1});
}

TEST_CASE("BIF: a bad text is refused with the line and what was expected") {
  CHECK(refusal("") == "line 1: no variable is declared; expected at least one");
  CHECK(refusal("network n {\n}\nwariable x") ==
        "line 3: `wariable`; expected `network`, `variable` or `probability`");
  CHECK(refusal("network n {\n  a { b\n") == "line 1: a block that is not closed with `}`");
  CHECK(refusal("network n") == "line 1: the end of the text; expected `{`");
  CHECK(refusal("\n/* no end") == "line 2: a comment that is not closed");
  CHECK(refusal("\nvariable \"x") == "line 2: a quoted name that is not closed");
  CHECK(refusal("variable") == "line 1: the end of the text; expected the name of a variable");
  CHECK(refusal("variable x y") == "line 1: `y`; expected `{`");
  CHECK(refusal("variable x {\n") == "line 2: the end of the text; expected `}`");
  CHECK(refusal("variable x {\nproperty a\n}") == "line 2: a statement that does not end with `;`");
  CHECK(refusal("variable x {\n}") == "line 1: variable `x` has no states; expected 1 to 65535");
}

TEST_CASE("BIF: a bad variable is refused by name") {
  const auto of = [](const std::string& type) {
    return refusal("\nvariable x {\n" + type + "\n}");
  };
  CHECK(of("type continuous [ 2 ] { a, b };") ==
        "line 3: `continuous`; expected `discrete`, the only type there is");
  CHECK(of("type discrete [ 3 ] { a, b };") ==
        "line 3: variable `x` lists 2 states; its type says 3");
  CHECK(of("type discrete [ 2 ] { a, a };") == "line 2: variable `x` has the state `a` twice");
  CHECK(of("type discrete [ 2 ] { a, \"\" };") == "line 2: a state of variable `x` has no name");
  CHECK(of("type discrete [ 1 ] { a };\ntype discrete [ 1 ] { a };") ==
        "line 4: a second type of variable `x`");
  CHECK(of("type discrete [ 2 ] { a, b }") == "line 4: `}`; expected `;`");
  CHECK(refusal(kVariables + "variable out { type discrete [ 1 ] { a }; }") ==
        "line 9: variable `out` is declared twice");
  CHECK(refusal("variable \"\" { type discrete [ 1 ] { a }; }") ==
        "line 1: a variable without a name");
}

TEST_CASE("BIF: a bad table is refused by the name of its variable") {
  const std::string row = "  (yes) 0.5, 0.25, 0.25;\n";
  CHECK(refused_table(row) == "line 12: a row of the table of `light` is missing: (no)");
  CHECK(refused_table(row + row) == "line 14: a row of the table of `light` is given twice");
  CHECK(refused_table(row + "  (maybe) 1, 0, 0;\n") == "line 14: `maybe` is not a state of `out`");
  CHECK(refused_table("  (yes, no) 1, 0, 0;\n") ==
        "line 13: `no`; expected `)` after 1 states of the parents");
  CHECK(refused_table("  () 1, 0, 0;\n") == "line 13: `)`; expected a state of `out`");
  CHECK(refused_table("  (yes) 1, 0;\n") == "line 13: `;`; expected 3 numbers, not 2");
  CHECK(refused_table("  (yes) 1, 0, 0, 0;\n") == "line 13: `0`; expected `;` after 3 numbers");
  CHECK(refused_table("  (yes) 1, 0, x;\n") == "line 13: `x`; expected a number from 0 to 1");
  CHECK(refused_table("  (yes) 1, 0, -0.5;\n") == "line 13: `-0.5`; expected a number from 0 to 1");
  CHECK(refused_table("  (yes) 1, 0, 1.5;\n") == "line 13: `1.5`; expected a number from 0 to 1");
  CHECK(refused_table("  (yes) 1, 0, nan;\n") == "line 13: `nan`; expected a number from 0 to 1");
  CHECK(refused_table("  (yes) 1, 0, 1e999;\n") ==
        "line 13: `1e999`; expected a number from 0 to 1");
  CHECK(refused_table("  (yes) 0.5, 0.25, 0.2;\n  (no) 1, 0, 0;\n") ==
        "line 12: row 0 of the table of 'light' sums to 0.950000; expected 1");
  CHECK(refused_table("  table 1, 0, 0;\n") == "line 13: `;`; expected 6 numbers, not 3");
  CHECK(refused_table(row + "  table 1, 0, 0, 0, 0, 1;\n") ==
        "line 14: the table of `light` is given twice");
  CHECK(refused_table("  default 1, 0, 0;\n  default 1, 0, 0;\n") ==
        "line 14: a second default of the table of `light`");
  CHECK(refusal(kVariables + kOut) == "line 12: variable `light` has no table");
  CHECK(refusal(kVariables + kOut + kOut) == "line 12: a second table for variable `out`");
  CHECK(refusal(kVariables + "probability ( lamp ) {") ==
        "line 9: variable `lamp` is not declared");
  CHECK(refusal(kVariables + "probability ( light | lamp ) {") ==
        "line 9: variable `lamp` is not declared");
  CHECK(refusal(kVariables + "probability ( light | light ) {") ==
        "line 9: variable `light` is given itself");
  CHECK(refusal(kVariables + "probability ( light | out, out ) {") ==
        "line 9: the table of `light` is given `out` twice");
}

TEST_CASE("BIF: a cycle is refused") {
  CHECK(refusal(kVariables + "probability ( out | light ) { default 0.5, 0.5; }\n"
                             "probability ( light | out ) { default 1, 0, 0; }") ==
        "line 10: 'light' and 'out' would form a cycle");
}

TEST_CASE("BIF: a message quotes a name that is not UTF-8 or very long in a form fit to print") {
  const std::string message = refusal("variable \xFF" + std::string(500, 'x') + " y");
  CHECK(message == "line 1: `y`; expected `{`");
  CHECK(refusal("\xFFgarbage") ==
        "line 1: `\xEF\xBF\xBDgarbage`; expected `network`, `variable` or `probability`");
  CHECK(refusal(std::string(500, 'x')).size() < 300);
}

TEST_CASE("BIF: limits are refused with the numbers") {
  NetworkLimits limits;
  limits.bytes = 100;
  CHECK(refusal(kVariables + kOut, limits, Code::limit_exceeded) ==
        "the network has " + std::to_string((kVariables + kOut).size()) +
            " bytes; the limit is 100");
  limits = {};
  limits.variables = 1;
  CHECK(refusal(kVariables, limits, Code::limit_exceeded) ==
        "line 6: the network has more than 1 variables");
  limits = {};
  limits.numbers = 7;
  CHECK(refusal(kVariables + kOut + "probability ( light | out ) { default 1 0 0; }", limits,
                Code::limit_exceeded) ==
        "line 12: with the table of `light` the tables of the network have more than 7 numbers, "
        "56 bytes");
}

TEST_CASE("BIF: a few bytes cannot ask for a table that does not fit") {
  std::string text;
  std::string parents;
  for (int i = 0; i < 64; ++i) {
    const std::string name = "v" + std::to_string(i);
    text += "variable " + name + " { type discrete [ 2 ] { a, b }; }\n";
    parents += (i > 0 ? ", " : "") + name;
  }
  text += "variable child { type discrete [ 2 ] { a, b }; }\n";
  CHECK_THAT(refusal(text + "probability ( child | " + parents + " ) { default 0.5 0.5; }", {},
                     Code::limit_exceeded),
             Catch::Contains("the tables of the network have more than"));
}
