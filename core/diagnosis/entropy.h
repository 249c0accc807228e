// Entropy in bits. Nothing else.
#pragma once

#include <cmath>
#include <cstddef>
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

// How far the entropy of a distribution of n outcomes can be from that of another whose total
// variation distance is `distance`. Audenaert, J. Phys. A 40 (2007) 8127, for classical
// distributions.
inline double entropy_bits_error(double distance, std::size_t n) {
  if (!(distance > 0) || n < 2) return 0;
  const auto outcomes = static_cast<double>(n);
  if (distance >= 1 - 1 / outcomes) return std::log2(outcomes);
  const double both[] = {distance, 1 - distance};
  return distance * std::log2(outcomes - 1) + entropy_bits(both);
}

}  // namespace faultodds::diagnosis
