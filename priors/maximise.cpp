#include "priors/maximise.h"

#include <algorithm>
#include <cmath>

namespace faultodds::priors {
namespace {

// Second derivatives {00, 01, 11} from central differences of the gradient.
std::array<double, 3> curvature(const std::function<Sample(const Point&)>& function,
                                const Point& at) {
  double h[2][2];
  for (std::size_t i = 0; i < 2; ++i) {
    const double step = 1e-5 * std::max(1.0, std::abs(at[i]));
    Point ahead = at, behind = at;
    ahead[i] += step;
    behind[i] -= step;
    const Point up = function(ahead).gradient, down = function(behind).gradient;
    for (std::size_t j = 0; j < 2; ++j) h[i][j] = (up[j] - down[j]) / (ahead[i] - behind[i]);
  }
  return {h[0][0], 0.5 * (h[0][1] + h[1][0]), h[1][1]};
}

bool inside(const Point& at, const Point& low, const Point& high) {
  return at[0] > low[0] && at[0] < high[0] && at[1] > low[1] && at[1] < high[1];
}

}  // namespace

Maximum maximise(const std::function<Sample(const Point&)>& function, const Point& start,
                 const Point& low, const Point& high) {
  Point at = start;
  Sample here = function(at);
  bool flat = false;
  for (int iteration = 0; iteration < 500; ++iteration) {
    const std::array<double, 3> h = curvature(function, at);
    const double determinant = h[0] * h[2] - h[1] * h[1];
    Point step;
    if (h[0] < 0 && determinant > 0) {
      step = {-(h[2] * here.gradient[0] - h[1] * here.gradient[1]) / determinant,
              -(h[0] * here.gradient[1] - h[1] * here.gradient[0]) / determinant};
    } else {
      const double size = std::hypot(here.gradient[0], here.gradient[1]);
      if (!(size > 0)) break;
      step = {here.gradient[0] / size, here.gradient[1] / size};
    }
    const double longest = std::max(std::abs(step[0]), std::abs(step[1]));
    if (longest > 2) step = {step[0] * 2 / longest, step[1] * 2 / longest};
    bool moved = false;
    for (int halving = 0; halving < 60; ++halving) {
      Point next;
      for (std::size_t i = 0; i < 2; ++i) next[i] = std::clamp(at[i] + step[i], low[i], high[i]);
      const Sample there = function(next);
      if (std::isfinite(there.value) && there.value >= here.value) {
        const double change = std::max(std::abs(next[0] - at[0]), std::abs(next[1] - at[1]));
        moved = change > 1e-13;
        at = next;
        here = there;
        break;
      }
      step = {step[0] / 2, step[1] / 2};
    }
    if (!moved) {
      flat = true;
      break;
    }
  }
  Maximum maximum;
  maximum.at = at;
  maximum.value = here.value;
  if (!inside(at, low, high)) return maximum;
  const std::array<double, 3> h = curvature(function, at);
  const double determinant = h[0] * h[2] - h[1] * h[1];
  if (h[0] < 0 && determinant > 0) {
    maximum.covariance = {-h[2] / determinant, h[1] / determinant, -h[0] / determinant};
    // Nearly no curvature is a ridge or a plateau, not a maximum.
    constexpr double plateau = 1e4;
    maximum.converged = flat && maximum.covariance[0] < plateau && maximum.covariance[2] < plateau;
  }
  return maximum;
}

std::vector<double> inverse_diagonal(std::vector<std::vector<double>> a) {
  const std::size_t n = a.size();
  for (std::size_t j = 0; j < n; ++j) {
    for (std::size_t k = 0; k < j; ++k) a[j][j] -= a[j][k] * a[j][k];
    if (!(a[j][j] > 1e-12)) return {};
    a[j][j] = std::sqrt(a[j][j]);
    for (std::size_t i = j + 1; i < n; ++i) {
      for (std::size_t k = 0; k < j; ++k) a[i][j] -= a[i][k] * a[j][k];
      a[i][j] /= a[j][j];
    }
  }
  std::vector<double> diagonal(n, 0);
  for (std::size_t column = 0; column < n; ++column) {
    // The squared length of L^-1 e_column.
    std::vector<double> y(n, 0);
    for (std::size_t i = column; i < n; ++i) {
      double value = i == column ? 1 : 0;
      for (std::size_t k = column; k < i; ++k) value -= a[i][k] * y[k];
      y[i] = value / a[i][i];
      diagonal[column] += y[i] * y[i];
    }
  }
  return diagonal;
}

std::vector<std::vector<double>> inverse(std::vector<std::vector<double>> a) {
  const std::size_t n = a.size();
  std::vector<std::vector<double>> result(n, std::vector<double>(n, 0));
  for (std::size_t i = 0; i < n; ++i) result[i][i] = 1;
  for (std::size_t column = 0; column < n; ++column) {
    std::size_t pivot = column;
    for (std::size_t i = column; i < n; ++i) {
      if (std::abs(a[i][column]) > std::abs(a[pivot][column])) pivot = i;
    }
    if (!(std::abs(a[pivot][column]) > 1e-12)) return {};
    std::swap(a[pivot], a[column]);
    std::swap(result[pivot], result[column]);
    const double divisor = a[column][column];
    for (std::size_t j = 0; j < n; ++j) {
      a[column][j] /= divisor;
      result[column][j] /= divisor;
    }
    for (std::size_t i = 0; i < n; ++i) {
      const double times = a[i][column];
      if (i == column || times == 0) continue;
      for (std::size_t j = 0; j < n; ++j) {
        a[i][j] -= times * a[column][j];
        result[i][j] -= times * result[column][j];
      }
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    if (!(result[i][i] > 0)) return {};
  }
  return result;
}

}  // namespace faultodds::priors
