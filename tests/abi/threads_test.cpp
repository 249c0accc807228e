// One model under many threads, and the same bytes from all of them.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "faultodds.h"

using nlohmann::json;

TEST_CASE("threads that share a model get the same answer, byte for byte") {
  std::ifstream file(VECTORS "/bad_documents.json");
  const json table = json::parse(file);
  const std::string circuit = table.at("circuit").dump();
  const std::string the_case = table.at("case").dump();
  faultodds_model* model = nullptr;
  REQUIRE(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model,
                               nullptr) == FAULTODDS_OK);
  constexpr std::size_t kThreads = 4;
  constexpr int kRounds = 10;
  std::vector<std::vector<std::string>> answers(kThreads);
  {
    std::vector<std::jthread> threads;
    for (std::size_t t = 0; t < kThreads; ++t) {
      threads.emplace_back([&, t] {
        for (int round = 0; round < kRounds; ++round) {
          char* answer = nullptr;
          if (faultodds_model_assess_json(model, the_case.data(), the_case.size(), &answer,
                                          nullptr) == FAULTODDS_OK) {
            answers[t].push_back(answer);
          }
          faultodds_free(answer);
        }
      });
    }
  }
  faultodds_model_free(model);
  for (const auto& of_thread : answers) {
    REQUIRE(of_thread.size() == kRounds);
    for (const std::string& answer : of_thread) CHECK(answer == answers[0][0]);
  }
}
