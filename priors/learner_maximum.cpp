// The M step of learning through the circuit, and what makes EM's steps longer.
#include <algorithm>
#include <cmath>

#include "priors/learner.h"

namespace faultodds::priors {
namespace {

double share(const Beta& prior, double yes, double no) {
  return (prior.alpha + yes) / (prior.alpha + prior.beta + yes + no);
}

double log_odds(double p) { return std::log(std::max(p, 1e-300) / std::max(1 - p, 1e-300)); }

double probability(double log_odds) { return 1 / (1 + std::exp(-log_odds)); }

// Grades with that probability of not sound.
Grades grades_of(double not_sound, double failed) {
  return {1 - not_sound, not_sound * (1 - failed), not_sound * failed};
}

// Of a distribution against its first, and back from them.
template <typename List>
void put_ratios(const List& shares, std::vector<double>& to) {
  for (std::size_t i = 1; i < shares.size(); ++i) {
    to.push_back(std::log(std::max(shares[i], 1e-300) / std::max(shares[0], 1e-300)));
  }
}

template <typename List>
void take_ratios(const std::vector<double>& from, std::size_t& next, List& shares) {
  double total = 1;
  shares[0] = 1;
  for (std::size_t i = 1; i < shares.size(); ++i) {
    total += shares[i] = std::exp(std::clamp(from[next++], -60.0, 60.0));
  }
  for (double& p : shares) p /= total;
}

}  // namespace

Level Learner::level_of(const State& state, const Step& step, std::vector<double>& weights) const {
  std::vector<LevelCounts> modes;
  for (std::size_t p = 0; p < parameters_.size(); ++p) {
    const Grades judged = mean_of(parameters_[p].prior, {});
    const double worth = parameters_[p].prior.weight(), odds = state.middle[p][0];
    double faults = 0;
    for (const std::vector<Grades>& site : step.recorded) faults += site[p][1] + site[p][2];
    // Against what those odds are of such faults, as common_level counts them.
    modes.push_back(
        {faults, (faults + 0.5) * odds / (1 - odds), worth * (1 - judged[0]), worth * judged[0]});
  }
  const Level level = common_level(modes);
  weights.clear();
  double total = 0;
  for (const LevelCounts& mode : modes) {
    weights.push_back(1 / (level.spread * level.spread + 1 / (mode.faults + 0.5)));
    total += weights.back();
  }
  for (double& weight : weights) weight /= total;
  return level;
}

void Learner::hold_level(const Step& step, State& state) const {
  std::vector<double> weights;
  const double off = level_of(state, step, weights).log_factor;
  const auto shift = [&](Grades& g) {
    g = grades_of(probability(log_odds(1 - g[0]) - off), g[2] / (g[1] + g[2]));
  };
  for (Grades& g : state.middle) shift(g);
  for (std::vector<Grades>& site : state.at_site) std::for_each(site.begin(), site.end(), shift);
}

State Learner::maximise(const State& state, const Step& step, bool spread_too) const {
  State next = state;
  double spread = spread_worth * spread_before * spread_before, modes = spread_worth;
  for (std::size_t p = 0; p < parameters_.size(); ++p) {
    if (sites_.size() == 1) {
      maximise_one(p, step, next);
    } else {
      maximise_sites(p, step, next, spread, modes);
    }
  }
  if (options_.doubt_records && spread_too) {
    std::vector<double> weights;
    next.judged_spread = level_of(next, step, weights).spread;
  }
  if (faults_alone_) hold_level(step, next);
  if (spread_too && sites_.size() > 1) next.site_spread = std::sqrt(spread / modes);
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    const OutcomeCounts& counts = step.outcomes[i];
    const circuit::OutcomeModel& start = groups_[i].start;
    const auto shared_out = [](std::vector<double> parts) {
      double total = 0;
      for (const double part : parts) total += part;
      for (double& part : parts) part /= total;
      return parts;
    };
    for (std::size_t g = 0; g < 3; ++g) {
      std::vector<double> row = counts.seen[g];
      for (std::size_t k = 0; k < row.size(); ++k) {
        row[k] += options_.outcome_worth * start.matrix[g][k];
      }
      next.models[i].matrix[g] = shared_out(row);
    }
    // A background of no weight to begin with is not learned: it says the test sees nothing else.
    std::vector<double> background;
    for (std::size_t b = 0; b < 3; ++b) {
      background.push_back(counts.background[b] +
                           options_.outcome_worth * background_worth * (*start.background)[b]);
    }
    background = shared_out(background);
    std::copy(background.begin(), background.end(), next.models[i].background->begin());
  }
  if (!options_.doubt_records) return next;
  for (std::size_t k = 0; k < doubts; ++k) {
    next.share[k] = share(doubt_prior[k], step.yes[k], step.no[k]);
  }
  // How often the next look is faulty says nothing when sound parts are not told: as at other
  // times.
  for (const Doubt booking : {not_told, said_seen}) {
    double unseen = 0;
    for (std::size_t k = 0; k < looks_told_apart; ++k) unseen += step.yes[booking + k];
    next.share[untold(booking)] =
        share(doubt_prior[untold(booking)], unseen, step.seen[booking == said_seen]);
  }
  return next;
}

