// Wear-out: how the hours of a component change the probability that it is no longer sound. Weibull
// lives with exact, right, left and interval censoring and late entry; maximum likelihood,
// posterior on a grid, and the Kaplan-Meier curve to judge the fit by. One population, no
// covariates.
#pragma once

#include <cmath>
#include <cstddef>
#include <functional>
#include <limits>
#include <optional>
#include <vector>

#include "priors/distributions.h"

namespace faultodds::priors {

// What is known of the life of `count` components, in hours:
//   lower == upper           failed at that age
//   upper infinite           still sound at `lower` (right censored)
//   lower 0                  found failed at `upper`, begun at an unknown age (left censored)
//   0 < lower < upper        sound at `lower`, found failed at `upper` (interval)
// `entry` is the age at which records of it begin: failures before it would not have been seen.
struct Life {
  double lower = 0, upper = 0;
  double count = 1;
  double entry = 0;

  static Life failed_at(double hours, double count = 1) { return {hours, hours, count, 0}; }
  static Life sound_at(double hours, double count = 1) {
    return {hours, std::numeric_limits<double>::infinity(), count, 0};
  }
  static Life failed_before(double hours, double count = 1) { return {0, hours, count, 0}; }
  static Life failed_between(double sound, double failed, double count = 1) {
    return {sound, failed, count, 0};
  }
  bool exact() const { return lower == upper; }
  bool right_censored() const { return std::isinf(upper); }
  bool operator==(const Life&) const = default;
};

// P(not sound at h) = 1 - exp(-(h/scale)^shape), as diagnosis::WearOut.
struct Weibull {
  double shape = 1, scale = 1;  // scale in hours
  double cdf(double hours) const;
  double mean() const;
  double quantile(double probability) const;
};

struct WeibullFit {
  Weibull weibull;  // maximum likelihood
  double log_likelihood = 0;
  double failures = 0, censored = 0;  // censored: right
  // Of ln shape and ln scale, from the curvature: {variance, covariance, variance}.
  double shape_variance = 0, covariance = 0, scale_variance = 0;
  // Normal on the logarithms (Wald), at 90 %.
  Interval shape_interval, scale_interval;
};

// Throws Error(invalid_argument) where a life is impossible, or where the lives have no single
// maximum (no failure, all failures at one age and nothing after it, only left-censored lives,
// ...).
WeibullFit fit_weibull(const std::vector<Life>& lives);

// Independent normal priors on ln shape and ln scale; a part left out is flat. The default shape
// says "between 0.5 and 4, most likely wear-out" and is working judgement.
struct WeibullPrior {
  struct LogNormal {
    double median = 1, sigma = 1;  // sigma of the natural logarithm
    bool operator==(const LogNormal&) const = default;
  };
  std::optional<LogNormal> shape = LogNormal{1.5, 0.6};
  std::optional<LogNormal> scale;
  bool operator==(const WeibullPrior&) const = default;
};

// The posterior as weighted points of a grid laid along its own axes.
class WeibullPosterior {
 public:
  struct Node {
    Weibull weibull;
    double weight = 0;  // all sum to 1
  };

  // Throws Error(invalid_argument): as fit_weibull, but one failure, or none with a prior of the
  // scale, is enough.
  WeibullPosterior(const std::vector<Life>& lives, const WeibullPrior& prior = {});

  const Weibull& mode() const { return mode_; }  // of the density in ln shape and ln scale
  double mean(const std::function<double(const Weibull&)>& of) const;
  Interval interval(const std::function<double(const Weibull&)>& of,
                    double level = credible_level) const;
  Interval shape_interval(double level = credible_level) const;
  Interval scale_interval(double level = credible_level) const;
  // Of ln shape.
  double density_of_shape(double shape) const;
  // Posterior mean of the probability of not being sound at that age.
  double not_sound(double hours) const;

 private:
  std::vector<Node> nodes_;  // column by column, each of one shape
  double column_width_ = 0;  // in ln shape
  Weibull mode_;
};

// Product-limit estimate with late entry; interval- and left-censored lives are refused.
struct SurvivalPoint {
  double hours = 0;
  double at_risk = 0, failed = 0, censored = 0;
  double survival = 1;  // just after `hours`
  Interval interval;    // on the log(-log) scale, Greenwood's variance
};

std::vector<SurvivalPoint> kaplan_meier(const std::vector<Life>& lives,
                                        double level = credible_level);

}  // namespace faultodds::priors
