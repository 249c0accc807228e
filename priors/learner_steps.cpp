// The E step of learning through the circuit. The M step is learner_maximum.cpp's; single readings
// are counted in learner_readings.cpp.
#include <algorithm>
#include <cmath>
#include <limits>

#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/in_parallel.h"
#include "priors/learner.h"

namespace faultodds::priors {

Grades Learner::mean_of(const Dirichlet& prior, const Grades& counts) {
  Grades mean{};
  double total = 0;
  for (std::size_t g = 0; g < 3; ++g) total += mean[g] = prior.alpha[g] + counts[g];
  for (double& p : mean) p /= total;
  return mean;
}

void Learner::Step::add(const Step& other) {
  for (std::size_t s = 0; s < counts.size(); ++s) {
    for (std::size_t p = 0; p < counts[s].size(); ++p) {
      for (std::size_t g = 0; g < 3; ++g) {
        counts[s][p][g] += other.counts[s][p][g];
        recorded[s][p][g] += other.recorded[s][p][g];
      }
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
  for (std::size_t k = 0; k < doubts; ++k) {
    yes[k] += other.yes[k];
    no[k] += other.no[k];
  }
  for (std::size_t told = 0; told < 2; ++told) seen[told] += other.seen[told];
  log_likelihood += other.log_likelihood;
}

Learner::Step Learner::nothing_counted() const {
  Step step;
  step.counts.assign(sites_.size(), std::vector<Grades>(parameters_.size(), Grades{}));
  step.recorded = step.counts;
  for (const OutcomeGroup& group : groups_) {
    step.outcomes.push_back({});
    step.outcomes.back().seen.assign(3, std::vector<double>(group.start.outcomes.size(), 0));
  }
  return step;
}

void Learner::prepare(const State& state) {
  for (std::size_t c = 0; c < circuits_.size(); ++c) {
    if (observations_[c].empty()) observations_[c] = circuits_[c].observations;
    for (std::size_t o = 0; o < observations_[c].size(); ++o) {
      if (group_of_[c][o] == fixed) continue;
      observations_[c][o].matrix = state.models[group_of_[c][o]].matrix;
      observations_[c][o].background = *state.models[group_of_[c][o]].background;
    }
    std::vector<std::vector<Grades>> priors;
    tables_[c].clear();
    for (const std::vector<Grades>& theta : state.at_site) {
      priors.push_back(base_priors(c, theta));
      tables_[c].push_back(prior_tables(priors.back(), conditions_[c]));
    }
    if (!takes_tree_[c]) continue;
    if (learns_instruments() || !compiled_[c]) compiled_[c] = compile(c, state);
    own_priors_[c].assign(sites_.size(), {});
    for (std::size_t s = 0; s < sites_.size(); ++s) {
      for (std::uint32_t m = 0; m < priors[s].size(); ++m) {
        if (parameter_of_[c][m] != fixed) own_priors_[c][s].push_back({m, priors[s][m]});
      }
    }
  }
}

diagnosis::Case Learner::case_of(const State& state, const Pattern& pattern) const {
  diagnosis::Case made = pattern.evidence;
  if (options_.doubt_records && pattern.unexplained()) {
    diagnosis::Evidence nothing_found;
    nothing_found.observation = *pattern.complaint;
    nothing_found.likelihood = {1, state.share[unexplained], state.share[unexplained]};
    made.evidence.push_back(std::move(nothing_found));
  }
  return made;
}

std::vector<Grades> Learner::likelihoods(const State& state, const Pattern& pattern,
                                         double* log_scale) const {
  const diagnosis::Case made = case_of(state, pattern);
  std::map<std::uint32_t, std::pair<Grades, Grades>> said;  // over G and over S
  std::map<std::uint32_t, bool> through;
  for (const diagnosis::Evidence& e : made.evidence) {
    const circuit::Observation& observation = observations_[pattern.circuit][e.observation];
    auto& [over_g, over_s] =
        said.emplace(e.observation, std::pair(Grades{1, 1, 1}, Grades{1, 1, 1})).first->second;
    Grades here{};
    if (e.outcome) {
      if (*e.outcome >= observation.outcomes.size()) {
        refuse_job(*pattern.example, "an outcome is not one of " + observation.id + "'s");
      }
      for (std::size_t g = 0; g < 3; ++g) here[g] = observation.matrix[g][*e.outcome];
    } else if (e.reading) {
      here = diagnosis::likelihood_of(observation, *e.reading, log_scale, nullptr);
    } else if (e.likelihood) {
      here = *e.likelihood;
    }
    through[e.observation] |= !e.likelihood;
    for (std::size_t g = 0; g < 3; ++g) (e.likelihood ? over_s : over_g)[g] *= here[g];
  }
  std::vector<Grades> result;
  for (const auto& [o, parts] : said) {
    const Grades& background = observations_[pattern.circuit][o].background;
    Grades likelihood{};
    for (std::size_t s = 0; s < 3; ++s) {
      double seen = through[o] ? 0 : 1;
      for (std::size_t b = 0; b < 3 && through[o]; ++b) {
        seen += background[b] * parts.first[std::max(s, b)];
      }
      likelihood[s] = seen * parts.second[s];
    }
    const double largest = std::max({likelihood[0], likelihood[1], likelihood[2]});
    if (largest > 0) {
      *log_scale += std::log(largest);
      for (double& l : likelihood) l /= largest;
    }
    result.push_back(likelihood);
  }
  return result;
}

Learner::Inference Learner::propagate(const diagnosis::Model& model,
                                      const diagnosis::CaseNumbers& numbers,
                                      const std::vector<diagnosis::OwnPrior>& priors,
                                      const std::map<std::uint32_t, Grades>& restricted,
                                      const std::vector<std::uint32_t>& modes,
                                      network::Propagation& propagation) const {
  propagation.clear();
  diagnosis::apply(model, numbers, propagation);
  diagnosis::apply_priors(model, priors, propagation);
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
  for (const std::uint32_t m : modes) result.modes.push_back(grades_at(model.program().mode(m)));
  if (learns_instruments()) {
    for (const diagnosis::ObservedGrade& seen : numbers.observed) {
      result.observed.push_back(grades_at(model.program().observation(seen.observation)));
    }
  }
  return result;
}

Learner::Inference Learner::infer(const State& state, const Pattern& pattern,
                                  const std::vector<Grades>& likelihood,
                                  const std::map<std::uint32_t, Grades>& restricted,
                                  Workspace& workspace) const {
  const RecordPlan& plan = plans_[pattern.plan];
  const std::size_t c = pattern.circuit;
  if (!plan.affordable()) {
    const diagnosis::Model& model = *compiled_[c];
    if (!workspace.propagation) workspace.propagation.emplace(model.program());
    return propagate(model, diagnosis::read_case(model, case_of(state, pattern)),
                     own_priors_[c][pattern.site], restricted, plan.modes(),
                     **workspace.propagation);
  }
  RecordPlan::Answer answer = plan.sum(tables_[c][pattern.site], likelihood, restricted,
                                       learns_instruments(), workspace.scratch);
  Inference result;
  if (!(answer.probability > 0)) return result;
  result.log_probability = std::log(answer.probability);
  result.modes = std::move(answer.modes);
  result.observed = std::move(answer.observed);
  return result;
}

void Learner::count_modes(const Pattern& pattern, const std::vector<Grades>& modes, double times,
                          std::vector<std::vector<Grades>>& counts) const {
  const std::vector<std::uint32_t>& about = plans_[pattern.plan].modes();
  for (std::size_t i = 0; i < modes.size(); ++i) {
    const std::size_t p = parameter_of_[pattern.circuit][about[i]];
    if (p == fixed) continue;
    for (std::size_t g = 0; g < 3; ++g) counts[pattern.site][p][g] += times * modes[i][g];
  }
}

void Learner::add_prior(const State& state, Step& step) const {
  step.log_posterior = step.log_likelihood;
  const auto add = [&](double worth, double share) {
    if (worth > 0) step.log_posterior += worth * std::log(share);
  };
  for (std::size_t p = 0; p < parameters_.size(); ++p) {
    for (std::size_t g = 0; g < 3; ++g) {
      // The mean of a Dirichlet with alpha is the mode of one with alpha + 1.
      add(parameters_[p].prior.alpha[g], state.middle[p][g]);
    }
    const auto odds = [](const Grades& g) { return std::log((g[1] + g[2]) / g[0]); };
    const double from_judged = odds(state.middle[p]) - odds(mean_of(parameters_[p].prior, {}));
    step.log_posterior -= 0.5 * judged_closer(p, state) * from_judged * from_judged;
    for (std::size_t s = 0; s < sites_.size() && state.site_spread > 0; ++s) {
      const double off = (odds(state.at_site[s][p]) - odds(state.middle[p])) / state.site_spread;
      step.log_posterior -= 0.5 * off * off;
    }
  }
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    for (std::size_t g = 0; g < 3; ++g) {
      for (std::size_t k = 0; k < groups_[i].start.outcomes.size(); ++k) {
        add(options_.outcome_worth * groups_[i].start.matrix[g][k], state.models[i].matrix[g][k]);
      }
      add(options_.outcome_worth * background_worth * (*groups_[i].start.background)[g],
          (*state.models[i].background)[g]);
    }
  }
  if (!options_.doubt_records) return;
  for (std::size_t k = 0; k < doubts; ++k) {
    add(doubt_prior[k].alpha, state.share[k]);
    add(doubt_prior[k].beta, 1 - state.share[k]);
  }
}

Learner::Step Learner::expect(const State& state) {
  prepare(state);
  Step step = nothing_counted();
  for (std::size_t c = 0; c < circuits_.size(); ++c) {
    const std::vector<const Pattern*>& records = records_of_[c];
    std::vector<Step> blocks((records.size() + block - 1) / block);
    in_parallel(blocks.size(), options_.threads, [&](std::size_t b) {
      blocks[b] = nothing_counted();
      Workspace workspace;
      for (std::size_t i = b * block; i < std::min(records.size(), (b + 1) * block); ++i) {
        add_record(state, *records[i], workspace, blocks[b]);
      }
    });
    for (const Step& of_block : blocks) step.add(of_block);
    if (!options_.select_by_complaint) continue;
    std::map<std::pair<std::size_t, std::uint32_t>, double> complained;  // jobs by site, complaint
    for (const Pattern* pattern : records) {
      if (pattern->complaint) complained[{pattern->site, *pattern->complaint}] += pattern->jobs;
    }
    Workspace workspace;
    for (const auto& [of, jobs] : complained) {
      add_silent(state, c, of.first, of.second, jobs, workspace, step);
    }
  }
  for (std::size_t s = 0; s < sites_.size(); ++s) {
    for (std::size_t p = 0; p < parameters_.size(); ++p) {
      for (std::size_t g = 0; g < 3; ++g) step.counts[s][p][g] += step.recorded[s][p][g];
    }
  }
  add_prior(state, step);
  return step;
}

void Learner::add_record(const State& state, const Pattern& pattern, Workspace& workspace,
                         Step& step) const {
  double log_scale = 0;
  const std::vector<Grades> likelihood = likelihoods(state, pattern, &log_scale);
  if (!plans_[pattern.plan].affordable()) log_scale = 0;  // what is propagated carries its own
  std::vector<Inference> parts;
  std::vector<double> weight;
  double largest = -std::numeric_limits<double>::infinity();
  for (const Term& term : pattern.terms) {
    std::map<std::uint32_t, Grades> restricted = term.grades;
    for (const std::uint32_t m : term.sound) {
      const Grades possible{1, state.share[overlooked], state.share[overlooked]};
      const auto [at, added] = restricted.emplace(m, possible);
      for (std::size_t g = 0; g < 3 && !added; ++g) at->second[g] *= possible[g];
    }
    double times = term.sign;
    for (std::size_t k = 0; k < bookings; ++k) {
      times *= std::pow(state.share[k], term.blind[k]);
      times *= std::pow(1 - state.share[k], term.looked[k]);
    }
    parts.push_back(infer(state, pattern, likelihood, restricted, workspace));
    weight.push_back(times);
    largest = std::max(largest, parts.back().log_probability);
  }
  double total = 0;
  for (std::size_t t = 0; t < parts.size(); ++t) {
    weight[t] *= std::exp(parts[t].log_probability - largest);
    if (std::isfinite(parts[t].log_probability)) total += weight[t];
  }
  if (!std::isfinite(largest) || !(total > 1e-12)) {
    refuse_job(*pattern.example, "its record is impossible on circuit " +
                                     circuits_[pattern.circuit].id +
                                     "; expected findings and outcomes that can be true together");
  }
  step.log_likelihood += pattern.jobs * (log_scale + largest + std::log(total));
  const std::vector<std::uint32_t>& about = plans_[pattern.plan].modes();
  for (std::size_t t = 0; t < parts.size(); ++t) {
    if (!std::isfinite(parts[t].log_probability)) continue;
    const double times = pattern.jobs * weight[t] / total;
    const Term& term = pattern.terms[t];
    count_modes(pattern, parts[t].modes, times, step.recorded);
    for (std::size_t k = 0; k < bookings; ++k) {
      step.yes[k] += times * term.blind[k];
      step.no[k] += times * term.looked[k];
    }
    for (std::size_t told = 0; told < 2; ++told) {
      step.no[overlooked] += times * term.seen[told];
      if (pattern.telling) step.seen[told] += times * term.seen[told];
    }
    for (const std::uint32_t m : term.sound) {
      const auto at = std::lower_bound(about.begin(), about.end(), m) - about.begin();
      step.yes[overlooked] += times * (1 - parts[t].modes[static_cast<std::size_t>(at)][0]);
    }
    if (pattern.complaint_at && learns_instruments() && !pattern.not_looked_at) {
      const double caused = times * (1 - parts[t].observed[*pattern.complaint_at][0]);
      (pattern.found ? step.no : step.yes)[unexplained] += caused;
    }
    if (learns_instruments()) count_outcomes(pattern, parts[t].observed, times, step);
  }
}

void Learner::add_silent(const State& state, std::size_t c, std::size_t site,
                         std::uint32_t observation, double jobs, Workspace& workspace,
                         Step& step) const {
  const circuit::Observation& symptom = observations_[c][observation];
  Grades normal{}, abnormal{};
  for (std::size_t s = 0; s < 3; ++s) {
    for (std::size_t b = 0; b < 3; ++b) {
      const std::vector<double>& row = symptom.matrix[std::max(s, b)];
      for (std::size_t k = 0; k < row.size(); ++k) {
        (k == 0 ? normal : abnormal)[s] += symptom.background[b] * row[k];
      }
    }
  }
  Pattern pattern;
  pattern.circuit = static_cast<std::uint32_t>(c);
  pattern.site = site;
  pattern.plan = silent_plan_.at({pattern.circuit, observation});
  const RecordPlan& plan = plans_[pattern.plan];
  const auto with = [&](const Grades& likelihood,
                        const std::map<std::uint32_t, Grades>& restricted) {
    if (!plan.affordable()) {
      const diagnosis::Model& model = *compiled_[c];
      if (!workspace.propagation) workspace.propagation.emplace(model.program());
      diagnosis::CaseNumbers numbers;
      numbers.observed.emplace_back();
      numbers.observed[0].observation = observation;
      numbers.observed[0].likelihood = likelihood;
      return propagate(model, numbers, own_priors_[c][site], restricted, plan.modes(),
                       **workspace.propagation);
    }
    RecordPlan::Answer answer = plan.sum(tables_[c][site], std::vector<Grades>{likelihood},
                                         restricted, false, workspace.scratch);
    return Inference{std::log(answer.probability), std::move(answer.modes), {}};
  };
  const Inference loud = with(abnormal, {}), silent = with(normal, {});
  double on_record = std::exp(loud.log_probability);
  std::optional<Inference> nothing_found;
  double left_out = 0;
  if (faults_alone_) {  // unless something was booked unseen
    std::map<std::uint32_t, Grades> sound;
    for (const std::uint32_t m : suspects(pattern.circuit, observation)) sound[m] = {1, 0, 0};
    nothing_found = with(abnormal, sound);
    left_out = (1 - state.share[booking_]) * std::exp(nothing_found->log_probability);
    on_record -= left_out;
  }
  step.log_likelihood -= jobs * std::log(on_record);
  if (std::isfinite(silent.log_probability)) {
    count_modes(pattern, silent.modes, jobs * std::exp(silent.log_probability) / on_record,
                step.counts);
  }
  if (!(left_out > 0)) return;
  count_modes(pattern, nothing_found->modes, jobs * left_out / on_record, step.counts);
  step.no[booking_] += jobs * left_out / on_record;
}

}  // namespace faultodds::priors
