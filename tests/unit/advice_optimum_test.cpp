// Following the advice to its end, against the best that can be done at all: dynamic programming
// over every outcome of every test.
#include <catch2/catch.hpp>

#include "core/diagnosis/advice.h"
#include "tests/unit/advice_optimum.h"

using namespace advice_test;
using faultodds::diagnosis::advise;

namespace {

// As where every finding was looked at again already: the optimum makes no test twice.
Optimum::Policy advised(const Model& model) {
  return [&model](const Case& now) {
    Case looked_at = now;
    for (Evidence& e : looked_at.evidence) e.again = true;
    return advise(model, looked_at)->test;
  };
}

}  // namespace

TEST_CASE("following the advice costs within 1 % of the optimum, over many machines",
          "[enumerated]") {
  double optimum = 0, followed = 0, stopping = 0, worst = 1;
  std::size_t tested = 0;
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    Sample sample = random_sample(seed);
    for (auto& observation : sample.machine.analysis.observations) observation.energised = false;
    const Model model = sample.machine.compile();
    Optimum best(sample.machine.analysis, sample.the_case);
    const double least = best.cost(), cost = best.following(advised(model));
    INFO("seed " << seed);
    CHECK(cost >= least - 1e-6);
    CHECK(best.stopping() >= least - 1e-6);
    CHECK(best.following([&](const Case& now) { return best.test_in(now); }) == Approx(least));
    optimum += least;
    followed += cost;
    stopping += best.stopping();
    worst = std::max(worst, cost / least);
    tested += best.first_test() ? 1 : 0;
  }
  INFO("optimum " << optimum << ", followed " << followed << ", stopping " << stopping << ", worst "
                  << worst);
  CHECK(tested > 20);
  CHECK(stopping > 1.04 * optimum);  // there is something to be lost
  CHECK(followed < 1.01 * optimum);
  CHECK(worst < 1.05);
}

TEST_CASE("locked-out tests first costs a few per cent at most where energised ones are dearer",
          "[enumerated]") {
  double optimum = 0, followed = 0;
  for (std::uint64_t seed = 100; seed < 140; ++seed) {
    const Sample sample = random_sample(seed);
    const Model model = sample.machine.compile();
    Optimum best(sample.machine.analysis, sample.the_case);
    optimum += best.cost();
    followed += best.following(advised(model));
  }
  INFO("optimum " << optimum << ", followed " << followed);
  CHECK(followed < 1.02 * optimum);
}
