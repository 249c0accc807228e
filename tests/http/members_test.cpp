// Cutting a request body into its documents.
#include <catch2/catch.hpp>
#include <string>

#include "bindings/http/members.h"

using faultodds_http::Member;
using faultodds_http::members_of;
using faultodds_http::NotAnObject;
using faultodds_http::string_value;

TEST_CASE("an object is cut into its members, values as they are written", "[http]") {
  const std::string text = " {\"a\" : [1, {\"b\": 2}] ,\n\"c\":1e400,\"\":\"}\"}\r\n";
  const auto members = members_of(text);
  REQUIRE(members.size() == 3);
  CHECK(members[0].name == "a");
  CHECK(members[0].text == "[1, {\"b\": 2}]");
  CHECK(members[1].name == "c");
  CHECK(members[1].text == "1e400");
  CHECK(members[2].name.empty());
  CHECK(members[2].text == "\"}\"");
}

TEST_CASE("an empty object has no members", "[http]") { CHECK(members_of(" { } ").empty()); }

TEST_CASE("brackets, commas and quotes inside strings do not count", "[http]") {
  const auto members = members_of(R"({"a": "]},\"{[\\", "b": {"x\"}": "}"}})");
  REQUIRE(members.size() == 2);
  CHECK(members[0].text == R"("]},\"{[\\")");
  CHECK(members[1].text == R"({"x\"}": "}"})");
}

TEST_CASE("names are unescaped and compared so", "[http]") {
  CHECK(members_of(R"({"\u0063ase": 1})")[0].name == "case");
  CHECK_THROWS_AS(members_of(R"({"case": 1, "\u0063ase": 2})"), NotAnObject);
}

TEST_CASE("what is no object is refused", "[http]") {
  for (const char* text : {"",           " ",           "[]",          "1",           "\"a\"",
                           "{",          "{\"a\"",      "{\"a\":",     "{\"a\":1",    "{\"a\":1,",
                           "{\"a\":1,}", "{,}",         "{\"a\" 1}",   "{\"a\":}",    "{a:1}",
                           "{\"a\":1}}", "{\"a\":1} x", "{\"a\":[1}",  "{\"a\":\"x}", "{\"a\":\"\\",
                           "{]",         "{\"\\x\":1}", "{\"\xff\":1}"}) {
    INFO(text);
    CHECK_THROWS_AS(members_of(text), NotAnObject);
  }
}

TEST_CASE("deep nesting costs no stack", "[http]") {
  const std::string deep(1'000'000, '[');
  const std::string text = "{\"a\":" + deep + std::string(1'000'000, ']') + "}";
  CHECK(members_of(text)[0].text.size() == 2'000'000);
}

TEST_CASE("a string's value is unescaped and nothing else is a string", "[http]") {
  CHECK(string_value(R"("l\u0069ft")") == "lift");
  for (const char* text : {"", "lift", "\"a", "\"a\" \"b\"", "1", "\"\\q\"", "\"\xff\"", "null"}) {
    INFO(text);
    CHECK_THROWS_AS(string_value(text), NotAnObject);
  }
}
