#include "core/diagnosis/information.h"

#include <algorithm>
#include <map>
#include <numeric>
#include <optional>
#include <set>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/query.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

using Set = std::vector<std::uint32_t>;  // of modes, ascending

// Finds what a test still depends on once a pattern of evidence is given.
class Dependence {
 public:
  Dependence(const Model& model, const CaseNumbers& pattern)
      : analysis_(model.analysis()),
        program_(model.program()),
        wears_out_(model.wear_out()),
        joint_sets_of_mode_(analysis_.modes.size()),
        known_(analysis_.modes.size(), false),
        observed_(analysis_.observations.size(), false),
        complained_(analysis_.observations.size(), false) {
    std::set<Set> joint;
    for (std::uint32_t o : pattern.complaint) {
      complained_[o] = true;
      for (const auto& set : analysis_.observations[o].sets) {
        if (set.modes.size() == 1) {
          known_[set.modes[0]] = true;
        } else {
          joint.insert(set.modes);
        }
      }
    }
    joint_sets_.assign(joint.begin(), joint.end());
    for (std::uint32_t i = 0; i < joint_sets_.size(); ++i) {
      for (std::uint32_t m : joint_sets_[i]) joint_sets_of_mode_[m].push_back(i);
    }
    for (const ObservedGrade& seen : pattern.observed) {
      observed_[seen.observation] = true;
      evidence_.push_back(seen.observation);
    }
    unite_evidence();
  }

  // The min over a set is a function of X when sets of X inside it cover it.
  bool determined(const Set& set) const {
    return std::all_of(set.begin(), set.end(), [&](std::uint32_t m) {
      return known_[m] ||
             std::any_of(joint_sets_of_mode_[m].begin(), joint_sets_of_mode_[m].end(),
                         [&](std::uint32_t i) {
                           return std::includes(set.begin(), set.end(), joint_sets_[i].begin(),
                                                joint_sets_[i].end());
                         });
    });
  }

  bool all_determined(std::uint32_t o) const {
    const auto& sets = analysis_.observations[o].sets;
    return std::all_of(sets.begin(), sets.end(),
                       [&](const auto& set) { return determined(set.modes); });
  }

  // The functions of X that the test's grade still depends on: the unknown modes of its
  // undetermined sets are followed through everything that ties them to X, which is other evidence,
  // sets of X they are part of, and conditions.
  QueryTargets targets(std::uint32_t o) const;

  // The modes of the test's undetermined sets, if these are single modes on which nothing known
  // bears, no condition acts, and that are probable enough to be all sound: dividing by a tiny
  // P(R = 0) would magnify rounding.
  std::optional<Set> rest_apart(std::uint32_t o) const {
    if (program_.bounded()) return std::nullopt;  // would divide errors by it too
    Set rest;
    double all_sound = 1;
    for (const auto& set : analysis_.observations[o].sets) {
      if (set.probability < 1) return std::nullopt;
      if (determined(set.modes)) continue;
      const std::uint32_t m = set.modes[0];
      if (set.modes.size() > 1 || !program_.mode_conditions()[m].conditions.empty() || tied(m)) {
        return std::nullopt;
      }
      if (wears_out_[m]) return std::nullopt;
      if (std::find(rest.begin(), rest.end(), m) != rest.end()) continue;  // a set listed twice
      all_sound *= analysis_.modes[m].prior[0];
      rest.push_back(m);
    }
    if (all_sound < 1e-3) return std::nullopt;
    return rest;
  }

