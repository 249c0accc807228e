// A number as it is ranked: what differs in the tenth digit differs by rounding, and the order of
// such equals is that of their ids. For sorting; no result is rounded.
#pragma once

#include <cmath>

namespace faultodds {

// To 30 binary digits: within 5e-10 of the number.
inline double ranked(double number) {
  if (!std::isfinite(number)) return number;
  int exponent = 0;
  const double digits = std::frexp(number, &exponent);
  return std::ldexp(std::round(std::ldexp(digits, 30)), exponent - 30);
}

}  // namespace faultodds
