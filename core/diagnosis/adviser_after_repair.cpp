// What is to be checked beside and after a repair: a second fault, and whether it cured the
// complaint. What is repaired is decided in adviser.cpp.
#include <algorithm>
#include <memory>

#include "core/diagnosis/adviser.h"
#include "core/diagnosis/program.h"

namespace faultodds::diagnosis {
namespace {

constexpr std::size_t kMostChecks = 6;      // second-fault checks in a row
constexpr double kLeastImprovement = 1e-4;  // of a second fault's probability, to be a check

}  // namespace

std::vector<bool> Adviser::repaired_modes() const {
  std::vector<bool> repaired(analysis_.modes.size(), false);
  std::vector<bool> component(analysis_.components.size(), false);
  for (std::uint32_t i : best_.set.members()) component[items_[i].component] = true;
  for (std::size_t m = 0; m < repaired.size(); ++m) {
    repaired[m] = component[analysis_.modes[m].component_index];
  }
  return repaired;
}

void Adviser::second_fault(Advice& advice) {
  SecondFault& second = advice.second_fault;
  second.target = case_.economics.second_fault_target;
  second.probability = decision_.risk(best_.set);
  second.reached = second.probability <= second.target;
  if (second.reached || best_.set.empty()) return;  // nothing is ordered yet
  const std::vector<bool> repaired = repaired_modes();
  std::vector<std::uint32_t> candidates;
  for (std::uint32_t o = 0; o < present_.observations; ++o) {
    const auto& sets = analysis_.observations[o].sets;
    if (observed_[o] || !may_propose(o) || !bears_on_items(o)) continue;
    if (std::none_of(sets.begin(), sets.end(), [&](const auto& set) {
          return std::any_of(set.modes.begin(), set.modes.end(),
                             [&](std::uint32_t m) { return repaired[m]; });
        })) {
      candidates.push_back(o);
    }
  }
  std::vector<Supposition> normal;
  std::vector<bool> done = done_;
  double now = second.probability;
  while (second.checks.size() < kMostChecks && !second.reached) {
    std::unique_ptr<Cure> own;
    if (!normal.empty()) own = std::make_unique<Cure>(cure_, normal);
    Cure& cure = own ? *own : cure_;
    const Cure::Of& cured = cure.of(best_.set);
    const Cure::Of& anything = cure.anything();
    const double new_parts = cure.new_parts(best_.set);
    std::optional<SecondFaultCheck> best;
    double best_rate = 0;
    for (std::uint32_t o : candidates) {
      const auto made = [&](const SecondFaultCheck& c) { return c.observation == o; };
      if (std::any_of(second.checks.begin(), second.checks.end(), made)) continue;
      const auto& rows = program_.rows(o);
      double none = 0, all = 0;
      for (std::size_t s = 0; s < 3; ++s) {
        none += rows[s][0] * cured.grades[o][s] * new_parts;
        all += rows[s][0] * anything.grades[o][s];
      }
      if (!(all > 0)) continue;
      SecondFaultCheck check;
      check.observation = o;
      check.minutes = minutes_of(o, done);
      check.probability = std::max(0.0, 1 - none / all);
      const double gain = now - check.probability;
      if (gain < kLeastImprovement) continue;
      double rate = gain / std::max(check.minutes, kLeastMinutes);
      // Locked out while that helps at all.
      if (!analysis_.observations[o].energised) rate += 1e6;
      if (!best || rate > best_rate) {
        best = check;
        best_rate = rate;
      }
    }
    if (!best) break;
    const auto& rows = program_.rows(best->observation);
    normal.push_back({best->observation, {rows[0][0], rows[1][0], rows[2][0]}});
    done = with_setup(std::move(done), best->observation);
    now = best->probability;
    second.reached = now <= second.target;
    second.checks.push_back(*best);
  }
}

void Adviser::verify(Advice& advice) {
  if (best_.set.empty()) return;
  std::vector<bool> causes(analysis_.modes.size(), false);
  for (const std::uint32_t i : best_.set.members()) {
    for (std::uint32_t m : items_[i].modes) causes[m] = true;
  }
  std::vector<bool> is_complaint(present_.observations, false);
  for (std::uint32_t o : numbers_.complaint) is_complaint[present_.original(o)] = true;
  std::vector<std::uint32_t> tests;
  for (std::uint32_t o = 0; o < present_.observations; ++o) {
    const auto& sets = analysis_.observations[o].sets;
    const bool looks_at_it = std::any_of(sets.begin(), sets.end(), [&](const auto& set) {
      return set.modes.size() == 1 && causes[set.modes[0]];
    });
    if (!may_propose(o)) continue;
    if (looks_at_it || is_complaint[o]) tests.push_back(o);
  }
  if (tests.empty()) return;
  const std::vector<CureSums::After> predictions = cure_.after(best_.set, tests);
  std::optional<Verification> best;
  double best_rate = 0;
  const double risk = decision_.risk(best_.set), new_parts = cure_.new_parts(best_.set);
  for (std::size_t k = 0; k < tests.size(); ++k) {
    const auto& matrix = analysis_.observations[tests[k]].matrix;
    Verification one;
    one.observation = tests[k];
    one.minutes = minutes_of(tests[k], done_);
    double cured = 0;
    for (std::size_t s = 0; s < 3; ++s) {
      one.normal += matrix[s][0] * predictions[k].grades[s];
      cured += matrix[s][0] * predictions[k].cured[s] * new_parts;
    }
    one.risk_if_normal = one.normal > 0 ? std::max(0.0, 1 - cured / one.normal) : risk;
    one.is_complaint = is_complaint[tests[k]];
    if (one.is_complaint) {
      advice.verify.push_back(one);
      continue;
    }
    double rate = (risk - one.risk_if_normal) / std::max(one.minutes, kLeastMinutes);
    if (!analysis_.observations[tests[k]].energised) rate += 1e6;
    if (!best || rate > best_rate) {
      best = one;
      best_rate = rate;
    }
  }
  if (best) advice.verify.insert(advice.verify.begin(), *best);
}

}  // namespace faultodds::diagnosis
