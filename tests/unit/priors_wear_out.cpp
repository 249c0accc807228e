#include <catch2/catch.hpp>
#include <cmath>

#include "core/error.h"
#include "priors/wear_out.h"

using namespace faultodds::priors;
using Catch::Contains;

TEST_CASE("a life counted twice weighs as two lives") {
  const WeibullFit once = fit_weibull(
      {Life::failed_at(100), Life::failed_at(100), Life::failed_at(300), Life::sound_at(400, 1)});
  const WeibullFit counted =
      fit_weibull({Life::failed_at(100, 2), Life::failed_at(300), Life::sound_at(400)});
  CHECK(once.weibull.shape == Approx(counted.weibull.shape).epsilon(1e-10));
  CHECK(once.weibull.scale == Approx(counted.weibull.scale).epsilon(1e-10));
}

TEST_CASE("with the shape known to be 1 the scale is the hours for each failure") {
  // Nearly exponential: the tight prior of the shape leaves total time on test / failures.
  WeibullPrior prior;
  prior.shape = WeibullPrior::LogNormal{1, 1e-4};
  const WeibullPosterior posterior(
      {Life::failed_at(500), Life::failed_at(1500), Life::sound_at(1000, 10)}, prior);
  CHECK(posterior.mode().scale == Approx(12000 / 2.0).epsilon(1e-4));
}

TEST_CASE("a very narrow interval says what an exact life says") {
  const WeibullFit exact = fit_weibull(
      {Life::failed_at(100), Life::failed_at(200), Life::failed_at(400), Life::sound_at(500)});
  const WeibullFit narrow =
      fit_weibull({Life::failed_between(99.999, 100.001), Life::failed_between(199.999, 200.001),
                   Life::failed_between(399.999, 400.001), Life::sound_at(500)});
  CHECK(narrow.weibull.shape == Approx(exact.weibull.shape).epsilon(1e-6));
  CHECK(narrow.weibull.scale == Approx(exact.weibull.scale).epsilon(1e-6));
}

TEST_CASE("only inspections, sound or not at some age, are enough to fit wear-out") {
  const WeibullFit fit = fit_weibull({Life::failed_before(1000, 10), Life::sound_at(1000, 90),
                                      Life::failed_before(4000, 50), Life::sound_at(4000, 50)});
  // Two ages and two parameters: the shares found are met exactly.
  CHECK(fit.weibull.cdf(1000) == Approx(0.1));
  CHECK(fit.weibull.cdf(4000) == Approx(0.5));
}

TEST_CASE("a posterior interval narrows as lives are added") {
  const std::vector<Life> few{Life::failed_at(800), Life::failed_at(1400), Life::sound_at(2000, 2)};
  std::vector<Life> many = few;
  for (Life& life : many) life.count *= 25;
  const Interval wide = WeibullPosterior(few).scale_interval();
  const Interval narrow = WeibullPosterior(many).scale_interval();
  CHECK(narrow.upper / narrow.lower < std::sqrt(wide.upper / wide.lower));
}

TEST_CASE("without a single failure the posterior needs a prior of the scale and leans on it") {
  const std::vector<Life> lives{Life::sound_at(3000, 20)};
  CHECK_THROWS_WITH(WeibullPosterior(lives), Contains("prior of the scale"));
  WeibullPrior prior;
  prior.scale = WeibullPrior::LogNormal{8000, 0.7};
  const WeibullPosterior posterior(lives, prior);
  CHECK(posterior.scale_interval().lower > 4000);
  CHECK(posterior.not_sound(3000) < Weibull{1.5, 8000}.cdf(3000));
}

TEST_CASE("no records at all give back the prior") {
  WeibullPrior prior;
  prior.shape = WeibullPrior::LogNormal{1.5, 0.2};
  prior.scale = WeibullPrior::LogNormal{8000, 0.3};
  const WeibullPosterior posterior({}, prior);
  const double z = 1.6448536269514722;
  CHECK(posterior.shape_interval().lower == Approx(1.5 * std::exp(-z * 0.2)).epsilon(1e-3));
  CHECK(posterior.scale_interval().upper == Approx(8000 * std::exp(z * 0.3)).epsilon(1e-3));
}

TEST_CASE("lives without a single best Weibull are refused with the reason") {
  CHECK_THROWS_WITH(fit_weibull({Life::sound_at(100)}), Contains("none of them ended"));
  CHECK_THROWS_WITH(fit_weibull({Life::failed_at(100, 3)}), Contains("without end"));
  CHECK_THROWS_WITH(fit_weibull({Life::failed_before(100, 3)}), Contains("without end"));
}

TEST_CASE("impossible lives are refused by their place in the list") {
  CHECK_THROWS_WITH(fit_weibull({Life::failed_at(10), Life::failed_at(-5)}), Contains("life 1"));
  CHECK_THROWS_WITH(fit_weibull({Life::failed_at(0)}), Contains("hours above 0"));
  CHECK_THROWS_WITH(fit_weibull({Life::failed_between(20, 10)}), Contains("lower <= upper"));
  CHECK_THROWS_WITH(fit_weibull({Life::failed_at(10, 0)}), Contains("count above 0"));
  CHECK_THROWS_WITH(fit_weibull({Life{10, 10, 1, 20}}), Contains("entry"));
  CHECK_THROWS_WITH(kaplan_meier({Life::failed_before(10)}), Contains("Kaplan-Meier"));
}

TEST_CASE("a prior or a level that cannot be is refused with what was expected") {
  const std::vector<Life> lives{Life::failed_at(10), Life::sound_at(20)};
  WeibullPrior prior;
  prior.shape = WeibullPrior::LogNormal{0, 0.2};
  prior.scale = WeibullPrior::LogNormal{8000, 0.3};
  CHECK_THROWS_WITH(WeibullPosterior(lives, prior),
                    Contains("prior of the shape has median 0") && Contains("above 0"));
  prior.shape = WeibullPrior::LogNormal{2, 0.2};
  prior.scale = WeibullPrior::LogNormal{8000, -1};
  CHECK_THROWS_WITH(WeibullPosterior(lives, prior),
                    Contains("prior of the scale") && Contains("sigma -1"));
  prior.scale = WeibullPrior::LogNormal{8000, 0.3};
  const WeibullPosterior posterior(lives, prior);
  for (double level : {0.0, 1.0}) {
    CHECK_THROWS_WITH(posterior.shape_interval(level), Contains("between 0 and 1"));
    CHECK_THROWS_WITH(kaplan_meier(lives, level), Contains("between 0 and 1"));
  }
}

TEST_CASE("a Kaplan-Meier curve ends at zero when the last component failed") {
  const std::vector<SurvivalPoint> points =
      kaplan_meier({Life::failed_at(10), Life::sound_at(15), Life::failed_at(20)});
  CHECK(points[0].survival == Approx(2.0 / 3));
  CHECK(points.back().survival == 0);
  CHECK(points.back().interval == Interval{0, 0});
}

TEST_CASE("a Weibull quantile undoes its cumulative probability") {
  const Weibull weibull{1.7, 6000};
  CHECK(weibull.cdf(weibull.quantile(0.3)) == Approx(0.3));
  CHECK(weibull.cdf(0) == 0);
  CHECK((Weibull{1, 2500}).mean() == Approx(2500));
}
