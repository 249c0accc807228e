// The E and the M step of learning through the circuit. Single readings are counted in
// learner_readings.cpp.
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

Grades Learner::mean_of(const Dirichlet& prior, const Grades& counts) {
  Grades mean{};
  double total = 0;
  for (std::size_t g = 0; g < 3; ++g) total += mean[g] = prior.alpha[g] + counts[g];
  for (double& p : mean) p /= total;
  return mean;
}

Learner::Inference Learner::infer(const diagnosis::Model& model,
                                  const diagnosis::CaseNumbers& numbers,
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

void Learner::count_modes(std::size_t c, const std::vector<Grades>& modes, double times,
                          std::vector<Grades>& counts) const {
  for (std::size_t m = 0; m < modes.size(); ++m) {
    const std::size_t p = parameter_of_[c][m];
    if (p == fixed) continue;
    for (std::size_t g = 0; g < 3; ++g) counts[p][g] += times * modes[m][g];
  }
}

Learner::Step Learner::nothing_counted() const {
  Step step;
  step.counts.assign(parameters_.size(), {});
  step.recorded.assign(parameters_.size(), {});
  for (const OutcomeGroup& group : groups_) {
    step.outcomes.push_back({});
    step.outcomes.back().seen.assign(3, std::vector<double>(group.model.outcomes.size(), 0));
  }
  return step;
}

Learner::Step Learner::expect(const std::vector<Grades>& theta) {
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

void Learner::add_record(std::size_t c, const diagnosis::Model& model, const Pattern& pattern,
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
    refuse_job(*pattern.example, "its record is impossible on circuit " + circuits_[c].id +
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

void Learner::add_silent(std::size_t c, const diagnosis::Model& model, std::uint32_t observation,
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

std::vector<Grades> Learner::maximise(const Step& step) {
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

std::vector<Grades> Learner::extrapolate(const std::vector<Grades>& start,
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

std::vector<double> Learner::score(const std::vector<Grades>& theta) {
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

Grades Learner::with_log_odds(const Grades& theta, double change) {
  const double factor = std::exp(change);
  const double total = theta[0] + (theta[1] + theta[2]) * factor;
  return {theta[0] / total, theta[1] * factor / total, theta[2] * factor / total};
}

}  // namespace faultodds::priors
