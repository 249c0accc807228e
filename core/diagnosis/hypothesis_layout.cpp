#include "core/diagnosis/hypothesis_layout.h"

#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kMostSizeCombinations = 1 << 16;

// P(state) of a mode by combination of the conditions on it, the first in the highest bit.
std::vector<std::vector<double>> state_rows(const Model& model, const CaseNumbers& numbers,
                                            std::uint32_t mode) {
  const circuit::FailureMode& of = model.analysis().modes[mode];
  const circuit::GradeDistribution prior = prior_in(model, numbers, mode);
  const ModeConditions& by = model.program().mode_conditions()[mode];
  std::vector<std::vector<double>> rows;
  for (std::size_t i = 0; i < std::size_t{1} << by.factors.size(); ++i) {
    const Grades grades = conditioned(prior, by, i);
    auto& row = rows.emplace_back();
    for (const circuit::ModeState& state : states_of(of)) {
      row.push_back(grades[state.grade] * state.share);
    }
  }
  return rows;
}

}  // namespace

void Hypotheses::Layout::find_needed(std::span<const std::uint32_t> complaint,
                                     std::span<const std::uint32_t> asked) {
  needed.assign(analysis.observations.size(), false);
  told = needed;
  for (const ObservedGrade& s : numbers.observed) needed[s.observation] = true;
  for (const std::uint32_t o : complaint) needed[o] = true;
  for (const std::uint32_t o : asked) told[o] = true;
  for (std::size_t o = 0; o < told.size(); ++o) told[o] = told[o] || needed[o];
}

void Hypotheses::Layout::choose_variables() {
  const std::size_t modes = analysis.modes.size();
  std::vector<bool> core(modes, false), met(modes, false);
  std::vector<StatesAlike> by_told, by_needed;
  for (const auto& mode : analysis.modes) {
    by_needed.emplace_back(states_of(mode).size());
    std::vector<std::uint8_t> faulty;
    for (const auto& state : states_of(mode)) faulty.push_back(state.grade > 0);
    by_needed.back().add(faulty);
  }
  by_told = by_needed;
  for (std::uint32_t o = 0; o < told.size(); ++o) {
    if (!told[o]) continue;
    for (const circuit::ModeSet& set : analysis.observations[o].sets) {
      const circuit::SetLink& link = links.of(set);
      for (std::size_t i = 0; i < set.modes.size(); ++i) {
        const std::uint32_t m = set.modes[i];
        by_told[m].add(link, i);
        met[m] = true;
        if (!needed[o]) continue;
        by_needed[m].add(link, i);
        core[m] = true;
      }
    }
  }
  into.complete_ = set_variables(met, by_told) <= kMostComplete;
  if (!into.complete_) set_variables(core, by_needed);
  into.variables_ = search.variables.size();
}

double Hypotheses::Layout::set_variables(const std::vector<bool>& of,
                                         const std::vector<StatesAlike>& alike) {
  classes.clear();
  for (const StatesAlike& one : alike) classes.push_back(one.classes());
  search.variables.clear();
  variable.assign(analysis.conditions.size(), -1);
  into.variable_of_mode_.assign(analysis.modes.size(), -1);
  double states = 1;
  for (std::uint32_t m = 0; m < of.size(); ++m) {
    if (!of[m]) continue;
    for (const std::uint32_t c : model.program().mode_conditions()[m].conditions) {
      if (variable[c] >= 0) continue;
      variable[c] = static_cast<std::int32_t>(search.variables.size());
      Variable one;
      one.is_condition = true;
      one.holds = analysis.conditions[c].probability;
      search.variables.push_back(std::move(one));
      states *= 2;
    }
  }
  for (std::uint32_t m = 0; m < of.size(); ++m) {
    if (!of[m]) continue;
    into.variable_of_mode_[m] = static_cast<std::int32_t>(search.variables.size());
    states *= static_cast<double>(classes[m].count);
    search.variables.emplace_back().count = classes[m].count;
  }
  return states;
}

void Hypotheses::Layout::weigh_modes() {
  into.grades_.assign(into.variables_, {});
  into.free_.assign(analysis.modes.size(), {});
  within.assign(analysis.modes.size(), {});
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) {
    const std::vector<std::vector<double>> rows = state_rows(model, numbers, m);
    if (into.variable_of_mode_[m] < 0) {
      weigh_free(m, rows);
    } else {
      weigh_variable(m, rows);
    }
  }
}