  // Does the test's grade depend on T and the evidence through the conditions alone?
  bool through_conditions(std::uint32_t o) const {
    const auto& sets = analysis_.observations[o].sets;
    return program_.knows_given_conditions() &&
           std::all_of(sets.begin(), sets.end(), [&](const auto& set) {
             return std::none_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
               return known_[m] || tied(m) || wears_out_[m];
             });
           });
  }

  // The evidence that can change the joint distribution of some targets and a test's grade.
  std::vector<std::uint32_t> bearing_on(const QueryTargets& targets, std::uint32_t o) const {
    std::vector<bool> part(analysis_.modes.size() + analysis_.conditions.size(), false);
    auto mark = [&](std::uint32_t m) {
      part[find(m)] = true;
      for (std::uint32_t c : program_.mode_conditions()[m].conditions)
        part[find(node_of(c))] = true;
    };
    auto mark_set = [&](const Set& set) { std::for_each(set.begin(), set.end(), mark); };
    for (const auto& set : analysis_.observations[o].sets) mark_set(set.modes);
    for (const auto& group : targets.groups) std::for_each(group.begin(), group.end(), mark_set);
    std::for_each(targets.sets.begin(), targets.sets.end(), mark_set);
    mark_set(targets.modes);
    mark_set(targets.not_sound);
    for (std::uint32_t c : targets.conditions) part[find(node_of(c))] = true;
    std::vector<std::uint32_t> bearing;
    for (std::uint32_t e : evidence_) {
      const auto& sets = analysis_.observations[e].sets;
      if (!sets.empty() && part[find(sets[0].modes[0])]) bearing.push_back(e);
    }
    return bearing;
  }

 private:
  std::uint32_t node_of(std::uint32_t condition) const {
    return static_cast<std::uint32_t>(analysis_.modes.size()) + condition;
  }
  std::uint32_t find(std::uint32_t node) const {
    while (part_of_[node] != node) node = part_of_[node];
    return node;
  }
  // Modes that share evidence, directly or through conditions, form one part.
  void unite_evidence() {
    part_of_.resize(analysis_.modes.size() + analysis_.conditions.size());
    std::iota(part_of_.begin(), part_of_.end(), 0u);
    auto unite = [&](std::uint32_t a, std::uint32_t b) {
      a = find(a);
      b = find(b);
      if (a != b) part_of_[std::max(a, b)] = std::min(a, b);
    };
    for (std::uint32_t e : evidence_) {
      const auto& sets = analysis_.observations[e].sets;
      for (const auto& set : sets) {
        for (std::uint32_t m : set.modes) {
          unite(sets[0].modes[0], m);
          for (std::uint32_t c : program_.mode_conditions()[m].conditions) unite(m, node_of(c));
        }
      }
    }
  }
  // Does anything but its own prior bear on an unknown mode?
  bool tied(std::uint32_t m) const {
    if (!joint_sets_of_mode_[m].empty()) return true;
    const auto& in = program_.observations_of_mode()[m];
    return std::any_of(in.begin(), in.end(),
                       [&](std::uint32_t j) { return observed_[j] && !complained_[j]; });
  }

  const circuit::Analysis& analysis_;
  const Program& program_;
  const std::vector<std::optional<WearOut>>& wears_out_;        // by mode
  std::vector<Set> joint_sets_;                                 // of X, two modes and more
  std::vector<std::vector<std::uint32_t>> joint_sets_of_mode_;  // indices into joint_sets_
  std::vector<bool> known_;                                     // modes that are themselves in X
  std::vector<bool> observed_, complained_;                     // by observation
  std::vector<std::uint32_t> evidence_;
  std::vector<std::uint32_t> part_of_;  // of modes, then conditions
};

QueryTargets Dependence::targets(std::uint32_t o) const {
  QueryTargets targets;
  std::set<std::uint32_t> whole, indicated, conditions;  // known modes: grade, or sound or not
  std::set<Set> single_sets;
  std::set<std::uint32_t> modes_seen, observations_seen, joints_seen;
  std::vector<std::uint32_t> open, open_conditions;

  auto visit_mode = [&](std::uint32_t m) {
    if (modes_seen.insert(m).second) open.push_back(m);
  };
  auto visit_set = [&](const Set& set) {
    for (std::uint32_t m : set) {
      if (known_[m]) {
        whole.insert(m);
      } else {
        visit_mode(m);
      }
    }
  };
  auto visit_condition = [&](std::uint32_t c) {
    if (conditions.insert(c).second) open_conditions.push_back(c);
  };
  // Of an undetermined set that always shows, X decides the grade of its known modes only. Where
  // several have the same unknown modes, the largest of these grades is all that counts.
  std::set<std::vector<Set>> groups;
  auto visit_observation = [&](const circuit::Observation& observation) {
    std::vector<Set> group;
    std::map<Set, std::vector<Set>> known_beside;  // the same unknown modes
    for (const auto& set : observation.sets) {
      if (!determined(set.modes)) {
        Set known, unknown;
        for (std::uint32_t m : set.modes) (known_[m] ? known : unknown).push_back(m);
        std::for_each(unknown.begin(), unknown.end(), visit_mode);
        if (known.empty()) continue;
        if (set.probability < 1) {
          single_sets.insert(std::move(known));
        } else {
          known_beside[std::move(unknown)].push_back(std::move(known));
        }
      } else if (set.probability < 1) {
        single_sets.insert(set.modes);
      } else {
        group.push_back(set.modes);
      }
    }
    if (!group.empty()) groups.insert(std::move(group));
    for (auto& [unknown, known] : known_beside) groups.insert(std::move(known));
  };

  visit_observation(analysis_.observations[o]);
  while (!open.empty() || !open_conditions.empty()) {
    if (!open_conditions.empty()) {
      const std::uint32_t c = open_conditions.back();
      open_conditions.pop_back();
      for (const auto& [m, factor] : analysis_.conditions[c].raises) {
        if (known_[m]) {
          indicated.insert(m);
          for (std::uint32_t other : program_.mode_conditions()[m].conditions) {
            visit_condition(other);
          }
        } else if (tied(m)) {
          visit_mode(m);
        }
      }
      continue;
    }
    const std::uint32_t m = open.back();
    open.pop_back();
    for (std::uint32_t c : program_.mode_conditions()[m].conditions) visit_condition(c);
    for (std::uint32_t i : joint_sets_of_mode_[m]) {
      if (!joints_seen.insert(i).second) continue;
      single_sets.insert(joint_sets_[i]);
      visit_set(joint_sets_[i]);
    }
    for (std::uint32_t j : program_.observations_of_mode()[m]) {
      if (!observed_[j] || complained_[j]) continue;
      const auto& observation = analysis_.observations[j];
      const bool reaches_m =
          std::any_of(observation.sets.begin(), observation.sets.end(), [&](const auto& set) {
            return std::binary_search(set.modes.begin(), set.modes.end(), m) &&
                   !determined(set.modes);
          });
      if (reaches_m && observations_seen.insert(j).second) visit_observation(observation);
    }
  }

  targets.modes.assign(whole.begin(), whole.end());
  for (std::uint32_t m : indicated) {
    if (!whole.count(m)) targets.not_sound.push_back(m);
  }
  targets.groups.assign(groups.begin(), groups.end());
  targets.sets.assign(single_sets.begin(), single_sets.end());
  targets.conditions.assign(conditions.begin(), conditions.end());
  return targets;
}

