#include "priors/wear_out.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string>
#include <utility>

#include "core/error.h"
#include "core/number_text.h"
#include "priors/maximise.h"

namespace faultodds::priors {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

[[noreturn]] void refuse_life(const Life& life, std::size_t index, const std::string& expected) {
  throw Error(Code::invalid_argument, "life " + std::to_string(index) +
                                          " is known to lie between " + fixed_text(life.lower) +
                                          " h and " + fixed_text(life.upper) + " h, entry " +
                                          fixed_text(life.entry) + " h, count " +
                                          fixed_text(life.count) + "; expected " + expected);
}

void check(const std::vector<Life>& lives) {
  for (std::size_t i = 0; i < lives.size(); ++i) {
    const Life& life = lives[i];
    if (!(life.lower >= 0) || !std::isfinite(life.lower) || !(life.upper >= life.lower) ||
        !(life.upper > 0)) {
      refuse_life(life, i, "0 <= lower <= upper, hours above 0");
    }
    if (!(life.count > 0) || !std::isfinite(life.count)) refuse_life(life, i, "a count above 0");
    if (!(life.entry >= 0) || life.entry > life.lower || (life.entry == life.upper)) {
      refuse_life(life, i, "an entry of 0 or more, not after the lower bound");
    }
  }
}

// A life with its logarithms taken once.
struct LogLife {
  double lower, upper, entry;  // ln hours; -infinity for 0, +infinity for right censoring
  double count;
  bool is_exact, is_right;
};

std::vector<LogLife> logarithms(const std::vector<Life>& lives) {
  std::vector<LogLife> result;
  result.reserve(lives.size());
  const auto log_of = [](double hours) { return hours > 0 ? std::log(hours) : -infinity; };
  for (const Life& life : lives) {
    result.push_back({log_of(life.lower), life.right_censored() ? infinity : log_of(life.upper),
                      log_of(life.entry), life.count, life.exact(), life.right_censored()});
  }
  return result;
}

// Cumulative hazard at an age, with its derivatives by ln shape and ln scale.
struct Hazard {
  double value = 0, by_shape = 0, by_scale = 0;
};

Hazard hazard(double log_hours, double shape, double log_scale) {
  if (std::isinf(log_hours)) return {};
  const double z = shape * (log_hours - log_scale);
  const double value = std::exp(z);
  return {value, value > 0 ? value * z : 0, -shape * value};
}

// At {ln shape, ln scale}.
double likelihood(const std::vector<LogLife>& lives, const Point& at, Point* gradient) {
  const double shape = std::exp(at[0]);
  double sum = 0, by_shape = 0, by_scale = 0;
  for (const LogLife& life : lives) {
    double value = 0, d_shape = 0, d_scale = 0;
    const Hazard low = hazard(life.lower, shape, at[1]);
    value -= low.value;
    d_shape -= low.by_shape;
    d_scale -= low.by_scale;
    if (life.is_exact) {
      const double z = shape * (life.lower - at[1]);
      value += at[0] + z - life.lower;
      d_shape += 1 + z;
      d_scale -= shape;
    } else if (!life.is_right) {
      const Hazard high = hazard(life.upper, shape, at[1]);
      const double between = high.value - low.value;
      value += between > 0 ? std::log(-std::expm1(-between)) : -infinity;
      if (gradient != nullptr) {
        const double divisor = std::expm1(between);
        if (std::isfinite(divisor) && divisor > 0) {
          d_shape += (high.by_shape - low.by_shape) / divisor;
          d_scale += (high.by_scale - low.by_scale) / divisor;
        }
      }
    }
    if (!std::isinf(life.entry)) {
      const Hazard begin = hazard(life.entry, shape, at[1]);
      value += begin.value;
      d_shape += begin.by_shape;
      d_scale += begin.by_scale;
    }
    sum += life.count * value;
    by_shape += life.count * d_shape;
    by_scale += life.count * d_scale;
  }
  if (gradient != nullptr) *gradient = {by_shape, by_scale};
  return std::isnan(sum) ? -infinity : sum;
}

struct Totals {
  double failures = 0, censored = 0, hours = 0;
  double shortest = infinity, longest = 0;
};

Totals total(const std::vector<Life>& lives) {
  Totals totals;
  for (const Life& life : lives) {
    const double last = life.right_censored() ? life.lower : life.upper;
    (life.right_censored() ? totals.censored : totals.failures) += life.count;
    totals.hours += life.count * (life.right_censored() ? last : 0.5 * (life.lower + life.upper));
    if (last > 0) totals.shortest = std::min(totals.shortest, last);
    totals.longest = std::max(totals.longest, last);
  }
  return totals;
}

constexpr double lowest_log_shape = -4.6;  // shape 0.01 to 1000
constexpr double highest_log_shape = 6.9;

double log_prior(const Point& at, const WeibullPrior& prior, Point* gradient) {
  double sum = 0;
  const auto part = [&](const std::optional<WeibullPrior::LogNormal>& normal, std::size_t i) {
    if (!normal) return;
    const double z = (at[i] - std::log(normal->median)) / normal->sigma;
    sum -= 0.5 * z * z;
    if (gradient != nullptr) (*gradient)[i] -= z / normal->sigma;
  };
  part(prior.shape, 0);
  part(prior.scale, 1);
  return sum;
}

void check(const WeibullPrior& prior) {
  const auto part = [](const std::optional<WeibullPrior::LogNormal>& normal, const char* name) {
    if (!normal) return;
    if (!(normal->median > 0) || !std::isfinite(normal->median) || !(normal->sigma > 0) ||
        !std::isfinite(normal->sigma)) {
      throw Error(Code::invalid_argument, std::string("prior of the ") + name + " has median " +
                                              fixed_text(normal->median) + " and sigma " +
                                              fixed_text(normal->sigma) +
                                              "; expected both above 0");
    }
  };
  part(prior.shape, "shape");
  part(prior.scale, "scale");
}

// Quantiles of weighted values; between values the cumulative weight is taken as linear.
Interval weighted_interval(std::vector<std::pair<double, double>> values, double level) {
  if (!(level > 0 && level < 1)) {
    throw Error(Code::invalid_argument,
                "level is " + fixed_text(level) + "; expected a number between 0 and 1");
  }
  std::sort(values.begin(), values.end());
  std::vector<std::pair<double, double>> steps;  // value, cumulative weight at its middle
  double before = 0;
  for (std::size_t i = 0; i < values.size();) {
    double weight = 0;
    const double value = values[i].first;
    const double tie = 1e-12 * std::abs(value);
    for (; i < values.size() && values[i].first - value <= tie; ++i) weight += values[i].second;
    steps.emplace_back(value, before + 0.5 * weight);
    before += weight;
  }
  const auto quantile = [&](double p) {
    if (p <= steps.front().second) return steps.front().first;
    for (std::size_t i = 1; i < steps.size(); ++i) {
      if (p <= steps[i].second) {
        const double share = (p - steps[i - 1].second) / (steps[i].second - steps[i - 1].second);
        return steps[i - 1].first + share * (steps[i].first - steps[i - 1].first);
      }
    }
    return steps.back().first;
  };
  return {quantile((1 - level) / 2), quantile((1 + level) / 2)};
}

}  // namespace

