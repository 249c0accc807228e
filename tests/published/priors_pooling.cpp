// Empirical Bayes across classes against published values and values computed with SciPy 1.17.1,
// which priors_reference.py prints again. Maxima are compared to nine digits: the reference's
// gradient is taken by differences and is good to about ten.
#include <catch2/catch.hpp>

#include "priors/pooling.h"

namespace priors_pooling {

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

Approx nine_digits(double value) { return Approx(value).epsilon(1e-9).margin(0); }

}  // namespace

TEST_CASE("ten pumps: the spread of maximum marginal likelihood, to nine digits") {
  const PooledRates pooled = pool_rates(ten_pumps());
  CHECK(pooled.between.alpha == nine_digits(0.8229650786381));
  CHECK(pooled.between.beta == nine_digits(1.261653280306));
  CHECK(pooled.log_likelihood == Approx(-32.25783630333).epsilon(1e-12));
  CHECK_FALSE(pooled.no_spread_found);
}

TEST_CASE("ten pumps: the posterior rates of each pump, to nine digits") {
  const double expected[] = {0.06093411822374, 0.1074756716525, 0.09075459843902, 0.1164762887843,
                             0.5879989156324,  0.606918606003,  0.7885979675968,  0.7885979675968,
                             1.434700332391,   1.940455523957};
  const PooledRates pooled = pool_rates(ten_pumps());
  for (std::size_t i = 0; i < 10; ++i) CHECK(pooled.classes[i].mean == nine_digits(expected[i]));
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

TEST_CASE("twelve hospitals: the beta-binomial spread, to nine digits") {
  const PooledProbabilities pooled = pool_probabilities(twelve_hospitals());
  // Only the mean of the spread is sharp: its weight is where the likelihood is flattest.
  CHECK(pooled.between.mean() == nine_digits(8.253488179014 / (8.253488179014 + 99.63684840882)));
  CHECK(pooled.between.alpha == Approx(8.253488179014).epsilon(1e-8));
  CHECK(pooled.between.beta == Approx(99.63684840882).epsilon(1e-8));
  CHECK(pooled.log_likelihood == Approx(-38.75308896441).epsilon(1e-12));
  const double expected[] = {0.05328601099871, 0.1025966377984,  0.07163587671228,
                             0.05910672115876, 0.05096889530404, 0.06993801914748,
                             0.06742532136649, 0.1215691017385,  0.07067059732653,
                             0.0793277440493,  0.1023755907572,  0.06893386261026};
  for (std::size_t i = 0; i < 12; ++i) CHECK(pooled.classes[i].mean == nine_digits(expected[i]));
}

}  // namespace priors_pooling
