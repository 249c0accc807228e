#include "core/reading/effect.h"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>

#include "core/error.h"
#include "core/math_policy.h"
#include "core/reading/units.h"
#include "core/unit_factors.h"

namespace faultodds::reading {
namespace {

constexpr double kPanel = 0.125;  // of the logarithm of the effect, for quadrature
constexpr double kBeyond = 10;    // times the largest effect: more than any leak gives

// ln Phi(z).
double log_normal_cdf(double z) {
  if (z > -30) return std::log(0.5 * std::erfc(-z / std::numbers::sqrt2));
  return -0.5 * z * z - std::log(-z) - 0.5 * std::log(2 * std::numbers::pi) - 1 / (z * z);
}

// The scale on which the error of what is measured is 1, and its slope.
struct ErrorScale {
  bool share = false;
  double resolution = 0;

  double of(double value) const {
    if (share) return value / resolution;
    return std::asinh(kRelativeError * value / resolution) / kRelativeError;
  }
  double slope(double value) const {
    return 1 / (share ? resolution : std::hypot(kRelativeError * value, resolution));
  }
};

ErrorScale error_scale(const EffectScale& scale, double error) {
  const bool share = scale.unit == EffectUnit::percent;
  const double resolution = share && scale.resolution == 0 ? kShareError : scale.resolution;
  constexpr double kLeast = 1e-6;  // of the first limit: no instrument is without error
  return {share, std::max(std::hypot(resolution, error), kLeast * scale.first)};
}

// ln of the mean of exp(of(ln effect)) over a class, its nodes weighted by Gauss and Legendre.
template <typename Of>
double log_mean(double low, double high, Of of) {
  using Rule =
      boost::math::quadrature::gauss<double, 30, MathPolicy>;  // nodes of one half, symmetric
  const auto& nodes = Rule::abscissa();
  const auto& weights = Rule::weights();
  const double width = std::log(high / low);
  const int panels = std::max(1, static_cast<int>(std::ceil(width / kPanel)));
  const double half = width / panels / 2;
  std::vector<std::pair<double, double>> terms;  // logarithm, weight
  double largest = -std::numeric_limits<double>::infinity();
  for (int panel = 0; panel < panels; ++panel) {
    const double middle = std::log(low) + (2 * panel + 1) * half;
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      for (const double side : {-1.0, 1.0}) {
        terms.emplace_back(of(std::exp(middle + side * half * nodes[i])), weights[i]);
        largest = std::max(largest, terms.back().first);
      }
    }
  }
  double sum = 0;
  for (const auto& [logarithm, weight] : terms) sum += weight * std::exp(logarithm - largest);
  return largest + std::log(sum / (2 * panels));
}

// What may have been meant where `times` the largest effect looked at was measured: the id of it.
const char* slip_of(const Reading& reading, double times) {
  struct Slip {
    bool possible;
    double factor;
    const char* id;
  };
  const bool flow = reading.leak_rate || reading.supply_flow;
  const bool way = reading.distance || reading.speed || !reading.distances.empty();
  const Slip slips[] = {
      {reading.pressure_drop || !reading.pressures.empty(), 14.5, "warning.slip.psi"},
      {reading.time || !reading.pressures.empty() || !reading.distances.empty(), 60,
       "warning.slip.minutes"},
      {flow, 20, "warning.slip.drops"},
      {flow, 1000, "warning.slip.millilitres"},
      {reading.stroke_volume.has_value(), 16.4, "warning.slip.cubic_centimetres"},
      {reading.stroke_volume.has_value(), 1000, "warning.slip.millilitres_a_stroke"},
      {way, 10, "warning.slip.millimetres"},
      {way, 25.4, "warning.slip.inches"},
      {reading.speed.has_value(), 60, "warning.slip.millimetres_a_minute"}};
  for (const Slip& slip : slips) {
    if (slip.possible && times / slip.factor < 1) return slip.id;
  }
  return "warning.slip.units";
}

const char* implausible(EffectUnit unit) {
  if (unit == EffectUnit::mm_per_min) return "warning.implausible.speed";
  return unit == EffectUnit::rev_per_min ? "warning.implausible.turning"
                                         : "warning.implausible.flow";
}

// What a leak rate as reading.h has it is multiplied by to be in the unit of the scale.
double factor_of(const Setting& setting, const EffectScale& scale) {
  const auto need = [&](const std::optional<double>& value, const char* what) {
    if (value && *value > 0) return *value;
    throw Error(Code::invalid_case, std::string("the circuit does not give the ") + what +
                                        ", which this reading needs; an outcome was expected");
  };
  switch (scale.unit) {
    case EffectUnit::ml_per_min:
      return 1;
    case EffectUnit::mm_per_min:
      return 1e-3 / need(setting.contracting_area, "area of this actuator");
    case EffectUnit::rev_per_min:
      return 1e-6 / need(setting.displacement, "displacement of this motor");
    case EffectUnit::percent:
      break;
  }
  return setting.flow_test ? 100 : 100 / (need(setting.rated_flow, "rated flow") * kMlPerMinute);
}

}  // namespace