void Hypotheses::Layout::weigh_free(std::uint32_t m, const std::vector<std::vector<double>>& rows) {
  const auto states = states_of(analysis.modes[m]);
  const ModeConditions& by = model.program().mode_conditions()[m];
  const Grades prior = model.program().prior(m, prior_in(model, numbers, m));
  for (const circuit::ModeState& state : states) {
    within[m].push_back(prior[state.grade] * state.share);
  }
  Free& free = into.free_[m];
  for (const std::uint32_t c : by.conditions) {
    if (variable[c] >= 0) free.conditions.push_back(static_cast<std::uint32_t>(variable[c]));
  }
  free.grades.assign(std::size_t{1} << free.conditions.size(), Grades{});
  for (std::size_t i = 0; i < rows.size(); ++i) {
    double p = 1;
    std::size_t combination = 0;
    for (std::size_t k = 0; k < by.conditions.size(); ++k) {
      const bool holds = (i >> (by.conditions.size() - 1 - k) & 1) != 0;
      if (variable[by.conditions[k]] >= 0) {
        combination = combination * 2 + (holds ? 1 : 0);
      } else {
        const double q = analysis.conditions[by.conditions[k]].probability;
        p *= holds ? q : 1 - q;
      }
    }
    for (std::size_t k = 0; k < states.size(); ++k) {
      free.grades[combination][states[k].grade] += p * rows[i][k];
    }
  }
}

void Hypotheses::Layout::weigh_variable(std::uint32_t m,
                                        const std::vector<std::vector<double>>& rows) {
  const auto states = states_of(analysis.modes[m]);
  const auto v = static_cast<std::uint32_t>(into.variable_of_mode_[m]);
  Variable& of = search.variables[v];
  for (const std::uint32_t c : model.program().mode_conditions()[m].conditions) {
    of.conditions.push_back(static_cast<std::uint32_t>(variable[c]));
    search.variables[static_cast<std::size_t>(variable[c])].raises.push_back(v);
  }
  for (const std::vector<double>& row : rows) {
    auto& lumped = of.rows.emplace_back(of.count, 0.0);
    for (std::size_t k = 0; k < row.size(); ++k) lumped[classes[m].of[k]] += row[k];
  }
  // Conditions act on both grades that are not sound alike.
  std::vector<Grades>& grades = into.grades_[v];
  grades.assign(of.count, Grades{});
  std::vector<double> total(of.count, 0);
  for (std::size_t k = 0; k < states.size(); ++k) {
    grades[classes[m].of[k]][states[k].grade] += rows.front()[k];
    total[classes[m].of[k]] += rows.front()[k];
  }
  for (std::size_t k = 0; k < states.size(); ++k) {
    const std::size_t c = classes[m].of[k];
    within[m].push_back(total[c] > 0 ? rows.front()[k] / total[c] : 0);
  }
  for (std::size_t k = 0; k < of.count; ++k) {
    for (double& p : grades[k]) p = total[k] > 0 ? p / total[k] : 0;
  }
}

void Hypotheses::Layout::make_tables() {
  into.first_set_.assign(told.size(), kUnknown);
  into.sets_.assign(told.size(), 0);
  for (std::uint32_t o = 0; o < told.size(); ++o) {
    if (!told[o]) continue;
    check_stop();
    const circuit::Observation& observation = analysis.observations[o];
    into.first_set_[o] = into.tables_.size();
    into.sets_[o] = observation.sets.size();
    for (const circuit::ModeSet& set : observation.sets) {
      into.tables_.push_back(table_of(set, observation));
    }
  }
  for (const ObservedGrade& s : numbers.observed) {
    const auto k = static_cast<std::uint32_t>(search.seen.size());
    search.seen.push_back({s.observation, s.likelihood});
    for (std::size_t j = 0; j < into.sets_[s.observation]; ++j) {
      for (const std::uint32_t v : into.tables_[into.first_set_[s.observation] + j].variables) {
        auto& list = search.variables[v].evidence;
        if (list.empty() || list.back() != k) list.push_back(k);
      }
    }
  }
}

Hypotheses::SetTable Hypotheses::Layout::table_of(const circuit::ModeSet& set,
                                                  const circuit::Observation& observation) {
  const circuit::SetLink& link = links.of(set);
  SetTable table;
  std::size_t entries = 1, combinations = 1;
  for (const std::uint32_t m : set.modes) {
    if (into.variable_of_mode_[m] >= 0) {
      table.variables.push_back(static_cast<std::uint32_t>(into.variable_of_mode_[m]));
      table.stride.push_back(static_cast<std::uint32_t>(entries));
      entries *= classes[m].count;
    }
    combinations *= within[m].size();
    if (combinations > kMostSizeCombinations) {
      throw Error(Code::limit_exceeded, "a minimal set of '" + observation.id +
                                            "' has too many failure modes to advise on");
    }
  }
  table.at_most.assign(2 * entries, 0);
  std::vector<std::size_t> states(set.modes.size());
  for (std::size_t c = 0; c < combinations; ++c) {
    std::size_t rest = c, entry = 0, variables = 0;
    double p = 1;
    for (std::size_t i = 0; i < set.modes.size(); ++i) {
      const std::uint32_t m = set.modes[i];
      states[i] = rest % within[m].size();
      rest /= within[m].size();
      p *= within[m][states[i]];
      if (into.variable_of_mode_[m] >= 0) {
        entry += table.stride[variables++] * classes[m].of[states[i]];
      }
    }
    if (p == 0) continue;
    for (std::size_t t = 0; t < 2; ++t) {
      table.at_most[2 * entry + t] += p * diagnosis::at_most(link, t, states);
    }
  }
  return table;
}

}  // namespace faultodds::diagnosis
