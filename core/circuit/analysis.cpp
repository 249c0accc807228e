#include "core/circuit/analysis.h"

#include <cmath>
#include <map>
#include <set>

#include "core/circuit/derived.h"
#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/kinds.h"
#include "core/circuit/names.h"
#include "core/circuit/structure.h"
#include "core/circuit/written.h"

namespace faultodds::circuit {
namespace {

// While a condition holds, the odds of not sound of every mode that a pattern matches are
// multiplied by the pattern's factor; a mode matched by several patterns takes their product.
ConditionEffect condition_effect(const Condition& condition, const std::vector<FailureMode>& modes,
                                 const std::string& here) {
  if (!(condition.probability >= 0 && condition.probability <= 1)) {
    refuse("probability of condition " + quoted(condition.id) + " is " +
               std::to_string(condition.probability) + "; a probability from 0 to 1 was expected",
           at(here, "probability"));
  }
  ConditionEffect effect;
  effect.id = condition.id;
  effect.title = condition.title.empty() ? condition.id : condition.title;
  effect.probability = condition.probability;
  std::map<std::uint32_t, double> factors;
  for (const Condition::Raise& raise : condition.raises) {
    const std::string pointer = at(at(here, "raises"), raise.pattern);
    if (!std::isfinite(raise.factor) || raise.factor <= 0) {
      refuse("odds factor of " + quoted(raise.pattern) + " is " + std::to_string(raise.factor) +
                 "; more than zero was expected",
             pointer);
    }
    bool matched = false;
    for (std::size_t m = 0; m < modes.size(); ++m) {
      if (!matches(raise.pattern, modes[m].id) && !matches(raise.pattern, modes[m].type_mode)) {
        continue;
      }
      matched = true;
      const auto [entry, is_new] = factors.try_emplace(static_cast<std::uint32_t>(m), 1.0);
      entry->second *= raise.factor;
    }
    if (!matched) {
      std::set<std::string> known;
      for (const FailureMode& mode : modes) {
        known.insert(mode.id);
        known.insert(mode.type_mode);
      }
      refuse("raises pattern " + quoted(raise.pattern) +
                 " matches no failure mode; `component.mode` or `type.mode`, with `*` for any run "
                 "of characters, was expected" +
                 expected(raise.pattern, {known.begin(), known.end()}, "failure modes"),
             pointer);
    }
  }
  effect.raises.assign(factors.begin(), factors.end());
  return effect;
}

std::vector<ConditionEffect> condition_effects(const Structure& structure) {
  std::vector<ConditionEffect> effects;
  std::set<std::string> ids;
  const std::vector<Condition>& conditions = structure.description->conditions;
  for (std::size_t i = 0; i < conditions.size(); ++i) {
    const std::string here = at("/conditions", i);
    if (!is_id(conditions[i].id)) {
      refuse("condition id " + quoted(conditions[i].id) +
                 ": an identifier of [A-Za-z0-9_.-]+ was expected",
             at(here, "id"));
    }
    if (!ids.insert(conditions[i].id).second) {
      refuse("condition id " + quoted(conditions[i].id) + " is used twice; ids must differ",
             at(here, "id"));
    }
    effects.push_back(condition_effect(conditions[i], structure.modes, here));
  }
  return effects;
}

}  // namespace

Analysis analyse(const Description& description, const std::vector<ComponentType>& catalogue,
                 const Limits& limits) {
  Structure structure = resolve(description, catalogue, limits);
  const Times times(description.times);
  const HydraulicGraph graph(structure);

  Analysis out;
  out.id = description.id;
  out.title = description.title;
  out.components = description.components;
  out.observations = derive_observations(graph, times, limits);
  out.setup_steps = setup_steps(structure, times);
  add_written_observations(structure, times, out.setup_steps, limits, &out.observations);
  out.conditions = condition_effects(structure);
  out.modes = std::move(structure.modes);
  return out;
}

}  // namespace faultodds::circuit