double Weibull::cdf(double hours) const {
  return hours > 0 ? -std::expm1(-std::pow(hours / scale, shape)) : 0;
}

double Weibull::mean() const { return scale * std::exp(log_gamma(1 + 1 / shape)); }

double Weibull::quantile(double probability) const {
  return scale * std::pow(-std::log1p(-probability), 1 / shape);
}

WeibullFit fit_weibull(const std::vector<Life>& lives) {
  check(lives);
  const Totals totals = total(lives);
  const auto no_maximum = [&](const std::string& why) {
    throw Error(Code::invalid_argument, "no maximum-likelihood Weibull for " +
                                            std::to_string(lives.size()) + " lives: " + why +
                                            "; expected failures at two ages or more, or a prior");
  };
  if (!(totals.failures > 0)) no_maximum("none of them ended in a failure");
  const std::vector<LogLife> logs = logarithms(lives);
  const auto function = [&](const Point& at) {
    Sample sample;
    sample.value = likelihood(logs, at, &sample.gradient);
    return sample;
  };
  const Point start{0, std::log(totals.hours / totals.failures)};
  const Maximum maximum =
      maximise(function, start, {lowest_log_shape, std::log(totals.shortest) - 50},
               {highest_log_shape, std::log(totals.longest) + 50});
  if (!maximum.converged) no_maximum("the likelihood grows without end");
  WeibullFit fit;
  fit.weibull = {std::exp(maximum.at[0]), std::exp(maximum.at[1])};
  fit.log_likelihood = maximum.value;
  fit.failures = totals.failures;
  fit.censored = totals.censored;
  fit.shape_variance = maximum.covariance[0];
  fit.covariance = maximum.covariance[1];
  fit.scale_variance = maximum.covariance[2];
  const double z = normal_quantile((1 + credible_level) / 2);
  const auto wald = [&](double log_value, double variance) {
    const double half = z * std::sqrt(variance);
    return Interval{std::exp(log_value - half), std::exp(log_value + half)};
  };
  fit.shape_interval = wald(maximum.at[0], fit.shape_variance);
  fit.scale_interval = wald(maximum.at[1], fit.scale_variance);
  return fit;
}

