// Gauss-Legendre quadrature on [0, 1]: n nodes integrate every polynomial of degree 2n - 1 exactly
// (Abramowitz & Stegun 25.4.29). Nodes by Newton's method on the Legendre polynomial.
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

namespace faultodds::diagnosis {

template <typename Real>
struct QuadratureNode {
  Real x = 0, weight = 0;
};

template <typename Real>
std::vector<QuadratureNode<Real>> gauss_legendre(std::size_t n) {
  std::vector<QuadratureNode<Real>> nodes(n);
  for (std::size_t i = 0; i < (n + 1) / 2; ++i) {
    Real z = static_cast<Real>(std::cos(3.14159265358979323846 * (static_cast<double>(i) + 0.75) /
                                        (static_cast<double>(n) + 0.5)));
    Real slope = 1;
    for (int step = 0; step < 8; ++step) {  // quadratic convergence from three digits
      Real last = 1, value = z;
      for (std::size_t k = 2; k <= n; ++k) {
        const Real next =
            (static_cast<Real>(2 * k - 1) * z * value - static_cast<Real>(k - 1) * last) /
            static_cast<Real>(k);
        last = value;
        value = next;
      }
      slope = static_cast<Real>(n) * (z * value - last) / (z * z - 1);
      z -= value / slope;
    }
    const Real weight = 1 / ((1 - z * z) * slope * slope);
    nodes[i] = {(1 - z) / 2, weight};
    nodes[n - 1 - i] = {(1 + z) / 2, weight};
  }
  return nodes;
}

}  // namespace faultodds::diagnosis
