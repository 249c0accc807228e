// What records and judgement say of one probability, one set of shares or one rate: conjugate
// updates as in NUREG/CR-6823 chapter 6, each with its 90 % credible interval. Nothing is pooled
// across classes here (pooling.h) and nothing wears out (wear_out.h).
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "priors/distributions.h"

namespace faultodds::priors {

// Priors that say as little as they can. The gamma one is improper (beta 0) and is for updating
// only.
inline constexpr Beta jeffreys_probability{0.5, 0.5};
inline constexpr Gamma jeffreys_rate{0.5, 0.0};
Dirichlet jeffreys_shares(std::size_t categories);

// Constrained noninformative prior of a rate: mean kept, as spread as Jeffreys' (NUREG/CR-6823,
// section 6.2.2.5.3).
Gamma constrained_rate(double mean);

// Gamma prior whose median time between failures is `median_mtbf` and whose lower 95 % bound of it
// is `lower_mtbf` (NIST/SEMATECH e-Handbook 8.3.1.5). Needs 0 < lower_mtbf < median_mtbf.
Gamma rate_from_mtbf(double median_mtbf, double lower_mtbf, double lower_confidence = 0.95);

// Gamma prior from a best guess of the rate and its worth in failures seen.
Gamma rate_worth(double rate, double failures);

struct ProbabilityEstimate {
  Beta prior, posterior;
  double mean = 0;
  Interval interval;
};

struct RateEstimate {
  Gamma prior, posterior;
  double mean = 0;
  Interval interval;
};

struct SharesEstimate {
  Dirichlet prior, posterior;
  std::vector<double> mean;
  std::vector<Interval> interval;  // of each share by itself
};

// `failures` of `demands`. Counts may be expected (fractional) counts. Throws
// Error(invalid_argument) when negative, not finite or failures > demands.
ProbabilityEstimate estimate_probability(double failures, double demands,
                                         const Beta& prior = jeffreys_probability,
                                         double level = credible_level);

// `failures` in `exposure`. Exposure 0 is allowed where the prior is proper.
RateEstimate estimate_rate(double failures, double exposure, const Gamma& prior = jeffreys_rate,
                           double level = credible_level);

SharesEstimate estimate_shares(const std::vector<double>& counts, const Dirichlet& prior,
                               double level = credible_level);

// Judgement in the trade's words: odds and how many jobs it is worth.
struct ExpertStatement {
  std::vector<double> odds;  // 19, 1
  double jobs = 0;           // 20

  // Odds spread over the jobs: 19 to 1 worth 20 jobs is Dirichlet(19, 1).
  Dirichlet shares() const;
  // Of the first against the second; two odds only.
  Beta probability() const;
};

// Reads "19 to 1, worth 20 jobs", "19:1 worth 20", "70 to 20 to 10, worth 15.5 jobs". Throws
// Error(invalid_argument) that names what was expected.
ExpertStatement parse_expert_statement(std::string_view text);

}  // namespace faultodds::priors
