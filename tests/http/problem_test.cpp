// Problem details and the status each error becomes.
#include <faultodds.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <nlohmann/json.hpp>
#include <string>

#include "bindings/http/circuit_store.h"
#include "bindings/http/problem.h"

using namespace faultodds_http;

TEST_CASE("every error of the library has its status", "[http]") {
  CHECK(http_status(FAULTODDS_INVALID_JSON) == 400);
  CHECK(http_status(FAULTODDS_INVALID_DOCUMENT) == 422);
  CHECK(http_status(FAULTODDS_INVALID_CIRCUIT) == 422);
  CHECK(http_status(FAULTODDS_INVALID_CASE) == 422);
  CHECK(http_status(FAULTODDS_INVALID_PRIORS) == 422);
  CHECK(http_status(FAULTODDS_CONFLICTING_EVIDENCE) == 422);
  CHECK(http_status(FAULTODDS_LIMIT_EXCEEDED) == 422);
  CHECK(http_status(FAULTODDS_OUT_OF_MEMORY) == 503);
  CHECK(http_status(FAULTODDS_CANCELLED) == 503);
  CHECK(http_status(FAULTODDS_INTERNAL) == 500);
  CHECK(http_status(FAULTODDS_INVALID_ARGUMENT) == 500);
  CHECK(http_status(9999) == 500);
}

TEST_CASE("a problem is valid JSON whatever it quotes", "[http]") {
  const auto body =
      nlohmann::json::parse(to_json({404, "not_found", std::string("\xff\0\n\"", 4), "/a~1b"}));
  CHECK(body["type"] == "urn:faultodds:problem:not_found");
  CHECK(body["status"] == 404);
  CHECK(body["pointer"] == "/a~1b");
}

TEST_CASE("an error's pointer goes behind the member it was found in", "[http]") {
  const auto compiled = compile("{\"format\":\"x\"}", {}, {}, ModelSettings{},
                                TimeLimit(std::chrono::milliseconds(0)));
  REQUIRE(std::holds_alternative<Problem>(compiled));
  CHECK(std::get<Problem>(compiled).pointer == "/format");
  CHECK(std::get<Problem>(compiled).status == 422);

  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  REQUIRE(faultodds_model_load("{", 1, nullptr, 0, nullptr, &model, &error) ==
          FAULTODDS_INVALID_JSON);
  CHECK(from_error(error, "/circuit").pointer == "/circuit");
  CHECK(from_error(error, "/circuit").code == "invalid_json");
  faultodds_error_free(error);
}

TEST_CASE("circuit ids are safe file names", "[http]") {
  for (const char* id : {"a", "lift", "A.b_c-1", ".hidden", "..."}) CHECK(is_circuit_id(id));
  for (const char* id : {"", ".", "..", "a/b", "a b", "a\\b", "\xc3\xa4", "a\n"}) {
    INFO(id);
    CHECK_FALSE(is_circuit_id(id));
  }
  CHECK(is_circuit_id(std::string(128, 'a')));
  CHECK_FALSE(is_circuit_id(std::string(129, 'a')));
  CHECK_FALSE(is_circuit_id(std::string_view("a\0b", 3)));
}
