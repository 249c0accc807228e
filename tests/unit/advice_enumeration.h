// What advice rests on, by summing over every combination of mode grades and conditions: the
// yardstick of the advice tests. And random small machines to hold it against. Neither uses the
// compiled network.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <map>
#include <optional>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/economics.h"
#include "core/diagnosis/model.h"

namespace advice_test {

using faultodds::circuit::Analysis;
using faultodds::circuit::ObservationKind;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Evidence;
using faultodds::diagnosis::Model;
using Grades = std::array<double, 3>;

// A machine with one failure mode after another; the rest is filled in as if a circuit said so.
class Machine {
 public:
  std::uint32_t component(const std::string& id, double cost = 100, double lead_days = 0) {
    faultodds::circuit::Component c;
    c.id = id;
    c.part_cost = cost;
    c.minutes = 0;
    c.lead_days = lead_days;
    analysis.components.push_back(c);
    return static_cast<std::uint32_t>(analysis.components.size() - 1);
  }
  std::uint32_t mode(std::uint32_t component, const Grades& prior) {
    faultodds::circuit::FailureMode m;
    m.component = analysis.components[component].id;
    m.name = "m" + std::to_string(analysis.modes.size());
    m.id = m.component + "." + m.name;
    m.type_mode = "type." + m.name;
    m.title = m.name;
    m.component_index = component;
    m.prior = prior;
    analysis.modes.push_back(m);
    return static_cast<std::uint32_t>(analysis.modes.size() - 1);
  }
  // Of its own component.
  std::uint32_t part(const std::string& id, double faulty, double cost = 100) {
    return mode(component(id, cost), {1 - faulty, faulty / 2, faulty / 2});
  }
  std::uint32_t observation(const std::string& id,
                            const std::vector<std::vector<std::uint32_t>>& sets,
                            const std::vector<std::vector<double>>& matrix, bool symptom = false,
                            double minutes = 6) {
    faultodds::circuit::Observation o;
    o.id = o.title = id;
    o.kind = symptom ? ObservationKind::symptom : ObservationKind::test;
    o.symptom = symptom;
    for (const auto& set : sets) o.sets.push_back({set, 1});
    for (std::size_t i = 0; i < matrix[0].size(); ++i) o.outcomes.push_back(std::to_string(i));
    o.matrix = matrix;
    o.perform_minutes = minutes;
    analysis.observations.push_back(o);
    return static_cast<std::uint32_t>(analysis.observations.size() - 1);
  }
  std::uint32_t setup(const std::string& id, double minutes) {
    analysis.setup_steps.push_back({id, minutes});
    return static_cast<std::uint32_t>(analysis.setup_steps.size() - 1);
  }
  Model compile() const { return Model::compile(analysis, faultodds::diagnosis::Pack{}); }

  Analysis analysis;
};

// P(outcome | grade) of an observation that seldom errs.
inline const std::vector<std::vector<double>> kTelling{{0.98, 0.02}, {0.05, 0.95}, {0.02, 0.98}};

inline Evidence saw(std::uint32_t observation, std::uint32_t outcome) {
  Evidence e;
  e.observation = observation;
  e.outcome = outcome;
  return e;
}

// One combination of grades with its probability times the likelihood of the evidence.
struct World {
  std::vector<int> grade;  // of each mode
  double weight = 0;
};

// P(S = s | grades) of an observation.
inline Grades grade_of(const Analysis& analysis, std::uint32_t o, const std::vector<int>& grade,
                       const std::function<bool(std::uint32_t)>& is_sound = {}) {
  Grades at_most{1, 1, 1};
  for (const auto& set : analysis.observations[o].sets) {
    int least = 2;
    for (std::uint32_t m : set.modes) {
      least = std::min(least, is_sound && is_sound(m) ? 0 : grade[m]);
    }
    for (int s = 0; s < least; ++s) at_most[static_cast<std::size_t>(s)] *= 1 - set.probability;
  }
  return {at_most[0], at_most[1] - at_most[0], at_most[2] - at_most[1]};
}

// P(outcome | S).
inline double row(const Analysis& analysis, std::uint32_t o, std::size_t s, std::size_t outcome) {
  const auto& observation = analysis.observations[o];
  double p = 0;
  for (std::size_t b = 0; b < 3; ++b) {
    p += observation.background[b] * observation.matrix[std::max(s, b)][outcome];
  }
  return p;
}

inline double outcome_probability(const Analysis& analysis, std::uint32_t o, std::size_t outcome,
                                  const std::vector<int>& grade,
                                  const std::function<bool(std::uint32_t)>& is_sound = {}) {
  const Grades s = grade_of(analysis, o, grade, is_sound);
  double p = 0;
  for (std::size_t k = 0; k < 3; ++k) p += s[k] * row(analysis, o, k, outcome);
  return p;
}

class Enumeration {
 public:
  // `likelihood` of one combination of grades.
  Enumeration(const Analysis& analysis,
              const std::function<double(const std::vector<int>&)>& likelihood)
      : analysis_(analysis) {
    const std::size_t n = analysis.modes.size(), c = analysis.conditions.size();
    for (std::size_t holds = 0; holds < (std::size_t{1} << c); ++holds) {
      double p = 1;
      std::vector<double> factor(n, 1.0);
      for (std::size_t k = 0; k < c; ++k) {
        const auto& condition = analysis.conditions[k];
        const bool on = (holds >> k & 1) != 0;
        p *= on ? condition.probability : 1 - condition.probability;
        for (const auto& [m, f] : condition.raises) factor[m] *= on ? f : 1;
      }
      std::vector<int> grade(n, 0);
      visit(grade, 0, p, factor, likelihood);
    }
  }
  // With hard outcomes as evidence.
  Enumeration(const Analysis& analysis, const Case& the_case)
      : Enumeration(analysis, [&](const std::vector<int>& grade) {
          double p = 1;
          for (const Evidence& e : the_case.evidence) {
            p *= outcome_probability(analysis, e.observation, *e.outcome, grade);
          }
          return p;
        }) {}

