// Weibull lives and Kaplan-Meier curves against published data and general-purpose libraries.
#include <catch2/catch.hpp>
#include <cmath>

#include "priors/wear_out.h"

using namespace faultodds::priors;

namespace {

// NIST/SEMATECH e-Handbook 8.4.1.3: ten failures, ten units still running at 500 h.
constexpr double nist_failures[] = {54, 187, 216, 240, 244, 335, 361, 373, 375, 386};

std::vector<Life> nist() {
  std::vector<Life> lives;
  for (double hours : nist_failures) lives.push_back(Life::failed_at(hours));
  lives.push_back(Life::sound_at(500, 10));
  return lives;
}

// The same with invented ages at which records began.
std::vector<Life> nist_with_entry() {
  const double entry[] = {0, 100, 150, 0, 200, 0, 300, 0, 0, 100};
  std::vector<Life> lives;
  for (std::size_t i = 0; i < 10; ++i) {
    lives.push_back({nist_failures[i], nist_failures[i], 1, entry[i]});
  }
  Life early = Life::sound_at(500, 5), late = Life::sound_at(500, 5);
  late.entry = 400;
  lives.push_back(early);
  lives.push_back(late);
  return lives;
}

// Nelson, Applied Life Data Analysis 1982, p. 415: 167 parts inspected for cracks.
std::vector<Life> nelson() {
  const double bounds[] = {6.12, 19.92, 29.64, 35.40, 39.72, 45.24, 52.32, 63.48};
  const double cracked[] = {5, 16, 12, 18, 18, 2, 6, 17};
  std::vector<Life> lives;
  for (std::size_t i = 0; i < 8; ++i) {
    lives.push_back(i == 0 ? Life::failed_before(bounds[0], cracked[0])
                           : Life::failed_between(bounds[i - 1], bounds[i], cracked[i]));
  }
  lives.push_back(Life::sound_at(63.48, 73));
  return lives;
}

}  // namespace

TEST_CASE("NIST/SEMATECH 8.4.1.3: Weibull with right censoring, to the digits printed") {
  const WeibullFit fit = fit_weibull(nist());
  CHECK(fit.weibull.scale == Approx(606.5280).margin(6e-4).epsilon(0));
  CHECK(fit.weibull.shape == Approx(1.7208).margin(5e-5).epsilon(0));
  CHECK(fit.log_likelihood == Approx(-75.1346).margin(5e-5).epsilon(0));
  CHECK(fit.weibull.mean() == Approx(540.737).margin(5e-4).epsilon(0));
  CHECK(fit.failures == 10);
  CHECK(fit.censored == 10);
}

TEST_CASE("the same data agree with lifelines 0.30.3 to seven digits") {
  const WeibullFit fit = fit_weibull(nist());
  CHECK(fit.weibull.scale == Approx(606.5275351592707).epsilon(1e-7));
  CHECK(fit.weibull.shape == Approx(1.7207973794296896).epsilon(1e-7));
  CHECK(fit.log_likelihood == Approx(-75.13461816447489).epsilon(1e-10));
}

TEST_CASE("Nelson 1982: left, interval and right censoring together, to seven digits") {
  // Likelihood maximised with SciPy 1.17.1 (Nelder-Mead, 1e-13); lifelines 0.30.3 gives 71.690428.
  const WeibullFit fit = fit_weibull(nelson());
  CHECK(fit.weibull.scale == Approx(71.69040573).epsilon(2e-7));
  CHECK(fit.weibull.shape == Approx(1.48536739).epsilon(2e-7));
  CHECK(fit.log_likelihood == Approx(-309.6684089279).epsilon(1e-11));
}

TEST_CASE("records that begin late agree with lifelines' entry, to six digits") {
  const WeibullFit fit = fit_weibull(nist_with_entry());
  CHECK(fit.weibull.scale == Approx(490.5900261503046).epsilon(1e-6));
  CHECK(fit.weibull.shape == Approx(1.468671378530201).epsilon(1e-6));
  CHECK(fit.log_likelihood == Approx(-71.33488375402014).epsilon(1e-9));
}

TEST_CASE("the posterior agrees with brute-force integration on a fine grid, to three digits") {
  // NumPy, 1201 x 1601 points of ln shape in [-2, 2.5] and ln scale in [5, 10]; shape
  // log-normal about 1.5 with sigma 0.6, scale flat in its logarithm.
  const WeibullPosterior posterior(nist());
  const Interval shape = posterior.shape_interval(), scale = posterior.scale_interval();
  CHECK(shape.lower == Approx(0.93574).epsilon(5e-4));
  CHECK(shape.upper == Approx(2.33090).epsilon(5e-4));
  CHECK(scale.lower == Approx(470.383).epsilon(5e-4));
  CHECK(scale.upper == Approx(1093.920).epsilon(5e-4));
  CHECK(posterior.not_sound(400) == Approx(0.38199021).epsilon(1e-6));
  const Interval at_400 = posterior.interval([](const Weibull& w) { return w.cdf(400); });
  CHECK(at_400.lower == Approx(0.23381).epsilon(2e-3));
  CHECK(at_400.upper == Approx(0.54036).epsilon(2e-3));
}

TEST_CASE("Kaplan-Meier agrees with lifelines 0.30.3, intervals included") {
  const std::vector<SurvivalPoint> points = kaplan_meier(nist());
  REQUIRE(points.size() == 11);
  CHECK(points[0].survival == Approx(0.95));
  CHECK(points[0].interval.lower == Approx(0.76662303).epsilon(1e-7));
  CHECK(points[0].interval.upper == Approx(0.99014893).epsilon(1e-7));
  CHECK(points[4].survival == Approx(0.75));
  CHECK(points[4].interval.lower == Approx(0.54780127).epsilon(1e-7));
  CHECK(points[4].interval.upper == Approx(0.87152334).epsilon(1e-7));
  CHECK(points[9].survival == Approx(0.5));
  CHECK(points[9].interval.lower == Approx(0.30778769).epsilon(1e-7));
  CHECK(points[9].interval.upper == Approx(0.66515485).epsilon(1e-7));
  CHECK(points[10].survival == points[9].survival);  // censoring moves nothing
}

TEST_CASE("Kaplan-Meier with late entry agrees with lifelines 0.30.3") {
  const std::vector<SurvivalPoint> points = kaplan_meier(nist_with_entry());
  REQUIRE(points.size() == 11);
  CHECK(points[0].at_risk == 10);
  CHECK(points[1].at_risk == 12);
  CHECK(points[8].survival == Approx(0.371250));
  CHECK(points[9].survival == Approx(0.309375));
  CHECK(points[9].interval.lower == Approx(0.134483).epsilon(5e-6));
  CHECK(points[9].interval.upper == Approx(0.503569).epsilon(5e-6));
}
