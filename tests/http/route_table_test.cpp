// Which path is which route, and what each needs.
#include "bindings/http/route_table.h"

#include <catch2/catch.hpp>
#include <string>

using namespace faultodds_http;

namespace {

std::string methods(std::string_view path, const Offered& offered = {}) {
  std::string out;
  for (const auto method : methods_of(path, offered)) out += std::string(method) + ' ';
  return out;
}

}  // namespace

TEST_CASE("A path is of one route whatever its id") {
  CHECK(route_of("/v1/circuits/lift") == "/v1/circuits/{id}");
  CHECK(route_of("/v1/circuits/model") == "/v1/circuits/{id}");
  CHECK(route_of("/v1/circuits/lift/model") == "/v1/circuits/{id}/model");
  CHECK(route_of("/site/any/thing.js") == "/site/");
  for (const char* path :
       {"", "/", "/v1", "/v1/circuits/", "/v1/circuits//model", "/v1/circuits/a/b",
        "/v1/circuits/lift/model/", "/v1/assess/", "/livez/x", "/site"}) {
    CHECK(route_of(path).empty());
  }
}

TEST_CASE("Routes that are switched off offer nothing") {
  CHECK(methods("/v1/circuits/lift") == "GET HEAD PUT ");
  CHECK(methods("/v1/cases").empty());
  CHECK(methods("/v1/records").empty());
  CHECK(methods("/v1/priors/lift/learn").empty());
  CHECK(methods("/v1/priors/lift") == "GET HEAD PUT ");
  CHECK(methods("/v1/cases", {false, true}) == "GET HEAD POST ");
  CHECK(methods("/site/x").empty());
  CHECK(methods("/site/x", {true, false}) == "GET HEAD ");
}

TEST_CASE("Whatever changes what is stored needs write, and only health and pages are open") {
  for (const Route& route : all_routes()) {
    bool asks = false;
    for (const char* question : {"/v1/assess", "/v1/note", "/v1/plan", "/v1/propose", "/v1/check", "/v1/explain",
                                 "/v1/diff", "/v1/new", "/v1/expand", "/v1/draw", "/v1/drawing", "/v1/close",
                                 "/v1/priors/{id}/learn", "/v1/priors/{id}/compare"}) {
      asks = asks || route.path == question;
    }
    const bool changes = route.method != "GET" && !asks;
    CHECK((route.scope == Scope::write) == changes);
    CHECK(scope_of(route.method, route.path) == route.scope);
  }
  CHECK(scope_of("HEAD", "/v1/circuits/lift") == Scope::read);
  CHECK(scope_of("GET", "/livez") == Scope::open);
  CHECK(scope_of("GET", "/nowhere") == Scope::read);
  CHECK(scope_of("BREW", "/v1/circuits/lift") != Scope::open);
}