double Learner::judged_closer(std::size_t p, const State& state) const {
  if (!(state.judged_spread > 0)) return 0;
  const Dirichlet& prior = parameters_[p].prior;
  const double sound = prior.mean(0);
  return std::max(
      0.0, 1 / (state.judged_spread * state.judged_spread) - prior.weight() * sound * (1 - sound));
}

void Learner::maximise_one(std::size_t p, const Step& step, State& state) const {
  const Dirichlet& prior = parameters_[p].prior;
  Grades& grades = state.middle[p];
  grades = mean_of(prior, step.counts[0][p]);
  const double closer = judged_closer(p, state);
  if (closer > 0) {
    const double part = grades[2] / (grades[1] + grades[2]), judged = log_odds(1 - prior.mean(0));
    double total = prior.weight();
    for (const double count : step.counts[0][p]) total += count;
    const double bad = total * (1 - grades[0]);
    double at = log_odds(1 - grades[0]);
    for (int iteration = 0; iteration < 50; ++iteration) {
      const double here = probability(at);
      const double move =
          (bad - total * here + closer * (judged - at)) / (total * here * (1 - here) + closer);
      at += std::clamp(move, -1.0, 1.0);
      if (std::abs(move) < 1e-12) break;
    }
    grades = grades_of(probability(at), part);
  }
  state.at_site[0][p] = grades;
}

