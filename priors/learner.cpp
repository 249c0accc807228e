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

namespace {

std::vector<Term> terms_of(const Job& job, std::size_t modes) {
  std::vector<Term> terms(1);
  for (std::uint32_t mode : job.sound) {
    if (mode >= modes) refuse_job(job, "a mode found sound is not one of the circuit's");
    restrict_to(terms[0], mode, {1, 0, 0});
  }
  int ambiguous = 0;
  for (const Finding& finding : job.findings) {
    if (finding.modes.empty()) refuse_job(job, "a finding names no mode");
    if (finding.grade && (*finding.grade < 1 || *finding.grade > 2)) {
      refuse_job(
          job, "the grade of a finding is " + std::to_string(*finding.grade) + "; expected 1 or 2");
    }
    for (std::uint32_t mode : finding.modes) {
      if (mode >= modes) refuse_job(job, "a finding's mode is not one of the circuit's");
    }
    // The worst of them is of that grade: all at most it, less all below it.
    const Grades at_most = finding.grade == 1 ? Grades{1, 1, 0} : Grades{1, 1, 1};
    const Grades below = finding.grade == 2 ? Grades{1, 1, 0} : Grades{1, 0, 0};
    if (finding.modes.size() == 1) {
      Grades exactly{};
      for (std::size_t g = 0; g < 3; ++g) exactly[g] = at_most[g] - below[g];
      for (Term& term : terms) restrict_to(term, finding.modes[0], exactly);
      continue;
    }
    if (++ambiguous > 4) refuse_job(job, "it has more than the four ambiguous findings allowed");
    const std::size_t count = terms.size();
    for (std::size_t t = 0; t < count; ++t) {
      Term less = terms[t];
      less.sign = -less.sign;
      for (std::uint32_t mode : finding.modes) {
        restrict_to(terms[t], mode, at_most);
        restrict_to(less, mode, below);
      }
      terms.push_back(std::move(less));
    }
  }
  return terms;
}

bool has_reading(const Job& job) {
  return std::any_of(job.evidence.begin(), job.evidence.end(),
                     [](const diagnosis::Evidence& e) { return e.reading.has_value(); });
}

std::vector<Pattern> patterns_of(const std::vector<circuit::Analysis>& circuits,
                                 const std::vector<Job>& jobs) {
  using Made =
      std::tuple<std::uint32_t, std::optional<std::uint32_t>, std::optional<std::array<double, 3>>>;
  using Key = std::tuple<std::uint32_t, std::optional<std::uint32_t>, std::vector<Made>,
                         std::vector<Finding>, std::vector<std::uint32_t>>;
  std::map<Key, std::size_t> known;
  std::vector<Pattern> patterns;
  for (const Job& job : jobs) {
    if (job.circuit >= circuits.size()) refuse_job(job, "its circuit is not among those given");
    const circuit::Analysis& analysis = circuits[job.circuit];
    if (job.complaint && *job.complaint >= analysis.observations.size()) {
      refuse_job(job, "its complaint is not one of the circuit's observations");
    }
    Key key{job.circuit, job.complaint, {}, job.findings, job.sound};
    for (const diagnosis::Evidence& e : job.evidence) {
      std::get<2>(key).emplace_back(e.observation, e.outcome, e.likelihood);
    }
    std::sort(std::get<2>(key).begin(), std::get<2>(key).end());
    std::sort(std::get<3>(key).begin(), std::get<3>(key).end());
    // Readings seldom repeat.
    if (!has_reading(job)) {
      const auto [at, added] = known.emplace(std::move(key), patterns.size());
      if (!added) {
        patterns[at->second].jobs += 1;
        continue;
      }
    }
    Pattern pattern;
    pattern.circuit = job.circuit;
    pattern.complaint = job.complaint;
    pattern.evidence.evidence = job.evidence;
    pattern.terms = terms_of(job, analysis.modes.size());
    pattern.example = &job;
    pattern.jobs = 1;
    patterns.push_back(std::move(pattern));
  }
  return patterns;
}

}  // namespace

Learner::Learner(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                 const std::map<ModeName, Dirichlet>& judgement, const LearnOptions& options)
    : circuits_(circuits), options_(options), patterns_(patterns_of(circuits, jobs)) {
  for (const circuit::Analysis& analysis : circuits) {
    std::vector<std::size_t> of_mode;
    for (const circuit::FailureMode& mode : analysis.modes) {
      of_mode.push_back(mode.prior_is_own ? fixed : parameter(mode, judgement));
    }
    parameter_of_.push_back(std::move(of_mode));
    std::vector<std::size_t> of_observation;
    for (const circuit::Observation& observation : analysis.observations) {
      of_observation.push_back(options.learn_outcomes ? group(observation) : fixed);
    }
    group_of_.push_back(std::move(of_observation));
  }
  compiled_.resize(circuits.size());
  records_of_.resize(circuits.size());
  for (const Pattern& pattern : patterns_) records_of_[pattern.circuit].push_back(&pattern);
}

