// Weibull lives and Kaplan-Meier curves against published data and general-purpose libraries, whose
// values priors_reference.py prints again. The libraries stop where their optimisers do and agree
// with each other to about seven digits; SciPy 1.17.1, solving for a gradient of 0, gives ten.
#include <catch2/catch.hpp>
#include <cmath>

#include "priors/wear_out.h"

namespace priors_wear_out {

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

Approx nine_digits(double value) { return Approx(value).epsilon(1e-9).margin(0); }

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

TEST_CASE("right censoring: SciPy to nine digits, three libraries to seven") {
  const WeibullFit fit = fit_weibull(nist());
  CHECK(fit.weibull.shape == nine_digits(1.720797260801));
  CHECK(fit.weibull.scale == nine_digits(606.5275580035));
  CHECK(fit.log_likelihood == Approx(-75.13461816447).epsilon(1e-12));
  struct Peer {
    const char* library;
    double shape, scale;
  };
  for (const Peer& peer : {Peer{"lifelines 0.30.3", 1.72079737943, 606.5275351593},
                           Peer{"reliability 0.9.0", 1.720797209551, 606.5275482189},
                           Peer{"surpyval 0.25", 1.720797262132, 606.52755926}}) {
    CAPTURE(peer.library);
    CHECK(fit.weibull.shape == Approx(peer.shape).epsilon(1e-7));
    CHECK(fit.weibull.scale == Approx(peer.scale).epsilon(1e-7));
  }
}

TEST_CASE("right censoring: 90 % intervals by the curvature agree with reliability 0.9.0") {
  // Its covariance comes from differences, good to four digits or so.
  const WeibullFit fit = fit_weibull(nist());
  CHECK(fit.shape_interval.lower == Approx(1.064812159545).epsilon(1e-4));
  CHECK(fit.shape_interval.upper == Approx(2.780906481818).epsilon(1e-4));
  CHECK(fit.scale_interval.lower == Approx(432.2493308941).epsilon(1e-4));
  CHECK(fit.scale_interval.upper == Approx(851.0728425824).epsilon(1e-4));
}

TEST_CASE("left, interval and right censoring: SciPy to nine digits, libraries to six") {
  const WeibullFit fit = fit_weibull(nelson());
  CHECK(fit.weibull.shape == nine_digits(1.485367365264));
  CHECK(fit.weibull.scale == nine_digits(71.69040556148));
  CHECK(fit.log_likelihood == Approx(-309.6684089279).epsilon(1e-12));
  CHECK(fit.weibull.shape == Approx(1.485367750989).epsilon(1e-6));  // lifelines 0.30.3
  CHECK(fit.weibull.scale == Approx(71.69042763817).epsilon(1e-6));
  CHECK(fit.weibull.shape == Approx(1.485368636986).epsilon(1e-6));  // surpyval 0.25
  CHECK(fit.weibull.scale == Approx(71.69034268271).epsilon(1e-6));
}

TEST_CASE("records that begin late: SciPy to nine digits, libraries to six") {
  const WeibullFit fit = fit_weibull(nist_with_entry());
  CHECK(fit.weibull.shape == nine_digits(1.468671193887));
  CHECK(fit.weibull.scale == nine_digits(490.5900088963));
  CHECK(fit.log_likelihood == Approx(-71.33488375402).epsilon(1e-12));
  CHECK(fit.weibull.shape == Approx(1.46867137853).epsilon(1e-6));  // lifelines 0.30.3
  CHECK(fit.weibull.scale == Approx(490.5900261503).epsilon(1e-6));
  CHECK(fit.weibull.shape == Approx(1.468670318915).epsilon(1e-6));  // surpyval 0.25
  CHECK(fit.weibull.scale == Approx(490.5897785662).epsilon(1e-6));
}

TEST_CASE("the posterior agrees with brute-force integration on a fine grid, to three digits") {
  // Shape log-normal about 1.5 with sigma 0.6, scale flat in its logarithm. The library's own grid
  // has 200 points a side, laid until the density is e^-20 of its largest, and quantiles are
  // interpolated on it: an end of an interval is off by up to a thousandth of itself, where the
  // interval is half of the value wide, and a mean by what lies beyond the grid.
  const WeibullPosterior posterior(nist());
  const Interval shape = posterior.shape_interval(), scale = posterior.scale_interval();
  CHECK(shape.lower == Approx(0.9357539).epsilon(6e-4));
  CHECK(shape.upper == Approx(2.3308921).epsilon(6e-4));
  CHECK(scale.lower == Approx(470.38766).epsilon(2e-4));
  CHECK(scale.upper == Approx(1093.9144).epsilon(2e-4));
  CHECK(posterior.not_sound(400) == Approx(0.3819902108).epsilon(6e-7));
  const Interval at_400 = posterior.interval([](const Weibull& w) { return w.cdf(400); });
  CHECK(at_400.lower == Approx(0.2338106).epsilon(1e-3));
  CHECK(at_400.upper == Approx(0.5403688).epsilon(1e-3));
}

TEST_CASE("Kaplan-Meier agrees with lifelines 0.30.3, intervals included") {
  const std::vector<SurvivalPoint> points = kaplan_meier(nist());
  REQUIRE(points.size() == 11);
  CHECK(points[0].survival == Approx(0.95));
  CHECK(points[0].interval.lower == nine_digits(0.7666230268825));
  CHECK(points[0].interval.upper == nine_digits(0.9901489287416));
  CHECK(points[4].survival == Approx(0.75));
  CHECK(points[4].interval.lower == nine_digits(0.5478012731212));
  CHECK(points[4].interval.upper == nine_digits(0.8715233388967));
  CHECK(points[9].survival == Approx(0.5));
  CHECK(points[9].interval.lower == nine_digits(0.3077876855299));
  CHECK(points[9].interval.upper == nine_digits(0.6651548459575));
  CHECK(points[10].survival == points[9].survival);  // censoring moves nothing
}

TEST_CASE("Kaplan-Meier with late entry agrees with lifelines 0.30.3") {
  const std::vector<SurvivalPoint> points = kaplan_meier(nist_with_entry());
  REQUIRE(points.size() == 11);
  CHECK(points[0].at_risk == 10);
  CHECK(points[1].at_risk == 12);
  CHECK(points[8].survival == nine_digits(0.37125));
  CHECK(points[8].interval.lower == nine_digits(0.1769609307591));
  CHECK(points[8].interval.upper == nine_digits(0.5672583491075));
  CHECK(points[9].survival == nine_digits(0.309375));
  CHECK(points[9].interval.lower == nine_digits(0.1344833613973));
  CHECK(points[9].interval.upper == nine_digits(0.5035690778205));
}

}  // namespace priors_wear_out
