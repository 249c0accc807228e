#include "priors/pooling.h"

#include <algorithm>
#include <cmath>

#include "core/error.h"
#include "core/number_text.h"
#include "priors/maximise.h"

namespace faultodds::priors {
namespace {

// Between-class spread this narrow is no spread: its standard deviation is 0.1 % of the mean.
constexpr double narrowest = 1e6;
constexpr double widest = 1e-4;

void check(const std::vector<ClassCounts>& classes, bool probabilities) {
  if (classes.size() < 2) {
    throw Error(Code::invalid_argument, "number of classes is " + std::to_string(classes.size()) +
                                            "; expected 2 or more to pool");
  }
  double events = 0, exposure = 0;
  for (const ClassCounts& c : classes) {
    const bool usable = c.events >= 0 && c.exposure >= 0 && std::isfinite(c.events) &&
                        std::isfinite(c.exposure) && (c.exposure > 0 || c.events == 0) &&
                        (!probabilities || c.events <= c.exposure);
    if (!usable) {
      throw Error(Code::invalid_argument,
                  "class " + c.name + " has " + fixed_text(c.events) + " events in exposure " +
                      fixed_text(c.exposure) + "; expected " +
                      (probabilities ? "0 <= failures <= demands"
                                     : "events of 0 or more in an exposure above 0"));
    }
    events += c.events;
    exposure += c.exposure;
  }
  if (!(events > 0) || (probabilities && !(events < exposure))) {
    throw Error(Code::invalid_argument, "classes have " + fixed_text(events) + " events in " +
                                            fixed_text(exposure) +
                                            " in all; expected some with and some without");
  }
}

// Sum over classes of ln NegativeBinomial, the factorials of the events included. With
// `gradient` also the derivatives by ln mean and ln shape of the spread.
double rate_likelihood(const std::vector<ClassCounts>& classes, double mean, double shape,
                       Point* gradient) {
  double sum = 0, by_mean = 0, by_shape = 0;
  for (const ClassCounts& c : classes) {
    if (!(c.exposure > 0)) continue;
    // beta = shape / mean; beta/(beta+t) = shape/(shape + mean t), kept free of cancellation.
    const double expected = mean * c.exposure;
    const double total = shape + expected;
    sum += log_gamma(shape + c.events) - log_gamma(shape) - log_gamma(c.events + 1) -
           shape * std::log1p(expected / shape) +
           (c.events > 0 ? c.events * std::log(expected / total) : 0);
    if (gradient != nullptr) {
      by_mean += shape * (c.events - expected) / total;
      by_shape += shape * (digamma(shape + c.events) - digamma(shape) -
                           std::log1p(expected / shape) + (expected - c.events) / total);
    }
  }
  if (gradient != nullptr) *gradient = {by_mean, by_shape};
  return sum;
}

// The same for beta-binomial counts, by logit of the mean and ln of alpha + beta.
double probability_likelihood(const std::vector<ClassCounts>& classes, double mean, double weight,
                              Point* gradient) {
  const double a = mean * weight, b = (1 - mean) * weight;
  double sum = 0, by_a = 0, by_b = 0;
  for (const ClassCounts& c : classes) {
    if (!(c.exposure > 0)) continue;
    const double good = c.exposure - c.events;
    sum += log_gamma(c.exposure + 1) - log_gamma(c.events + 1) - log_gamma(good + 1) +
           log_beta(a + c.events, b + good) - log_beta(a, b);
    if (gradient != nullptr) {
      const double both = digamma(a + b) - digamma(a + b + c.exposure);
      by_a += digamma(a + c.events) - digamma(a) + both;
      by_b += digamma(b + good) - digamma(b) + both;
    }
  }
  if (gradient != nullptr) {
    *gradient = {(by_a - by_b) * weight * mean * (1 - mean), by_a * a + by_b * b};
  }
  return sum;
}

double logistic(double x) { return 1 / (1 + std::exp(-x)); }

// Starts from the best of a coarse grid over the spread, as the likelihood may be flat far out.
Maximum fit(const std::function<Sample(const Point&)>& likelihood, double start_mean) {
  Point best{start_mean, 0};
  double best_value = -INFINITY;
  for (double spread = std::log(widest) + 1; spread < std::log(narrowest); spread += 1) {
    const double value = likelihood({start_mean, spread}).value;
    if (value > best_value) {
      best_value = value;
      best = {start_mean, spread};
    }
  }
  return maximise(likelihood, best, {start_mean - 50, std::log(widest)},
                  {start_mean + 50, std::log(narrowest)});
}

// Variance added by an uncertain spread: d' C d, d the derivatives of the mean by the parameters.
double spread_variance(const Maximum& maximum, const Point& d) {
  return d[0] * d[0] * maximum.covariance[0] + 2 * d[0] * d[1] * maximum.covariance[1] +
         d[1] * d[1] * maximum.covariance[2];
}

}  // namespace

double log_marginal_likelihood(const std::vector<ClassCounts>& classes, const Gamma& between) {
  check(classes, false);
  return rate_likelihood(classes, between.mean(), between.alpha, nullptr);
}

double log_marginal_likelihood(const std::vector<ClassCounts>& classes, const Beta& between) {
  check(classes, true);
  return probability_likelihood(classes, between.mean(), between.alpha + between.beta, nullptr);
}

PooledRates pool_rates(const std::vector<ClassCounts>& classes, double level) {
  check(classes, false);
  double events = 0, exposure = 0;
  for (const ClassCounts& c : classes) {
    events += c.events;
    exposure += c.exposure;
  }
  const auto likelihood = [&](const Point& at) {
    Sample sample;
    sample.value = rate_likelihood(classes, std::exp(at[0]), std::exp(at[1]), &sample.gradient);
    return sample;
  };
  const Maximum maximum = fit(likelihood, std::log(events / exposure));
  PooledRates pooled;
  pooled.log_likelihood = maximum.value;
  // A common rate is the limit of no spread; so close to it the likelihood cannot tell them apart.
  pooled.no_spread_found = !maximum.converged || std::exp(maximum.at[1]) > 0.5 * narrowest;
  const double mean = std::exp(maximum.at[0]);
  const double shape = std::exp(maximum.at[1]);
  pooled.between = {shape, shape / mean};
  for (const ClassCounts& c : classes) {
    PooledClass result{c.name, c.events, c.exposure, 0, 0, 0, {}};
    if (c.exposure > 0) result.raw = c.events / c.exposure;
    if (pooled.no_spread_found) {
      const Gamma common{events + 0.5, exposure};
      result.mean = common.mean();
      result.shrinkage = 1;
      result.interval = common.interval(level);
    } else {
      const double total = shape + mean * c.exposure;
      const Gamma posterior{shape + c.events, total / mean};
      result.mean = posterior.mean();
      result.shrinkage = shape / total;
      // d ln(mean rate) by ln mean and ln shape of the spread.
      const Point slope{shape / total, shape * (1 / (shape + c.events) - 1 / total)};
      const double variance =
          posterior.variance() +
          spread_variance(maximum, {slope[0] * result.mean, slope[1] * result.mean});
      const Gamma widened{result.mean * result.mean / variance, result.mean / variance};
      result.interval = widened.interval(level);
    }
    pooled.classes.push_back(std::move(result));
  }
  return pooled;
}

PooledProbabilities pool_probabilities(const std::vector<ClassCounts>& classes, double level) {
  check(classes, true);
  double events = 0, exposure = 0;
  for (const ClassCounts& c : classes) {
    events += c.events;
    exposure += c.exposure;
  }
  const auto likelihood = [&](const Point& at) {
    Sample sample;
    sample.value =
        probability_likelihood(classes, logistic(at[0]), std::exp(at[1]), &sample.gradient);
    return sample;
  };
  const Maximum maximum = fit(likelihood, std::log(events / (exposure - events)));
  PooledProbabilities pooled;
  pooled.log_likelihood = maximum.value;
  pooled.no_spread_found = !maximum.converged || std::exp(maximum.at[1]) > 0.5 * narrowest;
  const double mean = logistic(maximum.at[0]);
  const double weight = std::exp(maximum.at[1]);
  pooled.between = {mean * weight, (1 - mean) * weight};
  for (const ClassCounts& c : classes) {
    PooledClass result{c.name, c.events, c.exposure, 0, 0, 0, {}};
    if (c.exposure > 0) result.raw = c.events / c.exposure;
    if (pooled.no_spread_found) {
      const Beta common{events + 0.5, exposure - events + 0.5};
      result.mean = common.mean();
      result.shrinkage = 1;
      result.interval = common.interval(level);
    } else {
      const double total = weight + c.exposure;
      const Beta posterior{pooled.between.alpha + c.events,
                           pooled.between.beta + (c.exposure - c.events)};
      result.mean = posterior.mean();
      result.shrinkage = weight / total;
      const Point slope{weight * mean * (1 - mean) / total, weight * (mean - result.mean) / total};
      const double most = result.mean * (1 - result.mean);
      // A beta distribution's variance stays below mean (1 - mean).
      const double variance =
          std::min(posterior.variance() + spread_variance(maximum, slope), 0.95 * most);
      const double worth = most / variance - 1;
      result.interval = Beta{result.mean * worth, (1 - result.mean) * worth}.interval(level);
    }
    pooled.classes.push_back(std::move(result));
  }
  return pooled;
}

}  // namespace faultodds::priors
