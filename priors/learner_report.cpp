// How sure what was learned through the circuit is: observed information, with what sites, booking
// and instruments that are not known take off it.
#include <algorithm>
#include <cmath>
#include <utility>

#include "priors/learner.h"
#include "priors/maximise.h"

namespace faultodds::priors {
namespace {

Grades with_log_odds(const Grades& theta, double change) {
  const double factor = std::exp(change);
  const double total = theta[0] + (theta[1] + theta[2]) * factor;
  return {theta[0] / total, theta[1] * factor / total, theta[2] * factor / total};
}

using Matrix = std::vector<std::vector<double>>;

Matrix square(std::size_t n) { return Matrix(n, std::vector<double>(n, 0)); }

Matrix product(const Matrix& a, const Matrix& b) {
  Matrix result(a.size(), std::vector<double>(b[0].size(), 0));
  for (std::size_t i = 0; i < a.size(); ++i) {
    for (std::size_t k = 0; k < b.size(); ++k) {
      for (std::size_t j = 0; j < b[k].size(); ++j) result[i][j] += a[i][k] * b[k][j];
    }
  }
  return result;
}

// By how much the log odds of all modes may be off together, as what is wrong with records mostly
// raises or lowers all of them; before any record. Working judgement.
constexpr double off_together = 0.3;

// Of an interval of a share, where records tell it; working judgement.
constexpr double most_untold = 0.2;

void make_symmetric(Matrix& m) {
  for (std::size_t i = 0; i < m.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) m[i][j] = m[j][i] = 0.5 * (m[i][j] + m[j][i]);
  }
}

}  // namespace

std::vector<std::vector<double>> Learner::scores(const State& state) {
  const Step step = expect(state);
  std::vector<std::vector<double>> result(sites_.size());
  for (std::size_t s = 0; s < sites_.size(); ++s) {
    for (std::size_t p = 0; p < parameters_.size(); ++p) {
      const Grades& n = step.counts[s][p];
      const double bad = n[1] + n[2];
      result[s].push_back(bad - (n[0] + bad) * (1 - state.at_site[s][p][0]));
    }
  }
  return result;
}

std::vector<Learner::Matrix> Learner::information(const State& state) {
  const std::size_t n = parameters_.size();
  std::vector<Matrix> result(sites_.size(), square(n));
  constexpr double by = 1e-4;
  const auto here = scores(state);
  for (std::size_t p = 0; p < n; ++p) {
    State up = state;
    for (std::vector<Grades>& theta : up.at_site) theta[p] = with_log_odds(theta[p], by);
    const auto ahead = scores(up);
    for (std::size_t s = 0; s < sites_.size(); ++s) {
      for (std::size_t q = 0; q < n; ++q) result[s][q][p] = -(ahead[s][q] - here[s][q]) / by;
    }
  }
  for (Matrix& one : result) make_symmetric(one);
  return result;
}

// By booking, oversight, and rows of outcomes against their first.
std::vector<double> Learner::nuisance_scores(const State& state, const Step& step) const {
  std::vector<double> result;
  if (options_.doubt_records) {
    for (std::size_t k = 0; k < doubts; ++k) {
      result.push_back(step.yes[k] - (step.yes[k] + step.no[k]) * state.share[k]);
    }
  }
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    for (std::size_t g = 0; g < 3; ++g) {
      const std::vector<double>& seen = step.outcomes[i].seen[g];
      double total = 0;
      for (const double count : seen) total += count;
      for (std::size_t k = 1; k < seen.size(); ++k) {
        result.push_back(seen[k] - total * state.models[i].matrix[g][k]);
      }
    }
  }
  return result;
}

