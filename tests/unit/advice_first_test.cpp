// Which of two tests that pay is made first: a look, where the hold that saves more would be made
// after it anyway.
#include <catch2/catch.hpp>

#include "core/diagnosis/advice.h"
#include "tests/unit/advice_enumeration.h"

using namespace advice_test;
using faultodds::circuit::ObservationKind;
using faultodds::diagnosis::advise;

namespace advice_first {

const std::vector<std::vector<double>> kSharp{{0.9995, 0.0005}, {0.0005, 0.9995}, {0.0005, 0.9995}};
const std::vector<std::vector<double>> kBlunt{{0.8, 0.2}, {0.35, 0.65}, {0.2, 0.8}};

double saving(const faultodds::diagnosis::Advice& advice, std::uint32_t o) {
  for (const auto& value : advice.tests) {
    if (value.observation == o) return value.net();
  }
  return 0;
}

// A hose that may leak, and a seal, which costs more.
struct Sinking {
  Machine machine;
  std::uint32_t hose = machine.part("hose", 0.25, 150), seal = machine.part("seal", 0.25, 1500),
                symptom = machine.observation("sinks", {{hose}, {seal}}, kSharp, true),
                hold = machine.observation("hold", {{seal}}, kSharp, false, 20);

  std::uint32_t look(std::uint32_t at, const std::vector<std::vector<double>>& matrix) {
    const auto look = machine.observation("look", {{at}}, matrix, false, 3);
    machine.analysis.observations[look].kind = ObservationKind::look;
    for (auto& o : machine.analysis.observations) o.background = {1, 0, 0};
    return look;
  }

  // Both pay, the hold more.
  faultodds::diagnosis::Advice advised_with(std::uint32_t look) const {
    Case the_case;
    the_case.evidence = {saw(symptom, 1)};
    the_case.economics.come_back = 2500;
    const auto advice = advise(machine.compile(), the_case);
    REQUIRE(advice);
    REQUIRE(saving(*advice, hold) > saving(*advice, look));
    REQUIRE(saving(*advice, look) > 0);
    return *advice;
  }
};

TEST_CASE("a look goes first where the hold that saves more may be left out after it") {
  Sinking one;
  const auto look = one.look(one.hose, kSharp);
  const auto advice = one.advised_with(look);
  CHECK(advice.test == look);
}

TEST_CASE("a look that tells less of what the hold tells anyway does not go first") {
  Sinking one;
  const auto look = one.look(one.seal, kBlunt);
  const auto advice = one.advised_with(look);
  CHECK(advice.test == one.hold);
}

}  // namespace advice_first