namespace {

// The density around its maximum, in the axes of the Cholesky factor of the covariance there.
class Around {
 public:
  // Along one column the shape is fixed, and with it every life's share of the hazard: only its
  // scale changes. Ages are taken relative to the scale at the maximum.
  struct Column {
    double log_shape = 0, shape = 0, shift = 0;
    double failures = 0;  // exact
    double log_ages = 0;  // sum of the logarithms of their ages
    double hazard = 0;    // of all exact and right-censored lives, entry taken off
    std::vector<std::array<double, 3>> between;  // hazards of the bounds, count
  };
  Around(const std::vector<LogLife>& logs, const WeibullPrior& prior, const Maximum& maximum)
      : logs_(logs), prior_(prior), maximum_(maximum) {}

  Column column_at(double a) const {
    Column column;
    column.log_shape = maximum_.at[0] + l00_ * a;
    column.shape = std::exp(column.log_shape);
    column.shift = l10_ * a;
    const auto hazard_of = [&](double log_hours) {
      return std::isinf(log_hours) ? 0 : std::exp(column.shape * (log_hours - maximum_.at[1]));
    };
    for (const LogLife& life : logs_) {
      const double low = hazard_of(life.lower);
      column.hazard -= life.count * hazard_of(life.entry);
      if (life.is_exact || life.is_right) {
        column.hazard += life.count * low;
        if (life.is_exact) {
          column.failures += life.count;
          column.log_ages += life.count * life.lower;
        }
      } else {
        column.between.push_back({low, hazard_of(life.upper), life.count});
      }
    }
    return column;
  }

  // Logarithm, relative to the maximum.
  double density(const Column& column, double b) const {
    if (column.log_shape < lowest_log_shape || column.log_shape > highest_log_shape) {
      return -infinity;
    }
    const double moved = column.shift + l11_ * b;
    const Point at{column.log_shape, maximum_.at[1] + moved};
    const double factor = std::exp(-column.shape * moved);
    double sum = log_prior(at, prior_, nullptr) - column.hazard * factor +
                 column.failures * (column.log_shape - column.shape * at[1]) +
                 (column.shape - 1) * column.log_ages;
    for (const auto& [low, high, count] : column.between) {
      sum += count * (std::log(-std::expm1((low - high) * factor)) - low * factor);
    }
    sum -= maximum_.value;
    return std::isnan(sum) ? -infinity : sum;
  }

  Weibull at(const Column& column, double b) const {
    return {column.shape, std::exp(maximum_.at[1] + column.shift + l11_ * b)};
  }