Learned Learner::run(std::size_t jobs) {
  std::vector<Grades> theta;
  for (const Parameter& p : parameters_) theta.push_back(mean_of(p.prior, {}));
  Learned learned;
  learned.jobs = jobs;
  learned.patterns = patterns_.size();
  // EM, each pair of steps followed by an extrapolation (Varadhan & Roland 2008, SQUAREM) that is
  // kept only if it raises the log posterior.
  Step step = expect(theta);
  for (int iteration = 1; iteration <= options_.most_iterations; ++iteration) {
    learned.iterations = iteration;
    const std::vector<Grades> first = maximise(step);
    const Step at_first = expect(first);
    const std::vector<Grades> second = maximise(at_first);
    double moved = 0;
    for (std::size_t p = 0; p < theta.size(); ++p) {
      for (std::size_t g = 0; g < 3; ++g) {
        moved = std::max(moved, std::abs(second[p][g] - first[p][g]));
      }
    }
    if (options_.progress && !options_.progress(iteration, at_first.log_posterior)) {
      throw Error(Code::cancelled,
                  "learning was cancelled after " + std::to_string(iteration) + " iterations");
    }
    if (moved < options_.tolerance) {
      theta = second;
      learned.converged = true;
      break;
    }
    if (options_.learn_outcomes) {  // moves with the outcome statistics: no extrapolation
      theta = second;
      step = expect(theta);
      continue;
    }
    const std::vector<Grades> far = extrapolate(theta, first, second);
    Step at_far = expect(far);
    if (at_far.log_posterior >= at_first.log_posterior) {
      theta = far;
      step = std::move(at_far);
    } else {
      theta = second;
      step = expect(theta);
    }
  }
  step = expect(theta);
  learned.log_likelihood = step.log_likelihood;
  report(theta, step, learned);
  return learned;
}

Confirmed Learner::confirmed() {
  std::vector<Grades> theta;
  for (const Parameter& p : parameters_) theta.push_back(mean_of(p.prior, {}));
  own_priors_.clear();
  Confirmed found;
  for (std::size_t c = 0; c < circuits_.size(); ++c) {
    const bool any =
        std::any_of(records_of_[c].begin(), records_of_[c].end(),
                    [](const Pattern* pattern) { return has_reading(*pattern->example); });
    if (!any) continue;
    const diagnosis::Model model = compile(c, theta);
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
  added.model = added.start;
  groups_.push_back(std::move(added));
  return groups_.size() - 1;
}

diagnosis::Model Learner::compile(std::size_t c, const std::vector<Grades>& theta) const {
  diagnosis::Pack pack;
  const circuit::Analysis& analysis = circuits_[c];
  circuit::Analysis own = analysis;
  std::vector<diagnosis::ModeConditions> by;
  if (!analysis.conditions.empty()) by = diagnosis::mode_conditions(analysis);
  for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
    if (parameter_of_[c][m] == fixed) continue;
    const Grades& wanted = theta[parameter_of_[c][m]];
    own.modes[m].prior = wanted;
    if (!by.empty() && !by[m].conditions.empty()) {
      own.modes[m].prior = without_conditions(analysis, by[m], wanted);
    }
  }
  for (const OutcomeGroup& group : groups_) {
    pack.outcomes.push_back({group.id, group.kind, group.model});
  }
  return diagnosis::Model::compile(std::move(own), pack);
}

std::vector<diagnosis::OwnPrior> Learner::own_priors(std::size_t c,
                                                     const std::vector<Grades>& theta,
                                                     const diagnosis::Model& model) const {
  std::vector<diagnosis::OwnPrior> own;
  const circuit::Analysis& analysis = circuits_[c];
  const auto& by = model.program().mode_conditions();
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    if (parameter_of_[c][m] == fixed) continue;
    const Grades& wanted = theta[parameter_of_[c][m]];
    own.push_back(
        {m, by[m].conditions.empty() ? wanted : without_conditions(analysis, by[m], wanted)});
  }
  return own;
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

void Learner::report(const std::vector<Grades>& theta, const Step& step, Learned& learned) {
  const std::size_t n = theta.size();
  std::vector<std::vector<double>> information(n, std::vector<double>(n, 0));
  for (std::size_t p = 0; options_.intervals && p < n; ++p) {
    constexpr double by = 1e-3;
    std::vector<Grades> up = theta, down = theta;
    up[p] = with_log_odds(theta[p], by);
    down[p] = with_log_odds(theta[p], -by);
    const std::vector<double> high = score(up), low = score(down);
    for (std::size_t q = 0; q < n; ++q) information[q][p] = -(high[q] - low[q]) / (2 * by);
  }
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      information[i][j] = information[j][i] = 0.5 * (information[i][j] + information[j][i]);
    }
  }
  const std::vector<double> variance = inverse_diagonal(std::move(information));
  for (std::size_t p = 0; p < n; ++p) {
    LearnedMode mode;
    mode.prior = parameters_[p].prior;
    mode.counts = step.recorded[p];
    const double spread = theta[p][0] * (1 - theta[p][0]);
    // Worth in fully seen jobs; never less than the judgement where the curvature is lost.
    const double worth = variance.empty() || !(variance[p] > 0)
                             ? mode.prior.weight()
                             : std::max(1 / (variance[p] * spread), 1e-3);
    for (std::size_t g = 0; g < 3; ++g) {
      mode.posterior.alpha.push_back(std::max(theta[p][g] * worth, 1e-9));
    }
    mode.not_sound = 1 - theta[p][0];
    const Beta sound = mode.posterior.marginal(0);
    mode.not_sound_interval = Beta{sound.beta, sound.alpha}.interval();
    learned.modes.emplace(parameters_[p].name, std::move(mode));
  }
  for (const OutcomeGroup& group : groups_) {
    learned.outcomes.push_back({group.id, group.kind, group.model});
  }
}

}  // namespace faultodds::priors
