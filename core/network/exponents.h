// Binary exponents of numbers above 0: whether a product of several may have left the range of
// doubles.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace faultodds::network {

// Products above 2^-900 are doubles with all their digits.
constexpr int kLeastExponent = -900;

// The binary exponent of the smallest number above 0 of those `step` apart; 0 if there is none.
inline int least_exponent(const double* numbers, std::size_t n, std::size_t step = 1) {
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < n; ++i) {
    if (numbers[i * step] > 0) least = std::min(least, numbers[i * step]);
  }
  return std::isinf(least) ? 0 : std::ilogb(least);
}

}  // namespace faultodds::network
