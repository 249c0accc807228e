#include "priors/estimators.h"

#include <cmath>
#include <string>

#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::priors {
namespace {

[[noreturn]] void refuse(const std::string& what, double value, const std::string& expected) {
  throw Error(Code::invalid_argument, what + " is " + fixed_text(value) + "; expected " + expected);
}

void require_count(double value, const char* name) {
  if (!(value >= 0) || !std::isfinite(value)) refuse(name, value, "a finite number, 0 or more");
}

void require_above_zero(double value, const char* name) {
  if (!(value > 0) || !std::isfinite(value)) refuse(name, value, "a finite number above 0");
}

}  // namespace

Dirichlet jeffreys_shares(std::size_t categories) { return {std::vector<double>(categories, 0.5)}; }

Gamma constrained_rate(double mean) {
  require_above_zero(mean, "mean rate");
  return {0.5, 0.5 / mean};
}

Gamma rate_worth(double rate, double failures) {
  require_above_zero(rate, "rate");
  require_above_zero(failures, "worth in failures");
  return {failures, failures / rate};
}

Gamma rate_from_mtbf(double median_mtbf, double lower_mtbf, double lower_confidence) {
  require_above_zero(median_mtbf, "median time between failures");
  require_above_zero(lower_mtbf, "lower bound of the time between failures");
  if (lower_mtbf >= median_mtbf) {
    refuse("lower bound of the time between failures", lower_mtbf,
           "less than the median, " + fixed_text(median_mtbf));
  }
  if (!(lower_confidence > 0.5 && lower_confidence < 1)) {
    refuse("confidence of the lower bound", lower_confidence, "a number between 0.5 and 1");
  }
  // The ratio of the two quantiles depends on the shape alone and falls as it grows.
  const double wanted = std::log(median_mtbf / lower_mtbf);
  const auto log_ratio = [&](double shape) {
    const Gamma unit{shape, 1};
    return std::log(unit.quantile(lower_confidence) / unit.quantile(0.5));
  };
  double low = std::log(1e-2), high = std::log(1e8);
  if (wanted > log_ratio(std::exp(low)) || wanted < log_ratio(std::exp(high))) {
    refuse("ratio of median to lower bound", median_mtbf / lower_mtbf,
           "a ratio some gamma distribution of shape 0.01 to 1e8 has");
  }
  for (int i = 0; i < 200 && high - low > 1e-15; ++i) {
    const double middle = 0.5 * (low + high);
    (log_ratio(std::exp(middle)) > wanted ? low : high) = middle;
  }
  const double shape = std::exp(0.5 * (low + high));
  return {shape, Gamma{shape, 1}.quantile(0.5) * median_mtbf};
}

ProbabilityEstimate estimate_probability(double failures, double demands, const Beta& prior,
                                         double level) {
  require_count(failures, "failures");
  require_count(demands, "demands");
  if (failures > demands) {
    refuse("failures", failures, "no more than the demands, " + fixed_text(demands));
  }
  require_above_zero(prior.alpha, "alpha of the prior");
  require_above_zero(prior.beta, "beta of the prior");
  ProbabilityEstimate estimate;
  estimate.prior = prior;
  estimate.posterior = {prior.alpha + failures, prior.beta + (demands - failures)};
  estimate.mean = estimate.posterior.mean();
  estimate.interval = estimate.posterior.interval(level);
  return estimate;
}

RateEstimate estimate_rate(double failures, double exposure, const Gamma& prior, double level) {
  require_count(failures, "failures");
  require_count(exposure, "exposure");
  require_above_zero(prior.alpha, "alpha of the prior");
  require_count(prior.beta, "beta of the prior");
  RateEstimate estimate;
  estimate.prior = prior;
  estimate.posterior = {prior.alpha + failures, prior.beta + exposure};
  if (!(estimate.posterior.beta > 0)) {
    refuse("exposure", exposure, "more than 0, as the prior is improper");
  }
  estimate.mean = estimate.posterior.mean();
  estimate.interval = estimate.posterior.interval(level);
  return estimate;
}

SharesEstimate estimate_shares(const std::vector<double>& counts, const Dirichlet& prior,
                               double level) {
  if (counts.size() != prior.alpha.size() || counts.size() < 2) {
    refuse("number of counts", static_cast<double>(counts.size()),
           "as many as the prior has shares (" + std::to_string(prior.alpha.size()) +
               "), two or more");
  }
  SharesEstimate estimate;
  estimate.prior = prior;
  for (std::size_t i = 0; i < counts.size(); ++i) {
    require_count(counts[i], "count");
    require_above_zero(prior.alpha[i], "alpha of the prior");
    estimate.posterior.alpha.push_back(prior.alpha[i] + counts[i]);
  }
  for (std::size_t i = 0; i < counts.size(); ++i) {
    estimate.mean.push_back(estimate.posterior.mean(i));
    estimate.interval.push_back(estimate.posterior.marginal(i).interval(level));
  }
  return estimate;
}

Dirichlet ExpertStatement::shares() const {
  double total = 0;
  for (double part : odds) total += part;
  Dirichlet shares;
  for (double part : odds) shares.alpha.push_back(part / total * jobs);
  return shares;
}

Beta ExpertStatement::probability() const {
  if (odds.size() != 2) {
    refuse("number of odds", static_cast<double>(odds.size()), "2, as in \"19 to 1\"");
  }
  const Dirichlet both = shares();
  return {both.alpha[0], both.alpha[1]};
}

ExpertStatement parse_expert_statement(std::string_view text) {
  const std::string whole(text.substr(0, 200));
  const auto fail = [&](const std::string& where) {
    throw Error(Code::invalid_argument,
                "expert statement \"" + whole + "\": " + where +
                    "; expected odds and their worth, as in \"19 to 1, worth 20 jobs\"");
  };
  const auto skip_spaces = [&] {
    while (!text.empty() &&
           std::string_view(" \t\n\v\f\r").find(text.front()) != std::string_view::npos) {
      text.remove_prefix(1);
    }
  };
  const auto accept = [&](std::string_view word) {
    skip_spaces();
    if (!text.starts_with(word)) return false;
    text.remove_prefix(word.size());
    return true;
  };
  const auto number = [&](const char* what) {
    skip_spaces();
    double value = 0;
    const auto [end, error] = read_number(text.data(), text.data() + text.size(), value);
    if (error != std::errc{}) fail(std::string("no number where the ") + what + " should be");
    if (!(value > 0) || !std::isfinite(value)) fail(std::string(what) + " must be above 0");
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    return value;
  };
  ExpertStatement statement;
  statement.odds.push_back(number("odds"));
  while (accept("to") || accept(":")) statement.odds.push_back(number("odds"));
  if (statement.odds.size() < 2) fail("only one number of odds");
  accept(",");
  if (!accept("worth")) fail("no word \"worth\" after the odds");
  statement.jobs = number("worth");
  if (!accept("jobs")) accept("job");
  accept(".");
  skip_spaces();
  if (!text.empty()) fail("unexpected \"" + std::string(text) + "\" at its end");
  return statement;
}

}  // namespace faultodds::priors