// Newton's method; the sites' own offsets are eliminated from each step.
void Learner::maximise_sites(std::size_t p, const Step& step, State& state, double& spread,
                             double& modes) const {
  const std::vector<double>& alpha = parameters_[p].prior.alpha;
  const double precision = 1 / (state.site_spread * state.site_spread);
  const double closer = judged_closer(p, state);
  const double judged = log_odds(1 - parameters_[p].prior.mean(0));
  double middle = log_odds(1 - state.middle[p][0]);
  std::vector<double> off;
  double worn = alpha[1], failed = alpha[2], bad_prior = alpha[1] + alpha[2];
  for (std::size_t s = 0; s < sites_.size(); ++s) {
    off.push_back(log_odds(1 - state.at_site[s][p][0]) - middle);
    worn += step.counts[s][p][1];
    failed += step.counts[s][p][2];
  }
  std::vector<double> curvature(sites_.size()), slope(sites_.size()), shared(sites_.size());
  for (int iteration = 0; iteration < 50; ++iteration) {
    const double p0 = probability(middle), worth = alpha[0] + bad_prior;
    double g = bad_prior - worth * p0 + closer * (judged - middle);
    double h = worth * p0 * (1 - p0) + closer;
    for (std::size_t s = 0; s < sites_.size(); ++s) {
      const Grades& n = step.counts[s][p];
      const double total = n[0] + n[1] + n[2], here = probability(middle + off[s]);
      shared[s] = total * here * (1 - here);
      curvature[s] = shared[s] + precision;
      slope[s] = n[1] + n[2] - total * here - off[s] * precision;
      g += n[1] + n[2] - total * here - shared[s] / curvature[s] * slope[s];
      h += shared[s] - shared[s] * shared[s] / curvature[s];
    }
    const double move = std::clamp(g / h, -1.0, 1.0);
    middle += move;
    double moved = std::abs(move);
    for (std::size_t s = 0; s < sites_.size(); ++s) {
      const double by = std::clamp((slope[s] - shared[s] * move) / curvature[s], -1.0, 1.0);
      off[s] += by;
      moved = std::max(moved, std::abs(by));
    }
    if (moved < 1e-10) break;
  }
  const double part = failed / (worn + failed);
  state.middle[p] = grades_of(probability(middle), part);
  for (std::size_t s = 0; s < sites_.size(); ++s) {
    state.at_site[s][p] = grades_of(probability(middle + off[s]), part);
    // Sites that say next to nothing of a mode say nothing of how they differ in it.
    const double said = said_.empty() ? shared[s] : said_[s][p] * shared[s];
    if (said * state.site_spread * state.site_spread < 0.05) continue;
    spread += off[s] * off[s] + 1 / (said + precision);
    modes += 1;
  }
}

std::vector<double> Learner::coordinates(const State& state) const {
  std::vector<double> result;
  for (const Grades& grades : state.middle) put_ratios(grades, result);
  for (const std::vector<Grades>& theta : state.at_site) {
    if (sites_.size() == 1) break;
    for (const Grades& grades : theta) put_ratios(grades, result);
  }
  for (const circuit::OutcomeModel& model : state.models) {
    for (const std::vector<double>& row : model.matrix) put_ratios(row, result);
    put_ratios(*model.background, result);
  }
  for (const double of_cases : state.share) result.push_back(log_odds(of_cases));
  return result;
}

State Learner::at(const std::vector<double>& coordinates, const State& like) const {
  State state = like;
  std::size_t next = 0;
  for (Grades& grades : state.middle) take_ratios(coordinates, next, grades);
  for (std::vector<Grades>& theta : state.at_site) {
    if (sites_.size() == 1) {
      theta = state.middle;
      break;
    }
    for (Grades& grades : theta) take_ratios(coordinates, next, grades);
  }
  for (circuit::OutcomeModel& model : state.models) {
    for (std::vector<double>& row : model.matrix) take_ratios(coordinates, next, row);
    take_ratios(coordinates, next, *model.background);
  }
  if (!options_.doubt_records) return state;
  for (double& of_cases : state.share) of_cases = probability(coordinates[next++]);
  return state;
}

State Learner::extrapolate(const State& start, const State& first, const State& second,
                           const Step& at_first) const {
  const std::vector<double> x0 = coordinates(start), x1 = coordinates(first),
                            x2 = coordinates(second);
  double step = 0, bend = 0;
  for (std::size_t i = 0; i < x0.size(); ++i) {
    const double r = x1[i] - x0[i], v = x2[i] - x1[i] - r;
    step += r * r;
    bend += v * v;
  }
  const double length = bend > 0 ? std::clamp(std::sqrt(step / bend), 1.0, 64.0) : 1.0;
  std::vector<double> far;
  for (std::size_t i = 0; i < x0.size(); ++i) {
    const double r = x1[i] - x0[i], v = x2[i] - x1[i] - r;
    far.push_back(x0[i] + 2 * length * r + length * length * v);
  }
  State reached = at(far, second);
  if (faults_alone_) hold_level(at_first, reached);
  return reached;
}

}  // namespace faultodds::priors