bool nothing_in(const QueryTargets& t) {
  return t.groups.empty() && t.sets.empty() && t.modes.empty() && t.not_sound.empty();
}

// T of the information about all faults, for a test whose sets show only sometimes.
QueryTargets fault_targets(const circuit::Observation& test) {
  QueryTargets targets;
  std::set<Set> uncertain;
  std::vector<Set> certain;
  for (const auto& set : test.sets) {
    if (set.probability < 1) {
      uncertain.insert(set.modes);
    } else {
      certain.push_back(set.modes);
    }
  }
  targets.sets.assign(uncertain.begin(), uncertain.end());
  if (!certain.empty()) targets.groups.push_back(std::move(certain));
  return targets;
}

// H(O | X, e) when the test's grade is the larger of a shared part D and an independent part R
// whose modes are `rest`: P(S <= s) = P(D <= s) P(R <= s).
double entropy_apart(const Program& program, const network::Posterior& posterior, std::uint32_t o,
                     const Set& rest) {
  Grades at_most{1, 1, 1};  // P(R <= s)
  for (std::uint32_t m : rest) {
    const double sound = posterior(program.mode(m), 0);
    at_most[0] *= sound;
    at_most[1] *= sound + posterior(program.mode(m), 1);
  }
  const double s0 = posterior(program.observation(o), 0);
  const double s1 = posterior(program.observation(o), 1);
  const double d0 = std::min(1.0, s0 / at_most[0]);
  const double d1 = std::clamp((s0 + s1) / at_most[1], d0, 1.0);
  const Grades shared{d0, d1 - d0, 1 - d1};
  const Grades own{at_most[0], at_most[1] - at_most[0], 1 - at_most[1]};
  double entropy = 0;
  for (std::size_t d = 0; d < 3; ++d) {
    if (!(shared[d] > 0)) continue;
    double h = 0;
    for (std::size_t i = 0; i < program.rows(o)[0].size(); ++i) {
      double p = 0;
      for (std::size_t r = 0; r < 3; ++r) p += own[r] * program.rows(o)[std::max(d, r)][i];
      if (p > 0) h -= p * std::log2(p);
    }
    entropy += shared[d] * h;
  }
  return entropy;
}

// Null when making it would exceed a limit.
template <typename Kind, typename... Arguments>
std::shared_ptr<const Kind> made_or_none(const Arguments&... arguments) {
  try {
    return std::make_shared<const Kind>(arguments...);
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded) throw;
    return nullptr;
  }
}

std::shared_ptr<const Query> query_or_none(const Model& model, const Dependence& dependence,
                                           const QueryTargets& targets, std::uint32_t o) {
  return made_or_none<Query>(model, dependence.bearing_on(targets, o), targets, o);
}

std::shared_ptr<const ConditionTable> table_or_none(const Model& model,
                                                    const Dependence& dependence,
                                                    const QueryTargets& targets,
                                                    const std::vector<std::uint32_t>& conditions,
                                                    std::uint32_t o) {
  return made_or_none<ConditionTable>(model, dependence.bearing_on(targets, o), targets,
                                      conditions);
}

}  // namespace

