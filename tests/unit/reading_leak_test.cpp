// From what the gauge showed to a leak rate, and from that to a likelihood over grades.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>
#include <vector>

#include "core/error.h"
#include "core/reading/reading.h"
#include "core/reading/units.h"
#include "tests/unit/warnings_said.h"

namespace reading_leak_test {

using faultodds::Code;
using faultodds::Error;
using faultodds::reading::Dimension;
using faultodds::reading::leak_rate;
using faultodds::reading::LeakRate;
using faultodds::reading::likelihood;
using faultodds::reading::parse_quantity;
using faultodds::reading::Reading;
using faultodds::reading::Setting;

namespace {

double pressure(const char* text) { return parse_quantity(text, Dimension::pressure); }
double flow(const char* text) { return parse_quantity(text, Dimension::flow); }
double length(const char* text) { return parse_quantity(text, Dimension::length); }
double seconds(const char* text) { return parse_quantity(text, Dimension::time); }
double volume(const char* text) { return parse_quantity(text, Dimension::volume); }

Setting hold_test() {
  Setting setting;
  setting.median = {0.5, 30, 1000};
  setting.sigma = {1.2, 1.0, 1.0};
  return setting;
}

Setting drift_test() {
  Setting setting = hold_test();
  setting.drift = true;
  return setting;
}

Setting flow_test() {
  Setting setting;
  setting.flow_test = true;
  setting.median = {0.03, 0.12, 0.35};
  setting.sigma = {0.6, 0.5, 0.5};
  return setting;
}

Reading hold(const char* drop, const char* time, const char* trapped) {
  Reading reading;
  reading.pressure_drop = pressure(drop);
  reading.time = seconds(time);
  reading.volume = volume(trapped);
  return reading;
}

bool contains(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

struct Refusal {
  std::string pointer, message;
};

Refusal refusal(const Reading& reading, const Setting& setting) {
  try {
    leak_rate(reading, setting);
  } catch (const Error& error) {
    CHECK(error.code() == Code::invalid_case);
    return {error.pointer(), error.what()};
  }
  FAIL("accepted");
  return {};
}

double bore_area(double bore) { return std::numbers::pi / 4 * bore * bore; }

}  // namespace

TEST_CASE("a pressure decay of 10 bar a minute in a litre is 0.714 mL/min at 1.4 GPa",
          "[reading]") {
  // Source: the identity q = (V/K) dP/dt (fluid-power textbooks); 1 L x 10 bar / 1.4 GPa.
  Reading reading = hold("10 bar", "1 min", "1 L");
  reading.bulk_modulus = pressure("1.4 GPa");
  CHECK(leak_rate(reading, hold_test()).value == Approx(1.0 / 1.4).epsilon(1e-12));
}

TEST_CASE("the bulk modulus defaults to 1.0 GPa", "[reading]") {
  CHECK(leak_rate(hold("10 bar", "1 min", "1 L"), hold_test()).value == Approx(1).epsilon(1e-12));
}

TEST_CASE("the circuit's trapped volume serves when the reading gives none", "[reading]") {
  Reading reading = hold("10 bar", "1 min", "1 L");
  reading.volume.reset();
  Setting setting = hold_test();
  setting.volume = volume("2 L");
  CHECK(leak_rate(reading, setting).value == Approx(2).epsilon(1e-12));
}

TEST_CASE("a drift of 3 mm/min on bore 100, rod 56 is 23.56 or 7.39 mL/min by side", "[reading]") {
  // Source: the identity q = A v; the limit of 3 mm/min is the grader's of US Army TM
  // 5-3805-293-23-3. The second area is the rod's.
  Reading reading;
  reading.speed = parse_quantity("3 mm/min", Dimension::speed);
  Setting setting = drift_test();
  setting.contracting_area = bore_area(length("100 mm"));
  CHECK(leak_rate(reading, setting).value == Approx(23.56).epsilon(2e-4));
  setting.contracting_area = bore_area(length("56 mm"));
  CHECK(leak_rate(reading, setting).value == Approx(7.39).epsilon(2e-4));
}

TEST_CASE("distance over time is the same reading as speed", "[reading]") {
  // The distance and time are the excavator boom's drift limit, 20 mm in 5 min (US Army TM
  // 5-3805-280-24-1): 4 mm/min.
  Reading distance, speed;
  distance.distance = length("20 mm");
  distance.time = seconds("5 min");
  speed.speed = parse_quantity("4 mm/min", Dimension::speed);
  Setting setting = drift_test();
  setting.contracting_area = bore_area(length("110 mm"));
  CHECK(leak_rate(distance, setting).value ==
        Approx(leak_rate(speed, setting).value).epsilon(1e-14));
}

TEST_CASE("clearance leakage is normalised in proportion to pressure", "[reading]") {
  // Source: Q = pi d c^3 dp / (12 mu L), for example Merritt, Hydraulic Control Systems (1967);
  // D 20 mm, c 10 um, L 10 mm, mu 0.04 Pa s gives 16.493 mL/min at 21 MPa.
  const auto clearance = [](double dp) {
    return std::numbers::pi * 0.020 * std::pow(10e-6, 3) * dp / (12 * 0.04 * 0.010);
  };
  Reading reading;
  reading.leak_rate = clearance(14e6);
  reading.pressure = 14e6;
  Setting setting = hold_test();
  setting.reference_pressure = 21e6;
  CHECK(leak_rate(reading, setting).value == Approx(16.493).epsilon(5e-5));
}

TEST_CASE("orifice leakage is normalised by the root of pressure when told so", "[reading]") {
  // Source: the orifice equation, Cd 0.62, 870 kg/m3 (textbooks): 0.1 mm at 20 MPa 62.647 mL/min.
  const auto orifice = [](double dp) {
    return 0.62 * std::numbers::pi / 4 * std::pow(0.1e-3, 2) * std::sqrt(2 * dp / 870);
  };
  Reading reading;
  reading.leak_rate = orifice(5e6);
  reading.pressure = 5e6;
  reading.exponent = 0.5;
  Setting setting = hold_test();
  setting.reference_pressure = 20e6;
  CHECK(leak_rate(reading, setting).value == Approx(62.647).epsilon(1e-5));
}

TEST_CASE("a reading without its pressure counts as taken at the reference pressure", "[reading]") {
  Reading reading;
  reading.leak_rate = flow("40 mL/min");
  Setting setting = hold_test();
  setting.reference_pressure = pressure("140 bar");
  const LeakRate rate = leak_rate(reading, setting);
  CHECK(rate.value == Approx(40).epsilon(1e-12));
  CHECK_FALSE(rate.censored);
  CHECK(rate.warnings.empty());
}

TEST_CASE("a pressure that cannot be normalised is announced", "[reading]") {
  Reading reading;
  reading.leak_rate = flow("40 mL/min");
  reading.pressure = pressure("100 bar");
  CHECK(contains(said(leak_rate(reading, hold_test())), "no reference pressure"));
}

TEST_CASE("a hold that would not build leaks the flow that sustains it", "[reading]") {
  Reading reading;
  reading.supply_flow = flow("2 L/min");
  reading.pressure = pressure("20 bar");
  Setting setting = hold_test();
  setting.reference_pressure = pressure("140 bar");
  CHECK(leak_rate(reading, setting).value == Approx(2000 * 140.0 / 20).epsilon(1e-12));
}

TEST_CASE("nothing seen is known to be below the detection limit", "[reading]") {
  Reading reading;
  reading.below = flow("1 drops/min");
  const LeakRate rate = leak_rate(reading, hold_test());
  CHECK(rate.censored);
  CHECK(rate.value == Approx(0.05).epsilon(1e-12));
}

TEST_CASE("a flow test reads the lost share of the rated flow", "[reading]") {
  Reading reading;
  reading.flow = flow("51 L/min");
  reading.rated_flow = flow("60 L/min");
  CHECK(leak_rate(reading, flow_test()).value == Approx(0.15).epsilon(1e-12));
}

TEST_CASE("the circuit's rated flow serves when the reading gives none", "[reading]") {
  Reading reading;
  reading.flow = flow("51 L/min");
  Setting setting = flow_test();
  setting.rated_flow = flow("60 L/min");
  CHECK(leak_rate(reading, setting).value == Approx(0.15).epsilon(1e-12));
}

TEST_CASE("a case-drain leak rate in a flow test is a share of the rated flow", "[reading]") {
  Reading reading;
  reading.leak_rate = flow("3 L/min");
  reading.rated_flow = flow("60 L/min");
  CHECK(leak_rate(reading, flow_test()).value == Approx(0.05).epsilon(1e-12));
}

TEST_CASE("a pump that delivers its rated flow has lost less than a meter shows", "[reading]") {
  Reading reading;
  reading.flow = flow("61 L/min");
  reading.rated_flow = flow("60 L/min");
  const LeakRate rate = leak_rate(reading, flow_test());
  CHECK(rate.censored);
  CHECK(rate.value == Approx(0.01));
  CHECK(contains(said(rate), "not less than the rated flow"));
}

TEST_CASE("a pump that delivers nothing has lost its whole flow", "[reading]") {
  Reading reading;
  reading.flow = 0.0;
  reading.rated_flow = flow("60 L/min");
  CHECK(leak_rate(reading, flow_test()).value == 1);
}

TEST_CASE("a pressure decay without temperatures warns of cooling oil", "[reading]") {
  CHECK(contains(said(leak_rate(hold("10 bar", "1 min", "1 L"), hold_test())), "cools"));
}

TEST_CASE("given temperatures correct a pressure drop by the oil's expansion", "[reading]") {
  // A litre of oil in steel changes by 0.665 mL per kelvin (7e-4 less 0.35e-4 per kelvin).
  Reading reading = hold("15 bar", "1 min", "1 L");
  SECTION("cooling explains part of the drop") {
    reading.temperature_change = -1.0;
    const LeakRate rate = leak_rate(reading, hold_test());
    CHECK(rate.value == Approx(1.5 - 0.665).epsilon(1e-12));
    CHECK_FALSE(rate.censored);
    CHECK(contains(said(rate), "0.835 mL/min rather than 1.5 mL/min"));
  }
  SECTION("warming hid part of the leak") {
    reading.temperature_change = 1.0;
    CHECK(leak_rate(reading, hold_test()).value == Approx(1.5 + 0.665).epsilon(1e-12));
  }
  SECTION("warming oil that raised the pressure may still have leaked") {
    reading.pressure_drop = pressure("-5 bar");
    reading.temperature_change = 1.0;
    CHECK(leak_rate(reading, hold_test()).value == Approx(0.665 - 0.5).epsilon(1e-12));
  }
  SECTION("cooling that explains the whole drop leaves an upper bound") {
    reading.temperature_change = -3.0;
    const LeakRate rate = leak_rate(reading, hold_test());
    CHECK(rate.censored);
    CHECK(rate.value == Approx(1.5).epsilon(1e-12));
    CHECK(contains(said(rate), "alone explains the pressure drop"));
  }
}

TEST_CASE("temperatures beside another form are announced as unused", "[reading]") {
  Reading reading;
  reading.leak_rate = flow("40 mL/min");
  reading.temperature_change = -1.0;
  CHECK(contains(said(leak_rate(reading, hold_test())), "temperatures were not used"));
}

TEST_CASE("a reading without any form is refused and the forms are named", "[reading]") {
  Reading reading;
  reading.pressure = pressure("100 bar");
  const Refusal r = refusal(reading, hold_test());
  CHECK(r.pointer.empty());
  CHECK(contains(r.message, "`pressure_drop`"));
}

TEST_CASE("two forms in one reading are refused", "[reading]") {
  Reading reading;
  reading.leak_rate = flow("40 mL/min");
  reading.below = flow("1 mL/min");
  const Refusal r = refusal(reading, hold_test());
  CHECK(r.pointer.empty());
  CHECK(contains(r.message, "`leak_rate`"));
  CHECK(contains(r.message, "`below`"));
}

TEST_CASE("each missing companion is named", "[reading]") {
  struct Row {
    const char* pointer;
    Setting setting;
    std::function<void(Reading&)> fill;
  };
  const std::vector<Row> rows = {
      {"/time", hold_test(), [](Reading& r) { r.pressure_drop = 1e5; }},
      {"/volume", hold_test(), [](Reading& r) { r.pressure_drop = 1e5, r.time = 60.0; }},
      {"/pressure", hold_test(), [](Reading& r) { r.supply_flow = 1e-5; }},
      {"/time", drift_test(), [](Reading& r) { r.distance = 0.01; }},
      {"/speed", drift_test(), [](Reading& r) { r.speed = 0.01; }},  // no area in the circuit
      {"/rated_flow", flow_test(), [](Reading& r) { r.flow = 1e-3; }},
      {"/rated_flow", flow_test(), [](Reading& r) { r.below = 1e-6; }},
  };
  for (const Row& row : rows) {
    INFO(row.pointer);
    Reading reading;
    row.fill(reading);
    CHECK(refusal(reading, row.setting).pointer == row.pointer);
  }
}

TEST_CASE("a leak of zero is refused with the advice to give a detection limit", "[reading]") {
  Reading reading;
  reading.leak_rate = 0.0;
  CHECK(contains(refusal(reading, hold_test()).message, "give `below`"));
  CHECK(contains(refusal(hold("0 bar", "1 min", "1 L"), hold_test()).message, "give `below`"));
}

TEST_CASE("a form that does not fit the kind of observation is refused", "[reading]") {
  Reading decay = hold("10 bar", "1 min", "1 L");
  CHECK(refusal(decay, drift_test()).pointer == "/pressure_drop");
  CHECK(refusal(decay, flow_test()).pointer == "/pressure_drop");
  Reading distance;
  distance.distance = 0.01;
  distance.time = 60.0;
  CHECK(refusal(distance, hold_test()).pointer == "/distance");
  Reading measured;
  measured.flow = 1e-3;
  CHECK(refusal(measured, hold_test()).pointer == "/flow");
  Reading supply;
  supply.supply_flow = 1e-3;
  supply.pressure = 1e6;
  CHECK(refusal(supply, drift_test()).pointer == "/supply_flow");
}

TEST_CASE("a companion of another form is refused rather than ignored", "[reading]") {
  Reading reading;
  reading.leak_rate = flow("40 mL/min");
  reading.time = 60.0;
  CHECK(refusal(reading, hold_test()).pointer == "/time");
  reading.time.reset();
  reading.volume = 1e-3;
  CHECK(refusal(reading, hold_test()).pointer == "/volume");
  reading.volume.reset();
  reading.bulk_modulus = 1e9;
  CHECK(refusal(reading, hold_test()).pointer == "/bulk_modulus");
  reading.bulk_modulus.reset();
  reading.rated_flow = 1e-3;
  CHECK(refusal(reading, hold_test()).pointer == "/rated_flow");
}

TEST_CASE("the likelihood of a rate is the normal density of its logarithm", "[reading]") {
  // 30 mL/min is the median of grade 1: its density is 1 / (sigma sqrt(2 pi)).
  double log_scale = 0;
  const auto l = likelihood({30, false, {}}, hold_test(), &log_scale);
  CHECK(l[1] == 1);
  CHECK(log_scale == Approx(-0.5 * std::log(2 * std::numbers::pi)).epsilon(1e-14));
  const double z0 = std::log(30 / 0.5) / 1.2;
  CHECK(l[0] == Approx(std::exp(-z0 * z0 / 2) / 1.2).epsilon(1e-12));
  const double z2 = std::log(30 / 1000.0);
  CHECK(l[2] == Approx(std::exp(-z2 * z2 / 2)).epsilon(1e-12));
}

TEST_CASE("a detection limit contributes the normal distribution function", "[reading]") {
  // Source: the 97.5 % point of the normal distribution is 1.959964 (any table).
  Setting setting = hold_test();
  double log_scale = 0;
  const double limit = 30 * std::exp(-1.959963984540054);
  const auto l = likelihood({limit, true, {}}, setting, &log_scale);
  CHECK(l[1] * std::exp(log_scale) == Approx(0.025).epsilon(1e-12));
}

TEST_CASE("the tail of the distribution function is right far beyond underflow", "[reading]") {
  // Source: Abramowitz & Stegun, table 26.2, -log10 Q(x) (from memory; each value recomputed by
  // the continued fraction 26.2.14 with 60 digits): 5 6.54265, 10 23.11805, 20 88.56010,
  // 30 197.30921, 50 544.96634, 100 2173.87154, 500 54289.90830.
  const std::pair<double, double> table[] = {{5, 6.54265},      {10, 23.11805},  {20, 88.56010},
                                             {30, 197.30921},   {50, 544.96634}, {100, 2173.87154},
                                             {500, 54289.90830}};
  for (const auto& [x, minus_log10] : table) {
    Setting setting;
    setting.median = {1, 1, 1};
    setting.sigma = {1, 1, 1};
    double log_scale = 0;
    likelihood({std::exp(-x), true, {}}, setting, &log_scale);
    CHECK(-log_scale / std::numbers::ln10 == Approx(minus_log10).margin(6e-6));
  }
}

TEST_CASE("the tail is continuous where its series takes over", "[reading]") {
  Setting setting;
  setting.median = {1, 1, 1};
  setting.sigma = {1, 1, 1};
  double before = 0, after = 0;
  likelihood({std::exp(-30 + 1e-9), true, {}}, setting, &before);
  likelihood({std::exp(-30 - 1e-9), true, {}}, setting, &after);
  CHECK(before - after == Approx(2e-9 * 30.033).epsilon(1e-3));
}

TEST_CASE("extreme rates never make every grade impossible", "[reading]") {
  for (const double rate : {1e-300, 1e-30, 1.0, 1e30, 1e300}) {
    for (const bool censored : {false, true}) {
      INFO(rate << ' ' << censored);
      double log_scale = 0;
      const auto l = likelihood({rate, censored, {}}, hold_test(), &log_scale);
      CHECK(*std::max_element(l.begin(), l.end()) == 1);
      CHECK(std::isfinite(log_scale));
      for (const double value : l) CHECK(value >= 0);
    }
  }
}

TEST_CASE("a small leak favours a sound part and a large one a failed part", "[reading]") {
  const auto small = likelihood({0.3, false, {}}, hold_test(), nullptr);
  CHECK(small[0] == 1);
  const auto large = likelihood({3000, false, {}}, hold_test(), nullptr);
  CHECK(large[2] == 1);
  const auto unseen = likelihood({0.05, true, {}}, hold_test(), nullptr);
  CHECK(unseen[0] == 1);
  CHECK(unseen[1] < 1e-8);
}

}  // namespace reading_leak_test
