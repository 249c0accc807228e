#include "core/diagnosis/cause_values.h"

#include <algorithm>
#include <string_view>
#include <tuple>

#include "core/diagnosis/mode_states.h"

namespace faultodds::diagnosis {

CauseValues cause_values(const circuit::Analysis& analysis, std::uint32_t observation) {
  CauseValues values;
  const auto& sets = analysis.observations[observation].sets;
  for (std::uint32_t j = 0; j < sets.size(); ++j) {
    const circuit::ModeSet& set = sets[j];
    if (shows_though_sound(analysis, set)) values.though_sound.push_back(j);
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
  // What was seen before a repair has the observation's id and a suffix; it was seen before.
  const auto key = [&](const ObservedGrade& seen) {
    const circuit::Observation& observation = analysis.observations[seen.observation];
    const bool past = seen.observation >= the_case.past_from;
    const std::size_t id = past ? observation.id.rfind('@') : std::string::npos;
    return std::tuple(!observation.symptom, seen.at.empty(), std::string_view(seen.at),
                      std::string_view(observation.id).substr(0, id), !past, seen.observation);
  };
  const ObservedGrade* first = nullptr;
  for (const ObservedGrade& seen : numbers.observed) {
    if (seen.abnormal && (first == nullptr || key(seen) < key(*first))) first = &seen;
  }
  if (first == nullptr) return std::nullopt;
  return first->observation;
}

}  // namespace faultodds::diagnosis
