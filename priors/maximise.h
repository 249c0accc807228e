// The numerical side of fitting: the maximum of a smooth function of two variables by Newton's
// method with step control, and what curvature says of uncertainty. Internal to priors/;
// likelihoods of a few parameters are all it is for.
#pragma once

#include <array>
#include <functional>
#include <vector>

namespace faultodds::priors {

using Point = std::array<double, 2>;

struct Sample {
  double value = 0;
  Point gradient{};
};

struct Maximum {
  Point at{};
  double value = 0;
  // Inverse of minus the matrix of second derivatives: {variance 0, covariance, variance 1}.
  std::array<double, 3> covariance{};
  bool converged = false;  // gradient gone and curvature downward both ways
};

// `low` and `high` bound the search; a maximum on the bound is returned as not converged.
Maximum maximise(const std::function<Sample(const Point&)>& function, const Point& start,
                 const Point& low, const Point& high);

// Diagonal of the inverse of a small symmetric matrix, by Cholesky; empty if it is not positive
// definite.
std::vector<double> inverse_diagonal(std::vector<std::vector<double>> matrix);

// Inverse of a small matrix by elimination with pivots; empty if it has none, or a variance in it
// is not positive.
std::vector<std::vector<double>> inverse(std::vector<std::vector<double>> matrix);

}  // namespace faultodds::priors
