// The scalar product of two lists of numbers. Nothing else.
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

}  // namespace faultodds::diagnosis
