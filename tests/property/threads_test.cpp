// One model that many threads ask about cases new to it at the same time.
#include <catch2/catch.hpp>
#include <string>
#include <thread>
#include <vector>

#include "tests/property/engine.h"
#include "tests/property/generator.h"

using namespace oracle;

namespace {

std::vector<std::string> answers_to(const LoadedModel& model, const std::vector<Json>& cases) {
  std::vector<std::string> answers;
  for (const Json& one : cases) {
    const Reply reply = model.assess(one);
    answers.push_back(faultodds_status_name(reply.status) + reply.document.dump());
  }
  return answers;
}

}  // namespace

TEST_CASE("threads that ask one model the same new questions get what one thread alone gets") {
  constexpr std::size_t kThreads = 4;
  int asked = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const Sample sample = generate(seed);
    std::vector<Json> cases = sample.further_cases;
    cases.push_back(sample.the_case);
    const std::string of_asset = asset_class(sample.the_case);
    const LoadedModel alone(sample.circuit, sample.pack, of_asset);
    const std::vector<std::string> expected = answers_to(alone, cases);
    const LoadedModel shared(sample.circuit, sample.pack, of_asset);
    std::vector<std::vector<std::string>> got(kThreads);
    {
      std::vector<std::jthread> threads;
      for (std::size_t t = 0; t < kThreads; ++t) {
        threads.emplace_back([&, t] { got[t] = answers_to(shared, cases); });
      }
    }
    INFO("seed " << seed);
    for (const auto& answers : got) CHECK(answers == expected);
    asked += static_cast<int>(cases.size());
  }
  CHECK(asked > 100);
}
