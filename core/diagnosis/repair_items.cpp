#include "core/diagnosis/repair_items.h"

#include <algorithm>
#include <bit>
#include <set>

#include "core/diagnosis/preparation.h"

namespace faultodds::diagnosis {

std::vector<std::uint32_t> ItemSet::members() const {
  std::vector<std::uint32_t> list;
  for (std::size_t w = 0; w < words_.size(); ++w) {
    for (std::uint64_t rest = words_[w]; rest != 0; rest &= rest - 1) {
      list.push_back(static_cast<std::uint32_t>(w * 64) +
                     static_cast<std::uint32_t>(std::countr_zero(rest)));
    }
  }
  return list;
}

std::vector<std::uint32_t> complained_of(const circuit::Analysis& analysis,
                                         const CaseNumbers& numbers, const Present& present) {
  std::set<std::uint32_t> list;
  for (std::uint32_t o : numbers.complaint) list.insert(present.original(o));
  if (list.empty()) {
    for (const ObservedGrade& seen : numbers.observed) {
      const std::uint32_t o = present.original(seen.observation);
      if (seen.abnormal && !analysis.observations[o].sets.empty()) list.insert(o);
    }
  }
  return {list.begin(), list.end()};
}

Replacement replacement_of(const circuit::Component& component, const Economics& economics) {
  ReplacementCost own;
  if (const auto at = economics.components.find(component.id); at != economics.components.end()) {
    own = at->second;
  }
  const auto first = [](std::optional<double> a, std::optional<double> b, double otherwise) {
    return a ? *a : b.value_or(otherwise);
  };
  return {first(own.part, component.part_cost, economics.part_cost),
          first(own.minutes, component.minutes, economics.repair_minutes),
          first(own.lead_days, component.lead_days, economics.lead_days)};
}

std::vector<RepairItem> repair_items(const circuit::Analysis& analysis, const CaseNumbers& numbers,
                                     const Case& the_case, const Present& present) {
  const Economics& economics = the_case.economics;
  std::set<std::uint32_t> causes;
  for (std::uint32_t o : complained_of(analysis, numbers, present)) {
    for (const auto& set : analysis.observations[o].sets) {
      causes.insert(set.modes.begin(), set.modes.end());
    }
  }
  std::vector<std::vector<std::uint32_t>> modes(present.components);
  for (std::uint32_t m : causes) {
    const std::size_t c = analysis.modes[m].component_index;
    if (c < present.components) modes[c].push_back(m);
  }
  std::vector<RepairItem> items;
  for (std::uint32_t c = 0; c < present.components; ++c) {
    if (modes[c].empty()) continue;
    const circuit::Component& component = analysis.components[c];
    const Replacement one = replacement_of(component, economics);
    RepairItem item;
    item.component = c;
    item.modes = std::move(modes[c]);
    item.part = one.part;
    item.minutes = one.minutes;
    item.lead_days = is_at_hand(component, the_case.work) ? 0 : one.lead_days;
    item.cost = item.part + item.minutes * economics.per_minute();
    item.waiting = item.lead_days * economics.downtime_hours_per_day * economics.downtime_per_hour;
    item.restraint = economics.restraint();
    item.sound_when_new = 1 - economics.bad_new_part;
    items.push_back(std::move(item));
  }
  return items;
}

double longest_wait(std::span<const RepairItem> items, const ItemSet& set) {
  double longest = 0;
  for (std::uint32_t i : set.members()) longest = std::max(longest, items[i].waiting);
  return longest;
}

double repair_minutes(std::span<const RepairItem> items, const ItemSet& set) {
  double labour = 0, delivery = 0;
  for (std::uint32_t i : set.members()) {
    labour += items[i].minutes;
    delivery = std::max(delivery, items[i].lead_days * 24 * 60);
  }
  return labour + delivery;
}

double repair_cost(std::span<const RepairItem> items, const ItemSet& set) {
  double cost = 0;
  for (std::uint32_t i : set.members()) cost += items[i].cost;
  return cost + longest_wait(items, set);
}

double compared_cost(std::span<const RepairItem> items, const ItemSet& set) {
  double cost = repair_cost(items, set);
  for (std::uint32_t i : set.members()) cost += items[i].restraint;
  return cost;
}

}  // namespace faultodds::diagnosis
