// Units of the trade to SI and back.
#include <array>
#include <catch2/catch.hpp>
#include <clocale>
#include <string>

#include "core/error.h"
#include "core/reading/units.h"

namespace reading_units_test {

using faultodds::Code;
using faultodds::Error;
using faultodds::reading::Dimension;
using faultodds::reading::format_number;
using faultodds::reading::format_pressure;
using faultodds::reading::parse_quantity;

namespace {

std::string refusal(const std::string& text, Dimension dimension) {
  try {
    parse_quantity(text, dimension);
  } catch (const Error& error) {
    CHECK(error.code() == Code::invalid_document);
    CHECK(error.pointer().empty());
    return error.what();
  }
  FAIL("accepted: " << text);
  return {};
}

bool contains(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("every unit has its factor to SI", "[reading][units]") {
  struct Row {
    const char* text;
    Dimension dimension;
    double si;
    double tolerance;  // relative: half a unit of the last printed digit
  };
  // Source of inexact factors: NIST Special Publication 811 (2008), appendix B.8, as recalled:
  // psi 6.894757 E+03 Pa, US gallon per minute 6.309020 E-05 m3/s, US gallon 3.785412 E-03 m3,
  // cubic inch 1.638706 E-05 m3. The rest is exact by definition.
  const Row rows[] = {
      {"1 bar", Dimension::pressure, 1e5, 1e-15},
      {"250 mbar", Dimension::pressure, 25000, 1e-15},
      {"1 psi", Dimension::pressure, 6894.757, 1e-7},
      {"2 kPa", Dimension::pressure, 2000, 1e-15},
      {"17.5 MPa", Dimension::pressure, 17.5e6, 1e-15},
      {"1.4 GPa", Dimension::pressure, 1.4e9, 1e-15},
      {"5 Pa", Dimension::pressure, 5, 1e-15},
      {"60 mL/min", Dimension::flow, 1e-6, 1e-14},
      {"60 L/min", Dimension::flow, 1e-3, 1e-14},
      {"60 cm3/min", Dimension::flow, 1e-6, 1e-14},
      {"60 cc/min", Dimension::flow, 1e-6, 1e-14},
      {"1 gpm", Dimension::flow, 6.309020e-5, 1e-7},
      {"3600 L/h", Dimension::flow, 1e-3, 1e-14},
      {"0.002 m3/s", Dimension::flow, 0.002, 1e-14},
      {"80 mm", Dimension::length, 0.08, 1e-14},
      {"8 cm", Dimension::length, 0.08, 1e-14},
      {"2 m", Dimension::length, 2, 1e-15},
      {"1 in", Dimension::length, 0.0254, 1e-14},
      {"1 ft", Dimension::length, 0.3048, 1e-14},
      {"5 um", Dimension::length, 5e-6, 1e-14},
      {"120 kN", Dimension::force, 120e3, 1e-14},
      {"500 N", Dimension::force, 500, 1e-14},
      {"1 lbf", Dimension::force, 4.4482216152605, 1e-14},  // exact: 0.45359237 kg x 9.80665 m/s2
      {"12 %", Dimension::share, 0.12, 1e-14},
      {"100 mm2", Dimension::area, 1e-4, 1e-14},
      {"50 cm2", Dimension::area, 5e-3, 1e-14},
      {"1 m2", Dimension::area, 1, 1e-15},
      {"1 in2", Dimension::area, 6.4516e-4, 1e-14},
      {"400 mL", Dimension::volume, 4e-4, 1e-14},
      {"0.4 L", Dimension::volume, 4e-4, 1e-14},
      {"400 cm3", Dimension::volume, 4e-4, 1e-14},
      {"400 cc", Dimension::volume, 4e-4, 1e-14},
      {"1 m3", Dimension::volume, 1, 1e-15},
      {"1 gal", Dimension::volume, 3.785412e-3, 1e-7},
      {"1 in3", Dimension::volume, 1.638706e-5, 1e-6},
      {"45 cm3/rev", Dimension::displacement, 45e-6, 1e-14},
      {"45 cc", Dimension::displacement, 45e-6, 1e-14},
      {"90 s", Dimension::time, 90, 1e-15},
      {"5 min", Dimension::time, 300, 1e-15},
      {"2 h", Dimension::time, 7200, 1e-15},
      {"1 d", Dimension::time, 86400, 1e-15},
      {"3 mm/s", Dimension::speed, 0.003, 1e-14},
      {"3 mm/min", Dimension::speed, 5e-5, 1e-14},
      {"0.2 m/s", Dimension::speed, 0.2, 1e-15},
      {"60 in/min", Dimension::speed, 0.0254, 1e-14},
      {"0 degC", Dimension::temperature, 273.15, 1e-15},
      {"-40 degF", Dimension::temperature, 233.15, 1e-14},
      {"212 degF", Dimension::temperature, 373.15, 1e-14},
      {"300 K", Dimension::temperature, 300, 1e-15},
  };
  for (const Row& row : rows) {
    INFO(row.text);
    const double value = parse_quantity(row.text, row.dimension);
    CHECK(value == Approx(row.si).epsilon(row.tolerance).margin(0));
  }
}

TEST_CASE("twenty drops make a millilitre", "[reading][units]") {
  // Source: about 20 drops to 1 mL, the rule of thumb beside the leak classes of US Army TM
  // manuals.
  CHECK(parse_quantity("20 drops/min", Dimension::flow) ==
        Approx(parse_quantity("1 mL/min", Dimension::flow)).epsilon(1e-14));
}

TEST_CASE("2500 psi is about 172 bar", "[reading][units]") {
  // Source: NIST SP 811 factor of psi (as recalled), 2500 x 6894.757 Pa.
  CHECK(parse_quantity("2500 psi", Dimension::pressure) == Approx(17236892.5).epsilon(1e-7));
}

TEST_CASE("the space is optional and signs, points and exponents are understood",
          "[reading][units]") {
  CHECK(parse_quantity("175bar", Dimension::pressure) == 175e5);
  CHECK(parse_quantity("  175   bar ", Dimension::pressure) == 175e5);
  CHECK(parse_quantity("1.75e2 bar", Dimension::pressure) == 175e5);
  CHECK(parse_quantity(".5 bar", Dimension::pressure) == 5e4);
  CHECK(parse_quantity("-3 mm", Dimension::length) == Approx(-0.003));
  CHECK(parse_quantity("50 cm²", Dimension::area) == Approx(0.005));
  CHECK(parse_quantity("42 °C", Dimension::temperature) == Approx(315.15));
}

TEST_CASE("a bare number is refused and the message lists the units", "[reading][units]") {
  const std::string message = refusal("175", Dimension::pressure);
  CHECK(contains(message, "\"175\" has no unit"));
  CHECK(contains(message, "\"175 bar\""));
  CHECK(contains(message, "bar, mbar, psi, kPa, MPa, GPa, Pa"));
}

TEST_CASE("a unit of another dimension is refused by the name of what it is", "[reading][units]") {
  CHECK(contains(refusal("30 mL/min", Dimension::pressure), "is a flow; expected a pressure"));
  CHECK(contains(refusal("80 mm", Dimension::area), "is a length; expected an area"));
  CHECK(contains(refusal("5 min", Dimension::speed), "is a time; expected a speed"));
}

TEST_CASE("letter case of units matters and the message offers the right one", "[reading][units]") {
  CHECK(contains(refusal("17.5 mPa", Dimension::pressure), "did you mean \"MPa\"?"));
  CHECK(contains(refusal("17.5 BAR", Dimension::pressure), "did you mean \"bar\"?"));
}

TEST_CASE("a decimal comma is refused and explained", "[reading][units]") {
  CHECK(contains(refusal("1,5 bar", Dimension::pressure), "decimal mark is a point"));
  CHECK(contains(refusal("1.500.000 Pa", Dimension::pressure), "decimal mark is a point"));
}

TEST_CASE("what is not a finite number with a unit is refused", "[reading][units]") {
  const std::array<const char*, 14> texts = {
      "",          " ",      "bar",     "inf bar",  "nan bar", "-inf bar", "1e999 bar",
      "1e308 GPa", "+5 bar", "--5 bar", "0x10 bar", "5 5 bar", "five bar", "- 5 bar"};
  for (const char* text : texts) {
    INFO(text);
    CHECK(contains(refusal(text, Dimension::pressure), "expected a pressure"));
  }
}

TEST_CASE("a temperature below absolute zero is refused", "[reading][units]") {
  CHECK(contains(refusal("-300 degC", Dimension::temperature), "below absolute zero"));
  CHECK(contains(refusal("-1 K", Dimension::temperature), "below absolute zero"));
}

TEST_CASE("a message quotes long or unprintable text shortened and whole by character",
          "[reading][units]") {
  CHECK(contains(refusal(std::string(500, '9') + "x", Dimension::time),
                 "999...\" (of 501 characters)"));
  CHECK(contains(refusal("5\n\tbar", Dimension::pressure), "5??bar"));
  const std::string cut = refusal(std::string(199, '9') + "€€€ bar", Dimension::pressure);
  CHECK(contains(cut, '"' + std::string(199, '9') + "€...\" (of 206 characters)"));
}

TEST_CASE("parsing and printing do not depend on the locale", "[reading][units]") {
  const std::string before = std::setlocale(LC_NUMERIC, nullptr);
  for (const char* name : {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8"}) {
    if (std::setlocale(LC_NUMERIC, name) != nullptr) break;
  }
  CHECK(parse_quantity("1.5 bar", Dimension::pressure) == 1.5e5);
  CHECK(format_pressure(1.5e5) == "1.5 bar");
  std::setlocale(LC_NUMERIC, before.c_str());
}

TEST_CASE("pressures are printed in bar with four significant digits", "[reading][units]") {
  CHECK(format_pressure(0.8 * 175e5) == "140 bar");
  CHECK(format_pressure(25000) == "0.25 bar");
  CHECK(format_pressure(17236892.5) == "172.4 bar");
  CHECK(format_pressure(2e9) == "20000 bar");
  CHECK(format_pressure(0) == "0 bar");
}

TEST_CASE("numbers are printed without exponents", "[reading][units]") {
  CHECK(format_number(-0.0) == "0");
  CHECK(format_number(-2.5) == "-2.5");
  CHECK(format_number(1e-6) == "0.000001");
  CHECK(format_number(99999.6) == "100000");
  CHECK(format_number(0.71428571, 3) == "0.714");
}

}  // namespace reading_units_test
