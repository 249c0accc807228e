// Every function of the interface, by the list of its symbols, with NULL for all it takes and with
// lengths that no memory has. One that is added and not called here fails the first test.
#include <catch2/catch.hpp>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "faultodds_circuit.h"
#include "faultodds_network.h"

namespace {

using Refused = std::function<faultodds_status(faultodds_error**)>;
using Harmless = std::function<bool()>;  // whether it gave nothing

#define REFUSES(name, ...)                                                  \
  {                                                                         \
#name, [](faultodds_error * *error) { return name(__VA_ARGS__ error); } \
  }

// With NULL for every pointer and 0 for every number.
const std::map<std::string, Refused>& refused() {
  static const std::map<std::string, Refused> all = {
      REFUSES(faultodds_cancel_new, nullptr, ),
      REFUSES(faultodds_model_load, nullptr, 0, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_model_find, nullptr, 0, nullptr, 0, nullptr, ),
      REFUSES(faultodds_model_read_counters, nullptr, nullptr, ),
      REFUSES(faultodds_model_describe_json, nullptr, nullptr, nullptr, ),
      REFUSES(faultodds_model_describe_screen_json, nullptr, nullptr, nullptr, ),
      REFUSES(faultodds_model_assess_json, nullptr, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_model_note, nullptr, nullptr, 0, 0, nullptr, nullptr, ),
      REFUSES(faultodds_model_plan, nullptr, nullptr, 0, 0, nullptr, nullptr, ),
      REFUSES(faultodds_model_propose_json, nullptr, nullptr, 0, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_model_draw_svg, nullptr, nullptr, 0, 0, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_model_close, nullptr, nullptr, 0, nullptr, 0, 0, nullptr, nullptr, ),
      REFUSES(faultodds_case_open, nullptr, nullptr, ),
      REFUSES(faultodds_case_observe_outcome, nullptr, 0, 0, ),
      REFUSES(faultodds_case_observe_likelihood, nullptr, 0, nullptr, ),
      REFUSES(faultodds_case_observe_json, nullptr, nullptr, 0, nullptr, ),
      REFUSES(faultodds_case_retract, nullptr, 0, ),
      REFUSES(faultodds_case_setup_done, nullptr, nullptr, 0, ),
      REFUSES(faultodds_case_assess, nullptr, nullptr, ),
      REFUSES(faultodds_case_read_summary, nullptr, nullptr, ),
      REFUSES(faultodds_case_posteriors, nullptr, nullptr, 0, nullptr, ),
      REFUSES(faultodds_case_causes, nullptr, 0, nullptr, ),
      REFUSES(faultodds_case_shares, nullptr, 0, nullptr, nullptr, 0, nullptr, 0, ),
      REFUSES(faultodds_case_test, nullptr, 0, nullptr, ),
      REFUSES(faultodds_case_answer_json, nullptr, nullptr, nullptr, ),
      // Of no cases there is nothing to refuse.
      REFUSES(faultodds_cases_assess, nullptr, 1, 0, nullptr, nullptr, ),
      REFUSES(faultodds_network_load, nullptr, 0, 0, nullptr, nullptr, ),
      REFUSES(faultodds_network_find_variable, nullptr, nullptr, 0, nullptr, ),
      REFUSES(faultodds_network_find_state, nullptr, 0, nullptr, 0, nullptr, ),
      REFUSES(faultodds_network_read_statistics, nullptr, nullptr, ),
      REFUSES(faultodds_network_query, nullptr, nullptr, 0, nullptr, nullptr, 0, nullptr,
              nullptr, ),
      REFUSES(faultodds_network_case_open, nullptr, nullptr, ),
      REFUSES(faultodds_network_case_observe, nullptr, nullptr, ),
      REFUSES(faultodds_network_case_retract, nullptr, 0, ),
      REFUSES(faultodds_network_case_solve, nullptr, nullptr, nullptr, ),
      REFUSES(faultodds_network_case_posterior, nullptr, 0, nullptr, 0, nullptr, ),
      REFUSES(faultodds_network_case_posteriors, nullptr, nullptr, 0, nullptr, ),
      REFUSES(faultodds_priors_learn, nullptr, nullptr, nullptr, nullptr, nullptr, ),
      REFUSES(faultodds_priors_merge, nullptr, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_priors_diff_json, nullptr, 0, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_priors_backtest_json, nullptr, 0, nullptr, nullptr, nullptr, ),
      REFUSES(faultodds_circuit_check_json, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_circuit_explain_json, nullptr, 0, nullptr, 0, nullptr, 0, nullptr,
              nullptr, ),
      REFUSES(faultodds_circuit_diff_json, nullptr, 0, nullptr, 0, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_circuit_new_json, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_circuit_draw_svg, nullptr, 0, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_circuit_expand_json, nullptr, 0, nullptr, nullptr, ),
      REFUSES(faultodds_schema_json, nullptr, 0, nullptr, nullptr, ),
      // Its error is a text.
      {"faultodds_assess_json",
       [](faultodds_error**) {
         return faultodds_assess_json(nullptr, 0, nullptr, 0, nullptr, 0, nullptr, nullptr,
                                      nullptr);
       }},
  };
  return all;
}

bool is_empty(const char* text) { return std::strcmp(text, "") == 0; }

const std::map<std::string, Harmless>& harmless() {
  static const std::map<std::string, Harmless> all = {
      {"faultodds_version", [] { return !is_empty(faultodds_version()); }},
      {"faultodds_status_name",
       [] {
         return std::string(faultodds_status_name(INT32_MIN)) == "unknown" &&
                std::string(faultodds_status_name(INT32_MAX)) == "unknown";
       }},
      {"faultodds_error_code", [] { return faultodds_error_code(nullptr) == FAULTODDS_OK; }},
      {"faultodds_error_message", [] { return is_empty(faultodds_error_message(nullptr)); }},
      {"faultodds_error_pointer", [] { return is_empty(faultodds_error_pointer(nullptr)); }},
      {"faultodds_error_free", [] { return faultodds_error_free(nullptr), true; }},
      {"faultodds_free", [] { return faultodds_free(nullptr), true; }},
      {"faultodds_cancel_free", [] { return faultodds_cancel_free(nullptr), true; }},
      {"faultodds_cancel_now", [] { return faultodds_cancel_now(nullptr), true; }},
      {"faultodds_cancel_after_ms", [] { return faultodds_cancel_after_ms(nullptr, 0), true; }},
      {"faultodds_cancel_reset", [] { return faultodds_cancel_reset(nullptr), true; }},
      {"faultodds_model_free", [] { return faultodds_model_free(nullptr), true; }},
      {"faultodds_model_count",
       [] {
         return faultodds_model_count(nullptr, FAULTODDS_MODE) == 0 &&
                faultodds_model_count(nullptr, INT32_MIN) == 0;
       }},
      {"faultodds_model_id",
       [] {
         return faultodds_model_id(nullptr, FAULTODDS_COMPONENT, UINT32_MAX) == nullptr &&
                faultodds_model_id(nullptr, INT32_MAX, 0) == nullptr;
       }},
      {"faultodds_model_outcome_count",
       [] { return faultodds_model_outcome_count(nullptr, UINT32_MAX) == 0; }},
      {"faultodds_model_outcome_id",
       [] { return faultodds_model_outcome_id(nullptr, 0, UINT32_MAX) == nullptr; }},
      {"faultodds_case_free", [] { return faultodds_case_free(nullptr), true; }},
      {"faultodds_network_free", [] { return faultodds_network_free(nullptr), true; }},
      {"faultodds_network_case_free", [] { return faultodds_network_case_free(nullptr), true; }},
      {"faultodds_network_variable_count",
       [] { return faultodds_network_variable_count(nullptr) == 0; }},
      {"faultodds_network_variable_name",
       [] { return faultodds_network_variable_name(nullptr, UINT32_MAX) == nullptr; }},
      {"faultodds_network_state_count",
       [] { return faultodds_network_state_count(nullptr, UINT32_MAX) == 0; }},
      {"faultodds_network_state_name",
       [] { return faultodds_network_state_name(nullptr, 0, UINT32_MAX) == nullptr; }},
      {"faultodds_network_posterior_count",
       [] { return faultodds_network_posterior_count(nullptr) == 0; }},
  };
  return all;
}

}  // namespace