std::array<double, 4> class_ends(const EffectScale& scale) {
  double largest = kLargest * scale.second;
  if (scale.unit == EffectUnit::percent) largest = std::min(largest, kWhole);
  return {kFaintest * scale.first, scale.first, scale.second, largest};
}

MeasuredEffect measured_effect(const Reading& reading, const Setting& setting,
                               const EffectScale& scale) {
  const LeakRate rate = leak_rate(reading, setting);
  const double factor = factor_of(setting, scale);
  MeasuredEffect out;
  out.value = rate.value * factor;
  out.error = rate.error * factor;
  out.censored = rate.censored;
  if (rate.censored && rate.error > 0) out.value = out.error;  // cooling explains all of it
  out.warnings = rate.warnings;
  const double times = out.value / class_ends(scale).back();
  if (times > kBeyond && scale.unit != EffectUnit::percent) {
    out.warnings.push_back({implausible(scale.unit)});
    out.warnings.back().with("amount", MessageValue::Kind::number, out.value);
    out.warnings.push_back({slip_of(reading, times)});
  }
  return out;
}

std::array<double, 3> effect_likelihood(const MeasuredEffect& measured, const EffectScale& scale,
                                        double* log_scale) {
  const ErrorScale errors = error_scale(scale, measured.error);
  const bool censored = measured.censored || measured.value <= errors.resolution;
  const double value = censored ? std::max(measured.value, errors.resolution) : measured.value;
  const double z = errors.of(value);
  const std::array<double, 4> ends = class_ends(scale);
  std::array<double, 3> logs{};
  for (std::size_t s = 0; s < 3; ++s) {
    logs[s] = log_mean(ends[s], ends[s + 1], [&](double effect) {
      const double off = z - errors.of(effect + scale.floor);
      if (censored) return log_normal_cdf(off);
      return -0.5 * off * off - 0.5 * std::log(2 * std::numbers::pi);
    });
  }
  // Odds between neighbours grow with what was measured, and so do they within bounds. That there
  // is an effect is as sure as blunders leave it; how large, and that there is none of either
  // class, as the outcomes at the ends are.
  const double surest = std::log((1 - kBlunder) / (kBlunder / 2));
  std::array<double, 3> weight{0, 0, 0};
  weight[1] = std::clamp(logs[1] - logs[0], -surest / 2, surest);
  weight[2] = weight[1] + std::clamp(logs[2] - logs[1], -surest / 2, surest / 2);
  const double largest = *std::max_element(weight.begin(), weight.end());
  for (double& w : weight) w = std::exp(w - largest);
  if (log_scale != nullptr) {
    const double seen = std::exp(*std::max_element(logs.begin(), logs.end()));
    *log_scale = censored ? std::log((1 - kBlunder) * seen + kBlunder)
                          : std::log((1 - kBlunder) * seen * value * errors.slope(value) +
                                     kBlunder / std::log(ends[3] / ends[0]));
  }
  return weight;
}

}  // namespace faultodds::reading
