#include "core/reading/trapped_oil.h"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "core/math_policy.h"

namespace faultodds::reading {
namespace {

constexpr double kAtmosphere = 101'325;  // Pa
constexpr double kDrivePanel = 0.25;     // of the logarithm of the drive

// dV/dp: m3 that leave per Pa.
double compliance(const TrappedOil& oil, double pressure) {
  const double absolute = pressure + kAtmosphere;
  if (pressure < oil.gas_pressure) return oil.volume / oil.bulk_modulus;  // all oil is out of it
  return oil.volume / oil.bulk_modulus +
         oil.gas_volume * (oil.gas_pressure + kAtmosphere) / (absolute * absolute);
}

double least_squares(const std::vector<double>& x, const std::vector<double>& y, std::size_t first,
                     std::size_t end, double* error) {
  const auto n = static_cast<double>(end - first);
  double mean_x = 0, mean_y = 0, xx = 0, xy = 0;
  for (std::size_t i = first; i < end; ++i) {
    mean_x += x[i] / n;
    mean_y += y[i] / n;
  }
  for (std::size_t i = first; i < end; ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
  }
  const double slope = xy / xx;
  if (error == nullptr) return slope;
  double off = 0;
  for (std::size_t i = first; i < end; ++i) {
    const double rest = y[i] - mean_y - slope * (x[i] - mean_x);
    off += rest * rest;
  }
  *error = n > 2 ? std::sqrt(off / (n - 2) / xx) : 0;
  return slope;
}

}  // namespace

double stiffness_in_line(double oil, double line) { return 1 / (1 / oil + 1 / line); }

double given_up(const TrappedOil& oil, double high, double low) {
  const double from_oil = oil.volume / oil.bulk_modulus * (high - low);
  if (oil.gas_volume == 0) return from_oil;
  const double gas = oil.gas_volume * (oil.gas_pressure + kAtmosphere);
  const auto room = [&](double pressure) {
    return gas / (std::max(pressure, oil.gas_pressure) + kAtmosphere);
  };
  return from_oil + room(low) - room(high);
}

double grown(const TrappedOil& oil, double change) { return oil.volume * kExpansion * change; }

LeakFlow slope(const std::vector<double>& time, const std::vector<double>& value) {
  LeakFlow out;
  const std::size_t n = time.size(), middle = (n - 1) / 2;
  out.flow = least_squares(time, value, 0, n, &out.error);
  out.early = middle == 0 ? out.flow : least_squares(time, value, 0, middle + 1, nullptr);
  out.late = middle == 0 ? out.flow : least_squares(time, value, middle, n, nullptr);
  return out;
}

LeakFlow leak_flow(const TrappedOil& oil, const std::vector<PressurePoint>& course, double back,
                   double exponent) {
  using Rule = boost::math::quadrature::gauss<double, 15, MathPolicy>;
  const double first = course.front().pressure - back;
  const auto drive = [&](double pressure) { return std::max(pressure - back, kNearEmpty * first); };
  // Over u = ln(drive): dp = drive du.
  const auto smooth = [&](double high, double low) {
    const double from = std::log(low), width = std::log(high / low);
    const int panels = std::max(1, static_cast<int>(std::ceil(std::abs(width) / kDrivePanel)));
    double sum = 0;
    for (int i = 0; i < panels; ++i) {
      sum += Rule::integrate(
          [&](double u) {
            const double at = std::exp(u);
            return compliance(oil, at + back) * std::pow(first / at, exponent) * at;
          },
          from + width * i / panels, from + width * (i + 1) / panels);
    }
    return sum;
  };
  // Where the gas has given all its oil there is a step.
  const double empty = oil.gas_pressure - back;
  const auto between = [&](double high, double low) {
    if ((high - empty) * (low - empty) >= 0) return smooth(high, low);
    return smooth(high, empty) + smooth(empty, low);
  };
  std::vector<double> time, lost;
  for (const PressurePoint& point : course) {
    time.push_back(point.time);
    const double before =
        lost.empty() ? 0 : between(drive((&point - 1)->pressure), drive(point.pressure));
    lost.push_back(lost.empty() ? 0 : lost.back() + before);
  }
  return slope(time, lost);
}

double viscosity(double kelvin) {
  const auto inner = [](double v) { return std::log10(std::log10(v + 0.7)); };
  constexpr double kCold = 313.15, kHot = 373.15;  // 40 and 100 C
  const double b = (inner(46) - inner(6.8)) / std::log10(kHot / kCold);
  const double at = inner(46) - b * std::log10(kelvin / kCold);
  return std::pow(10, std::pow(10, at)) - 0.7;
}

}  // namespace faultodds::reading