  double total() const { return total_; }
  // P(f | e) for an indicator or any other function of the grades: its expectation.
  double mean(const std::function<double(const std::vector<int>&)>& f) const {
    double sum = 0;
    for (const World& world : worlds_) sum += world.weight * f(world.grade);
    return sum / total_;
  }
  const std::vector<World>& worlds() const { return worlds_; }

 private:
  void visit(std::vector<int>& grade, std::size_t m, double p, const std::vector<double>& factor,
             const std::function<double(const std::vector<int>&)>& likelihood) {
    if (m == grade.size()) {
      const double weight = p * likelihood(grade);
      if (weight > 0) worlds_.push_back({grade, weight});
      total_ += weight;
      return;
    }
    const auto& prior = analysis_.modes[m].prior;
    const double all = prior[0] + factor[m] * (prior[1] + prior[2]);
    for (int g = 0; g < 3; ++g) {
      const double q = prior[static_cast<std::size_t>(g)] * (g > 0 ? factor[m] : 1) / all;
      if (!(q > 0)) continue;
      grade[m] = g;
      visit(grade, m + 1, p * q, factor, likelihood);
    }
    grade[m] = 0;
  }

  const Analysis& analysis_;
  std::vector<World> worlds_;
  double total_ = 0;
};

// A random machine of up to eight modes with one symptom at least, and a case on it.
struct Sample {
  Machine machine;
  Case the_case;
};

inline Sample random_sample(std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto uniform = [&](double a, double b) {
    return std::uniform_real_distribution<double>(a, b)(random);
  };
  const auto pick = [&](std::size_t n) {
    return static_cast<std::uint32_t>(std::uniform_int_distribution<std::size_t>(0, n - 1)(random));
  };
  Sample sample;
  Machine& machine = sample.machine;
  const std::size_t components = 2 + pick(4);
  std::size_t modes = 0;
  for (std::size_t c = 0; c < components; ++c) {
    const double hours = pick(3) == 0 ? uniform(0.2, 2) : 0, price = uniform(20, 300);
    const auto id = machine.component("part" + std::to_string(c), price, hours);
    const std::size_t own = 1 + pick(2);
    for (std::size_t k = 0; k < own && modes < 8; ++k, ++modes) {
      const double faulty = uniform(0.02, 0.4), failed = uniform(0.2, 0.8);
      machine.mode(id, {1 - faulty, faulty * (1 - failed), faulty * failed});
    }
  }
  for (std::uint32_t i = 0; i < 3; ++i) {
    machine.setup("step" + std::to_string(i), std::floor(uniform(0, 12)));
  }
  const std::size_t observations = 4 + pick(3);
  for (std::size_t o = 0; o < observations; ++o) {
    std::vector<std::vector<std::uint32_t>> sets;
    const std::size_t count = 1 + pick(4);
    for (std::size_t k = 0; k < count; ++k) {
      std::vector<std::uint32_t> set{pick(modes)};
      if (pick(3) == 0) set.push_back(pick(modes));
      std::sort(set.begin(), set.end());
      set.erase(std::unique(set.begin(), set.end()), set.end());
      sets.push_back(set);
    }
    const double a = uniform(0.02, 0.3), b = uniform(0.02, 0.3), c = uniform(0.01, 0.2);
    std::vector<std::vector<double>> matrix{
        {1 - a - a / 2, a, a / 2}, {b, 1 - b - b / 2, b / 2}, {c / 2, c, 1 - c - c / 2}};
    const auto id = machine.observation("o" + std::to_string(o), sets, matrix, o < 2,
                                        std::floor(uniform(1, 15)));
    auto& made = machine.analysis.observations[id];
    made.background = {0.95, 0.03, 0.02};
    made.energised = pick(4) == 0;
    for (auto& set : made.sets) {
      if (pick(6) == 0) set.probability = 0.8;
    }
    for (std::uint32_t i = 0; i < 3; ++i) {
      if (pick(2) == 0) made.setup.push_back("step" + std::to_string(i));
    }
  }
  if (pick(2) == 0) {
    faultodds::circuit::ConditionEffect condition;
    condition.id = condition.title = "dirt";
    condition.probability = uniform(0.1, 0.5);
    for (std::uint32_t m = 0; m < modes; ++m) {
      if (pick(2) == 0) condition.raises.emplace_back(m, uniform(0.5, 6));
    }
    machine.analysis.conditions.push_back(condition);
  }
  sample.the_case.evidence.push_back(saw(0, 1 + pick(2)));
  if (pick(2) == 0) sample.the_case.evidence.push_back(saw(1, pick(3)));
  if (pick(2) == 0) sample.the_case.evidence.push_back(saw(2, pick(3)));
  // Whatever contradicts itself was looked at again already.
  for (Evidence& e : sample.the_case.evidence) e.again = true;
  if (pick(3) == 0) sample.the_case.setup_done.push_back("step0");
  sample.the_case.economics.come_back = uniform(100, 1500);
  sample.the_case.economics.downtime_per_hour = uniform(0, 100);
  return sample;
}

// ---- the decision by enumeration ---------------------------------------------------------------

constexpr double kSoundNewPart = 0.99;  // where the case says nothing else

// Components with a mode in a set of an abnormal symptom, and what was seen of those symptoms.
struct Causes {
  std::vector<std::uint32_t> components;
  std::vector<bool> mode;
  std::map<std::uint32_t, std::vector<std::uint32_t>> complaint;  // outcomes by observation
  double sound_new_part = kSoundNewPart;
};

inline Causes causes_of(const Analysis& analysis, const Case& the_case) {
  Causes causes;
  causes.mode.assign(analysis.modes.size(), false);
  causes.sound_new_part = 1 - the_case.economics.bad_new_part;
  for (const Evidence& e : the_case.evidence) {
    if (!analysis.observations[e.observation].symptom || *e.outcome == 0) continue;
    causes.complaint[e.observation].push_back(*e.outcome);
    for (const auto& set : analysis.observations[e.observation].sets) {
      for (std::uint32_t m : set.modes) causes.mode[m] = true;
    }
  }
  for (std::uint32_t c = 0; c < analysis.components.size(); ++c) {
    for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
      if (causes.mode[m] && analysis.modes[m].component_index == c) {
        causes.components.push_back(c);
        break;
      }
    }
  }
  return causes;
}

