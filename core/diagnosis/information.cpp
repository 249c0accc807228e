#include "core/diagnosis/information.h"

#include <algorithm>
#include <set>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/query.h"
#include "core/error.h"

namespace faultodds::diagnosis {

struct InformationMeter::Targets : QueryTargets {
  enum class Answer { as_information, zero, query };
  Answer answer = Answer::query;
};

InformationMeter::InformationMeter(const Model& model, const CaseNumbers& numbers,
                                   const network::Propagation& posterior)
    : model_(&model),
      numbers_(&numbers),
      posterior_(&posterior),
      joint_sets_of_mode_(model.analysis().modes.size()),
      known_(model.analysis().modes.size(), false),
      observed_(model.analysis().observations.size(), false),
      complained_(model.analysis().observations.size(), false) {
  const auto& analysis = model.analysis();
  std::set<std::vector<std::uint32_t>> joint;
  for (std::uint32_t o : numbers.complaint) {
    complained_[o] = true;
    pattern_.push_back(o);
    for (const auto& set : analysis.observations[o].sets) {
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
  pattern_.push_back(static_cast<std::uint32_t>(-1));
  for (const ObservedGrade& seen : numbers.observed) {
    observed_[seen.observation] = true;
    pattern_.push_back(seen.observation);
  }
}

// The min over a set is a function of X when sets of X inside it cover it.
bool InformationMeter::determined(const std::vector<std::uint32_t>& set) const {
  std::vector<std::uint32_t> open;
  for (std::uint32_t m : set) {
    if (!known(m)) open.push_back(m);
  }
  if (open.empty()) return true;
  std::vector<bool> covered(open.size(), false);
  for (std::size_t k = 0; k < open.size(); ++k) {
    for (std::uint32_t i : joint_sets_of_mode_[open[k]]) {
      const auto& inner = joint_sets_[i];
      if (std::includes(set.begin(), set.end(), inner.begin(), inner.end())) covered[k] = true;
    }
    if (!covered[k]) return false;
  }
  return true;
}

// Which functions of X does the test's grade still depend on, given the evidence? The unknown modes
// of its undetermined sets are followed through everything that ties them to X: other evidence,
// sets of X they are part of, and conditions.
InformationMeter::Targets InformationMeter::complaint_targets(std::uint32_t o) const {
  const auto& analysis = model_->analysis();
  const Program& program = model_->program();
  Targets targets;
  std::set<std::uint32_t> whole, indicated, conditions;  // known modes: grade, or sound or not
  std::set<std::vector<std::uint32_t>> single_sets;
  std::set<std::uint32_t> modes_seen, observations_seen, joints_seen;
  std::vector<std::uint32_t> open;

  auto visit_mode = [&](std::uint32_t m) {
    if (modes_seen.insert(m).second) open.push_back(m);
  };
  auto visit_set = [&](const std::vector<std::uint32_t>& set) {
    for (std::uint32_t m : set) {
      if (known(m)) {
        whole.insert(m);
      } else {
        visit_mode(m);
      }
    }
  };
  auto visit_observation = [&](const circuit::Observation& observation) {
    std::vector<std::vector<std::uint32_t>> group;
    for (const auto& set : observation.sets) {
      if (!determined(set.modes)) {
        visit_set(set.modes);
      } else if (set.probability < 1) {
        single_sets.insert(set.modes);
      } else {
        group.push_back(set.modes);
      }
    }
    if (!group.empty()) targets.groups.push_back(std::move(group));
  };
  // Does anything but its own prior bear on an unknown mode?
  auto tied = [&](std::uint32_t m) {
    if (!joint_sets_of_mode_[m].empty()) return true;
    const auto& in = program.observations_of_mode()[m];
    return std::any_of(in.begin(), in.end(),
                       [&](std::uint32_t j) { return observed_[j] && !complained_[j]; });
  };
  std::vector<std::uint32_t> open_conditions;
  auto visit_condition = [&](std::uint32_t c) {
    if (conditions.insert(c).second) open_conditions.push_back(c);
  };

  const auto& test = analysis.observations[o];
  const bool all_determined = std::all_of(test.sets.begin(), test.sets.end(),
                                          [&](const auto& set) { return determined(set.modes); });
  if (all_determined) {
    targets.answer = Targets::Answer::as_information;
    return targets;
  }
  visit_observation(test);
  while (!open.empty() || !open_conditions.empty()) {
    if (!open_conditions.empty()) {
      const std::uint32_t c = open_conditions.back();
      open_conditions.pop_back();
      for (const auto& [m, factor] : analysis.conditions[c].raises) {
        if (known(m)) {
          indicated.insert(m);
          for (std::uint32_t other : program.mode_conditions()[m].conditions)
            visit_condition(other);
        } else if (tied(m)) {
          visit_mode(m);
        }
      }
      continue;
    }
    const std::uint32_t m = open.back();
    open.pop_back();
    for (std::uint32_t c : program.mode_conditions()[m].conditions) visit_condition(c);
    for (std::uint32_t i : joint_sets_of_mode_[m]) {
      if (!joints_seen.insert(i).second) continue;
      single_sets.insert(joint_sets_[i]);
      visit_set(joint_sets_[i]);
    }
    for (std::uint32_t j : program.observations_of_mode()[m]) {
      if (!observed_[j] || complained_[j]) continue;
      const auto& observation = analysis.observations[j];
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
  targets.sets.assign(single_sets.begin(), single_sets.end());
  if (!targets.not_sound.empty()) targets.conditions.assign(conditions.begin(), conditions.end());
  if (targets.groups.empty() && targets.modes.empty() && targets.not_sound.empty() &&
      targets.sets.empty()) {
    targets.answer = Targets::Answer::zero;
  }
  return targets;
}

double InformationMeter::conditional_entropy(std::uint32_t o, const Targets& targets) const {
  std::vector<std::uint32_t> key = pattern_;
  key.push_back(static_cast<std::uint32_t>(-1));
  key.push_back(o);
  targets.append_key(key);
  const Program& program = model_->program();
  std::shared_ptr<const Query> query = program.find_query(key);
  if (!query) {
    std::vector<std::uint32_t> evidence;
    for (const ObservedGrade& seen : numbers_->observed) evidence.push_back(seen.observation);
    query = std::make_shared<const Query>(*model_, evidence, targets, o);
    program.keep_query(key, query);
  }
  return query->conditional_entropy(*model_, *numbers_);
}

// The common case: the test's sets are some of the complaint's and some single modes that nothing
// known bears on. Then P(S <= s) = P(D <= s) P(R <= s), with R's part its prior.
bool InformationMeter::independent_rest(std::uint32_t o, double* conditional_entropy) const {
  const auto& analysis = model_->analysis();
  const Program& program = model_->program();
  Grades rest{1, 1, 1};  // P(R <= s)
  for (const auto& set : analysis.observations[o].sets) {
    if (set.probability < 1) return false;
    if (determined(set.modes)) continue;
    if (set.modes.size() > 1) return false;
    const std::uint32_t m = set.modes[0];
    if (!program.mode_conditions()[m].conditions.empty()) return false;
    for (std::uint32_t j : program.observations_of_mode()[m]) {
      if (observed_[j]) return false;
    }
    const auto p = posterior_->posterior(program.mode(m));
    rest[0] *= p[0];
    rest[1] *= p[0] + p[1];
  }
  // A tiny P(R = 0) would magnify the rounding of P(S = 0).
  if (rest[0] < 1e-3) return false;
  const auto s = posterior_->posterior(program.observation(o));
  const double d0 = std::min(1.0, s[0] / rest[0]);
  const double d1 = std::clamp((s[0] + s[1]) / rest[1], d0, 1.0);
  const Grades shared{d0, d1 - d0, 1 - d1};
  const Grades own{rest[0], rest[1] - rest[0], 1 - rest[1]};
  double h = 0;
  std::vector<double> mixed(analysis.observations[o].outcomes.size());
  for (std::size_t d = 0; d < 3; ++d) {
    if (!(shared[d] > 0)) continue;
    std::fill(mixed.begin(), mixed.end(), 0.0);
    for (std::size_t r = 0; r < 3; ++r) {
      const auto& row = program.rows(o)[std::max(d, r)];
      for (std::size_t i = 0; i < row.size(); ++i) mixed[i] += own[r] * row[i];
    }
    h += shared[d] * entropy_bits(mixed);
  }
  *conditional_entropy = h;
  return true;
}

double InformationMeter::complaint_bits(std::uint32_t o, double entropy, double information,
                                        double* error) const {
  const Targets targets = complaint_targets(o);
  if (targets.answer == Targets::Answer::as_information) return information;
  if (targets.answer == Targets::Answer::zero) return 0;
  const bool only_groups =
      targets.modes.empty() && targets.not_sound.empty() && targets.sets.empty();
  double h = 0;
  if (only_groups && independent_rest(o, &h)) return entropy - h;
  try {
    return entropy - conditional_entropy(o, targets);
  } catch (const Error& e) {
    if (e.code() != Code::limit_exceeded) throw;
  }
  // Too large to be exact. Knowing less than X gives a lower bound; knowing more an upper one.
  double least = 0, most = information;
  try {
    Targets fewer = targets;
    fewer.not_sound.clear();
    fewer.conditions.clear();
    least = entropy - conditional_entropy(o, fewer);
    Targets more = fewer;
    more.conditions = targets.conditions;
    more.with_conditions = true;
    most = std::min(most, entropy - conditional_entropy(o, more));
  } catch (const Error& e) {
    if (e.code() != Code::limit_exceeded) throw;
  }
  *error = std::max(*error, (most - least) / 2);
  return (most + least) / 2;
}

Bits InformationMeter::bits(std::uint32_t o, const std::vector<double>& outcome_probability) const {
  const Program& program = model_->program();
  const auto& sets = model_->analysis().observations[o].sets;
  Bits bits;
  const double entropy = entropy_bits(outcome_probability);
  const auto grades = posterior_->posterior(program.observation(o));
  double given_s = 0;
  for (std::size_t s = 0; s < 3; ++s) given_s += grades[s] * program.row_entropy(o)[s];
  bits.information = entropy - given_s;

  // Sets that show only with some probability: S is no function of the faults, so what O tells
  // about S is more than what it tells about them.
  if (std::any_of(sets.begin(), sets.end(), [](const auto& s) { return s.probability < 1; })) {
    Targets targets;
    std::set<std::vector<std::uint32_t>> uncertain;
    std::vector<std::vector<std::uint32_t>> certain;
    for (const auto& set : sets) {
      if (set.probability < 1) {
        uncertain.insert(set.modes);
      } else {
        certain.push_back(set.modes);
      }
    }
    targets.sets.assign(uncertain.begin(), uncertain.end());
    if (!certain.empty()) targets.groups.push_back(std::move(certain));
    try {
      bits.information = entropy - conditional_entropy(o, targets);
    } catch (const Error& e) {
      if (e.code() != Code::limit_exceeded) throw;
      // 0 <= I(F; O) <= I(S; O).
      bits.error_bound = bits.information / 2;
      bits.information /= 2;
    }
  }
  if (!numbers_->complaint.empty()) {
    bits.complaint = complaint_bits(o, entropy, bits.information, &bits.error_bound);
  }
  // Rounding can leave a little below 0.
  bits.information = std::max(0.0, bits.information);
  bits.complaint = std::max(0.0, bits.complaint);
  return bits;
}

}  // namespace faultodds::diagnosis
