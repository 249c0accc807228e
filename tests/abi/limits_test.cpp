// What is far past any machine is refused with limit_exceeded before it is built. How long that
// takes is printed by tests/limits/run and asserted nowhere.
#include <catch2/catch.hpp>
#include <cstddef>
#include <string>
#include <vector>

#include "faultodds_network.h"

namespace {

faultodds_status load_network(const std::string& text, std::string* message) {
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_network_load(text.data(), text.size(), FAULTODDS_BIF, nullptr, &network, &error);
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

TEST_CASE("a conflict of many observations names twenty of them and counts the rest") {
  // c_i is true if any of r_1 to r_i is; all r were seen false and c_22 true.
  std::string text;
  for (int i = 1; i <= 22; ++i) {
    const std::string r = "r" + std::to_string(i), before = "c" + std::to_string(i - 1);
    text += variable(r, "", "table .9 .1;");
    text += i == 1 ? variable("c1", "r1", "(x) 1 0; (y) 0 1;")
                   : variable("c" + std::to_string(i), before + ", " + r,
                              "(x, x) 1 0; (x, y) 0 1; (y, x) 0 1; (y, y) 0 1;");
  }
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  REQUIRE(faultodds_network_load(text.data(), text.size(), FAULTODDS_BIF, nullptr, &network,
                                 &error) == FAULTODDS_OK);
  std::vector<faultodds_network_evidence> evidence;
  for (int i = 1; i <= 23; ++i) {
    const std::string name = i == 23 ? "c22" : "r" + std::to_string(i);
    faultodds_network_evidence one{};
    one.struct_size = sizeof one;
    REQUIRE(faultodds_network_find_variable(network, name.data(), name.size(), &one.variable,
                                            &error) == FAULTODDS_OK);
    one.state = i == 23 ? 1 : 0;
    evidence.push_back(one);
  }
  std::size_t written = 0;
  double log_evidence = 0;
  CHECK(faultodds_network_query(network, evidence.data(), evidence.size(), nullptr, nullptr, 0,
                                &written, &log_evidence, &error) == FAULTODDS_CONFLICTING_EVIDENCE);
  const std::string message = faultodds_error_message(error);
  CAPTURE(message);
  std::size_t named = 0;
  for (std::size_t at = message.find(" = `"); at != std::string::npos;
       at = message.find(" = `", at + 1)) {
    ++named;
  }
  CHECK(named == 20);
  CHECK(message.find(" and 3 more") != std::string::npos);
  faultodds_error_free(error);
  faultodds_network_free(network);
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
        "more than 20000 minimal sets over all observations");
  faultodds_error_free(error);
}
