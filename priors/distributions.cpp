#include "priors/distributions.h"

#include <algorithm>
#include <boost/math/special_functions/beta.hpp>
#include <boost/math/special_functions/digamma.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <boost/math/special_functions/trigamma.hpp>
#include <cmath>
#include <limits>
#include <numeric>
#include <string>

#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::priors {
namespace {

// Arguments are checked here, so that Boost has nothing to report: what overflows is infinite.
using Policy = boost::math::policies::policy<
    boost::math::policies::promote_double<false>,
    boost::math::policies::domain_error<boost::math::policies::ignore_error>,
    boost::math::policies::pole_error<boost::math::policies::ignore_error>,
    boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
    boost::math::policies::underflow_error<boost::math::policies::ignore_error>,
    boost::math::policies::evaluation_error<boost::math::policies::ignore_error>>;

void require_positive(double value, const char* name) {
  if (!(value > 0) || !std::isfinite(value)) {
    throw Error(Code::invalid_argument, std::string(name) + " is " + fixed_text(value) +
                                            "; expected a finite number above 0");
  }
}

void require_probability(double value) {
  if (!(value >= 0 && value <= 1)) {
    throw Error(Code::invalid_argument,
                "probability is " + fixed_text(value) + "; expected a number from 0 to 1");
  }
}

template <typename Distribution>
Interval equal_tails(const Distribution& distribution, double level) {
  if (!(level > 0 && level < 1)) {
    throw Error(Code::invalid_argument,
                "level is " + fixed_text(level) + "; expected a number between 0 and 1");
  }
  const double tail = (1 - level) / 2;
  return {distribution.quantile(tail), distribution.quantile(1 - tail)};
}

}  // namespace

double Beta::variance() const {
  const double n = alpha + beta;
  return alpha * beta / (n * n * (n + 1));
}

double Beta::cdf(double x) const {
  require_positive(alpha, "alpha");
  require_positive(beta, "beta");
  if (!(x > 0)) return 0;
  if (x >= 1) return 1;
  return boost::math::ibeta(alpha, beta, x, Policy());
}

double Beta::quantile(double probability) const {
  require_positive(alpha, "alpha");
  require_positive(beta, "beta");
  require_probability(probability);
  return boost::math::ibeta_inv(alpha, beta, probability, Policy());
}

Interval Beta::interval(double level) const { return equal_tails(*this, level); }

double Gamma::cdf(double x) const {
  require_positive(alpha, "alpha");
  require_positive(beta, "beta");
  if (!(x > 0)) return 0;
  if (std::isinf(x)) return 1;
  return boost::math::gamma_p(alpha, x * beta, Policy());
}

double Gamma::quantile(double probability) const {
  require_positive(alpha, "alpha");
  require_positive(beta, "beta");
  require_probability(probability);
  if (probability == 1) return std::numeric_limits<double>::infinity();
  return boost::math::gamma_p_inv(alpha, probability, Policy()) / beta;
}

Interval Gamma::interval(double level) const { return equal_tails(*this, level); }

double Dirichlet::weight() const { return std::accumulate(alpha.begin(), alpha.end(), 0.0); }

double Dirichlet::mean(std::size_t category) const { return alpha.at(category) / weight(); }

Beta Dirichlet::marginal(std::size_t category) const {
  // The others are summed, not subtracted from the whole: no cancellation.
  double rest = 0;
  for (std::size_t i = 0; i < alpha.size(); ++i) {
    if (i != category) rest += alpha[i];
  }
  return {alpha.at(category), rest};
}

double student_quantile(double probability, double degrees) {
  if (!(probability > 0 && probability < 1) || !(degrees >= 1)) {
    throw Error(Code::invalid_argument, "probability is " + fixed_text(probability) +
                                            " and degrees " + fixed_text(degrees) +
                                            "; expected a number between 0 and 1, and 1 or more");
  }
  const double tail = std::min(probability, 1 - probability);
  const double x = boost::math::ibeta_inv(degrees / 2, 0.5, 2 * tail, Policy());
  const double t = std::sqrt(degrees * (1 - x) / x);
  return probability < 0.5 ? -t : t;
}

double normal_quantile(double probability) {
  if (!(probability > 0 && probability < 1)) {
    throw Error(Code::invalid_argument, "probability is " + fixed_text(probability) +
                                            "; expected a number between 0 and 1");
  }
  return -std::sqrt(2.0) * boost::math::erfc_inv(2 * probability, Policy());
}

double log_gamma(double x) { return boost::math::lgamma(x, Policy()); }
double digamma(double x) { return boost::math::digamma(x, Policy()); }
double trigamma(double x) { return boost::math::trigamma(x, Policy()); }
double log_beta(double a, double b) { return log_gamma(a) + log_gamma(b) - log_gamma(a + b); }

}  // namespace faultodds::priors