 private:
  const std::vector<LogLife>& logs_;
  const WeibullPrior& prior_;
  const Maximum& maximum_;
  double l00_ = std::sqrt(maximum_.covariance[0]);
  double l10_ = maximum_.covariance[1] / l00_;
  double l11_ = std::sqrt(std::max(maximum_.covariance[2] - l10_ * l10_, 1e-300));
};

// a low, a high, b low, b high: each side is moved out until what lies beyond is of no weight.
std::array<double, 4> sides_of(const Around& posterior) {
  constexpr double negligible = -20, farthest = 80;
  std::array<double, 4> side{-4, 4, -4, 4};
  for (bool moved = true; moved;) {
    moved = false;
    double edge[4] = {-infinity, -infinity, -infinity, -infinity};
    for (int i = 0; i <= 16; ++i) {
      const Around::Column column = posterior.column_at(side[0] + (side[1] - side[0]) * i / 16);
      for (int j = 0; j <= 16; ++j) {
        if (i != 0 && i != 16 && j != 0 && j != 16) continue;
        const double value = posterior.density(column, side[2] + (side[3] - side[2]) * j / 16);
        if (i == 0) edge[0] = std::max(edge[0], value);
        if (i == 16) edge[1] = std::max(edge[1], value);
        if (j == 0) edge[2] = std::max(edge[2], value);
        if (j == 16) edge[3] = std::max(edge[3], value);
      }
    }
    for (std::size_t s = 0; s < 4; ++s) {
      if (edge[s] > negligible && std::abs(side[s]) < farthest) {
        side[s] *= 1.3;
        moved = true;
      }
    }
  }
  return side;
}

}  // namespace

WeibullPosterior::WeibullPosterior(const std::vector<Life>& lives, const WeibullPrior& prior) {
  priors::check(lives);
  priors::check(prior);
  const Totals totals = total(lives);
  const auto improper = [&](const std::string& why) {
    throw Error(Code::invalid_argument,
                "no posterior Weibull for " + std::to_string(lives.size()) + " lives: " + why);
  };
  if (!(totals.failures > 0) && !prior.scale) {
    improper("none of them ended in a failure; expected a prior of the scale then");
  }
  const std::vector<LogLife> logs = logarithms(lives);
  const auto function = [&](const Point& at) {
    Sample sample;
    sample.value = likelihood(logs, at, &sample.gradient);
    sample.value += log_prior(at, prior, &sample.gradient);
    return sample;
  };
  const double log_shape = prior.shape ? std::log(prior.shape->median) : 0;
  const double log_scale =
      prior.scale ? std::log(prior.scale->median) : std::log(totals.hours / totals.failures);
  const double shortest = lives.empty() ? log_scale : std::log(totals.shortest);
  const double longest = lives.empty() ? log_scale : std::log(totals.longest);
  const Maximum maximum = maximise(function, {log_shape, log_scale},
                                   {lowest_log_shape, std::min(shortest, log_scale) - 50},
                                   {highest_log_shape, std::max(longest, log_scale) + 50});
  if (!maximum.converged) {
    improper(
        "lives and prior together leave shape or scale without bound; expected a prior of both");
  }
  mode_ = {std::exp(maximum.at[0]), std::exp(maximum.at[1])};

  const Around around(logs, prior, maximum);
  const std::array<double, 4> side = sides_of(around);
  // As fine as the number of lives that must be gone through at every point allows.
  const auto intervals =
      static_cast<double>(std::count_if(logs.begin(), logs.end(), [](const LogLife& life) {
        return !life.is_exact && !life.is_right;
      }));
  const int steps = std::clamp(static_cast<int>(std::sqrt(4e6 / (1 + intervals))), 60, 200);
  column_width_ = (side[1] - side[0]) / steps * std::sqrt(maximum.covariance[0]);
  double sum = 0;
  for (int i = 0; i <= steps; ++i) {
    const Around::Column column = around.column_at(side[0] + (side[1] - side[0]) * i / steps);
    for (int j = 0; j <= steps; ++j) {
      const double b = side[2] + (side[3] - side[2]) * j / steps;
      const double weight = std::exp(around.density(column, b));
      if (!(weight > 1e-12)) continue;
      sum += weight;
      nodes_.push_back({around.at(column, b), weight});
    }
  }
  for (Node& node : nodes_) node.weight /= sum;
}

