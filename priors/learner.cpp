#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <tuple>

#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/hydraulics/effect.h"
#include "core/in_parallel.h"
#include "core/reading/reading.h"
#include "priors/estimators.h"
#include "priors/learner.h"
#include "priors/maximise.h"

namespace faultodds::priors {

Learner::Learner(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                 const std::map<ModeName, Dirichlet>& judgement, const LearnOptions& options)
    : circuits_(circuits), options_(options), takes_tree_(circuits.size(), false) {
  for (const circuit::Analysis& analysis : circuits) {
    std::vector<std::size_t> of_mode;
    for (const circuit::FailureMode& mode : analysis.modes) {
      of_mode.push_back(mode.prior_is_own ? fixed : parameter(mode, judgement));
    }
    parameter_of_.push_back(std::move(of_mode));
    std::vector<std::size_t> of_observation;
    for (const circuit::Observation& observation : analysis.observations) {
      of_observation.push_back(learns_instruments() ? group(observation) : fixed);
    }
    group_of_.push_back(std::move(of_observation));
    conditions_.emplace_back();
    if (!analysis.conditions.empty()) conditions_.back() = diagnosis::mode_conditions(analysis);
  }
  if (options_.doubt_records) see_what_is_told(jobs);
  make_patterns(jobs);
  records_of_.resize(circuits.size());
  for (const Pattern& pattern : patterns_) {
    records_of_[pattern.circuit].push_back(&pattern);
    if (!pattern.complaint || !options_.select_by_complaint) continue;
    const auto [at, added] =
        silent_plan_.emplace(std::pair(pattern.circuit, *pattern.complaint), plans_.size());
    if (added) {
      std::set<std::uint32_t> named;
      if (faults_alone_) named = suspects(pattern.circuit, *pattern.complaint);
      plans_.emplace_back(circuits_[pattern.circuit], conditions_[pattern.circuit],
                          std::vector<std::uint32_t>{*pattern.complaint},
                          std::vector<std::uint32_t>{named.begin(), named.end()});
      if (!plans_.back().affordable()) takes_tree_[pattern.circuit] = true;
    }
  }
  observations_.resize(circuits.size());
  tables_.resize(circuits.size());
  compiled_.resize(circuits.size());
  own_priors_.resize(circuits.size());
}

State Learner::first_state() const {
  State state;
  for (const Parameter& p : parameters_) state.middle.push_back(mean_of(p.prior, {}));
  state.at_site.assign(sites_.size(), state.middle);
  for (const OutcomeGroup& group : groups_) state.models.push_back(group.start);
  if (options_.doubt_records) {
    for (std::size_t k = 0; k < doubts; ++k) state.share[k] = doubt_prior[k].mean();
    state.site_spread = sites_.size() > 1 ? spread_before : 0;
    state.judged_spread = 1;
  }
  return state;
}

Learned Learner::run(std::size_t jobs) {
  State state = first_state();
  Learned learned;
  learned.jobs = jobs;
  learned.patterns = patterns_.size();
  Step step = climb(state, learned);
  if (sites_.size() > 1 && options_.doubt_records) {
    see_what_sites_say(state, step);
    step = climb(state, learned);
  }
  learned.log_likelihood = step.log_likelihood;
  report(state, step, learned);
  return learned;
}

// EM, each pair of steps followed by an extrapolation (Varadhan & Roland 2008, SQUAREM) that is
// kept only if it raises the log posterior.
Learner::Step Learner::climb(State& state, Learned& learned) {
  learned.converged = false;
  Step step = expect(state);
  for (; learned.iterations < options_.most_iterations && !learned.converged;) {
    ++learned.iterations;
    const State first = maximise(state, step, true);
    const Step at_first = expect(first);
    const State second = maximise(first, at_first, false);
    const double moved = farthest(first, second);
    if (options_.progress && !options_.progress(learned.iterations, at_first.log_posterior)) {
      throw Error(Code::cancelled, "learning was cancelled after " +
                                       std::to_string(learned.iterations) + " iterations");
    }
    if (moved < options_.tolerance) {
      state = second;
      learned.converged = true;
      break;
    }
    const State far = extrapolate(state, first, second, at_first);
    Step at_far = expect(far);
    if (at_far.log_posterior >= at_first.log_posterior) {
      state = far;
      step = std::move(at_far);
    } else {
      state = second;
      step = expect(state);
    }
  }
  return expect(state);
}

void Learner::see_what_sites_say(const State& state, const Step& step) {
  const std::vector<Matrix> told = information(state);
  said_.assign(sites_.size(), std::vector<double>(parameters_.size(), 1));
  for (std::size_t s = 0; s < sites_.size(); ++s) {
    for (std::size_t p = 0; p < parameters_.size(); ++p) {
      const Grades& n = step.counts[s][p];
      const double sound = state.at_site[s][p][0];
      const double complete = (n[0] + n[1] + n[2]) * sound * (1 - sound);
      if (complete > 0) said_[s][p] = std::clamp(told[s][p][p] / complete, 0.01, 1.0);
    }
  }
}

double Learner::farthest(const State& from, const State& to) {
  double moved = 0;
  for (std::size_t s = 0; s < from.at_site.size(); ++s) {
    for (std::size_t p = 0; p < from.middle.size(); ++p) {
      for (std::size_t g = 0; g < 3; ++g) {
        moved = std::max(moved, std::abs(to.at_site[s][p][g] - from.at_site[s][p][g]));
      }
    }
  }
  for (std::size_t k = 0; k < doubts; ++k) {
    moved = std::max(moved, std::abs(to.share[k] - from.share[k]));
  }
  return moved;
}

Confirmed Learner::confirmed() {
  const State state = first_state();
  Confirmed found;
  for (std::size_t c = 0; c < circuits_.size(); ++c) {
    const bool any =
        std::any_of(records_of_[c].begin(), records_of_[c].end(), [](const Pattern* pattern) {
          const std::vector<diagnosis::Evidence>& made = pattern->evidence.evidence;
          return std::any_of(made.begin(), made.end(),
                             [](const diagnosis::Evidence& e) { return e.reading.has_value(); });
        });
    if (!any) continue;
    const diagnosis::Model model = compile(c, state);
    diagnosis::Program::Lease propagation(model.program());
    for (const Pattern* pattern : records_of_[c]) {
      for (const diagnosis::Evidence& e : pattern->evidence.evidence) {
        if (!e.reading) continue;
        try {
          count_rate(c, model, *pattern, e, *propagation, found.leak_rates);
          count_size(model, *pattern, e, *propagation, found.sizes);
        } catch (const Error& error) {
          if (error.code() != Code::invalid_case) throw;
        }
      }
    }
  }
  return found;
}

std::size_t Learner::parameter(const circuit::FailureMode& mode,
                               const std::map<ModeName, Dirichlet>& judgement) {
  const ModeName name{mode.type, mode.name};
  const auto [at, added] = place_.emplace(name, parameters_.size());
  if (added) {
    const auto judged = judgement.find(name);
    Parameter p{name, judged == judgement.end() ? jeffreys_shares(3) : judged->second};
    if (p.prior.alpha.size() != 3) {
      throw Error(Code::invalid_priors,
                  "judgement of " + name.type + "." + name.mode + " must give three grades");
    }
    parameters_.push_back(std::move(p));
  }
  return at->second;
}

std::size_t Learner::group(const circuit::Observation& observation) {
  if (observation.statistics_are_own && !observation.written) return fixed;
  const std::string id = observation.written ? observation.id : "";
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    if (groups_[i].id == id && (observation.written || groups_[i].kind == observation.kind)) {
      return i;
    }
  }
  OutcomeGroup added;
  added.id = id;
  if (!observation.written) added.kind = observation.kind;
  added.start.outcomes = observation.outcomes;
  added.start.matrix = observation.matrix;
  added.start.background = observation.background;
  groups_.push_back(std::move(added));
  return groups_.size() - 1;
}

