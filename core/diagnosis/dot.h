// The scalar product of two lists of numbers, and a multiple of one added to another. Nothing else.
#pragma once

#include <cstddef>

namespace faultodds::diagnosis {

// In four parts, so that processors with vectors add them side by side.
template <typename Real>
inline Real dot(const Real* a, const Real* b, std::size_t n) {
  Real part[4] = {0, 0, 0, 0};
  std::size_t i = 0;
  for (; i + 4 <= n; i += 4) {
    for (std::size_t k = 0; k < 4; ++k) part[k] += a[i + k] * b[i + k];
  }
  for (; i < n; ++i) part[0] += a[i] * b[i];
  return (part[0] + part[1]) + (part[2] + part[3]);
}

// Four at a time, likewise.
inline void add_scaled(const double* __restrict from, double factor, std::size_t n,
                       double* __restrict into) {
  std::size_t i = 0;
  for (; i + 4 <= n; i += 4) {
    for (std::size_t k = 0; k < 4; ++k) into[i + k] += factor * from[i + k];
  }
  for (; i < n; ++i) into[i] += factor * from[i];
}

}  // namespace faultodds::diagnosis
