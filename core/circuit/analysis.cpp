#include "core/circuit/analysis.h"

#include <algorithm>
#include <cstdint>
#include <map>
#include <set>
#include <string_view>
#include <utility>

#include "core/circuit/derived.h"
#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/kinds.h"
#include "core/circuit/names.h"
#include "core/circuit/structure.h"
#include "core/circuit/written.h"
#include "core/error.h"
#include "core/hydraulics/shown_from.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

// The failure modes by both their names, so that a pattern is held against those only that begin as
// it begins, or end as it ends.
class ModeNames {
 public:
  ModeNames(const std::vector<FailureMode>& modes, const Limits& limits)
      : most_steps_(limits.pattern_steps) {
    for (std::size_t m = 0; m < modes.size(); ++m) {
      for (const std::string* name : {&modes[m].id, &modes[m].type_mode}) {
        by_beginning_.push_back({*name, static_cast<std::uint32_t>(m)});
      }
    }
    check_stop();
    by_end_ = by_beginning_;
    std::sort(by_beginning_.begin(), by_beginning_.end());
    check_stop();
    std::sort(by_end_.begin(), by_end_.end(),
              [](const Name& a, const Name& b) { return backwards_less(a.text, b.text); });
  }

  // Modes that `pattern` matches, ascending. Throws Error(limit_exceeded).
  std::vector<std::uint32_t> matched(std::string_view pattern, const std::string& pointer) {
    const std::size_t first_star = pattern.find('*');
    const auto [from, to] = candidates(pattern, first_star);
    std::vector<std::uint32_t> found;
    for (const Name* name = from; name != to; ++name) {
      if ((name - from) % kNamesBetweenStops == 0) check_stop();
      if (matches(pattern, name->text, &steps_)) found.push_back(name->mode);
      if (steps_ > most_steps_) {
        throw Error(Code::limit_exceeded,
                    "raises pattern " + quoted(pattern) + ": more than " +
                        std::to_string(most_steps_) +
                        " steps of comparing the patterns of conditions with failure modes",
                    pointer);
      }
    }
    std::sort(found.begin(), found.end());
    found.erase(std::unique(found.begin(), found.end()), found.end());
    return found;
  }

 private:
  static constexpr std::ptrdiff_t kNamesBetweenStops = 1024;
  struct Name {
    std::string_view text;
    std::uint32_t mode;
    bool operator<(const Name& other) const { return text < other.text; }
  };
  static bool backwards_less(std::string_view a, std::string_view b) {
    return std::lexicographical_compare(a.rbegin(), a.rend(), b.rbegin(), b.rend());
  }

  template <typename At>
  static std::pair<const Name*, const Name*> range(const std::vector<Name>& names, At from, At to) {
    return {names.data() + (from - names.begin()), names.data() + (to - names.begin())};
  }

  // The names that begin with what the pattern begins with, or end as it ends, whichever are fewer.
  std::pair<const Name*, const Name*> candidates(std::string_view pattern,
                                                 std::size_t first_star) const {
    const std::string_view head = pattern.substr(0, first_star);
    const auto begin =
        std::lower_bound(by_beginning_.begin(), by_beginning_.end(), head,
                         [](const Name& name, std::string_view text) { return name.text < text; });
    const auto begin_end = std::partition_point(
        begin, by_beginning_.end(), [&](const Name& name) { return name.text.starts_with(head); });
    if (first_star == std::string_view::npos) return range(by_beginning_, begin, begin_end);
    const std::string_view tail = pattern.substr(pattern.rfind('*') + 1);
    const auto end = std::lower_bound(
        by_end_.begin(), by_end_.end(), tail,
        [](const Name& name, std::string_view text) { return backwards_less(name.text, text); });
    const auto end_end = std::partition_point(
        end, by_end_.end(), [&](const Name& name) { return name.text.ends_with(tail); });
    if (begin_end - begin <= end_end - end) return range(by_beginning_, begin, begin_end);
    return range(by_end_, end, end_end);
  }

  std::vector<Name> by_beginning_, by_end_;
  std::size_t most_steps_, steps_ = 0;
};

// While a condition holds, the odds of not sound of every mode that a pattern matches are
// multiplied by the pattern's factor; a mode matched by several patterns takes their product.
ConditionEffect condition_effect(const Condition& condition, const std::vector<FailureMode>& modes,
                                 ModeNames& names, const std::string& here) {
  ConditionEffect effect;
  effect.id = condition.id;
  effect.title = condition.title.empty() ? condition.id : condition.title;
  effect.probability = condition.probability;
  std::map<std::uint32_t, double> factors;
  for (const Condition::Raise& raise : condition.raises) {
    const std::string pointer = at(at(here, "raises"), raise.pattern);
    const std::vector<std::uint32_t> raised = names.matched(raise.pattern, pointer);
    for (const std::uint32_t m : raised) {
      const auto [entry, is_new] = factors.try_emplace(m, 1.0);
      entry->second *= raise.factor;
    }
    if (raised.empty()) {
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

std::vector<ConditionEffect> condition_effects(const Structure& structure, const Limits& limits) {
  std::vector<ConditionEffect> effects;
  std::set<std::string> ids;
  const std::vector<Condition>& conditions = structure.description->conditions;
  if (conditions.empty()) return effects;
  ModeNames names(structure.modes, limits);
  std::vector<std::size_t> raised_by(structure.modes.size(), 0);
  for (std::size_t i = 0; i < conditions.size(); ++i) {
    const std::string here = at("/conditions", i);
    if (!ids.insert(conditions[i].id).second) {
      refuse("condition id " + quoted(conditions[i].id) + " is used twice; ids must differ",
             at(here, "id"));
    }
    check_length(conditions[i].id, "condition id", at(here, "id"));
    effects.push_back(condition_effect(conditions[i], structure.modes, names, here));
    for (const auto& [mode, factor] : effects.back().raises) {
      if (++raised_by[mode] > limits.conditions_per_mode) {
        throw Error(Code::limit_exceeded,
                    "failure mode " + quoted(structure.modes[mode].id) +
                        " is raised by more than " + std::to_string(limits.conditions_per_mode) +
                        " conditions",
                    "/conditions");
      }
    }
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
  out.observations = derive_observations(graph, times, limits, &out.absent);
  out.setup_steps = setup_steps(structure, times);
  add_written_observations(structure, times, out.setup_steps, limits, &out.observations);
  hydraulics::set_mode_sizes(structure);
  if (!description.by_grades) hydraulics::add_sizes(structure, out.observations);
  out.conditions = condition_effects(structure, limits);
  out.modes = std::move(structure.modes);
  return out;
}

}  // namespace faultodds::circuit
