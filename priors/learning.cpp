#include "priors/learning.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <set>
#include <tuple>
#include <utility>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/program.h"
#include "core/diagnosis/said.h"
#include "core/error.h"
#include "core/hydraulics/effect.h"
#include "core/in_parallel.h"
#include "core/quoted_text.h"
#include "core/reading/reading.h"
#include "core/reading/units.h"
#include "priors/estimators.h"
#include "priors/maximise.h"

namespace faultodds::priors {
namespace {

using Grades = std::array<double, 3>;

[[noreturn]] void refuse(const Job& job, const std::string& message) {
  throw Error(Code::invalid_case, "work order " + job.id + ": " + message);
}

// What grades of a mode a record leaves possible, times a sign: the record's probability is a sum
// of such terms, by inclusion and exclusion over its ambiguous findings.
struct Term {
  double sign = 1;
  std::map<std::uint32_t, Grades> grades;
};

void restrict_to(Term& term, std::uint32_t mode, const Grades& possible) {
  const auto [at, added] = term.grades.emplace(mode, possible);
  if (added) return;
  for (std::size_t g = 0; g < 3; ++g) at->second[g] *= possible[g];
}

std::vector<Term> terms_of(const Job& job, std::size_t modes) {
  std::vector<Term> terms(1);
  for (std::uint32_t mode : job.sound) {
    if (mode >= modes) refuse(job, "a mode found sound is not one of the circuit's");
    restrict_to(terms[0], mode, {1, 0, 0});
  }
  int ambiguous = 0;
  for (const Finding& finding : job.findings) {
    if (finding.modes.empty()) refuse(job, "a finding names no mode");
    if (finding.grade && (*finding.grade < 1 || *finding.grade > 2)) {
      refuse(job,
             "the grade of a finding is " + std::to_string(*finding.grade) + "; expected 1 or 2");
    }
    for (std::uint32_t mode : finding.modes) {
      if (mode >= modes) refuse(job, "a finding's mode is not one of the circuit's");
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
    if (++ambiguous > 4) refuse(job, "it has more than the four ambiguous findings allowed");
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

// Jobs that say the same on the same circuit.
struct Pattern {
  std::uint32_t circuit = 0;
  std::optional<std::uint32_t> complaint;
  diagnosis::Case evidence;
  std::vector<Term> terms;
  const Job* example = nullptr;
  double jobs = 0;
};

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
    if (job.circuit >= circuits.size()) refuse(job, "its circuit is not among those given");
    const circuit::Analysis& analysis = circuits[job.circuit];
    if (job.complaint && *job.complaint >= analysis.observations.size()) {
      refuse(job, "its complaint is not one of the circuit's observations");
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

// The parameters: one grade distribution for each (type, mode) that the circuits do not fix.
struct Parameter {
  ModeName name;
  Dirichlet prior;
};

// Outcome statistics learned together: of one kind, or of one hand-written observation.
struct OutcomeGroup {
  std::optional<circuit::ObservationKind> kind;
  std::string id;
  circuit::OutcomeModel start, model;
};

// Expected pairs of the grade an instrument saw and what it said, and of the unmodelled cause.
struct OutcomeCounts {
  std::vector<std::vector<double>> seen;  // [grade seen][outcome]
  Grades background{};
};

class Learner {
 public:
  Learner(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
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

  Learned run(std::size_t jobs) {
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

  // With the priors before any record.
  Confirmed confirmed() {
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

 private:
  static constexpr std::size_t fixed = static_cast<std::size_t>(-1);
  static constexpr std::size_t enough_records = 1000;
  static constexpr std::size_t block = 32;      // records
  static constexpr double certain = 0.95;       // of a grade
  static constexpr double most_of_sound = 0.7;  // of what sound parts let through

  struct Step {
    std::vector<Grades> counts;  // expected complete data, machines that did not complain included
    std::vector<Grades> recorded;
    std::vector<OutcomeCounts> outcomes;  // by group
    double log_likelihood = 0, log_posterior = 0;

    void add(const Step& other) {
      for (std::size_t p = 0; p < counts.size(); ++p) {
        for (std::size_t g = 0; g < 3; ++g) {
          counts[p][g] += other.counts[p][g];
          recorded[p][g] += other.recorded[p][g];
        }
      }
      for (std::size_t i = 0; i < outcomes.size(); ++i) {
        for (std::size_t g = 0; g < 3; ++g) {
          outcomes[i].background[g] += other.outcomes[i].background[g];
          for (std::size_t k = 0; k < outcomes[i].seen[g].size(); ++k) {
            outcomes[i].seen[g][k] += other.outcomes[i].seen[g][k];
          }
        }
      }
      log_likelihood += other.log_likelihood;
    }
  };

  std::size_t parameter(const circuit::FailureMode& mode,
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

  std::size_t group(const circuit::Observation& observation) {
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

  static Grades mean_of(const Dirichlet& prior, const Grades& counts) {
    Grades mean{};
    double total = 0;
    for (std::size_t g = 0; g < 3; ++g) total += mean[g] = prior.alpha[g] + counts[g];
    for (double& p : mean) p /= total;
    return mean;
  }

  // Mode priors that, with the circuit's conditions summed out, have these marginals.
  diagnosis::Model compile(std::size_t c, const std::vector<Grades>& theta) const {
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

  // The same priors for a model compiled with others.
  std::vector<diagnosis::OwnPrior> own_priors(std::size_t c, const std::vector<Grades>& theta,
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

  static Grades without_conditions(const circuit::Analysis& analysis,
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

  // Grades of every mode under one term of a record; its log probability, or -infinity.
  struct Inference {
    double log_probability = -std::numeric_limits<double>::infinity();
    std::vector<Grades> modes;
    std::vector<Grades> observed;  // S of each observation with evidence
  };

  Inference infer(const diagnosis::Model& model, const diagnosis::CaseNumbers& numbers,
                  const std::map<std::uint32_t, Grades>& restricted,
                  network::Propagation& propagation) const {
    propagation.clear();
    diagnosis::apply(model, numbers, propagation);
    diagnosis::apply_priors(model, own_priors_, propagation);
    for (const auto& [mode, grades] : restricted) {
      propagation.multiply(model.program().mode(mode), grades);
    }
    Inference result;
    result.log_probability = propagation.collect();
    if (!std::isfinite(result.log_probability)) return result;
    for (const diagnosis::ObservedGrade& seen : numbers.observed) {
      result.log_probability += seen.log_scale;
    }
    propagation.distribute();
    const auto grades_at = [&](network::Var v) {
      const auto p = propagation.posterior(v);
      return Grades{p[0], p[1], p[2]};
    };
    result.modes.reserve(model.analysis().modes.size());
    for (std::uint32_t m = 0; m < model.analysis().modes.size(); ++m) {
      result.modes.push_back(grades_at(model.program().mode(m)));
    }
    if (options_.learn_outcomes) {
      for (const diagnosis::ObservedGrade& seen : numbers.observed) {
        result.observed.push_back(grades_at(model.program().observation(seen.observation)));
      }
    }
    return result;
  }

  void count_modes(std::size_t c, const std::vector<Grades>& modes, double times,
                   std::vector<Grades>& counts) const {
    for (std::size_t m = 0; m < modes.size(); ++m) {
      const std::size_t p = parameter_of_[c][m];
      if (p == fixed) continue;
      for (std::size_t g = 0; g < 3; ++g) counts[p][g] += times * modes[m][g];
    }
  }

  Step nothing_counted() const {
    Step step;
    step.counts.assign(parameters_.size(), {});
    step.recorded.assign(parameters_.size(), {});
    for (const OutcomeGroup& group : groups_) {
      step.outcomes.push_back({});
      step.outcomes.back().seen.assign(3, std::vector<double>(group.model.outcomes.size(), 0));
    }
    return step;
  }

  // The E step. Records are added up in blocks of fixed size and the blocks in their order, so the
  // result is the same every time and with any number of threads.
  Step expect(const std::vector<Grades>& theta) {
    Step step = nothing_counted();
    for (std::size_t c = 0; c < circuits_.size(); ++c) {
      // A compiled circuit can be given other priors as evidence, which dirties all of it: cheaper
      // than compiling anew where there are few records to go through.
      const std::vector<const Pattern*>& records = records_of_[c];
      const bool anew = options_.learn_outcomes || !compiled_[c] || records.size() > enough_records;
      if (anew) compiled_[c] = compile(c, theta);
      const diagnosis::Model& model = *compiled_[c];
      own_priors_.clear();
      if (!anew) own_priors_ = own_priors(c, theta, model);
      std::vector<Step> blocks((records.size() + block - 1) / block);
      in_parallel(blocks.size(), options_.threads, [&](std::size_t b) {
        blocks[b] = nothing_counted();
        diagnosis::Program::Lease propagation(model.program());
        for (std::size_t i = b * block; i < std::min(records.size(), (b + 1) * block); ++i) {
          add_record(c, model, *records[i], *propagation, blocks[b]);
        }
      });
      for (const Step& of_block : blocks) step.add(of_block);
      if (options_.select_by_complaint) {
        std::map<std::uint32_t, double> complained;  // jobs by complaint
        for (const Pattern* pattern : records) {
          if (pattern->complaint) complained[*pattern->complaint] += pattern->jobs;
        }
        diagnosis::Program::Lease propagation(model.program());
        for (const auto& [observation, jobs] : complained) {
          add_silent(c, model, observation, jobs, *propagation, step);
        }
      }
    }
    step.log_posterior = step.log_likelihood;
    for (std::size_t p = 0; p < parameters_.size(); ++p) {
      for (std::size_t g = 0; g < 3; ++g) {
        step.counts[p][g] += step.recorded[p][g];
        // The mean of a Dirichlet with alpha is the mode of one with alpha + 1.
        step.log_posterior += parameters_[p].prior.alpha[g] * std::log(theta[p][g]);
      }
    }
    return step;
  }

  // One record of the E step.
  void add_record(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                  network::Propagation& propagation, Step& step) const {
    const diagnosis::CaseNumbers numbers = diagnosis::read_case(model, pattern.evidence);
    std::vector<Inference> parts;
    double largest = -std::numeric_limits<double>::infinity();
    for (const Term& term : pattern.terms) {
      parts.push_back(infer(model, numbers, term.grades, propagation));
      largest = std::max(largest, parts.back().log_probability);
    }
    double total = 0;
    std::vector<double> weight;
    for (std::size_t t = 0; t < parts.size(); ++t) {
      weight.push_back(pattern.terms[t].sign * std::exp(parts[t].log_probability - largest));
      if (std::isfinite(parts[t].log_probability)) total += weight.back();
    }
    if (!std::isfinite(largest) || !(total > 1e-12)) {
      refuse(*pattern.example, "its record is impossible on circuit " + circuits_[c].id +
                                   "; expected findings and outcomes that can be true together");
    }
    step.log_likelihood += pattern.jobs * (largest + std::log(total));
    for (std::size_t t = 0; t < parts.size(); ++t) {
      if (!std::isfinite(parts[t].log_probability)) continue;
      const double times = pattern.jobs * weight[t] / total;
      count_modes(c, parts[t].modes, times, step.recorded);
      if (options_.learn_outcomes) {
        count_outcomes(c, model, pattern, numbers, parts[t].observed, times, step);
      }
    }
  }

  // The machines that did not complain of this symptom: for every job that did, (1 - P) / P of
  // them.
  void add_silent(std::size_t c, const diagnosis::Model& model, std::uint32_t observation,
                  double jobs, network::Propagation& propagation, Step& step) const {
    const circuit::Observation& symptom = model.analysis().observations[observation];
    const auto& rows = model.program().rows(observation);
    Grades normal{}, abnormal{};
    for (std::size_t s = 0; s < 3; ++s) {
      normal[s] = rows[s][0];
      for (std::size_t k = 1; k < symptom.outcomes.size(); ++k) abnormal[s] += rows[s][k];
    }
    const auto with = [&](const Grades& likelihood) {
      propagation.clear();
      diagnosis::apply_priors(model, own_priors_, propagation);
      propagation.multiply(model.program().observation(observation), likelihood);
      Inference result;
      result.log_probability = propagation.collect();
      if (!std::isfinite(result.log_probability)) return result;
      propagation.distribute();
      for (std::uint32_t m = 0; m < model.analysis().modes.size(); ++m) {
        const auto p = propagation.posterior(model.program().mode(m));
        result.modes.push_back({p[0], p[1], p[2]});
      }
      return result;
    };
    const Inference loud = with(abnormal), silent = with(normal);
    step.log_likelihood -= jobs * loud.log_probability;
    if (!std::isfinite(silent.log_probability)) return;
    const double each = std::exp(silent.log_probability - loud.log_probability);
    count_modes(c, silent.modes, jobs * each, step.counts);
  }

  // Expected pairs of the grade an instrument saw and what it said. Under selection the complaint's
  // own outcome is left out: all of them are abnormal, which says nothing of how often that is.
  void count_outcomes(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                      const diagnosis::CaseNumbers& numbers, const std::vector<Grades>& observed,
                      double times, Step& step) const {
    for (std::size_t i = 0; i < numbers.observed.size(); ++i) {
      const diagnosis::ObservedGrade& seen = numbers.observed[i];
      const std::size_t place = group_of_[c][seen.observation];
      if (place == fixed ||
          (options_.select_by_complaint && pattern.complaint == seen.observation)) {
        continue;
      }
      OutcomeCounts& counts = step.outcomes[place];
      const circuit::Observation& observation = model.analysis().observations[seen.observation];
      const diagnosis::Evidence* made = nullptr;
      int times_made = 0;
      for (const diagnosis::Evidence& e : pattern.evidence.evidence) {
        if (e.observation != seen.observation) continue;
        made = &e;
        ++times_made;
      }
      if (times_made != 1 || !made->outcome) continue;
      const std::size_t outcome = *made->outcome;
      for (std::size_t s = 0; s < 3; ++s) {
        if (!(seen.likelihood[s] > 0)) continue;
        double through = 0;
        for (std::size_t b = 0; b < 3; ++b) {
          through += observation.background[b] * observation.matrix[std::max(s, b)][outcome];
        }
        if (!(through > 0)) continue;
        for (std::size_t b = 0; b < 3; ++b) {
          const std::size_t g = std::max(s, b);
          const double share = observation.background[b] * observation.matrix[g][outcome] / through;
          const double count = times * observed[i][s] * share;
          counts.seen[g][outcome] += count;
          counts.background[b] += count;
        }
      }
    }
  }

  // A reading that is the only one of its observation and gives a rate, and all else of its record.
  struct SingleReading {
    reading::Setting setting;
    reading::LeakRate rate;
    diagnosis::Case rest;
  };
  std::optional<SingleReading> single_reading(const circuit::Observation& observation,
                                              const Pattern& pattern,
                                              const diagnosis::Evidence& made) const {
    const auto same = [&](const diagnosis::Evidence& e) {
      return e.observation == made.observation;
    };
    const std::vector<diagnosis::Evidence>& all = pattern.evidence.evidence;
    if ((options_.select_by_complaint && pattern.complaint == made.observation) ||
        std::count_if(all.begin(), all.end(), same) != 1) {
      return std::nullopt;
    }
    const reading::Setting setting = diagnosis::setting_of(observation);
    const reading::LeakRate rate = reading::leak_rate(*made.reading, setting);
    const auto above_0 = [](double x) { return x > 0; };
    if (rate.censored || !(rate.value > 0) ||
        !std::all_of(setting.median.begin(), setting.median.end(), above_0) ||
        !std::all_of(setting.sigma.begin(), setting.sigma.end(), above_0)) {
      return std::nullopt;
    }
    SingleReading one{setting, rate, pattern.evidence};
    std::erase_if(one.rest.evidence, same);
    return one;
  }

  // One reading of a record, if its grade is known without it.
  void count_rate(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
                  const diagnosis::Evidence& made, network::Propagation& propagation,
                  LeakRates& rates) const {
    const std::uint32_t o = made.observation;
    const circuit::Observation& observation = model.analysis().observations[o];
    if (group_of_[c][o] == fixed || observation.kind == circuit::ObservationKind::flow) return;
    const std::optional<SingleReading> single = single_reading(observation, pattern, made);
    if (!single) return;
    const auto& [setting, rate, rest] = *single;
    const Grades structural = grades_given(model, diagnosis::read_case(model, rest), pattern,
                                           model.program().observation(o), propagation);
    if (!(std::max({structural[0], structural[1], structural[2]}) >= certain)) return;
    double scale = 0;
    const auto likelihood = reading::likelihood(rate, setting, &scale);
    Grades seen{};
    double total = 0;
    for (std::size_t s = 0; s < 3; ++s) {
      for (std::size_t b = 0; b < 3; ++b) {
        const std::size_t g = std::max(s, b);
        const double joint = structural[s] * observation.background[b] * likelihood[g];
        seen[g] += joint;
        total += joint;
      }
    }
    if (!(total > 0)) return;
    const OutcomeGroup& group = groups_[group_of_[c][o]];
    LeakRateStatistics fresh;
    fresh.median = observation.leak_median;
    fresh.sigma = observation.leak_sigma;
    fresh.worth = options_.rate_worth;
    const LeakRateKey key{group.kind, group.id};
    LeakRateStatistics& statistics = rates.emplace(key, fresh).first->second;
    fresh.grades = {};
    for (std::size_t g = 0; g < 3; ++g) {
      fresh.grades[g].add(std::log(rate.value), pattern.jobs * seen[g] / total);
    }
    statistics.add(fresh);
  }

  // A reading of a hold whose leak is one mode's, as the size of that mode.
  void count_size(const diagnosis::Model& model, const Pattern& pattern,
                  const diagnosis::Evidence& made, network::Propagation& propagation,
                  Sizes& sizes) const {
    const circuit::Observation& hold = model.analysis().observations[made.observation];
    if (hold.kind != circuit::ObservationKind::static_hold || hold.written) return;
    const std::optional<SingleReading> single = single_reading(hold, pattern, made);
    if (!single) return;
    const auto& [setting, rate, rest] = *single;
    const diagnosis::CaseNumbers numbers = diagnosis::read_case(model, rest);
    const double pressure =
        setting.reference_pressure.value_or(hydraulics::kReferencePressure * 1e5) / 1e5;
    const auto passed = [&](std::uint32_t m, double size) {
      return model.analysis().modes[m].size.law == circuit::SizeLaw::laminar
                 ? hydraulics::laminar_conductance(size, hydraulics::kShopViscosity) * pressure
                 : hydraulics::orifice_conductance(size) * std::sqrt(pressure);
    };
    // Every mode must be all but certainly of one grade, and at most one not sound.
    std::optional<std::uint32_t> leaking, largest;
    std::size_t grade = 0;
    double probability = 1, sound = 0, most = 0;
    for (const circuit::ModeSet& set : hold.sets) {
      for (const std::uint32_t m : set.modes) {
        if (model.analysis().modes[m].size.law == circuit::SizeLaw::loss) return;
        const Grades p =
            grades_given(model, numbers, pattern, model.program().mode(m), propagation);
        const auto likeliest =
            static_cast<std::size_t>(std::max_element(p.begin(), p.end()) - p.begin());
        if (!(p[likeliest] >= certain)) return;
        if (likeliest > 0) {
          if (set.modes.size() > 1 || (leaking && *leaking != m)) return;
          leaking = m;
          grade = likeliest;
          probability = p[likeliest];
        }
        if (set.modes.size() > 1) continue;
        const double here = passed(m, model.analysis().modes[m].size.of_grade[0].median);
        sound += here;
        if (here > most) {
          most = here;
          largest = m;
        }
      }
    }
    if (!leaking) {
      if (!largest || !(most >= most_of_sound * sound)) return;
      leaking = largest;
      probability = certain;
    }
    const circuit::FailureMode& mode = model.analysis().modes[*leaking];
    if (mode.size_is_own) return;
    SizeStatistics one;
    one.law = mode.size.law;
    for (std::size_t g = 0; g < 3; ++g) {
      one.of.median[g] = mode.size.of_grade[g].median;
      one.of.sigma[g] = mode.size.of_grade[g].spread;
    }
    one.of.worth = options_.rate_worth;
    SizeStatistics& known = sizes.emplace(std::pair(mode.type, mode.name), one).first->second;
    if (known.law != one.law || known.of.median != one.of.median ||
        known.of.sigma != one.of.sigma) {
      return;
    }
    // What an unmodelled cause let through is no size of this mode's.
    double scale = 0, all_causes = 0;
    const auto likelihood = reading::likelihood(rate, setting, &scale);
    for (std::size_t b = 0; b < 3; ++b) {
      all_causes += hold.background[b] * likelihood[std::max(grade, b)];
    }
    if (!(all_causes > 0)) return;
    probability *= hold.background[0] * likelihood[grade] / all_causes;
    one.of.grades[grade].add(std::log(rate.value / passed(*leaking, 1)),
                             pattern.jobs * probability);
    known.add(one);
  }

  // The grades of a node, given a record's findings and evidence; all 0 if they are impossible.
  Grades grades_given(const diagnosis::Model& model, const diagnosis::CaseNumbers& numbers,
                      const Pattern& pattern, network::Var node,
                      network::Propagation& propagation) const {
    std::vector<std::pair<double, Grades>> parts;  // sign, and grades
    std::vector<double> logs;
    double largest = -std::numeric_limits<double>::infinity();
    for (const Term& term : pattern.terms) {
      const Inference found = infer(model, numbers, term.grades, propagation);
      if (!std::isfinite(found.log_probability)) continue;
      const auto p = propagation.posterior(node);
      parts.emplace_back(term.sign, Grades{p[0], p[1], p[2]});
      logs.push_back(found.log_probability);
      largest = std::max(largest, found.log_probability);
    }
    Grades sum{};
    double total = 0;
    for (std::size_t t = 0; t < parts.size(); ++t) {
      const double weight = parts[t].first * std::exp(logs[t] - largest);
      total += weight;
      for (std::size_t g = 0; g < 3; ++g) sum[g] += weight * parts[t].second[g];
    }
    if (!(total > 1e-12)) return {};
    for (double& p : sum) p = std::max(0.0, p / total);
    return sum;
  }

  // The M step.
  std::vector<Grades> maximise(const Step& step) {
    std::vector<Grades> theta;
    for (std::size_t p = 0; p < parameters_.size(); ++p) {
      theta.push_back(mean_of(parameters_[p].prior, step.counts[p]));
    }
    for (std::size_t i = 0; i < groups_.size(); ++i) {
      OutcomeGroup& group = groups_[i];
      const OutcomeCounts& counts = step.outcomes[i];
      for (std::size_t g = 0; g < 3; ++g) {
        double total = 0;
        for (std::size_t k = 0; k < counts.seen[g].size(); ++k) {
          total += counts.seen[g][k] + options_.outcome_worth * group.start.matrix[g][k];
        }
        for (std::size_t k = 0; k < counts.seen[g].size(); ++k) {
          group.model.matrix[g][k] =
              (counts.seen[g][k] + options_.outcome_worth * group.start.matrix[g][k]) / total;
        }
      }
      double total = 0;
      Grades background{};
      // A background of no weight to begin with is not learned: it says the test sees nothing else.
      const double worth = options_.outcome_worth * 10;
      for (std::size_t b = 0; b < 3; ++b) {
        total += background[b] = counts.background[b] + worth * (*group.start.background)[b];
      }
      for (double& p : background) p /= total;
      group.model.background = background;
    }
    return theta;
  }

  // Along the curve of EM's own steps, in the logarithms of the odds against sound.
  static std::vector<Grades> extrapolate(const std::vector<Grades>& start,
                                         const std::vector<Grades>& first,
                                         const std::vector<Grades>& second) {
    const auto log_odds = [](const Grades& grades, std::size_t g) {
      constexpr double least = 1e-300;
      return std::log(std::max(grades[g], least) / std::max(grades[0], least));
    };
    double step = 0, bend = 0;
    for (std::size_t p = 0; p < start.size(); ++p) {
      for (std::size_t g = 1; g < 3; ++g) {
        const double r = log_odds(first[p], g) - log_odds(start[p], g);
        const double v = log_odds(second[p], g) - log_odds(first[p], g) - r;
        step += r * r;
        bend += v * v;
      }
    }
    const double length = bend > 0 ? std::clamp(std::sqrt(step / bend), 1.0, 64.0) : 1.0;
    std::vector<Grades> far(start.size());
    for (std::size_t p = 0; p < start.size(); ++p) {
      Grades odds{1, 0, 0};
      double total = 1;
      for (std::size_t g = 1; g < 3; ++g) {
        const double l0 = log_odds(start[p], g);
        const double r = log_odds(first[p], g) - l0;
        const double v = log_odds(second[p], g) - log_odds(first[p], g) - r;
        total += odds[g] =
            std::exp(std::clamp(l0 + 2 * length * r + length * length * v, -60.0, 60.0));
      }
      for (std::size_t g = 0; g < 3; ++g) far[p][g] = odds[g] / total;
    }
    return far;
  }

  // Score of the log odds of not sound (Fisher's identity), for all parameters at once.
  std::vector<double> score(const std::vector<Grades>& theta) {
    const Step step = expect(theta);
    std::vector<double> s;
    for (std::size_t p = 0; p < theta.size(); ++p) {
      const Grades& n = step.counts[p];
      const std::vector<double>& a = parameters_[p].prior.alpha;
      const double bad = n[1] + n[2] + a[1] + a[2];
      s.push_back(bad - (n[0] + a[0] + bad) * (1 - theta[p][0]));
    }
    return s;
  }

  static Grades with_log_odds(const Grades& theta, double change) {
    const double factor = std::exp(change);
    const double total = theta[0] + (theta[1] + theta[2]) * factor;
    return {theta[0] / total, theta[1] * factor / total, theta[2] * factor / total};
  }

  // Posterior spread from the observed information: minus the derivative of the score.
  void report(const std::vector<Grades>& theta, const Step& step, Learned& learned) {
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

  const std::vector<circuit::Analysis>& circuits_;
  const LearnOptions& options_;
  std::vector<Pattern> patterns_;
  std::vector<Parameter> parameters_;
  std::map<ModeName, std::size_t> place_;
  std::vector<std::vector<std::size_t>> parameter_of_, group_of_;
  std::vector<OutcomeGroup> groups_;
  std::vector<std::optional<diagnosis::Model>> compiled_;
  std::vector<std::vector<const Pattern*>> records_of_;  // by circuit
  std::vector<diagnosis::OwnPrior> own_priors_;
};

std::string_view next_part(std::string_view& text, char separator) {
  const std::size_t at = text.find(separator);
  std::string_view part = text.substr(0, at);
  text = at == std::string_view::npos ? std::string_view() : text.substr(at + 1);
  while (!part.empty() && part.front() == ' ') part.remove_prefix(1);
  while (!part.empty() && part.back() == ' ') part.remove_suffix(1);
  return part;
}

diagnosis::Evidence observed(std::string_view text, const circuit::Analysis& circuit,
                             const Job& job) {
  const std::size_t at = text.find('=');
  std::string_view id = text.substr(0, at);
  while (!id.empty() && id.back() == ' ') id.remove_suffix(1);
  std::string_view value = at == std::string_view::npos ? "" : text.substr(at + 1);
  while (!value.empty() && value.front() == ' ') value.remove_prefix(1);
  diagnosis::Evidence evidence;
  evidence.again = take_again(value);
  const auto found = std::find_if(circuit.observations.begin(), circuit.observations.end(),
                                  [&](const circuit::Observation& o) { return o.id == id; });
  if (found == circuit.observations.end()) {
    refuse(job, "observation '" + printable(id) + "' is not one of circuit " + circuit.id);
  }
  evidence.observation = static_cast<std::uint32_t>(found - circuit.observations.begin());
  if (value.empty()) return evidence;
  const auto outcome = std::find(found->outcomes.begin(), found->outcomes.end(), value);
  if (outcome != found->outcomes.end()) {
    evidence.outcome = static_cast<std::uint32_t>(outcome - found->outcomes.begin());
    return evidence;
  }
  try {
    reading::Reading taken;
    taken.leak_rate = reading::parse_quantity(value, reading::Dimension::flow);
    evidence.reading = taken;
  } catch (const Error&) {
    std::string expected;
    for (const std::string& name : found->outcomes) {
      expected += (expected.empty() ? "" : ", ") + name;
    }
    refuse(job, "outcome '" + printable(value) + "' of '" + printable(id) + "' is not one of " +
                    expected + ", nor a leak rate like 40 mL/min");
  }
  return evidence;
}

}  // namespace

Learned learn(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
              const std::map<ModeName, Dirichlet>& judgement, const LearnOptions& options) {
  Learner learner(circuits, jobs, judgement, options);
  return learner.run(jobs.size());
}

Confirmed confirmed_by(const std::vector<circuit::Analysis>& circuits, const std::vector<Job>& jobs,
                       const std::map<ModeName, Dirichlet>& judgement,
                       const LearnOptions& options) {
  LearnOptions with_outcomes = options;
  with_outcomes.learn_outcomes = true;
  return Learner(circuits, jobs, judgement, with_outcomes).confirmed();
}

diagnosis::Pack learned_pack(const Learned& learned, const std::string& id,
                             const std::string& asset_class) {
  diagnosis::Pack pack;
  pack.id = id;
  for (const auto& [name, mode] : learned.modes) {
    const Dirichlet& p = mode.posterior;
    pack.priors.push_back({name.type, name.mode, asset_class,
                           circuit::GradeDistribution{p.mean(0), p.mean(1), p.mean(2)},
                           std::nullopt});
  }
  pack.outcomes = learned.outcomes;
  return pack;
}

Job job_of(const WorkOrder& order, const Vocabulary& vocabulary, const circuit::Analysis& circuit,
           std::uint32_t circuit_index, std::string_view component) {
  if (component.empty()) component = order.position;
  Job job;
  job.id = std::string(order.id);
  job.asset = std::string(order.asset);
  job.circuit = circuit_index;
  job.opened = order.opened;
  job.closed = order.closed;
  job.minutes = order.minutes;
  diagnosis::Case seen;
  diagnosis::Said said;
  if (!order.complaint.empty()) {
    diagnosis::Evidence complaint = observed(order.complaint, circuit, job);
    job.complaint = complaint.observation;
    const circuit::Observation& symptom = circuit.observations[complaint.observation];
    if (!complaint.outcome && !complaint.reading) {
      // Only that it was not normal.
      std::array<double, 3> abnormal{};
      for (std::size_t s = 0; s < 3; ++s) {
        for (std::size_t b = 0; b < 3; ++b) {
          for (std::size_t k = 1; k < symptom.outcomes.size(); ++k) {
            abnormal[s] += symptom.background[b] * symptom.matrix[std::max(s, b)][k];
          }
        }
      }
      complaint.likelihood = abnormal;
    }
    said.add(seen, std::move(complaint));
  }
  std::string_view tests = order.tests;
  while (!tests.empty()) {
    const std::string_view test = next_part(tests, ';');
    if (test.empty()) continue;
    diagnosis::Evidence evidence = observed(test, circuit, job);
    if (!evidence.outcome && !evidence.reading) {
      refuse(job, "test '" + printable(test) + "' has no outcome");
    }
    said.add(seen, std::move(evidence));
  }
  job.evidence = std::move(seen.evidence);
  for (const auto& [observation, times] : seen.said_before) job.said_before += times;
  const Vocabulary::Type& type = vocabulary.types.at(order.type);
  const auto is_candidate = [&](const circuit::FailureMode& mode) {
    return std::any_of(order.modes.begin(), order.modes.end(),
                       [&](std::uint32_t m) { return type.modes[m].name == mode.name; });
  };
  Finding finding;
  finding.grade = order.grade;
  std::set<std::string> components;
  for (std::uint32_t m = 0; m < circuit.modes.size(); ++m) {
    const circuit::FailureMode& mode = circuit.modes[m];
    if (mode.type != type.name || (!component.empty() && mode.component != component)) continue;
    components.insert(mode.component);
    if (is_candidate(mode)) {
      finding.modes.push_back(m);
    } else if (!component.empty()) {
      job.sound.push_back(m);
    }
  }
  if (components.empty()) {
    refuse(job, "component '" +
                    printable(component.empty() ? std::string_view(type.name) : component) +
                    "' is not one of circuit " + circuit.id);
  }
  if (!finding.modes.empty()) job.findings.push_back(std::move(finding));
  if (order.hours && !component.empty()) {
    job.component_hours[std::string(component)] = *order.hours;
  }
  return job;
}

void add_row(Job& job, const Job& row) {
  job.findings.insert(job.findings.end(), row.findings.begin(), row.findings.end());
  std::sort(job.findings.begin(), job.findings.end());
  job.sound.insert(job.sound.end(), row.sound.begin(), row.sound.end());
  // Two rows may find different modes of one component: what one found bad the other did not find
  // sound.
  std::set<std::uint32_t> bad;
  for (const Finding& finding : job.findings)
    bad.insert(finding.modes.begin(), finding.modes.end());
  std::set<std::uint32_t> sound;
  for (std::uint32_t mode : job.sound) {
    if (!bad.contains(mode)) sound.insert(mode);
  }
  job.sound.assign(sound.begin(), sound.end());
  job.component_hours.insert(row.component_hours.begin(), row.component_hours.end());
}

}  // namespace faultodds::priors
