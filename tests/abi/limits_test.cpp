// What is far past any machine is refused with limit_exceeded before it is built. How long that
// takes is printed by tests/limits/run and asserted nowhere.
#include <catch2/catch.hpp>
#include <string>

#include "faultodds.h"

namespace {

faultodds_status load_network(const std::string& text, std::string* message) {
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_network_load(text.data(), text.size(), FAULTODDS_BIF, 0, &network, &error);
  *message = faultodds_error_message(error);
  faultodds_error_free(error);
  faultodds_network_free(network);
  return status;
}

std::string variable(const std::string& name, const std::string& given, const std::string& rows) {
  return "variable " + name + " { type discrete [ 2 ] { x, y }; } probability ( " + name +
         (given.empty() ? "" : " | " + given) + " ) { " + rows + " }\n";
}

}  // namespace

TEST_CASE("a grid of 70 by 70 variables is refused, for no machine has room for its tables") {
  std::string text, message;
  for (int r = 0; r < 70; ++r) {
    for (int c = 0; c < 70; ++c) {
      const auto name = [](int row, int column) {
        return "v" + std::to_string(row) + "_" + std::to_string(column);
      };
      std::string given = r > 0 ? name(r - 1, c) : "";
      if (c > 0) given += (given.empty() ? "" : ", ") + name(r, c - 1);
      text += variable(name(r, c), given, given.empty() ? "table .4 .6;" : "default .3 .7;");
    }
  }
  CHECK(load_network(text, &message) == FAULTODDS_LIMIT_EXCEEDED);
  CHECK(message.find("exact inference") != std::string::npos);
}

TEST_CASE("a star of 5,000 variables is no trouble") {
  std::string text = variable("hub", "", "table .5 .5;"), message;
  for (int i = 0; i < 5000; ++i) {
    text += variable("v" + std::to_string(i), "hub", "(x) .1 .9; (y) .2 .8;");
  }
  CHECK(load_network(text, &message) == FAULTODDS_OK);
}

TEST_CASE("a thousand cartridges on one line are refused by the number of their minimal sets") {
  std::string components, connections = R"({"from":"c0.a","to":"c1.a","line":"l"})";
  for (int i = 0; i < 1000; ++i) {
    const std::string id = "c" + std::to_string(i);
    components += (i == 0 ? "" : ",") + (R"({"id":")" + id + R"(","type":"v"})");
    if (i > 1) connections += R"(,{"from":")" + id + R"(.a","to":"c1.a"})";
    connections += R"(,{"from":")" + id + R"(.b","to":"tank"})";
  }
  const std::string circuit =
      R"({"format":"faultodds-circuit/1","id":"t","title":"t","types":{"v":{"ports":["a","b"],)"
      R"("cartridge":true,"elements":{"e":{"kind":"seal","from":"a","to":"b"}},"failure_modes":)"
      R"({"m":{"code":"INL","title":"leaks","leaks":["e"],"prior":[0.9,0.07,0.03]}}}},)"
      R"("components":[)" +
      components + R"(],"connections":[)" + connections + "]}";
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  CHECK(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model, &error) ==
        FAULTODDS_LIMIT_EXCEEDED);
  CHECK(std::string(faultodds_error_message(error)) ==
        "more than 250000 minimal sets over all observations");
  faultodds_error_free(error);
}