// Of every component: whether it is listed.
inline std::vector<bool> as_components(const Analysis& analysis,
                                       const std::vector<std::uint32_t>& list) {
  std::vector<bool> set(analysis.components.size(), false);
  for (std::uint32_t c : list) set[c] = true;
  return set;
}

// P(these outcomes of o | grades): S and the background are the same each time. With `replaced`,
// and no set shows that none of those components is in, nor the background. And S is `most` at
// most.
inline double seen_probability(const Analysis& analysis, std::uint32_t o,
                               const std::vector<std::uint32_t>& outcomes,
                               const std::vector<int>& grade,
                               const std::vector<bool>* replaced = nullptr, std::size_t most = 2) {
  const auto& observation = analysis.observations[o];
  Grades at_most{1, 1, 1};
  double untouched = 1;
  for (const auto& set : observation.sets) {
    int least = 2;
    bool touched = false;
    for (std::uint32_t m : set.modes) {
      least = std::min(least, grade[m]);
      touched = touched || (replaced && (*replaced)[analysis.modes[m].component_index]);
    }
    if (replaced && !touched) {
      untouched *= least > 0 ? 1 - set.probability : 1;
      continue;
    }
    for (int s = 0; s < least; ++s) at_most[static_cast<std::size_t>(s)] *= 1 - set.probability;
  }
  const Grades shown{at_most[0], at_most[1] - at_most[0], at_most[2] - at_most[1]};
  double sum = 0;
  for (std::size_t s = 0; s <= most; ++s) {
    for (std::size_t b = 0; b < (replaced ? 1u : 3u); ++b) {
      double p = shown[s] * observation.background[b];
      for (const std::uint32_t i : outcomes) p *= observation.matrix[std::max(s, b)][i];
      sum += p;
    }
  }
  return untouched * sum;
}

