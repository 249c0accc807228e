#include "core/diagnosis/information.h"

#include <algorithm>
#include <numeric>
#include <set>

#include "core/diagnosis/entropy.h"
#include "core/diagnosis/query.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

using Set = std::vector<std::uint32_t>;  // of modes, ascending

bool shows_only_sometimes(const circuit::Observation& observation) {
  return std::any_of(observation.sets.begin(), observation.sets.end(),
                     [](const auto& set) { return set.probability < 1; });
}

// Which evidence is tied to a test: modes that share evidence, directly or through conditions, form
// one part.
class Ties {
 public:
  Ties(const Model& model, const CaseNumbers& pattern)
      : analysis_(model.analysis()), by_(model.program().mode_conditions()) {
    part_of_.resize(analysis_.modes.size() + analysis_.conditions.size());
    std::iota(part_of_.begin(), part_of_.end(), 0u);
    for (const ObservedGrade& seen : pattern.observed) {
      evidence_.push_back(seen.observation);
      unite(seen.observation);
    }
  }

  // Ascending.
  std::vector<std::uint32_t> bearing_on(std::uint32_t o) const {
    std::set<std::uint32_t> parts;
    for (const auto& set : analysis_.observations[o].sets) {
      for (std::uint32_t m : set.modes) {
        parts.insert(find(m));
        for (std::uint32_t c : by_[m].conditions) parts.insert(find(node_of(c)));
      }
    }
    std::vector<std::uint32_t> bearing;
    for (std::uint32_t e : evidence_) {
      const auto& sets = analysis_.observations[e].sets;
      if (!sets.empty() && parts.count(find(sets[0].modes[0])) > 0) bearing.push_back(e);
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
  void unite(std::uint32_t o) {
    const auto& sets = analysis_.observations[o].sets;
    const auto join = [&](std::uint32_t a, std::uint32_t b) {
      a = find(a);
      b = find(b);
      if (a != b) part_of_[std::max(a, b)] = std::min(a, b);
    };
    for (const auto& set : sets) {
      for (std::uint32_t m : set.modes) {
        join(sets[0].modes[0], m);
        for (std::uint32_t c : by_[m].conditions) join(m, node_of(c));
      }
    }
  }

  const circuit::Analysis& analysis_;
  const std::vector<ModeConditions>& by_;
  std::vector<std::uint32_t> evidence_;
  std::vector<std::uint32_t> part_of_;  // of modes, then conditions
};

// What H(O | F) depends on: each set that shows only sometimes, and the largest of the others.
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

}  // namespace

InformationPlan::InformationPlan(const Model& model, const CaseNumbers& pattern)
    : tests_(model.analysis().observations.size()) {
  const Ties ties(model, pattern);
  for (std::uint32_t o = 0; o < tests_.size(); ++o) {
    const circuit::Observation& observation = model.analysis().observations[o];
    const bool seen = std::any_of(pattern.observed.begin(), pattern.observed.end(),
                                  [&](const auto& one) { return one.observation == o; });
    if (seen || !shows_only_sometimes(observation)) continue;
    try {
      tests_[o].query =
          std::make_shared<const Query>(model, ties.bearing_on(o), fault_targets(observation), o);
    } catch (const Error& error) {
      if (error.code() != Code::limit_exceeded) throw;
      tests_[o].bounded = true;
    }
  }
}

std::shared_ptr<const InformationPlan> InformationPlan::of(const Model& model,
                                                           const CaseNumbers& pattern) {
  const auto& observations = model.analysis().observations;
  if (std::none_of(observations.begin(), observations.end(), shows_only_sometimes)) return nullptr;
  std::vector<std::uint32_t> key;
  for (const ObservedGrade& seen : pattern.observed) key.push_back(seen.observation);
  return model.program().information_plans().get(
      key, [&] { return std::make_shared<const InformationPlan>(model, pattern); });
}

std::size_t InformationPlan::bytes() const {
  std::size_t bytes = sizeof *this + tests_.size() * sizeof(Test);
  for (const Test& test : tests_) {
    if (test.query) bytes += test.query->bytes();
  }
  return bytes;
}

Bits information(const Model& model, const CaseNumbers& numbers, const InformationPlan* plan,
                 std::uint32_t o, const Grades& grades, std::span<const double> outcome_probability,
                 double error) {
  Bits bits;
  const double entropy = entropy_bits(outcome_probability);
  bits.error_bound = entropy_bits_error(error, outcome_probability.size());
  if (plan != nullptr && plan->tests_[o].query) {
    bits.information = entropy - plan->tests_[o].query->conditional_entropy(model, numbers);
  } else {
    const Grades& rows = model.program().row_entropy(o);
    bits.information = entropy;
    for (std::size_t s = 0; s < 3; ++s) bits.information -= grades[s] * rows[s];
    bits.error_bound += error * (*std::max_element(rows.begin(), rows.end()) -
                                 *std::min_element(rows.begin(), rows.end()));
    if (plan != nullptr && plan->tests_[o].bounded) {  // 0 <= I(F; O) <= I(S; O)
      bits.information /= 2;
      bits.error_bound += bits.information;
    }
  }
  bits.information = std::max(0.0, bits.information);  // rounding can leave a little below 0
  return bits;
}

}  // namespace faultodds::diagnosis