double WeibullPosterior::mean(const std::function<double(const Weibull&)>& of) const {
  double sum = 0;
  for (const Node& node : nodes_) sum += node.weight * of(node.weibull);
  return sum;
}

Interval WeibullPosterior::interval(const std::function<double(const Weibull&)>& of,
                                    double level) const {
  std::vector<std::pair<double, double>> values;
  values.reserve(nodes_.size());
  for (const Node& node : nodes_) values.emplace_back(of(node.weibull), node.weight);
  return weighted_interval(std::move(values), level);
}

Interval WeibullPosterior::shape_interval(double level) const {
  return interval([](const Weibull& weibull) { return weibull.shape; }, level);
}

Interval WeibullPosterior::scale_interval(double level) const {
  return interval([](const Weibull& weibull) { return weibull.scale; }, level);
}

double WeibullPosterior::density_of_shape(double shape) const {
  // Weights of the columns next to it.
  double below = -infinity, above = infinity, at_below = 0, at_above = 0;
  const double wanted = std::log(shape);
  for (std::size_t i = 0; i < nodes_.size();) {
    const double of_column = nodes_[i].weibull.shape, at = std::log(of_column);
    double weight = 0;
    for (; i < nodes_.size() && nodes_[i].weibull.shape == of_column; ++i) {
      weight += nodes_[i].weight;
    }
    if (at <= wanted && at > below) {
      below = at;
      at_below = weight;
    } else if (at > wanted && at < above) {
      above = at;
      at_above = weight;
    }
  }
  if (std::isinf(below) || std::isinf(above)) return 0;
  const double part = (wanted - below) / (above - below);
  return ((1 - part) * at_below + part * at_above) / column_width_;
}

double WeibullPosterior::not_sound(double hours) const {
  return mean([&](const Weibull& weibull) { return weibull.cdf(hours); });
}

std::vector<SurvivalPoint> kaplan_meier(const std::vector<Life>& lives, double level) {
  check(lives);
  if (!(level > 0 && level < 1)) {
    throw Error(Code::invalid_argument,
                "level is " + fixed_text(level) + "; expected a number between 0 and 1");
  }
  struct Step {
    double failed = 0, censored = 0, entered = 0;
  };
  std::map<double, Step> changes;
  for (std::size_t i = 0; i < lives.size(); ++i) {
    const Life& life = lives[i];
    if (!life.right_censored() && !life.exact()) {
      refuse_life(life, i, "an exact failure or a right-censored life for a Kaplan-Meier curve");
    }
    Step& change = changes[life.lower];
    (life.right_censored() ? change.censored : change.failed) += life.count;
    changes[life.entry].entered += life.count;
  }
  const double z = normal_quantile((1 + level) / 2);
  std::vector<SurvivalPoint> points;
  double at_risk = 0, survival = 1, greenwood = 0;
  for (const auto& [hours, change] : changes) {
    // Who enters at an age is at risk only after it; who leaves at it was at risk at it.
    if (change.failed > 0 || change.censored > 0) {
      SurvivalPoint point;
      point.hours = hours;
      point.at_risk = at_risk;
      point.failed = change.failed;
      point.censored = change.censored;
      if (hours > 0 && change.failed > 0) {
        const double left = std::max(at_risk - change.failed, 0.0);
        survival *= left / at_risk;
        greenwood += left > 0 ? change.failed / (at_risk * left) : 0;
      }
      point.survival = survival;
      if (survival > 0 && survival < 1) {
        const double log_survival = std::log(survival);
        const double half = z * std::sqrt(greenwood) / std::abs(log_survival);
        point.interval = {std::exp(log_survival * std::exp(half)),
                          std::exp(log_survival * std::exp(-half))};
      } else {
        point.interval = {survival, survival};
      }
      points.push_back(point);
    }
    at_risk += change.entered - change.failed - change.censored;
  }
  return points;
}

}  // namespace faultodds::priors
