// Empirical Bayes across classes against published and independently computed values.
#include <catch2/catch.hpp>

#include "priors/pooling.h"

using namespace faultodds::priors;

namespace {

// Gaver & O'Muircheartaigh 1987: failures of ten pumps, thousands of hours each.
std::vector<ClassCounts> ten_pumps() {
  const double failures[] = {5, 1, 5, 14, 3, 19, 1, 1, 4, 22};
  const double hours[] = {94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5};
  std::vector<ClassCounts> pumps;
  for (std::size_t i = 0; i < 10; ++i) {
    pumps.push_back({"pump " + std::to_string(i + 1), failures[i], hours[i]});
  }
  return pumps;
}

// Deaths after operations in twelve hospitals (the "surgical" example distributed with BUGS).
std::vector<ClassCounts> twelve_hospitals() {
  const double deaths[] = {0, 18, 8, 46, 8, 13, 9, 31, 14, 8, 29, 24};
  const double operations[] = {47, 148, 119, 810, 211, 196, 148, 215, 207, 97, 256, 360};
  std::vector<ClassCounts> hospitals;
  for (std::size_t i = 0; i < 12; ++i) {
    hospitals.push_back({std::string(1, static_cast<char>('A' + i)), deaths[i], operations[i]});
  }
  return hospitals;
}

}  // namespace

TEST_CASE("ten pumps: the spread of maximum marginal likelihood, to seven digits") {
  // Maximised with SciPy 1.17.1, scipy.optimize.minimize (Nelder-Mead, 1e-13).
  const PooledRates pooled = pool_rates(ten_pumps());
  CHECK(pooled.between.alpha == Approx(0.82296509).epsilon(1e-7));
  CHECK(pooled.between.beta == Approx(1.26165331).epsilon(1e-7));
  CHECK(pooled.log_likelihood == Approx(-32.25783630).epsilon(1e-9));
  CHECK_FALSE(pooled.no_spread_found);
}

TEST_CASE("ten pumps: the posterior rates of each pump") {
  const double expected[] = {0.06093412, 0.10747567, 0.0907546,  0.11647629, 0.58799891,
                             0.60691861, 0.78859796, 0.78859796, 1.43470032, 1.94045552};
  const PooledRates pooled = pool_rates(ten_pumps());
  for (std::size_t i = 0; i < 10; ++i) {
    CHECK(pooled.classes[i].mean == Approx(expected[i]).epsilon(1e-7));
  }
}

TEST_CASE("ten pumps: full Bayes published for the same data lies inside every interval") {
  // Posterior means with hyperpriors alpha ~ Exp(1), beta ~ Gamma(0.1, 1), the BUGS "pumps"
  // example.
  const double published[] = {0.0602, 0.1010, 0.0893, 0.1163, 0.5990,
                              0.6083, 0.8946, 0.8760, 1.5832, 1.9834};
  const PooledRates pooled = pool_rates(ten_pumps());
  for (std::size_t i = 0; i < 10; ++i) {
    CHECK(pooled.classes[i].interval.lower < published[i]);
    CHECK(published[i] < pooled.classes[i].interval.upper);
    CHECK(pooled.classes[i].mean == Approx(published[i]).epsilon(0.12));
  }
}

TEST_CASE("ten pumps: the less a pump has run, the more it is drawn to the common rate") {
  const PooledRates pooled = pool_rates(ten_pumps());
  for (const PooledClass& a : pooled.classes) {
    CHECK(a.shrinkage == Approx(pooled.between.beta / (pooled.between.beta + a.exposure)));
    // The pooled value lies between the raw rate and the common mean, in that proportion.
    CHECK(a.mean == Approx(a.shrinkage * pooled.between.mean() + (1 - a.shrinkage) * a.raw));
  }
}

TEST_CASE("twelve hospitals: the beta-binomial spread, to seven digits") {
  // Maximised with SciPy 1.17.1, scipy.stats.betabinom.logpmf and Nelder-Mead.
  const PooledProbabilities pooled = pool_probabilities(twelve_hospitals());
  CHECK(pooled.between.alpha == Approx(8.25348949).epsilon(1e-6));
  CHECK(pooled.between.beta == Approx(99.63686677).epsilon(1e-6));
  CHECK(pooled.log_likelihood == Approx(-38.75308896).epsilon(1e-9));
  const double expected[] = {0.05328601, 0.10259664, 0.07163588, 0.05910672,
                             0.0509689,  0.06993802, 0.06742532, 0.1215691,
                             0.0706706,  0.07932774, 0.10237559, 0.06893386};
  for (std::size_t i = 0; i < 12; ++i) {
    CHECK(pooled.classes[i].mean == Approx(expected[i]).epsilon(1e-6));
  }
}