InformationPlan::InformationPlan(const Model& model, const CaseNumbers& pattern)
    : tests_(model.analysis().observations.size()) {
  const auto& observations = model.analysis().observations;
  const Dependence dependence(model, pattern);
  // Tests that meet the same conditions and nothing else of the case share what these depend on.
  std::map<std::vector<std::uint32_t>, std::shared_ptr<const ConditionTable>> shared;
  std::vector<bool> seen(observations.size(), false);
  for (const ObservedGrade& one : pattern.observed) seen[one.observation] = true;
  for (std::uint32_t o = 0; o < observations.size(); ++o) {
    if (seen[o]) continue;
    Test& test = tests_[o];
    const auto& sets = observations[o].sets;
    if (std::any_of(sets.begin(), sets.end(), [](const auto& s) { return s.probability < 1; })) {
      test.information = query_or_none(model, dependence, fault_targets(observations[o]), o);
      test.information_bounded = !test.information;
    }
    if (pattern.complaint.empty()) continue;
    if (dependence.all_determined(o)) {
      test.rule = Rule::as_information;
      continue;
    }
    QueryTargets exact = dependence.targets(o);
    const std::vector<std::uint32_t> conditions = std::move(exact.conditions);
    exact.conditions.clear();
    if (nothing_in(exact)) {
      test.rule = Rule::zero;
      continue;
    }
    if (auto rest = dependence.rest_apart(o)) {
      test.rule = Rule::rest_apart;
      test.rest = std::move(*rest);
      continue;
    }
    test.rule = Rule::query;
    if (dependence.through_conditions(o)) {
      auto [at, added] = shared.try_emplace(conditions);
      if (added) at->second = table_or_none(model, dependence, exact, conditions, o);
      if (at->second) test.complaint = made_or_none<Query>(model, *at->second, o);
    }
    if (!test.complaint) test.complaint = query_or_none(model, dependence, exact, o);
    if (test.complaint) continue;
    // Too large to be exact. Knowing less than X gives a lower bound; knowing the conditions too an
    // upper one.
    test.rule = Rule::between;
    exact.not_sound.clear();
    test.complaint = query_or_none(model, dependence, exact, o);
    exact.conditions = conditions;
    if (!conditions.empty()) {
      test.complaint_and_more = query_or_none(model, dependence, exact, o);
    }
  }
}

std::shared_ptr<const InformationPlan> InformationPlan::of(const Model& model,
                                                           const CaseNumbers& pattern) {
  const std::vector<std::uint32_t> key = pattern_key(pattern);
  if (auto plan = model.program().find_plan(key)) return plan;
  auto plan = std::make_shared<const InformationPlan>(model, pattern);
  model.program().keep_plan(key, plan);
  return plan;
}

Bits InformationPlan::bits(const Model& model, const CaseNumbers& numbers,
                           const network::Posterior& posterior, std::uint32_t o,
                           std::span<const double> outcome_probability, double error) const {
  const Program& program = model.program();
  const Test& test = tests_[o];
  Bits bits;
  const double entropy = entropy_bits(outcome_probability);
  const double entropy_error = entropy_bits_error(error, outcome_probability.size());
  bits.error_bound = entropy_error;
  if (test.information) {
    bits.information = entropy - test.information->conditional_entropy(model, numbers);
  } else {
    double given_s = 0;
    for (std::size_t s = 0; s < 3; ++s) {
      given_s += posterior(program.observation(o), s) * program.row_entropy(o)[s];
    }
    bits.information = entropy - given_s;
    const Grades& rows = program.row_entropy(o);
    bits.error_bound += error * (*std::max_element(rows.begin(), rows.end()) -
                                 *std::min_element(rows.begin(), rows.end()));
    if (test.information_bounded) {  // 0 <= I(F; O) <= I(S; O)
      bits.information /= 2;
      bits.error_bound += bits.information;
    }
  }
  switch (test.rule) {
    case Rule::none:
    case Rule::zero:
      break;
    case Rule::as_information:
      bits.complaint = bits.information;
      break;
    case Rule::rest_apart:
      bits.complaint = entropy - entropy_apart(program, posterior, o, test.rest);
      break;
    case Rule::query:
      bits.complaint = entropy - test.complaint->conditional_entropy(model, numbers);
      break;
    case Rule::between: {
      double least = 0, most = bits.information + bits.error_bound;
      if (test.complaint) {
        least = entropy - entropy_error - test.complaint->conditional_entropy(model, numbers);
      }
      if (test.complaint_and_more) {
        most = std::min(most, entropy + entropy_error -
                                  test.complaint_and_more->conditional_entropy(model, numbers));
      }
      bits.complaint = (least + most) / 2;
      bits.error_bound = std::max(bits.error_bound, (most - least) / 2);
      break;
    }
  }
  // Rounding can leave a little below 0.
  bits.information = std::max(0.0, bits.information);
  bits.complaint = std::max(0.0, bits.complaint);
  return bits;
}

}  // namespace faultodds::diagnosis
