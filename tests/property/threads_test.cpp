// One model that many threads ask about cases new to it at the same time.
#include <algorithm>
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

// What of `text` stands about where `other` is no longer the same.
std::string parted(const std::string& text, const std::string& other) {
  const auto length = std::min(text.size(), other.size());
  const auto same = std::mismatch(text.begin(), text.begin() + length, other.begin()).first;
  const auto at = static_cast<std::size_t>(same - text.begin());
  return text.substr(at < 80 ? 0 : at - 80, 240);
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
    for (const auto& answers : got) {
      REQUIRE(answers.size() == expected.size());
      for (std::size_t i = 0; i < expected.size(); ++i) {
        INFO("question " << i << ", from where they part:\n"
                         << parted(answers[i], expected[i]) << "\nwhere one thread alone gets:\n"
                         << parted(expected[i], answers[i]));
        CHECK((answers[i] == expected[i]));
      }
    }
    asked += static_cast<int>(cases.size());
  }
  CHECK(asked > 100);
}
