#include "bindings/http/case_text.h"

#include <catch2/catch.hpp>
#include <string>

#include "bindings/http/members.h"

using namespace faultodds_http;

TEST_CASE("An entry goes behind those that are there, and nothing else is touched", "[http]") {
  const auto out =
      with_observation(R"({ "case" : {"note": "]} \" [", "observations": [ {"a":[1,{"b":"],"}]},
 {"c":1.10} ]}, "circuit":"x"})",
                       R"({"d":2})");
  CHECK(out.text == R"({ "case" : {"note": "]} \" [", "observations": [ {"a":[1,{"b":"],"}]},
 {"c":1.10} , {"d":2}]}, "circuit":"x"})");
  CHECK(out.position == 2);
}

TEST_CASE("An empty list gets its first entry without a comma", "[http]") {
  const auto out = with_observation(R"({"case":{"observations":[ ]}})", R"({"d":2})");
  CHECK(out.text == R"({"case":{"observations":[ {"d":2}]}})");
  CHECK(out.position == 0);
}

TEST_CASE("A case without observations gets the list", "[http]") {
  CHECK(with_observation(R"({"case":{"focus":"circuit"},"circuit":"x"})", R"({"d":2})").text ==
        R"({"case":{"focus":"circuit", "observations": [{"d":2}]},"circuit":"x"})");
  CHECK(with_observation(R"({"case":{},"circuit":"x"})", R"({"d":2})").text ==
        R"({"case":{"observations": [{"d":2}]},"circuit":"x"})");
}

TEST_CASE("What is not one object is no entry", "[http]") {
  const std::string text = R"({"case":{"observations":[]}})";
  for (const char* entry : {"", "[]", "1", "null", "{", R"({"a":1},{"b":1})", R"({"a":1}])"}) {
    INFO(entry);
    CHECK_THROWS_AS(with_observation(text, entry), NotAnObject);
  }
}

TEST_CASE("Observations that are no list get no entry", "[http]") {
  for (const char* observations : {"{}", "1", "null", "\"[]\""}) {
    const std::string text = "{\"case\":{\"observations\":" + std::string(observations) + "}}";
    INFO(text);
    CHECK_THROWS_AS(with_observation(text, "{}"), NotAnObject);
  }
}
