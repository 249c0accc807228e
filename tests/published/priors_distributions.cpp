// Beta and gamma distributions against SciPy 1.17.1 (scipy.stats.beta.ppf, scipy.stats.gamma.ppf,
// cdf), to ten significant digits. priors_reference.py prints the quantiles again.
#include <catch2/catch.hpp>
#include <cmath>

#include "core/error.h"
#include "priors/distributions.h"

using namespace faultodds::priors;

namespace {

Approx ten_digits(double value) { return Approx(value).epsilon(1e-10).margin(0); }

struct Row {
  double a, b, q05, q50, q95;
};

}  // namespace

TEST_CASE("beta quantiles agree with SciPy, from 1e-131 to near 1") {
  const Row rows[] = {
      {0.5, 0.5, 0.00615582970243, 0.5, 0.993844170298},
      {1.5, 7.5, 0.0224646655483, 0.141731755101, 0.396673166886},
      {5.2, 160.1, 0.0128397250123, 0.0295849412183, 0.0564758879431},
      {0.436, 353, 2.22896806068e-06, 0.00049274793216, 0.00497172122621},
      {5.5, 44800, 5.10543142377e-05, 0.0001154004698, 0.000219553456037},
      {0.01, 3, 1.77115626506e-131, 1.77115626506e-31, 0.00133279327876},
      {250, 2000, 0.100415464151, 0.110995882928, 0.122199841412},
      {0.5, 1e6, 1.96607048959e-09, 2.27468242556e-07, 1.92072804593e-06},
  };
  for (const Row& row : rows) {
    const Beta beta{row.a, row.b};
    CAPTURE(row.a, row.b);
    CHECK(beta.quantile(0.05) == ten_digits(row.q05));
    CHECK(beta.quantile(0.50) == ten_digits(row.q50));
    CHECK(beta.quantile(0.95) == ten_digits(row.q95));
  }
}

TEST_CASE("gamma quantiles agree with SciPy, from tiny to large shapes") {
  const Row rows[] = {
      {0.5, 1, 0.00196607000001, 0.22746821156, 1.92072941035},
      {3.53, 19.83, 0.0554815620048, 0.161515258644, 0.356895301917},
      {58.5, 806745000, 5.76550174231e-08, 7.21008576894e-08, 8.87803130381e-08},
      {3.5, 9165160, 1.18238520075e-07, 3.46192057505e-07, 7.67424706679e-07},
      {0.01, 1, 4.46553501891e-131, 4.46553501891e-31, 0.00336262399807},
      {1e4, 2, 4918.04255543, 4999.83333432, 5082.52595598},
      {1.3, 0.2, 0.591351960444, 4.92999524722, 17.7721473493},
  };
  for (const Row& row : rows) {
    const Gamma gamma{row.a, row.b};
    CAPTURE(row.a, row.b);
    CHECK(gamma.quantile(0.05) == ten_digits(row.q05));
    CHECK(gamma.quantile(0.50) == ten_digits(row.q50));
    CHECK(gamma.quantile(0.95) == ten_digits(row.q95));
  }
}

TEST_CASE("cumulative probabilities agree with SciPy") {
  CHECK(Beta{0.5, 0.5}.cdf(0.1) == ten_digits(0.204832764699));
  CHECK(Beta{1.5, 7.5}.cdf(0.1) == ten_digits(0.34766617762));
  CHECK(Beta{250, 2000}.cdf(0.1) == ten_digits(0.0434946211576));
  CHECK(Gamma{0.5, 1}.cdf(0.5) == ten_digits(0.682689492137));
  CHECK(Gamma{1e4, 2}.cdf(5000) == ten_digits(0.50132980834));
}

TEST_CASE("digamma, trigamma, log gamma and the normal quantile agree with SciPy") {
  CHECK(digamma(0.3) == ten_digits(-3.502524222200133));
  CHECK(trigamma(0.3) == ten_digits(12.245364546107734));
  CHECK(log_gamma(1234.5) == ten_digits(7550.550901077894));
  CHECK(normal_quantile(0.05) == ten_digits(-1.6448536269514729));
}

TEST_CASE("a quantile undoes the cumulative probability") {
  for (double p : {0.001, 0.05, 0.5, 0.95, 0.999}) {
    CHECK(Beta{2.3, 0.7}.cdf(Beta{2.3, 0.7}.quantile(p)) == ten_digits(p));
    CHECK(Gamma{0.7, 31}.cdf(Gamma{0.7, 31}.quantile(p)) == ten_digits(p));
  }
}

TEST_CASE("outside its range a distribution has no probability left to give") {
  CHECK(Beta{2, 3}.cdf(-0.1) == 0);
  CHECK(Beta{2, 3}.cdf(1.1) == 1);
  CHECK(Gamma{2, 3}.cdf(-1) == 0);
  CHECK(Gamma{2, 3}.cdf(INFINITY) == 1);
}

TEST_CASE("the marginal of a Dirichlet share is the beta of it against the rest") {
  const Dirichlet shares{{19, 0.5, 0.25}};
  CHECK(shares.marginal(0) == Beta{19, 0.75});
  CHECK(shares.mean(1) == Approx(0.5 / 19.75));
}

TEST_CASE("parameters and probabilities out of range are refused by name") {
  using faultodds::Error;
  CHECK_THROWS_AS((Beta{0, 1}.quantile(0.5)), Error);
  CHECK_THROWS_WITH((Gamma{1, -2}.cdf(0.5)), Catch::Contains("beta is -2"));
  CHECK_THROWS_WITH((Beta{1, 1}.quantile(1.5)), Catch::Contains("from 0 to 1"));
  CHECK_THROWS_WITH((Beta{1, 1}.interval(1)), Catch::Contains("level is 1"));
}
