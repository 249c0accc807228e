// Conjugate updates against published worked examples.
#include <catch2/catch.hpp>

#include "core/error.h"
#include "priors/estimators.h"

using namespace faultodds::priors;

namespace {

// As printed: to half a unit of the last of the digits given.
void check_printed(double value, double printed, double half_unit) {
  CHECK(value == Approx(printed).margin(half_unit).epsilon(0));
}

}  // namespace

TEST_CASE("NUREG/CR-6823: gamma prior (1.53, 10.63) and 2 events in 9.2 years") {
  const RateEstimate rate = estimate_rate(2, 9.2, {1.53, 10.63});
  CHECK(rate.posterior.alpha == Approx(3.53));
  CHECK(rate.posterior.beta == Approx(19.83));
  check_printed(rate.mean, 0.1780, 5e-5);
  check_printed(rate.interval.lower, 0.0555, 5e-5);
  check_printed(rate.interval.upper, 0.3569, 5e-5);
}

TEST_CASE("NUREG/CR-6823: beta prior (4.2, 153.1) and 1 failure in 8 demands") {
  const ProbabilityEstimate p = estimate_probability(1, 8, {4.2, 153.1});
  CHECK(p.posterior.alpha == Approx(5.2));
  CHECK(p.posterior.beta == Approx(160.1));
  check_printed(p.mean, 0.0315, 5e-5);
  check_printed(p.interval.lower, 0.0128, 5e-5);
  check_printed(p.interval.upper, 0.0565, 5e-5);
}

TEST_CASE("NUREG/CR-6823: Jeffreys prior and 1 failure in 8 demands") {
  const ProbabilityEstimate p = estimate_probability(1, 8);
  CHECK(p.posterior == Beta{1.5, 7.5});
  check_printed(p.mean, 0.1667, 5e-5);
  check_printed(p.interval.lower, 0.0225, 5e-5);
  check_printed(p.interval.upper, 0.3967, 5e-5);
}

TEST_CASE("INL/EXT-21-65055 table 1: internal leak of check valves, 58 in 806,745,000 h") {
  const RateEstimate rate = estimate_rate(58, 806745000);
  CHECK(rate.posterior.alpha == 58.5);
  check_printed(rate.mean, 7.25e-8, 0.005e-8);
  check_printed(rate.interval.lower, 5.76e-8, 0.01e-8);  // printed truncated: 5.7655e-8
  check_printed(rate.interval.upper, 8.88e-8, 0.005e-8);
}

TEST_CASE("INL/EXT-21-65055 table 1: internal leak of low-capacity reliefs, 3 in 9,165,160 h") {
  const RateEstimate rate = estimate_rate(3, 9165160);
  check_printed(rate.mean, 3.82e-7, 0.005e-7);
  check_printed(rate.interval.lower, 1.18e-7, 0.005e-7);
  check_printed(rate.interval.upper, 7.67e-7, 0.005e-7);
}

TEST_CASE("INL/EXT-21-65055 table 1: check valves that fail to close, 5 of 44,791") {
  const ProbabilityEstimate p = estimate_probability(5, 44791);
  check_printed(p.mean, 1.23e-4, 0.005e-4);
  check_printed(p.interval.lower, 5.11e-5, 0.005e-5);
  check_printed(p.interval.upper, 2.20e-4, 0.005e-4);
}

TEST_CASE("INL/EXT-21-65055 table 1: power-operated reliefs that fail to open, 25 of 1,580") {
  const ProbabilityEstimate p = estimate_probability(25, 1580);
  CHECK(p.posterior == Beta{25.5, 1555.5});
  check_printed(p.mean, 0.0161, 5e-5);
  check_printed(p.interval.lower, 0.0113, 5e-5);
  check_printed(p.interval.upper, 0.0217, 5e-5);
}

TEST_CASE("NIST/SEMATECH e-Handbook 8.3.1.5: median MTBF 600 h, lower 95 % bound 250 h") {
  const Gamma prior = rate_from_mtbf(600, 250);
  check_printed(prior.alpha, 2.863, 5e-4);
  check_printed(prior.beta, 1522.46, 0.05);  // printed from the rounded shape
  CHECK(1 / prior.quantile(0.5) == Approx(600).epsilon(1e-10));
  CHECK(1 / prior.quantile(0.95) == Approx(250).epsilon(1e-10));
}

TEST_CASE("NIST/SEMATECH e-Handbook 8.4.6: Gamma(2.863, 1522.46) and 2 failures in 1,000 h") {
  const RateEstimate rate = estimate_rate(2, 1000, {2.863, 1522.46});
  CHECK(rate.posterior.alpha == Approx(4.863));
  CHECK(rate.posterior.beta == Approx(2522.46));
  // Bounds on the time between failures, computed with SciPy 1.17.1 from the handbook's formulas.
  check_printed(1 / rate.posterior.quantile(0.50), 556.34, 0.005);
  check_printed(1 / rate.posterior.quantile(0.80), 384.69, 0.005);
  check_printed(1 / rate.posterior.quantile(0.90), 322.74, 0.005);
  check_printed(1 / rate.posterior.quantile(0.95), 281.39, 0.005);
  check_printed(1 / rate.mean, 518.70, 0.005);
}

TEST_CASE("NIST/SEMATECH e-Handbook 8.4.6: Gamma(2, 1400) and 2 failures in 1,909 h") {
  const RateEstimate rate = estimate_rate(2, 1909, {2, 1400});
  CHECK(rate.posterior == Gamma{4, 3309});
  check_printed(1 / rate.posterior.quantile(0.50), 901, 0.5);
  check_printed(1 / rate.posterior.quantile(0.80), 600, 0.5);
  check_printed(1 / rate.posterior.quantile(0.90), 495, 0.5);
  check_printed(1 / rate.posterior.quantile(0.95), 427, 0.5);
}