diagnosis::Model Learner::compile(std::size_t c, const State& state) const {
  diagnosis::Pack pack;
  circuit::Analysis own = circuits_[c];
  const std::vector<Grades> priors = base_priors(c, state.middle);
  for (std::size_t m = 0; m < own.modes.size(); ++m) own.modes[m].prior = priors[m];
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    pack.outcomes.push_back({groups_[i].id, groups_[i].kind, state.models[i]});
  }
  return diagnosis::Model::compile(std::move(own), pack);
}

std::vector<Grades> Learner::base_priors(std::size_t c, const std::vector<Grades>& theta) const {
  const circuit::Analysis& analysis = circuits_[c];
  std::vector<Grades> priors;
  for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
    if (parameter_of_[c][m] == fixed) {
      priors.push_back(analysis.modes[m].prior);
      continue;
    }
    const Grades& wanted = theta[parameter_of_[c][m]];
    const bool raised = !conditions_[c].empty() && !conditions_[c][m].conditions.empty();
    priors.push_back(raised ? without_conditions(analysis, conditions_[c][m], wanted) : wanted);
  }
  return priors;
}

Grades Learner::without_conditions(const circuit::Analysis& analysis,
                                   const diagnosis::ModeConditions& by, const Grades& wanted) {
  Grades base = wanted;
  for (int i = 0; i < 100; ++i) {
    Grades marginal{};
    for (std::size_t k = 0; k < std::size_t{1} << by.conditions.size(); ++k) {
      double probability = 1;
      for (std::size_t c = 0; c < by.conditions.size(); ++c) {
        const double holds = analysis.conditions[by.conditions[c]].probability;
        const bool on = ((k >> (by.conditions.size() - 1 - c)) & 1) != 0;
        probability *= on ? holds : 1 - holds;
      }
      const Grades given = diagnosis::conditioned(base, by, k);
      for (std::size_t g = 0; g < 3; ++g) marginal[g] += probability * given[g];
    }
    double total = 0, off = 0;
    for (std::size_t g = 0; g < 3; ++g) {
      off = std::max(off, std::abs(marginal[g] - wanted[g]));
      if (marginal[g] > 0) base[g] *= wanted[g] / marginal[g];
      total += base[g];
    }
    for (double& p : base) p /= total;
    if (off < 1e-13) break;
  }
  return base;
}

}  // namespace faultodds::priors