// P(the complaint is cured once these components are replaced | grades, what was seen of it); with
// `again`, and that outcome is seen when it is looked at once more.
struct Again {
  std::uint32_t observation = 0, outcome = 0;
};
inline double cured(const Analysis& analysis, const Causes& causes,
                    const std::vector<bool>& replaced, const std::vector<int>& grade,
                    const std::optional<Again>& again = {}) {
  double p = 1;
  for (const auto& [o, outcomes] : causes.complaint) {
    std::vector<std::uint32_t> seen = outcomes;
    const double before = seen_probability(analysis, o, seen, grade);
    if (again && again->observation == o) seen.push_back(again->outcome);
    if (!(before > 0)) return 0;
    p *= seen_probability(analysis, o, seen, grade, &replaced) / before;
  }
  for (std::uint32_t c : causes.components) p *= replaced[c] ? causes.sound_new_part : 1;
  return p;
}

// P(outcome of o | grades, what was seen before), whether it was observed before or not.
inline double next_outcome(const Analysis& analysis, const Causes& causes, std::uint32_t o,
                           std::uint32_t outcome, const std::vector<int>& grade) {
  const auto at = causes.complaint.find(o);
  if (at == causes.complaint.end()) return outcome_probability(analysis, o, outcome, grade);
  std::vector<std::uint32_t> seen = at->second;
  const double before = seen_probability(analysis, o, seen, grade);
  seen.push_back(outcome);
  return before > 0 ? seen_probability(analysis, o, seen, grade) / before : 0;
}

inline double cost_of(const Analysis& analysis, const faultodds::diagnosis::Economics& economics,
                      const std::vector<bool>& replaced) {
  double cost = 0, days = 0;
  for (std::size_t c = 0; c < replaced.size(); ++c) {
    if (!replaced[c]) continue;
    const auto& component = analysis.components[c];
    cost += component.part_cost.value_or(economics.part_cost) +
            component.minutes.value_or(economics.repair_minutes) *
                (economics.labour_per_hour + economics.downtime_per_hour) / 60;
    days = std::max(days, component.lead_days.value_or(economics.lead_days));
  }
  return cost + days * economics.downtime_hours_per_day * economics.downtime_per_hour;
}

// What repairs are compared by: `per_part` more for each part.
inline double compared_cost_of(const Analysis& analysis,
                               const faultodds::diagnosis::Economics& economics,
                               const std::vector<bool>& replaced) {
  const auto parts = std::count(replaced.begin(), replaced.end(), true);
  return cost_of(analysis, economics, replaced) +
         economics.per_part.value_or(0) * static_cast<double>(parts);
}

// Every set of the causes' components.
inline std::vector<std::vector<bool>> all_sets(const Analysis& analysis, const Causes& causes) {
  std::vector<std::vector<bool>> sets;
  for (std::size_t bits = 0; bits < (std::size_t{1} << causes.components.size()); ++bits) {
    std::vector<bool> set(analysis.components.size(), false);
    for (std::size_t k = 0; k < causes.components.size(); ++k) {
      set[causes.components[k]] = (bits >> k & 1) != 0;
    }
    sets.push_back(std::move(set));
  }
  return sets;
}

// Least loss over every set (expected cost, and what the parts are compared by), with the evidence
// weighed further by `weight`, times the probability of that weight; with `again`, of that outcome
// of the complaint besides.
inline double least_loss(const Analysis& analysis, const Enumeration& posterior,
                         const Causes& causes, const faultodds::diagnosis::Economics& economics,
                         const std::function<double(const std::vector<int>&)>& weight,
                         std::vector<bool>* best = nullptr,
                         const std::optional<Again>& again = {}) {
  double least = std::numeric_limits<double>::infinity();
  const double all = posterior.mean([&](const std::vector<int>& grade) {
    return weight(grade) *
           (again ? next_outcome(analysis, causes, again->observation, again->outcome, grade) : 1);
  });
  for (const auto& set : all_sets(analysis, causes)) {
    const double cost = compared_cost_of(analysis, economics, set);
    const double well = posterior.mean([&](const std::vector<int>& grade) {
      return weight(grade) * cured(analysis, causes, set, grade, again);
    });
    const double loss = cost * all + *economics.come_back * (all - well);
    if (loss < least) {
      least = loss;
      if (best) *best = set;
    }
  }
  return least;
}

inline double one(const std::vector<int>&) { return 1; }

}  // namespace advice_test
