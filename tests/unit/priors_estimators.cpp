#include <catch2/catch.hpp>
#include <cmath>

#include "core/error.h"
#include "priors/estimators.h"

using namespace faultodds::priors;
using Catch::Contains;

TEST_CASE("shares are updated category by category and each has its interval") {
  const SharesEstimate shares = estimate_shares({93, 4, 3}, jeffreys_shares(3));
  CHECK(shares.posterior == Dirichlet{{93.5, 4.5, 3.5}});
  CHECK(shares.mean[0] + shares.mean[1] + shares.mean[2] == Approx(1));
  CHECK(shares.interval[1] == Beta{4.5, 97}.interval(0.90));
  CHECK(shares.interval[1].lower < shares.mean[1]);
  CHECK(shares.mean[1] < shares.interval[1].upper);
}

TEST_CASE("an expert's 19 to 1, worth 20 jobs, is a beta with 19 and 1") {
  const ExpertStatement statement = parse_expert_statement("19 to 1, worth 20 jobs");
  CHECK(statement.odds == std::vector<double>{19, 1});
  CHECK(statement.jobs == 20);
  CHECK(statement.probability().alpha == Approx(19));
  CHECK(statement.probability().beta == Approx(1));
}

TEST_CASE("odds are spread over the jobs they are worth, whatever they sum to") {
  const Dirichlet shares = parse_expert_statement("70:20:10 worth 15").shares();
  CHECK(shares.alpha[0] == Approx(10.5));
  CHECK(shares.alpha[1] == Approx(3));
  CHECK(shares.alpha[2] == Approx(1.5));
}

TEST_CASE("an expert's statement yields to records as if it were so many jobs") {
  const Beta said = parse_expert_statement("19 to 1, worth 20 jobs").probability();
  const ProbabilityEstimate p = estimate_probability(10, 20, said);
  CHECK(p.mean == Approx((19.0 + 10) / 40));
}

TEST_CASE("an expert's statement that cannot be read says what is wrong in it") {
  CHECK_THROWS_WITH(parse_expert_statement("19, worth 20 jobs"), Contains("only one number"));
  CHECK_THROWS_WITH(parse_expert_statement("19 to 1"), Contains("no word \"worth\""));
  CHECK_THROWS_WITH(parse_expert_statement("19 to 0, worth 20"), Contains("must be above 0"));
  CHECK_THROWS_WITH(parse_expert_statement("19 to one, worth 20"), Contains("no number"));
  CHECK_THROWS_WITH(parse_expert_statement("19 to 1, worth 20 jobs or so"), Contains("or so"));
  CHECK_THROWS_WITH(parse_expert_statement("19 to 1, worth inf"), Contains("above 0"));
  CHECK_THROWS_WITH(parse_expert_statement("70 to 20 to 10, worth 9").probability(),
                    Contains("2, as in"));
}

TEST_CASE("a constrained noninformative rate keeps the mean and half a failure's worth") {
  const Gamma prior = constrained_rate(2e-5);
  CHECK(prior.mean() == Approx(2e-5));
  CHECK(prior.alpha == 0.5);
}

TEST_CASE("a rate worth three failures moves half way after three failures' time without one") {
  const Gamma prior = rate_worth(1e-3, 3);
  CHECK(estimate_rate(0, 3000, prior).mean == Approx(0.5e-3));
}

TEST_CASE("no exposure is allowed only where the prior says something by itself") {
  CHECK(estimate_rate(0, 0, {2, 100}).mean == Approx(0.02));
  CHECK_THROWS_WITH(estimate_rate(0, 0), Contains("improper"));
}

TEST_CASE("impossible counts are refused by name") {
  CHECK_THROWS_WITH(estimate_probability(3, 2), Contains("failures is 3"));
  CHECK_THROWS_WITH(estimate_probability(-1, 2), Contains("failures is -1"));
  CHECK_THROWS_WITH(estimate_rate(1, NAN), Contains("exposure"));
  CHECK_THROWS_WITH(estimate_shares({1, 2}, jeffreys_shares(3)), Contains("number of counts"));
  CHECK_THROWS_WITH(rate_from_mtbf(250, 600), Contains("lower bound"));
  CHECK_THROWS_WITH(
      rate_from_mtbf(600, 250, 0.4),
      Contains("confidence of the lower bound is 0.4") && Contains("between 0.5 and 1"));
  CHECK_THROWS_WITH(rate_from_mtbf(600, 600 - 1e-9), Contains("ratio"));
}

TEST_CASE("a distribution says what it cannot be asked") {
  CHECK_THROWS_WITH((Beta{0, 1}.cdf(0.5)), Contains("alpha is 0") && Contains("above 0"));
  CHECK_THROWS_WITH((Gamma{1, INFINITY}.quantile(0.5)), Contains("beta is inf"));
  CHECK_THROWS_WITH((Beta{1, 1}.quantile(1.5)), Contains("probability is 1.5"));
  CHECK_THROWS_WITH((Gamma{1, 1}.quantile(-0.5)), Contains("probability is -0.5"));
  for (double level : {0.0, 1.0, -0.5, 1.5, double{NAN}}) {
    CAPTURE(level);
    CHECK_THROWS_WITH((Beta{1, 1}.interval(level)), Contains("between 0 and 1"));
  }
  for (double probability : {0.0, 1.0}) {
    CHECK_THROWS_WITH(normal_quantile(probability), Contains("between 0 and 1"));
  }
}

TEST_CASE("a distribution ends where it ends") {
  CHECK((Gamma{2, 3}.quantile(1)) == INFINITY);
  CHECK((Gamma{2, 3}.cdf(INFINITY)) == 1);
  CHECK((Gamma{2, 3}.cdf(-1)) == 0);
  CHECK((Beta{2, 3}.quantile(1)) == 1);
  CHECK((Beta{2, 3}.cdf(1)) == 1);
  CHECK((Beta{2, 3}.cdf(0)) == 0);
}

TEST_CASE("a wider level gives a wider interval") {
  const Interval usual = estimate_probability(3, 30).interval;
  const Interval wide = estimate_probability(3, 30, jeffreys_probability, 0.99).interval;
  CHECK(wide.lower < usual.lower);
  CHECK(wide.upper > usual.upper);
}
