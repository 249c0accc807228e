// The distributions that state of knowledge takes here: beta for a probability, gamma for a rate,
// Dirichlet for shares. Names of parameters follow NUREG/CR-6823 (alpha, beta; rate, not scale).
// It holds no data and fits nothing: see estimators.h, pooling.h and wear_out.h.
#pragma once

#include <cstddef>
#include <vector>

namespace faultodds::priors {

struct Interval {
  double lower = 0, upper = 0;
  bool operator==(const Interval&) const = default;
};

inline constexpr double credible_level = 0.90;  // of every interval unless another is asked for

// Of a probability in [0, 1]. Both parameters > 0.
struct Beta {
  double alpha = 0.5, beta = 0.5;

  double mean() const { return alpha / (alpha + beta); }
  double variance() const;
  double cdf(double x) const;
  double quantile(double probability) const;
  Interval interval(double level = credible_level) const;  // equal tails
  bool operator==(const Beta&) const = default;
};

// Of a rate per unit of exposure. `alpha` is the shape, `beta` has the unit of exposure.
struct Gamma {
  double alpha = 0.5, beta = 1;

  double mean() const { return alpha / beta; }
  double variance() const { return alpha / (beta * beta); }
  double cdf(double x) const;
  double quantile(double probability) const;
  Interval interval(double level = credible_level) const;  // equal tails
  bool operator==(const Gamma&) const = default;
};

// Of shares that sum to 1. One parameter > 0 for each category.
struct Dirichlet {
  std::vector<double> alpha;

  double weight() const;  // sum of alpha: how many observations it is worth
  double mean(std::size_t category) const;
  Beta marginal(std::size_t category) const;  // of one share against the rest
  bool operator==(const Dirichlet&) const = default;
};

// Standard normal; `normal_quantile` needs 0 < probability < 1.
double normal_quantile(double probability);
// Of Student's distribution with that many degrees of freedom, 1 or more.
double student_quantile(double probability, double degrees);
// Logarithm of |Gamma(x)|, and its first two derivatives; reentrant, x > 0.
double log_gamma(double x);
double digamma(double x);
double trigamma(double x);
double log_beta(double a, double b);

}  // namespace faultodds::priors
