// Quantities as the trade writes them ("175 bar", "2500 psi", "30 mL/min") to SI and back. It knows
// units only: not which field a quantity stands in, nor whether its value makes sense there (a
// negative length is a quantity; the reader of the field refuses it). Independent of the locale.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace faultodds::reading {

enum class Dimension {
  pressure,      // Pa
  flow,          // m3/s
  length,        // m
  area,          // m2
  volume,        // m3
  displacement,  // m3 per revolution; "/rev" may be left out
  time,          // s
  speed,         // m/s
  temperature,   // K, absolute
  force,         // N
  share,         // of a whole; "12 %" is 0.12
};

// The value in SI of "<number> <unit>". The number is decimal with a point, the space is optional,
// unit names are case-sensitive ("mPa" is not "MPa"). Throws Error(invalid_document), pointer "",
// whose message names the text and the accepted units, for: no unit, an unknown unit, a unit of
// another dimension, anything that is not a finite number, a temperature below absolute zero.
//
// A drop is 1/20 mL, the rule of thumb of leak classes, not a measure. A gallon is the US one.
double parse_quantity(std::string_view text, Dimension dimension);

// The accepted units, "bar, mbar, ...", for messages and manuals.
std::string accepted_units(Dimension dimension);

// Every name that parse_quantity takes, with those that are left out of messages.
std::vector<std::string> unit_names(Dimension dimension);

// "140 bar", "0.25 bar": four significant digits, no exponent, no trailing zeros.
std::string format_pressure(double pascal);

// "40 mL/min", likewise.
std::string format_leak_rate(double cubic_metres_per_second);

// `value` with at most `digits` significant digits (before the point: all), no exponent, no
// trailing zeros, a point whatever the locale.
std::string format_number(double value, int digits = 4);

}  // namespace faultodds::reading