Learner::ErrorInformation Learner::lost_to_errors(const State& state) {
  const std::size_t n = parameters_.size();
  const std::vector<double> none = nuisance_scores(state, nothing_counted());
  if (none.empty()) return {};
  prepare(state);
  Matrix both = square(none.size()), across(n, std::vector<double>(none.size(), 0));
  Workspace workspace;
  for (const Pattern& pattern : patterns_) {
    Step step = nothing_counted();
    add_record(state, pattern, workspace, step);
    if (options_.select_by_complaint && pattern.complaint) {
      add_silent(state, pattern.circuit, pattern.site, *pattern.complaint, pattern.jobs, workspace,
                 step);
    }
    const std::vector<double> errors = nuisance_scores(state, step);
    for (std::size_t i = 0; i < errors.size(); ++i) {
      if (errors[i] == 0) continue;
      for (std::size_t j = 0; j < errors.size(); ++j) {
        both[i][j] += errors[i] * errors[j] / pattern.jobs;
      }
      for (std::size_t p = 0; p < n; ++p) {
        const std::size_t s = pattern.site;
        const Grades &c = step.counts[s][p], &r = step.recorded[s][p];
        const double bad = c[1] + c[2] + r[1] + r[2];
        const double score = bad - (c[0] + r[0] + bad) * (1 - state.at_site[s][p][0]);
        across[p][i] += errors[i] * score / pattern.jobs;
      }
    }
  }
  std::size_t i = 0;
  Matrix by_borrowed;
  if (options_.doubt_records) {
    // Taken from other times: these records do not tell it.
    for (const Doubt booking : {not_told, said_seen}) {
      const std::size_t borrowed = untold(booking);
      for (std::size_t j = 0; j < none.size(); ++j) both[borrowed][j] = both[j][borrowed] = 0;
      by_borrowed.emplace_back();
      for (std::vector<double>& of_mode : across) {
        by_borrowed.back().push_back(std::exchange(of_mode[borrowed], 0.0));
      }
    }
    for (std::size_t k = 0; k < doubts; ++k, ++i) {
      const Beta& prior = doubt_prior[k];
      both[i][i] += (prior.alpha + prior.beta) * state.share[k] * (1 - state.share[k]);
    }
  }
  for (std::size_t group = 0; group < groups_.size(); ++group) {
    for (std::size_t g = 0; g < 3; ++g) {
      const std::vector<double>& row = state.models[group].matrix[g];
      for (std::size_t k = 1; k < row.size(); ++k) {
        for (std::size_t l = 1; l < row.size(); ++l) {
          both[i + k - 1][i + l - 1] +=
              options_.outcome_worth * ((k == l ? row[k] : 0) - row[k] * row[l]);
        }
      }
      i += row.size() - 1;
    }
  }
  const Matrix inverted = inverse(both);
  if (inverted.empty()) return {};
  Matrix transposed(none.size(), std::vector<double>(n, 0));
  for (std::size_t p = 0; p < n; ++p) {
    for (std::size_t e = 0; e < none.size(); ++e) transposed[e][p] = across[p][e];
  }
  Matrix lost = product(product(across, inverted), transposed);
  return {std::move(both), std::move(across), std::move(lost), std::move(by_borrowed)};
}

