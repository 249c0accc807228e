#include "core/diagnosis/tie_loss.h"

#include <algorithm>
#include <cmath>

namespace faultodds::diagnosis::products {

void TieLoss::add(std::size_t cell, double ties, double weight) {
  if (weight > 0) weight_[cell][static_cast<std::uint32_t>(std::ceil(4 * ties))] += weight;
}

void TieLoss::add(const TieLoss& other) {
  for (std::size_t cell = 0; cell < weight_.size(); ++cell) {
    for (const auto& [quarters, weight] : other.weight_[cell]) weight_[cell][quarters] += weight;
    total_[cell] += other.total_[cell];
  }
}

// The error of n nodes on T_k, of Chebyshev's polynomials on [0, 1], is 0 for k < 2n and odd k, and
// at most (2 + 2 / (k^2 - 1)) / 2 else. A function bounded by M within the ellipse of radius r has
// coefficients of at most 2 M r^-k (Trefethen 2013, theorem 8.1), so that the error is at most
// 32/15 M r^-2n / (1 - r^-2). With the number of ties N at x = 1, M is at most
// E[X^N] <= exp(E[N] (X^m - 1) / m) at the ellipse's right end X, where a mode is in m sets.
double TieLoss::lost(std::size_t cell, std::size_t nodes) const {
  double sum = 0;
  const double m = static_cast<double>(sets_of_mode_);
  for (const auto& [quarters, weight] : weight_[cell]) {
    const double ties = 0.25 * quarters;
    double least = 0;  // logarithm; nothing is lost of more than all
    for (double r = 1.5; r < 1e4; r *= 1.5) {
      const double x = (1 + (r + 1 / r) / 2) / 2;
      const double together = m > 1 ? (std::pow(x, m) - 1) / m : x - 1;
      least =
          std::min(least, std::log(32.0 / 15 / (1 - 1 / (r * r))) + ties * together +
                              (m - 1) * std::log(x) - 2 * static_cast<double>(nodes) * std::log(r));
    }
    sum += weight * std::exp(least);
  }
  return sum;
}

std::size_t TieLoss::nodes(std::size_t all, double tolerance) const {
  std::size_t n = std::min<std::size_t>(all, 4);
  for (std::size_t cell = 0; cell < weight_.size(); ++cell) {
    while (n < all && !(lost(cell, n) <= tolerance * std::abs(total_[cell]))) ++n;
  }
  return n;
}

}  // namespace faultodds::diagnosis::products
