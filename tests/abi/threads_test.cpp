// One model under many threads, and the same bytes from all of them.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "faultodds_network.h"

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
          if (faultodds_model_assess_json(model, the_case.data(), the_case.size(), nullptr, &answer,
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

TEST_CASE("threads that share a network get the same posteriors, bit for bit, each its own") {
  // A cause with eight signs; thread t sees sign t only.
  std::string text = "variable cause { type discrete [ 3 ] { a, b, c }; }";
  for (int i = 0; i < 8; ++i) {
    const std::string sign = "sign" + std::to_string(i);
    text += "variable " + sign + " { type discrete [ 2 ] { seen, not }; }\n";
    text += "probability ( " + sign + " | cause ) { (a) 0.9 0.1; (b) 0.5 0.5; (c) 0." +
            std::to_string(i) + "5 0." + std::to_string(9 - i) + "5; }";
  }
  text += "probability ( cause ) { table 0.2 0.3 0.5; }";
  faultodds_network* network = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_network_load(text.data(), text.size(), FAULTODDS_BIF, nullptr, &network, &error);
  INFO(faultodds_error_message(error));
  REQUIRE(status == FAULTODDS_OK);
  const std::size_t size = faultodds_network_posterior_count(network);
  REQUIRE(size == 19);
  const auto ask = [network, size](std::size_t t) {
    faultodds_network_evidence evidence{};
    evidence.struct_size = sizeof evidence;
    evidence.variable = static_cast<std::uint32_t>(t % 8 + 1);
    std::vector<double> posteriors(size + 1);
    std::size_t written = 0;
    if (faultodds_network_query(network, &evidence, 1, nullptr, posteriors.data(), size, &written,
                                &posteriors[size], nullptr) != FAULTODDS_OK) {
      posteriors.clear();
    }
    return posteriors;
  };
  constexpr std::size_t kThreads = 8;
  std::vector<std::vector<double>> alone;
  for (std::size_t t = 0; t < kThreads; ++t) alone.push_back(ask(t));
  REQUIRE(alone[0] != alone[1]);
  std::vector<std::size_t> same(kThreads, 0);
  constexpr std::size_t kRounds = 200;
  {
    std::vector<std::jthread> threads;
    for (std::size_t t = 0; t < kThreads; ++t) {
      threads.emplace_back([&, t] {
        for (std::size_t round = 0; round < kRounds; ++round) same[t] += ask(t) == alone[t] ? 1 : 0;
      });
    }
  }
  faultodds_network_free(network);
  CHECK(same == std::vector<std::size_t>(kThreads, kRounds));
}