Learner::Covariance Learner::covariance(const State& state, const Step& step) {
  const std::size_t n = parameters_.size();
  std::vector<double> weights;
  const Level level = level_of(state, step, weights);
  std::vector<Matrix> by_site = information(state);
  Matrix pooled = square(n), prior = square(n), sites = square(n);
  const double spread = state.site_spread * state.site_spread;
  for (std::size_t p = 0; p < n; ++p) {
    const double not_sound = 1 - state.middle[p][0];
    prior[p][p] =
        parameters_[p].prior.weight() * not_sound * (1 - not_sound) + judged_closer(p, state);
  }
  for (const Matrix& one : by_site) {
    // What a site says of the middle: (I^-1 + spread)^-1 = (1 + spread I)^-1 I.
    Matrix widened = one;
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < n; ++j) widened[i][j] = spread * one[i][j] + (i == j ? 1 : 0);
    }
    const Matrix left = spread > 0 ? inverse(widened) : Matrix{};
    const Matrix of_middle = left.empty() ? one : product(left, one);
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < n; ++j) {
        pooled[i][j] += one[i][j];
        sites[i][j] += of_middle[i][j];
      }
    }
  }
  const auto with_prior = [&](Matrix m) {
    for (std::size_t p = 0; p < n; ++p) {
      m[p][p] += prior[p][p];
      for (std::size_t q = 0; q < n && faults_alone_; ++q) {
        m[p][q] += weights[p] * weights[q] / level.variance;
      }
    }
    make_symmetric(m);
    return m;
  };
  Covariance found;
  Matrix& result = found.modes;
  result = inverse(with_prior(sites));
  const ErrorInformation information = lost_to_errors(state);
  const Matrix& lost = information.lost;
  if (result.empty() || lost.empty()) return found;
  const Matrix known = inverse(with_prior(pooled));
  Matrix left = with_prior(pooled);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) left[i][j] -= lost[i][j];
  }
  const Matrix unknown = inverse(left);
  if (known.empty() || unknown.empty()) return found;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) result[i][j] += unknown[i][j] - known[i][j];
  }
  if (!options_.doubt_records) return found;
  // What is taken from other times is as well known as before any record.
  for (std::size_t k = 0; k < information.by_borrowed.size(); ++k) {
    const Doubt borrowed = untold(k == 0 ? not_told : said_seen);
    const Beta& before = doubt_prior[borrowed];
    const double share = state.share[borrowed];
    const double spread_of = 1 / ((before.alpha + before.beta) * share * (1 - share));
    const Matrix moved = product(unknown, [&] {
      Matrix column;
      for (const double score : information.by_borrowed[k]) column.push_back({score});
      return column;
    }());
    for (std::size_t i = 0; i < n; ++i) {
      for (std::size_t j = 0; j < n; ++j) result[i][j] += spread_of * moved[i][0] * moved[j][0];
    }
  }
  // Errors are known as far as modes are: the information less what not knowing these takes off.
  Matrix errors = information.errors;
  const Matrix by_mode = product(known, information.across);
  for (std::size_t i = 0; i < errors.size(); ++i) {
    for (std::size_t j = 0; j < errors.size(); ++j) {
      for (std::size_t p = 0; p < n; ++p) errors[i][j] -= information.across[p][i] * by_mode[p][j];
    }
  }
  make_symmetric(errors);
  found.doubts = inverse(std::move(errors));
  return found;
}

Booked Learner::booked_unseen(Doubt kind, const State& state, const Step& step,
                              const Matrix& variance) const {
  const Beta& before = doubt_prior[kind];
  double unseen = 0;
  for (std::size_t i = 0; i < looks_told_apart; ++i) unseen += step.yes[kind + i];
  const double findings = unseen + step.seen[kind == said_seen];
  if (findings == 0 || variance.empty()) return {before.mean(), before.interval(), false};
  double spread = 0;
  for (std::size_t i = 0; i < looks_told_apart; ++i) {
    for (std::size_t j = 0; j < looks_told_apart; ++j) {
      const auto of = [&](std::size_t k) {  // findings unseen by the log odds of the share
        return (step.yes[k] + step.no[k]) * state.share[k] * (1 - state.share[k]) / findings;
      };
      spread += of(kind + i) * of(kind + j) * variance[kind + i][kind + j];
    }
  }
  Booked booked;
  booked.share = unseen / findings;
  const double whole = booked.share * (1 - booked.share);
  const double worth = std::max(whole / std::max(spread, 1e-12) - 1, 1.0);
  booked.interval = Beta{booked.share * worth, (1 - booked.share) * worth}.interval();
  // Where sound parts are not written down, a part that was found faulty and one that was booked
  // look alike.
  booked.told = !sound_untold_ && booked.interval.upper - booked.interval.lower < most_untold;
  return booked;
}

