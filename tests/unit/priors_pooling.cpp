#include <catch2/catch.hpp>

#include "core/error.h"
#include "priors/estimators.h"
#include "priors/pooling.h"

using namespace faultodds::priors;
using Catch::Contains;

TEST_CASE("classes that differ no more than chance share one rate") {
  const PooledRates pooled = pool_rates(
      {{"rear loader", 10, 1000}, {"side loader", 10, 1000}, {"front loader", 20, 2000}});
  CHECK(pooled.no_spread_found);
  for (const PooledClass& c : pooled.classes) {
    CHECK(c.shrinkage == 1);
    CHECK(c.mean == Approx(40.5 / 4000));
    CHECK(c.interval == Gamma{40.5, 4000}.interval());
  }
}

TEST_CASE("classes that share one probability are pooled outright") {
  const PooledProbabilities pooled = pool_probabilities({{"a", 5, 100}, {"b", 5, 100}});
  CHECK(pooled.no_spread_found);
  CHECK(pooled.classes[0].interval == Beta{10.5, 190.5}.interval());
}

TEST_CASE("a class without records takes what the others have in common") {
  const PooledRates pooled = pool_rates({{"a", 2, 1000}, {"b", 40, 1000}, {"new", 0, 0}});
  CHECK(pooled.classes[2].shrinkage == 1);
  CHECK(pooled.classes[2].mean == Approx(pooled.between.mean()));
}

TEST_CASE("a class with many records stands nearly by itself") {
  const PooledRates pooled = pool_rates({{"a", 2, 1000}, {"b", 40, 1000}, {"c", 9000, 1e6}});
  CHECK(pooled.classes[2].shrinkage < 0.001);
  CHECK(pooled.classes[2].mean == Approx(9e-3).epsilon(1e-3));
}

TEST_CASE("an interval after pooling is wider than if the spread were known") {
  const PooledRates pooled = pool_rates({{"a", 2, 1000}, {"b", 40, 1000}, {"c", 9, 500}});
  const PooledClass& a = pooled.classes[0];
  const Interval known =
      Gamma{pooled.between.alpha + a.events, pooled.between.beta + a.exposure}.interval();
  CHECK(a.interval.upper - a.interval.lower > known.upper - known.lower);
}

TEST_CASE("the fitted spread is a maximum of the marginal likelihood") {
  const std::vector<ClassCounts> classes{{"a", 1, 40}, {"b", 12, 60}, {"c", 2, 90}, {"d", 9, 30}};
  const PooledProbabilities pooled = pool_probabilities(classes);
  for (double by : {0.9, 1.1}) {
    CHECK(log_marginal_likelihood(classes, Beta{pooled.between.alpha * by, pooled.between.beta}) <
          pooled.log_likelihood);
    CHECK(log_marginal_likelihood(classes, Beta{pooled.between.alpha, pooled.between.beta * by}) <
          pooled.log_likelihood);
  }
}

TEST_CASE("the fitted spread of rates is a maximum of the marginal likelihood") {
  const std::vector<ClassCounts> classes{{"a", 2, 1000}, {"b", 40, 1000}, {"c", 9, 500}};
  const PooledRates pooled = pool_rates(classes);
  for (double by : {0.9, 1.1}) {
    CHECK(log_marginal_likelihood(classes, Gamma{pooled.between.alpha * by, pooled.between.beta}) <
          pooled.log_likelihood);
    CHECK(log_marginal_likelihood(classes, Gamma{pooled.between.alpha, pooled.between.beta * by}) <
          pooled.log_likelihood);
  }
}

TEST_CASE("counts that cannot be pooled are refused, naming the class") {
  CHECK_THROWS_WITH(pool_rates({{"a", 1, 10}}), Contains("2 or more"));
  CHECK_THROWS_WITH(pool_rates({{"a", 0, 10}, {"b", 0, 10}}), Contains("some with"));
  CHECK_THROWS_WITH(pool_rates({{"a", 1, 10}, {"b", 1, 0}}), Contains("class b"));
  CHECK_THROWS_WITH(pool_probabilities({{"a", 1, 10}, {"b", 4, 3}}), Contains("class b"));
  CHECK_THROWS_WITH(pool_probabilities({{"a", 10, 10}, {"b", 3, 3}}), Contains("some without"));
}
