// The safe reading of JSON text: what enters, and what is refused with its place. What documents
// mean is tested elsewhere.
#include <catch2/catch.hpp>
#include <limits>
#include <string>

#include "capi/documents/json.h"
#include "core/quoted_text.h"

namespace documents_json_test {

using faultodds::Code;
using faultodds::Error;
using faultodds::printable;
using faultodds::documents::Json;
using faultodds::documents::JsonLimits;
using faultodds::documents::parse_json;

namespace {

struct Refusal {
  Code code = Code::ok;
  std::string message, pointer;
};

Refusal refusal(const std::string& text, const JsonLimits& limits = {}) {
  try {
    parse_json(text, limits);
  } catch (const Error& error) {
    return {error.code(), error.what(), error.pointer()};
  }
  return {};
}

std::string repeated(const std::string& piece, std::size_t times) {
  std::string text;
  text.reserve(piece.size() * times);
  for (std::size_t i = 0; i < times; ++i) text += piece;
  return text;
}

void check_refused(const std::string& text, const std::string& words, const std::string& pointer,
                   const JsonLimits& limits = {}) {
  CAPTURE(printable(text));
  const Refusal found = refusal(text, limits);
  CHECK(found.code == Code::invalid_json);
  CHECK_THAT(found.message, Catch::Contains(words));
  CHECK(found.pointer == pointer);
}

}  // namespace

TEST_CASE("JSON text becomes the value it says") {
  const Json value = parse_json(R"({"b": [1, -2.5, 1e3, true, false, null], "a": {"x": "é\n"}})");
  REQUIRE(value.is_object());
  CHECK(value.at("b").size() == 6);
  CHECK(value.at("b")[0].get<double>() == 1);
  CHECK(value.at("b")[1].get<double>() == -2.5);
  CHECK(value.at("b")[2].get<double>() == 1000);
  CHECK(value.at("b")[3].get<bool>());
  CHECK_FALSE(value.at("b")[4].get<bool>());
  CHECK(value.at("b")[5].is_null());
  CHECK(value.at("a").at("x").get<std::string>() == "é\n");
}

TEST_CASE("the members of an object keep the order of the document") {
  const Json value = parse_json(R"({"zebra": 1, "ant": 2, "mule": 3})");
  std::string order;
  for (const auto& [key, member] : value.items()) order += key + " ";
  CHECK(order == "zebra ant mule ");
}

TEST_CASE("a scalar is a document, white space around it is none of it") {
  CHECK(parse_json(" \t\r\n 7 \n").get<double>() == 7);
}

TEST_CASE("a key that appears twice is refused where it appears again") {
  check_refused(R"({"a": {"b": 1, "c": 2, "b": 3}})", "`b` appears twice", "/a/b");
}

TEST_CASE("a key written with escapes is the same key") {
  check_refused(R"({"b": 1, "\u0062": 3})", "`b` appears twice", "/b");
}

TEST_CASE("a repeated key is found among very many") {
  std::string text = "{";
  for (int i = 0; i < 5000; ++i) text += "\"k" + std::to_string(i) + "\":0,";
  check_refused(text + "\"k77\":0}", "`k77` appears twice", "/k77");
  CHECK(parse_json(text + "\"last\":0}").size() == 5001);
}

TEST_CASE("nesting as deep as the limit is read, one deeper is refused") {
  CHECK(parse_json(repeated("[", 64) + repeated("]", 64)).is_array());
  check_refused(repeated("[", 65) + repeated("]", 65), "deeper than 64", repeated("/0", 64));
}

TEST_CASE("200,000 levels of lists or objects are refused without overflowing the stack") {
  check_refused(repeated("[", 200000), "deeper than 64", repeated("/0", 64));
  check_refused(repeated("{\"a\":", 200000), "deeper than 64", repeated("/a", 64));
}

TEST_CASE("a text over the size limit is refused before it is read") {
  const std::string text = "\"" + std::string(50u << 20, 'x') + "\"";
  check_refused(text, "expected at most 16777216", "");
}

TEST_CASE("a string over the limit is refused") {
  JsonLimits limits;
  limits.string_bytes = 5;
  CHECK(parse_json(R"(["12345"])", limits).size() == 1);
  check_refused(R"(["12345", "123456"])", "a string of 6 bytes; expected at most 5", "/1", limits);
  check_refused(R"({"123456": 1})", "a string of 6 bytes", "", limits);
}

TEST_CASE("more values than the limit are refused") {
  JsonLimits limits;
  limits.values = 4;
  CHECK(parse_json("[1,2,3]", limits).size() == 3);
  check_refused("[1,2,3,4]", "more than 4 values", "/3", limits);
}

TEST_CASE("integers are read up to 2^53 and refused beyond") {
  CHECK(parse_json("9007199254740992").get<double>() == 9007199254740992.0);
  CHECK(parse_json("-9007199254740992").get<double>() == -9007199254740992.0);
  check_refused("[9007199254740993]", "2^53", "/0");
  check_refused("[-9007199254740993]", "2^53", "/0");
  check_refused("[18446744073709551616]", "2^53", "/0");  // 2^64
}

TEST_CASE("numbers outside the range of a double are refused, zero is not") {
  check_refused("{\"p\": 1e400}", "out of range", "/p");
  check_refused("{\"p\": -1e400}", "out of range", "/p");
  check_refused("{\"p\": 1e-400}", "out of range", "/p");
  CHECK(parse_json("0.0e-999").get<double>() == 0);
  CHECK(parse_json("5e-324").get<double>() == std::numeric_limits<double>::denorm_min());
}

TEST_CASE("NaN and Infinity are refused by name") {
  check_refused("{\"p\": NaN}", "JSON has no NaN", "/p");
  check_refused("{\"p\": nan}", "JSON has no NaN", "/p");
  check_refused("{\"p\": Infinity}", "JSON has no NaN and no Infinity", "/p");
  check_refused("{\"p\": -Infinity}", "JSON has no NaN and no Infinity", "/p");
}

TEST_CASE("invalid UTF-8 is refused and the message is valid UTF-8") {
  // Overlong, surrogate, beyond U+10FFFF, a lone continuation, a cut sequence.
  for (const char* bytes :
       {"\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\x80", "\xE2\x82", "\xFF"}) {
    const Refusal found = refusal(std::string("{\"title\": \"") + bytes + "\"}");
    CHECK(found.code == Code::invalid_json);
    CHECK(found.pointer == "/title");
    CHECK_THAT(found.message, Catch::Contains("UTF-8"));
    CHECK(faultodds::valid_utf8(found.message) == found.message);
  }
}

TEST_CASE("a lone surrogate escape is refused") {
  check_refused(R"(["\ud800"])", "surrogate", "/0");
}

TEST_CASE("text after the document is refused") {
  check_refused("{} x", "line 1, column 4", "");
  check_refused("{}{}", "line 1, column 3", "");
  check_refused(std::string("{}\0{}", 5), "NUL byte", "");
}

TEST_CASE("comments and trailing commas are not JSON") {
  check_refused("{\"a\": 1,}", "line 1", "");
  check_refused("[1,]", "line 1", "/1");
  check_refused("/* x */ {}", "line 1, column 1", "");
}

TEST_CASE("an empty text is refused") {
  check_refused("", "empty", "");
  check_refused("  ", "end of input", "");
}

TEST_CASE("an error names the line and the column of the byte that was wrong") {
  const Refusal found = refusal("{\n  \"a\": 1,\n  \"b\": !\n}");
  CHECK_THAT(found.message, Catch::StartsWith("line 3, column 8: "));
  CHECK(found.pointer == "/b");
}

TEST_CASE("keys with slashes and tildes are escaped in pointers") {
  check_refused("{\"a/b~c\": [1, ?]}", "line 1", "/a~1b~0c/1");
}

TEST_CASE("every prefix of a document is refused and none crashes") {
  const std::string text = R"({"a": [1.5e3, "é\u00e9", {"b": null}], "c": true})";
  for (std::size_t length = 0; length < text.size(); ++length) {
    CAPTURE(length);
    CHECK(refusal(text.substr(0, length)).code == Code::invalid_json);
  }
  CHECK(refusal(text).code == Code::ok);
}

}  // namespace documents_json_test