TEST_CASE("every exported function is called with NULL here") {
  std::ifstream file(SYMBOLS);
  std::set<std::string> exported, called;
  for (std::string name; file >> name;) exported.insert(name);
  for (const auto& [name, call] : refused()) called.insert(name);
  for (const auto& [name, call] : harmless()) called.insert(name);
  CHECK(exported == called);
  CHECK(called.size() == refused().size() + harmless().size());
}

TEST_CASE("NULL for everything is refused, with an error object if one is wanted") {
  for (const auto& [name, call] : refused()) {
    CAPTURE(name);
    faultodds_error* error = nullptr;
    CHECK(call(&error) == FAULTODDS_INVALID_ARGUMENT);
    if (name.rfind("faultodds_assess_json", 0) != 0) {
      CHECK(faultodds_error_code(error) == FAULTODDS_INVALID_ARGUMENT);
      CHECK(std::string(faultodds_error_message(error)).find("expected") != std::string::npos);
    }
    faultodds_error_free(error);
    CHECK(call(nullptr) == FAULTODDS_INVALID_ARGUMENT);
  }
}

TEST_CASE("functions that cannot fail give nothing for NULL") {
  for (const auto& [name, call] : harmless()) {
    CAPTURE(name);
    CHECK(call());
  }
}

TEST_CASE("lengths that no memory has, and NULL with a length, are refused before they are read") {
  const std::string circuit =
      R"({"format":"faultodds-circuit/1","id":"t","title":"t","components":[],"connections":[]})";
  faultodds_model* model = nullptr;
  REQUIRE(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model,
                               nullptr) == FAULTODDS_OK);
  faultodds_case* the_case = nullptr;
  REQUIRE(faultodds_case_open(model, &the_case, nullptr) == FAULTODDS_OK);
  for (const std::size_t length : {SIZE_MAX, SIZE_MAX / 2 + 1}) {
    for (const char* text : {static_cast<const char*>("x"), static_cast<const char*>(nullptr)}) {
      CAPTURE(length, text == nullptr);
      char* out = nullptr;
      char* words = nullptr;
      uint32_t index = 0;
      faultodds_model* other = nullptr;
      faultodds_network* network = nullptr;
      faultodds_model_options options{};
      options.struct_size = sizeof options;
      options.asset_class = text;
      options.asset_class_len = length;
      CHECK(faultodds_model_load(text, length, nullptr, 0, nullptr, &other, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_load(circuit.data(), circuit.size(), text, length, nullptr, &other,
                                 nullptr) == FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, &options, &other,
                                 nullptr) == FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_assess_json(text, length, "{}", 2, nullptr, 0, nullptr, &out, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_assess_json("{}", 2, text, length, nullptr, 0, nullptr, &out, &words) ==
            FAULTODDS_INVALID_ARGUMENT);
      faultodds_free(words);
      CHECK(faultodds_model_assess_json(model, text, length, nullptr, &out, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_note(model, text, length, FAULTODDS_NOTE_TEXT, nullptr, &out,
                                 nullptr) == FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_close(model, "{}", 2, text, length, FAULTODDS_RECORD_JSON, nullptr,
                                  &out, nullptr) == FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_find(model, FAULTODDS_MODE, text, length, &index, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_find(model, FAULTODDS_OBSERVATION, text, length, &index, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_model_find(model, FAULTODDS_COMPONENT, text, length, &index, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_case_observe_json(the_case, text, length, nullptr, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_case_setup_done(the_case, text, length, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_network_load(text, length, FAULTODDS_BIF, nullptr, &network, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_priors_merge(&text, &length, 1, nullptr, &out, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(faultodds_priors_diff_json(text, length, "{}", 2, nullptr, &out, nullptr) ==
            FAULTODDS_INVALID_ARGUMENT);
      CHECK(out == nullptr);
      CHECK(other == nullptr);
      CHECK(network == nullptr);
    }
  }
  faultodds_case_free(the_case);
  faultodds_model_free(model);
}

TEST_CASE("counts that would overflow an address are refused") {
  const std::string bif =
      "variable a { type discrete [ 2 ] { x, y }; } probability ( a ) { table 0.5 0.5; }";
  faultodds_network* network = nullptr;
  REQUIRE(faultodds_network_load(bif.data(), bif.size(), FAULTODDS_BIF, nullptr, &network,
                                 nullptr) == FAULTODDS_OK);
  double posteriors[2], log_evidence = 0;
  std::size_t written = 0;
  CHECK(faultodds_network_query(network, nullptr, SIZE_MAX, nullptr, posteriors, 2, &written,
                                &log_evidence, nullptr) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_network_query(network, nullptr, 0, nullptr, nullptr, SIZE_MAX, &written,
                                &log_evidence, nullptr) == FAULTODDS_INVALID_ARGUMENT);
  faultodds_network_free(network);
  CHECK(faultodds_cases_assess(nullptr, SIZE_MAX, UINT32_MAX, nullptr, nullptr, nullptr) ==
        FAULTODDS_INVALID_ARGUMENT);
  faultodds_case* none[1] = {nullptr};
  CHECK(faultodds_cases_assess(none, SIZE_MAX, 1, nullptr, nullptr, nullptr) ==
        FAULTODDS_INVALID_ARGUMENT);
}

TEST_CASE(
    "what a model numbers is counted, named and found by its kind, and no other kind is one") {
  const std::string circuit =
      R"({"format":"faultodds-circuit/1","id":"t","title":"t","components":[)"
      R"({"id":"tank","type":"tank"}],"connections":[]})";
  faultodds_model* model = nullptr;
  REQUIRE(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model,
                               nullptr) == FAULTODDS_OK);
  REQUIRE(faultodds_model_count(model, FAULTODDS_COMPONENT) == 1);
  CHECK(faultodds_model_id(model, FAULTODDS_COMPONENT, 0) == std::string("tank"));
  CHECK(faultodds_model_id(model, FAULTODDS_COMPONENT, 1) == nullptr);
  uint32_t index = 7;
  CHECK(faultodds_model_find(model, FAULTODDS_COMPONENT, "tank", 4, &index, nullptr) ==
        FAULTODDS_OK);
  CHECK(index == 0);
  faultodds_error* error = nullptr;
  CHECK(faultodds_model_find(model, FAULTODDS_COMPONENT, "tanc", 4, &index, &error) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(std::string(faultodds_error_message(error)).find("unknown component `tanc`") == 0);
  faultodds_error_free(error);
  for (const faultodds_kind kind : {0, 4, -1}) {
    CHECK(faultodds_model_count(model, kind) == 0);
    CHECK(faultodds_model_id(model, kind, 0) == nullptr);
    CHECK(faultodds_model_find(model, kind, "tank", 4, &index, &error) ==
          FAULTODDS_INVALID_ARGUMENT);
    CHECK(std::string(faultodds_error_message(error)).find("kind is") == 0);
    faultodds_error_free(error);
  }
  faultodds_model_free(model);
}
