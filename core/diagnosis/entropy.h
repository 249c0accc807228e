// Entropy in bits. Nothing else.
#pragma once

#include <cmath>
#include <span>

namespace faultodds::diagnosis {

// Of a distribution; terms of probability 0 count 0.
inline double entropy_bits(std::span<const double> p) {
  double h = 0;
  for (double x : p) {
    if (x > 0) h -= x * std::log2(x);
  }
  return h;
}

}  // namespace faultodds::diagnosis