// Judgement is off in each mode by itself: where all have moved the same way, records may have.
Learner::CommonOff Learner::common_off(const State& state, const Matrix& variance) const {
  if (!options_.doubt_records || variance.empty() || faults_alone_) return {};
  double weights = 1 / (off_together * off_together), sum = 0;
  for (std::size_t p = 0; p < parameters_.size(); ++p) {
    const Grades judged = mean_of(parameters_[p].prior, {});
    const double worth =
        parameters_[p].prior.weight() * judged[0] * (1 - judged[0]) + judged_closer(p, state);
    const double moved = std::log((1 - state.middle[p][0]) / state.middle[p][0]) -
                         std::log((1 - judged[0]) / judged[0]);
    const double known = 1 / variance[p][p];
    if (!(known > 2 * worth)) continue;  // records say less than judgement
    const double weight = 1 / (1 / worth + variance[p][p]);
    weights += weight;
    sum += weight * moved;
  }
  return {sum / weights, 1 / weights};
}

void Learner::report(const State& state, const Step& step, Learned& learned) {
  const std::size_t n = parameters_.size();
  const Covariance known_to = options_.intervals ? covariance(state, step) : Covariance{};
  const Matrix& variance = known_to.modes;
  const CommonOff off = common_off(state, variance);
  for (std::size_t p = 0; p < n; ++p) {
    LearnedMode mode;
    mode.prior = parameters_[p].prior;
    for (std::size_t s = 0; s < sites_.size(); ++s) {
      for (std::size_t g = 0; g < 3; ++g) mode.counts[g] += step.recorded[s][p][g];
    }
    Grades theta = state.middle[p];
    const double spread = theta[0] * (1 - theta[0]);
    // Worth in fully seen jobs; never less than the judgement where the curvature is lost.
    double worth = mode.prior.weight();
    if (!variance.empty() && variance[p][p] > 0) {
      // What other modes tell of judgement counts no more than the records of this one.
      const double closer = judged_closer(p, state);
      const double judged = worth * spread + closer, known = 1 / variance[p][p];
      const double unseen = options_.unseen_spread * options_.unseen_spread + off.variance;
      const double records = std::max(0.0, known - judged);
      theta = with_log_odds(theta, -off.mean * records / (records + judged));
      const double left =
          judged - std::max(0.0, closer - records) + records / (1 + unseen * records);
      worth = std::max(left / (theta[0] * (1 - theta[0])), 1e-3);
    }
    for (std::size_t g = 0; g < 3; ++g) {
      mode.posterior.alpha.push_back(std::max(theta[g] * worth, 1e-9));
    }
    mode.not_sound = 1 - theta[0];
    const Beta sound = mode.posterior.marginal(0);
    mode.not_sound_interval = Beta{sound.beta, sound.alpha}.interval();
    learned.modes.emplace(parameters_[p].name, std::move(mode));
  }
  for (std::size_t p = 0; p < variance.size(); ++p) {
    for (std::size_t q = 0; q < p; ++q) {
      const double both = variance[p][p] * variance[q][q];
      const double correlation = both > 0 ? variance[p][q] / std::sqrt(both) : 0;
      if (correlation > -0.7) continue;
      learned.not_told_apart.push_back({parameters_[q].name, parameters_[p].name, correlation});
    }
  }
  std::sort(
      learned.not_told_apart.begin(), learned.not_told_apart.end(),
      [](const NotToldApart& a, const NotToldApart& b) { return a.correlation < b.correlation; });
  for (std::size_t i = 0; i < groups_.size() && options_.learn_outcomes; ++i) {
    learned.outcomes.push_back({groups_[i].id, groups_[i].kind, state.models[i]});
  }
  learned.errors.booked_unseen = booked_unseen(not_told, state, step, known_to.doubts);
  learned.errors.confirmed_wrong = booked_unseen(said_seen, state, step, known_to.doubts);
  learned.errors.overlooked = state.share[overlooked];
  learned.errors.unexplained = state.share[unexplained];
  learned.errors.site_spread = state.site_spread;
  learned.errors.sites = sites_.size();
  learned.errors.faults_alone = faults_alone_;
  for (const Pattern& pattern : patterns_) {
    for (const Finding& finding : pattern.example->findings) {
      if (finding.confirmed == false) {
        learned.errors.not_looked_at += static_cast<std::size_t>(pattern.jobs);
      }
    }
  }
}

}  // namespace faultodds::priors
