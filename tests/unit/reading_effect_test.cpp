// Readings as likelihoods over the classes of effect.
#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "core/error.h"
#include "core/reading/effect.h"
#include "core/reading/units.h"
#include "tests/unit/simpson.h"

namespace reading_effect_test {

using namespace faultodds;
using namespace faultodds::reading;

namespace {

const EffectScale kHold{EffectUnit::ml_per_min, 6, 94, 0, 0.5};
const EffectScale kDrift{EffectUnit::mm_per_min, 4, 40, 0.7, 0.2};
const EffectScale kFlow{EffectUnit::percent, 10, 30, 0, 0};

using Likelihood = std::array<double, 3>;

Likelihood of(double value, const EffectScale& scale, double error = 0, bool censored = false) {
  return effect_likelihood({value, error, censored, {}}, scale, nullptr);
}

double q(const char* text, Dimension dimension) { return parse_quantity(text, dimension); }

Setting hold_at(const char* pressure) {
  Setting setting;
  setting.reference_pressure = q(pressure, Dimension::pressure);
  setting.volume = q("0.15 L", Dimension::volume);
  return setting;
}

Reading drop(const char* by, const char* in) {
  Reading reading;
  reading.pressure_drop = q(by, Dimension::pressure);
  reading.time = q(in, Dimension::time);
  return reading;
}

Setting meter() {
  Setting setting;
  setting.flow_test = true;
  setting.rated_flow = q("65 L/min", Dimension::flow);
  return setting;
}

Likelihood at_meter(const char* text) {
  Reading reading;
  reading.flow = q(text, Dimension::flow);
  return effect_likelihood(measured_effect(reading, meter(), kFlow), kFlow, nullptr);
}

// P(a reading of `value`, or below it | class), by Simpson's rule over the effect.
double direct(const EffectScale& scale, double value, double low, double high, bool below) {
  const boost::math::normal standard;
  const auto z = [&](double v) {
    return scale.unit == EffectUnit::percent ? v / 3 : std::asinh(0.3 * v / scale.resolution) / 0.3;
  };
  const auto integrand = [&](double effect) {
    const double off = z(value) - z(effect + scale.floor);
    const double p = below ? boost::math::cdf(standard, off) : boost::math::pdf(standard, off);
    return p / effect / std::log(high / low);
  };
  return simpson(integrand, low, high);
}

}  // namespace

TEST_CASE("A reading in the middle of a class speaks for it", "[reading][effect]") {
  CHECK(of(0.6, kHold)[0] == 1);
  CHECK(of(24, kHold)[1] == 1);
  CHECK(of(300, kHold)[2] == 1);
  CHECK(of(12, kDrift)[1] == 1);
  CHECK(of(20, kFlow)[1] == 1);
}

TEST_CASE("Less measured never speaks for a larger effect", "[reading][effect]") {
  for (const EffectScale& scale : {kHold, kDrift, kFlow}) {
    for (const double error : {0.0, 1.0}) {
      Likelihood before = of(1e-6, scale, error);
      for (double value = 1e-5; value < 1e7; value *= 1.07) {
        const Likelihood now = of(value, scale, error);
        for (std::size_t larger = 1; larger < 3; ++larger) {
          for (std::size_t smaller = 0; smaller < larger; ++smaller) {
            CHECK(now[larger] * before[smaller] >= before[larger] * now[smaller] * (1 - 1e-9));
          }
        }
        before = now;
      }
    }
  }
}

TEST_CASE("No reading is surer than people allow", "[reading][effect]") {
  for (const EffectScale& scale : {kHold, kDrift, kFlow}) {
    for (const double value : {0.0, 1e-9, 1.0, 1e4, 1e12}) {
      for (const bool censored : {false, true}) {
        const Likelihood seen = of(value, scale, 0, censored);
        const auto over = [&](std::size_t a, std::size_t b) { return seen[a] / seen[b]; };
        CHECK(over(1, 0) <= 98 * (1 + 1e-12));
        CHECK(over(0, 2) <= 98 * (1 + 1e-12));
        CHECK(over(0, 1) <= std::sqrt(98) * (1 + 1e-12));
        CHECK(std::max(over(1, 2), over(2, 1)) <= std::sqrt(98) * (1 + 1e-12));
      }
    }
  }
}

TEST_CASE("Below its resolution an instrument says one thing", "[reading][effect]") {
  const Likelihood faint = of(1e-6, kHold);
  CHECK(of(0.4, kHold) == faint);
  CHECK(of(0.2, kHold, 0, true) == faint);
  CHECK(of(1e-6, kHold, 0, true) == faint);
}

TEST_CASE("Within bounds the likelihood is the integral over the class", "[reading][effect]") {
  // Values between classes, where no bound is reached.
  for (const double value : {6.0, 6.5}) {
    const Likelihood seen = of(value, kHold);
    CHECK(seen[1] / seen[0] ==
          Approx(direct(kHold, value, 6, 94, false) / direct(kHold, value, 0.06, 6, false))
              .epsilon(1e-8));
  }
  const Likelihood slow = of(40, kDrift);
  CHECK(
      slow[2] / slow[1] ==
      Approx(direct(kDrift, 40, 40, 400, false) / direct(kDrift, 40, 4, 40, false)).epsilon(1e-8));
  const Likelihood below = of(12, kFlow, 0, true);
  CHECK(below[1] / below[0] ==
        Approx(direct(kFlow, 12, 10, 30, true) / direct(kFlow, 12, 0.1, 10, true)).epsilon(1e-8));
}

TEST_CASE("A few percent below rated flow, rated flow and more are one finding",
          "[reading][effect]") {
  const Likelihood rated = at_meter("65 L/min");
  CHECK(rated[0] == 1);
  for (const char* text : {"64.999 L/min", "64 L/min", "66 L/min", "70 L/min"}) {
    CHECK(at_meter(text) == rated);
  }
  CHECK(at_meter("52 L/min")[1] == 1);
}

TEST_CASE("A hold that loses 1 bar in a minute is tight, one that loses 80 in 1 s is not",
          "[reading][effect]") {
  // 0.15 L at 1 GPa: 0.015 mL/min, and 72
  const auto slow = measured_effect(drop("1 bar", "60 s"), hold_at("160 bar"), kHold);
  CHECK(slow.value == Approx(0.15e-3 / 1e9 * 1e5 / 60 * 6e7));
  CHECK(effect_likelihood(slow, kHold, nullptr)[0] == 1);
  const auto fast = measured_effect(drop("80 bar", "1 s"), hold_at("160 bar"), kHold);
  CHECK(fast.value == Approx(72));
  CHECK(effect_likelihood(fast, kHold, nullptr)[1] == 1);
}

TEST_CASE("A drop that cooling explains and one bar more are one finding", "[reading][effect]") {
  Reading explained = drop("13 bar", "60 s");
  explained.temperature_change = -2;
  Reading more = drop("14 bar", "60 s");
  more.temperature_change = -2;
  const auto first = measured_effect(explained, hold_at("100 bar"), kHold);
  const auto second = measured_effect(more, hold_at("100 bar"), kHold);
  CHECK(first.censored);
  CHECK(second.error > second.value);
  CHECK(effect_likelihood(first, kHold, nullptr) == effect_likelihood(second, kHold, nullptr));
}

TEST_CASE("A drift is measured at the rod", "[reading][effect]") {
  Setting setting;
  setting.drift = true;
  setting.contracting_area = q("50 cm2", Dimension::area);
  Reading reading;
  reading.distance = q("20 mm", Dimension::length);
  reading.time = q("5 min", Dimension::time);
  CHECK(measured_effect(reading, setting, kDrift).value == Approx(4));
  setting.contracting_area.reset();
  CHECK_THROWS_AS(measured_effect(reading, setting, kDrift), Error);
}

TEST_CASE("What no leak can give is warned of, with the unit that was likely meant",
          "[reading][effect]") {
  Reading reading;
  reading.leak_rate = q("40 L/min", Dimension::flow);
  const auto seen = measured_effect(reading, hold_at("100 bar"), kHold);
  REQUIRE(seen.warnings.size() == 2);
  CHECK(seen.warnings[0].id == "warning.implausible.flow");
  CHECK(seen.warnings[1].id == "warning.slip.millilitres");
  reading.leak_rate = q("40 mL/min", Dimension::flow);
  CHECK(measured_effect(reading, hold_at("100 bar"), kHold).warnings.empty());
}

TEST_CASE("The weight of a reading is its density over ln value, blunders included",
          "[reading][effect]") {
  double seen = 0;
  effect_likelihood({24, 0, false, {}}, kHold, &seen);
  const double slope = 1 / std::hypot(0.3 * 24, 0.5);
  CHECK(seen == Approx(std::log(0.98 * direct(kHold, 24, 6, 94, false) * 24 * slope +
                                0.02 / std::log(940 / 0.06)))
                    .epsilon(1e-8));
  effect_likelihood({1e12, 0, false, {}}, kHold, &seen);
  CHECK(seen == Approx(std::log(0.02 / std::log(940 / 0.06))));
}

}  // namespace reading_effect_test
