// Readings of several points, of gas in the volume, of strokes, and of flow against speed and
// temperature. The times of a course are integrated here by Simpson's rule, from pressure to
// pressure.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "core/error.h"
#include "core/reading/effect.h"
#include "core/reading/trapped_oil.h"
#include "core/reading/units.h"
#include "tests/unit/simpson.h"
#include "tests/unit/warnings_said.h"

using namespace faultodds;
using namespace faultodds::reading;

namespace {

const EffectScale kHold{EffectUnit::ml_per_min, 6, 94, 0, 0.5};
const EffectScale kFlow{EffectUnit::percent, 10, 30, 0, 0};
constexpr double kBar = 1e5, kMlPerMinute = 6e7, kAir = 101'325;

double q(const char* text, Dimension dimension) { return parse_quantity(text, dimension); }

Setting hold() {
  Setting setting;
  setting.reference_pressure = 160 * kBar;
  setting.volume = 0.15e-3;
  return setting;
}

struct Leaks {
  double flow = 0, exponent = 1;  // m3/s at the first pressure
  double gas = 0, gas_pressure = 0, back = 0;
};

// When each pressure is reached.
Reading course(const Leaks& leak, const std::vector<double>& bar) {
  const double first = bar.front() * kBar;
  const auto slowness = [&](double p) {
    const double absolute = p + kAir;
    const double compliance =
        0.15e-3 / 1e9 + leak.gas * (leak.gas_pressure + kAir) / absolute / absolute;
    return compliance / leak.flow / std::pow((p - leak.back) / (first - leak.back), leak.exponent);
  };
  Reading reading;
  for (const double p : bar) {
    const double time = p * kBar == first ? 0 : simpson(slowness, p * kBar, first);
    reading.pressures.push_back({time, p * kBar});
  }
  if (leak.gas > 0) reading.gas_volume = leak.gas;
  if (leak.gas_pressure > 0) reading.gas_pressure = leak.gas_pressure;
  if (leak.back > 0) reading.back_pressure = leak.back;
  reading.exponent = leak.exponent;
  return reading;
}

std::array<double, 3> likelihood_of(const Reading& reading, const Setting& setting,
                                    const EffectScale& scale) {
  return effect_likelihood(measured_effect(reading, setting, scale), scale, nullptr);
}

std::string warning_of(const Reading& reading, const Setting& setting) {
  return said(leak_rate(reading, setting));
}

bool contains(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

std::string refused_at(const Reading& reading, const Setting& setting) {
  try {
    leak_rate(reading, setting);
  } catch (const Error& error) {
    return error.pointer();
  }
  return "accepted";
}

}  // namespace

TEST_CASE("The course of a gauge gives the leak that made it", "[reading][course]") {
  const double flow = 20 / kMlPerMinute;
  const std::vector<double> bar{160, 120, 100, 80, 62};
  for (const Leaks& leak : {Leaks{flow}, Leaks{flow, 0.5}, Leaks{flow, 1, 2e-6},
                            Leaks{flow, 0.5, 1e-3, 60 * kBar}, Leaks{flow, 1, 0, 0, 30 * kBar}}) {
    CAPTURE(leak.exponent, leak.gas, leak.gas_pressure, leak.back);
    const LeakRate rate = leak_rate(course(leak, bar), hold());
    const double drive = 160 * kBar / (160 * kBar - leak.back);
    CHECK(rate.value == Approx(20 * std::pow(drive, leak.exponent)).epsilon(1e-9));
    CHECK(rate.error < 1e-6);
    CHECK_FALSE(rate.censored);
  }
}

TEST_CASE("Two points of a small fall are the fall over the time", "[reading][course]") {
  Reading points;
  points.pressures = {{0, 160 * kBar}, {60, 159.9 * kBar}};
  Reading drop;
  drop.pressure_drop = 0.1 * kBar;
  drop.time = 60;
  drop.pressure = 160 * kBar;
  CHECK(leak_rate(points, hold()).value == Approx(leak_rate(drop, hold()).value).epsilon(1e-3));
}

TEST_CASE("A steeper course never speaks for less leak", "[reading][course]") {
  double before = 0;
  for (double flow = 0.02; flow < 400; flow *= 1.7) {
    const auto weight = likelihood_of(course({flow / kMlPerMinute}, {160, 120, 80}), hold(), kHold);
    const double odds = weight[2] / weight[0];
    CHECK(odds >= before);
    before = odds;
  }
  CHECK(before <= 98 * std::sqrt(98) * (1 + 1e-9));  // an effect at all, and of the second class
}

TEST_CASE("Points that lie off their line are believed less", "[reading][course]") {
  Reading scattered = course({20 / kMlPerMinute}, {160, 120, 100, 70, 40});
  scattered.pressures[2].pressure += 15 * kBar;
  CHECK(leak_rate(scattered, hold()).error > 1);
}

TEST_CASE("A course that flattens is warned of as settling", "[reading][course]") {
  Reading reading;
  reading.pressures = {{0, 160 * kBar}, {30, 150 * kBar}, {60, 149 * kBar}, {90, 148.5 * kBar}};
  CHECK(contains(warning_of(reading, hold()), "settling"));
  CHECK_FALSE(
      contains(warning_of(course({20 / kMlPerMinute}, {160, 100, 50}), hold()), "settling"));
}

TEST_CASE("A gauge that does not fall only bounds the leak", "[reading][course]") {
  Reading reading;
  reading.pressures = {{0, 160 * kBar}, {60, 160 * kBar}};
  const LeakRate rate = leak_rate(reading, hold());
  CHECK(rate.censored);
  CHECK(likelihood_of(reading, hold(), kHold)[0] == 1);
  CHECK(likelihood_of(reading, hold(), kHold)[2] >= 1 / 98.0 * (1 - 1e-9));
}

TEST_CASE("Gas in the volume feeds a leak, so the same fall is a larger one", "[reading][gas]") {
  Reading reading;
  reading.pressure_drop = 10 * kBar;
  reading.time = 60;
  reading.pressure = 160 * kBar;
  const double without = leak_rate(reading, hold()).value;
  reading.gas_volume = 2e-3;  // an accumulator of 2 L charged to 60 bar
  reading.gas_pressure = 60 * kBar;
  // Boyle: 2 L x 61 bar / (151 and 161 bar absolute).
  const double grew =
      2e-3 * (60 * kBar + kAir) * (1 / (150 * kBar + kAir) - 1 / (160 * kBar + kAir));
  CHECK(leak_rate(reading, hold()).value ==
        Approx(without + grew * kMlPerMinute / 60).epsilon(1e-9));
  CHECK(likelihood_of(reading, hold(), kHold)[0] < 1);
  reading.pressure.reset();
  CHECK(refused_at(reading, hold()) == "/pressure");
}

TEST_CASE("A kelvin is what the oil's expansion and the stiffness around it make of it",
          "[reading][temperature]") {
  Reading reading;
  reading.pressure_drop = 40 * kBar;
  reading.time = 60;
  reading.temperature_change = -2;
  const auto lost_to_cooling = [&] {
    Reading steady = reading;
    steady.temperature_change.reset();
    return leak_rate(steady, hold()).value - leak_rate(reading, hold()).value;
  };
  // 0.15 L x (7e-4 - 0.35e-4) x 2 K in a minute, whatever the stiffness.
  CHECK(lost_to_cooling() == Approx(0.15e-3 * 6.65e-4 * 2 * 1e6).epsilon(1e-9));
  reading.bulk_modulus = 1.4e9;
  CHECK(lost_to_cooling() == Approx(0.15e-3 * 6.65e-4 * 2 * 1e6).epsilon(1e-9));
  CHECK(contains(warning_of(
                     [] {
                       Reading warned;
                       warned.pressure_drop = 40 * kBar;
                       warned.time = 60;
                       warned.bulk_modulus = 1.4e9;
                       return warned;
                     }(),
                     hold()),
                 "about 9 bar per kelvin"));
}

TEST_CASE("A soft line takes oil too", "[reading]") {
  CHECK(stiffness_in_line(1.4e9, 1.4e9) == Approx(0.7e9));
  Reading reading;
  reading.pressure_drop = 10 * kBar;
  reading.time = 60;
  reading.line_stiffness = 0.7e9;
  // 0.15 L x 10 bar x (1/1.4 + 1/0.7) / GPa
  CHECK(leak_rate(reading, hold()).value == Approx(0.15 * (1 / 1.4 + 1 / 0.7)).epsilon(1e-9));
}

TEST_CASE("Strokes of a hand pump are the flow that they deliver", "[reading]") {
  Reading strokes;
  strokes.strokes_per_minute = 6;
  strokes.stroke_volume = q("12 cm3", Dimension::volume);
  strokes.pressure = 120 * kBar;
  CHECK(leak_rate(strokes, hold()).value == Approx(72 * 160 / 120.0).epsilon(1e-12));
  strokes.stroke_volume.reset();
  CHECK(refused_at(strokes, hold()) == "/stroke_volume");
}

TEST_CASE("Distances at times are the drift through all of them", "[reading][course]") {
  Setting setting;
  setting.drift = true;
  setting.contracting_area = 50e-4;
  Reading reading;
  reading.distances = {{0, 0}, {60, 5e-3}, {120, 9e-3}, {180, 15e-3}};
  // Least squares by hand: mean time 90 s; sum of dt x dy / sum of dt^2.
  const double slope = (-90 * 0 - 30 * 5e-3 + 30 * 9e-3 + 90 * 15e-3) / (2 * (90 * 90 + 30 * 30));
  CHECK(leak_rate(reading, setting).value == Approx(50e-4 * slope * kMlPerMinute).epsilon(1e-9));
  CHECK(leak_rate(reading, setting).error > 0);
  reading.distances = {{0, 0}, {60, 20e-3}, {120, 21e-3}, {180, 21e-3}};
  CHECK(contains(warning_of(reading, setting), "settling"));
  reading.distances = {{60, 0}, {60, 5e-3}};
  CHECK(refused_at(reading, setting) == "/distances/1/time");
}

TEST_CASE("A back pressure drives less", "[reading]") {
  Reading reading;
  reading.leak_rate = 20 / kMlPerMinute;
  reading.pressure = 160 * kBar;
  reading.back_pressure = 80 * kBar;
  CHECK(leak_rate(reading, hold()).value == Approx(40).epsilon(1e-12));
  reading.back_pressure = 160 * kBar;
  CHECK(refused_at(reading, hold()) == "/back_pressure");
}

TEST_CASE("Oil of grade 46 thins as it warms", "[reading][temperature]") {
  CHECK(viscosity(313.15) == Approx(46).epsilon(1e-9));   // ISO 3448
  CHECK(viscosity(373.15) == Approx(6.8).epsilon(1e-9));  // viscosity index about 100
  CHECK(viscosity(333.15) == Approx(20).epsilon(0.06));
  CHECK(viscosity(293.15) == Approx(125).epsilon(0.1));
}

TEST_CASE("A pump is held against its speed and the oil that it was measured with",
          "[reading][flow]") {
  Setting setting;
  setting.flow_test = true;
  setting.rated_flow = q("65 L/min", Dimension::flow);
  Reading reading;
  reading.flow = q("36 L/min", Dimension::flow);
  reading.revolutions_per_minute = 800;
  reading.displacement = q("45 cm3/rev", Dimension::displacement);
  CHECK(leak_rate(reading, setting).censored);  // 45 cm3 x 800 is all of it
  reading.revolutions_per_minute = 1000;
  CHECK(measured_effect(reading, setting, kFlow).value == Approx(20));
  // In cold oil the slip that it will have warm is hidden.
  reading.flow = q("43.65 L/min", Dimension::flow);  // 3 % less
  const auto unknown = likelihood_of(reading, setting, kFlow);
  reading.oil_temperature = q("20 degC", Dimension::temperature);
  const auto cold = likelihood_of(reading, setting, kFlow);
  CHECK(cold[1] / cold[0] > unknown[1] / unknown[0]);
  CHECK(leak_rate(reading, setting).error > 0.05);
  reading.rated_flow = setting.rated_flow;
  CHECK(refused_at(reading, setting) == "/rated_flow");
}

TEST_CASE("Readings that no leak gives name the unit that was meant", "[reading][effect]") {
  Reading strokes;
  strokes.strokes_per_minute = 30;
  strokes.stroke_volume = q("2 L", Dimension::volume);
  strokes.pressure = 160 * kBar;
  const auto warnings = measured_effect(strokes, hold(), kHold).warnings;
  REQUIRE_FALSE(warnings.empty());
  CHECK(warnings.back().id == "warning.slip.millilitres_a_stroke");

  Setting meter;
  meter.flow_test = true;
  meter.rated_flow = q("17 L/min", Dimension::flow);
  Reading flow;
  flow.flow = q("64 L/min", Dimension::flow);
  CHECK(contains(warning_of(flow, meter), "L/min rather than gpm"));
}

TEST_CASE("A hold into an accumulator of which the reading says nothing counts its gas",
          "[reading][gas]") {
  Reading reading;
  reading.pressure_drop = 5 * kBar;
  reading.time = 60;
  reading.pressure = 160 * kBar;
  Setting with_gas = hold();
  with_gas.gas_volume = 2e-3;
  CHECK(leak_rate(reading, with_gas).value > 50 * leak_rate(reading, hold()).value);
  CHECK(contains(warning_of(reading, with_gas), "accumulator"));
  reading.gas_volume = 2e-3;
  reading.gas_pressure = 80 * kBar;
  Reading unsaid = reading;
  unsaid.gas_volume.reset();
  unsaid.gas_pressure.reset();
  CHECK(leak_rate(unsaid, with_gas).value ==
        Approx(leak_rate(reading, hold()).value).epsilon(1e-12));
}

TEST_CASE("Below its charge an accumulator gives nothing", "[reading][gas]") {
  const TrappedOil oil{0.15e-3, 1e9, 2e-3, 80 * kBar};
  const TrappedOil without{0.15e-3, 1e9, 0, 0};
  CHECK(given_up(oil, 70 * kBar, 20 * kBar) == Approx(given_up(without, 70 * kBar, 20 * kBar)));
  CHECK(given_up(oil, 90 * kBar, 20 * kBar) ==
        Approx(given_up(oil, 90 * kBar, 80 * kBar) + given_up(without, 80 * kBar, 20 * kBar)));
  const auto rate = [&](const TrappedOil& of, double low) {
    return leak_flow(of, {{0, 90 * kBar}, {1, low * kBar}}, 0, 1).flow;
  };
  CHECK(rate(oil, 20) - rate(oil, 80) ==
        Approx(0.15e-3 / 1e9 * 90 * kBar * std::log(80 / 20.0)).epsilon(1e-9));
}
