#include "core/diagnosis/cause_values.h"

#include <algorithm>
#include <tuple>

namespace faultodds::diagnosis {

CauseValues cause_values(const circuit::Analysis& analysis, std::uint32_t observation) {
  CauseValues values;
  for (const auto& set : analysis.observations[observation].sets) {
    std::vector<std::uint32_t> components;
    for (std::uint32_t m : set.modes) {
      components.push_back(static_cast<std::uint32_t>(analysis.modes[m].component_index));
    }
    std::sort(components.begin(), components.end());
    components.erase(std::unique(components.begin(), components.end()), components.end());
    const auto at = std::find(values.components.begin(), values.components.end(), components);
    values.of_set.push_back(static_cast<std::uint32_t>(at - values.components.begin()));
    if (at == values.components.end()) values.components.push_back(std::move(components));
  }
  return values;
}

std::optional<std::uint32_t> complaint_of(const circuit::Analysis& analysis,
                                          const CaseNumbers& numbers, const Case& the_case) {
  if (the_case.focus == Focus::observation) return the_case.focus_observation;
  const auto key = [&](const ObservedGrade& seen) {
    return std::tuple(seen.observation >= the_case.past_from,
                      !analysis.observations[seen.observation].symptom, seen.at.empty(), seen.at,
                      analysis.observations[seen.observation].id);
  };
  const ObservedGrade* first = nullptr;
  for (const ObservedGrade& seen : numbers.observed) {
    if (seen.abnormal && (first == nullptr || key(seen) < key(*first))) first = &seen;
  }
  if (first == nullptr) return std::nullopt;
  return first->observation;
}

}  // namespace faultodds::diagnosis
