// Components with their types, values, failure modes and elements, checked and numbered.
#include <algorithm>
#include <array>
#include <set>
#include <string_view>
#include <unordered_set>

#include "core/circuit/names.h"
#include "core/circuit/placement.h"
#include "core/circuit/type_check.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

using TypeTable = std::unordered_map<std::string, std::pair<const ComponentType*, std::string>>;

// The circuit's own types override the shipped ones by name.
TypeTable collect_types(const Description& description, const std::vector<ComponentType>& catalogue,
                        const Limits& limits) {
  TypeTable table;
  for (const ComponentType& type : catalogue) {
    table[type.name] = {&type, type.pointer.empty() ? at("/types", type.name) : type.pointer};
  }
  std::set<std::string> own;
  for (const ComponentType& type : description.types) {
    const std::string pointer = type.pointer.empty() ? at("/types", type.name) : type.pointer;
    if (!own.insert(type.name).second) {
      refuse("type " + quoted(type.name) + " is described twice; names must differ", pointer);
    }
    check_type(type, pointer, limits);
    table[type.name] = {&type, pointer};
  }
  return table;
}

void check_load(const Component& component, const ComponentType& type, const std::string& here) {
  if (!component.load) return;
  const Load& load = *component.load;
  const std::string pointer = at(here, "load");
  if (!is_actuator(type)) {
    refuse("load: component " + quoted(component.id) + " is no actuator (its type " +
               quoted(type.name) + " has no directions)",
           pointer);
  }
  if (load.force.has_value() == load.pressure.has_value()) {
    refuse("load of " + quoted(component.id) + ": one of force and pressure was expected", pointer);
  }
  const auto turned = std::find_if(type.areas.begin(), type.areas.end(), [](const auto& rule) {
    return rule.second == AreaRule::displacement;
  });
  if (load.force && turned != type.areas.end()) {
    refuse("load: " + quoted(component.id) + " turns; a pressure was expected, not a force",
           at(pointer, "force"));
  }
  std::vector<std::string> directions;
  for (const ComponentType::Direction& one : type.directions) directions.push_back(one.name);
  if (!load.direction.empty() && find_name(directions, load.direction) == directions.size()) {
    refuse("load: direction " + quoted(load.direction) + " is none of type " + quoted(type.name) +
               expected(load.direction, directions, "directions"),
           at(pointer, "direction"));
  }
}

void check_component(const Component& component, const ComponentType& type,
                     const std::string& here) {
  std::vector<std::string> mode_names;
  if (!component.priors.empty() || !component.sizes.empty()) {
    for (const FailureModeType& mode : type.failure_modes) mode_names.push_back(mode.name);
  }
  const std::unordered_set<std::string_view> has_mode(mode_names.begin(), mode_names.end());
  for (const auto& [mode, prior] : component.priors) {
    const std::string pointer = at(at(here, "priors"), mode);
    if (has_mode.count(mode) == 0) {
      refuse("priors names " + quoted(mode) + ", which is no failure mode of type " +
                 quoted(type.name) + expected(mode, mode_names, "failure modes"),
             pointer);
    }
  }
  for (const auto& [mode, size] : component.sizes) {
    const std::string pointer = at(at(here, "sizes"), mode);
    if (has_mode.count(mode) == 0) {
      refuse("sizes names " + quoted(mode) + ", which is no failure mode of type " +
                 quoted(type.name) + expected(mode, mode_names, "failure modes"),
             pointer);
    }
    check_size(size, quoted(component.id + "." + mode), pointer);
  }
  check_load(component, type, here);
  if (component.bore && component.rod && *component.rod >= *component.bore) {
    refuse("rod is " + fixed_text(*component.rod) + " m; less than the bore, " +
               fixed_text(*component.bore) + " m, was expected",
           at(here, "rod"));
  }
  std::vector<std::string> volumes;
  if (!component.areas.empty()) volumes = volumes_of(type);
  check_rated(component.rated, type, here);
  for (const auto& [volume, area] : component.areas) {
    const std::string pointer = at(at(here, "areas"), volume);
    if (!is_actuator(type)) {
      refuse("areas: component " + quoted(component.id) + " is no actuator (its type " +
                 quoted(type.name) + " has no directions)",
             at(here, "areas"));
    }
    if (find_name(volumes, volume) == volumes.size()) {
      refuse("areas names " + quoted(volume) + ", which is no volume of type " + quoted(type.name) +
                 expected(volume, volumes, "volumes"),
             pointer);
    }
  }
  // A type that lists parameters takes no others.
  if (type.parameters.empty()) return;
  const std::array<std::pair<const char*, bool>, 6> given = {
      {{"bore", component.bore.has_value()},
       {"rod", component.rod.has_value()},
       {"setting", component.setting.has_value()},
       {"ratio", component.ratio.has_value()},
       {"displacement", component.displacement.has_value()},
       {"rated_flow", component.rated_flow.has_value()}}};
  for (const auto& [name, present] : given) {
    if (present && find_name(type.parameters, name) == type.parameters.size()) {
      refuse(std::string(name) + " is no parameter of type " + quoted(type.name) +
                 expected(name, type.parameters, "parameters"),
             at(here, name));
    }
  }
}

// The elements of a type, by number: what every component of it has.
struct TypeElements {
  struct Ends {
    Index from, to;  // reservoirs, or volumes of the type counted from kFirstOwn
    Index pilot;     // kNone: it has none
  };
  static constexpr Index kFirstOwn = kOutside + 1;
  std::vector<Ends> ends;
  std::vector<std::vector<std::size_t>> leaking, restricting;  // of each mode: elements
  std::size_t effects = 0;                                     // of all modes

  explicit TypeElements(const ComponentType& type) {
    std::unordered_map<std::string_view, Index> volume = {{"tank", kTank}, {"outside", kOutside}};
    for (const std::vector<std::string>* names : {&type.ports, &type.volumes}) {
      for (const std::string& name : *names) {
        volume.emplace(name, static_cast<Index>(volume.size()));
      }
    }
    std::unordered_map<std::string_view, std::size_t> number;
    for (const Element& element : type.elements) {
      number.emplace(element.name, ends.size());
      ends.push_back({volume.at(element.from), volume.at(element.to),
                      element.pilot.empty() ? kNone : volume.at(element.pilot)});
    }
    const auto numbers = [&](const std::vector<std::string>& names) {
      std::vector<std::size_t> out;
      for (const std::string& name : names) out.push_back(number.at(name));
      std::sort(out.begin(), out.end());
      out.erase(std::unique(out.begin(), out.end()), out.end());
      effects += out.size();
      return out;
    };
    for (const FailureModeType& mode : type.failure_modes) {
      leaking.push_back(numbers(mode.leaks));
      restricting.push_back(numbers(mode.restricts));
    }
  }
};

}  // namespace

void check_new_id(const std::string& id, const std::string& kind, const std::string& pointer,
                  std::set<std::string>* taken) {
  check_length(id, kind + " id", pointer);
  if (!taken->insert(id).second) {
    refuse(kind + " id " + quoted(id) + " is used twice; ids must differ", pointer);
  }
}

void place_components(const std::vector<ComponentType>& catalogue, const Limits& limits,
                      Structure* out) {
  const Description& description = *out->description;
  const TypeTable types = collect_types(description, catalogue, limits);
  if (description.components.size() > limits.components) {
    throw Error(Code::limit_exceeded,
                "components: " + std::to_string(description.components.size()) +
                    " are listed; at most " + std::to_string(limits.components) + " are taken",
                "/components");
  }
  std::set<std::string> ids;
  std::set<const ComponentType*> checked;
  out->volume_component = {kNone, kNone};
  for (std::size_t i = 0; i < description.components.size(); ++i) {
    const Component& component = description.components[i];
    const std::string here = at("/components", i);
    const auto index = static_cast<Index>(i);
    check_new_id(component.id, "component", at(here, "id"), &ids);
    const auto found = types.find(component.type);
    if (found == types.end()) {
      std::set<std::string> names;
      for (const auto& [name, type] : types) names.insert(name);
      refuse("type " + quoted(component.type) + " of component " + quoted(component.id) +
                 " is not known" + expected(component.type, {names.begin(), names.end()}, "types"),
             at(here, "type"));
    }
    const ComponentType& type = *found->second.first;
    if (checked.insert(&type).second) check_type(type, found->second.second, limits);
    check_stop();
    check_component(component, type, here);

    out->component_index[component.id] = index;
    out->type.push_back(&type);
    out->first_volume.push_back(static_cast<Index>(out->volume_component.size()));
    const std::size_t volumes =
        out->volume_component.size() + type.ports.size() + type.volumes.size();
    if (volumes > limits.volumes) {
      throw Error(Code::limit_exceeded,
                  "components have more than " + std::to_string(limits.volumes) +
                      " ports and inner volumes",
                  here);
    }
    out->volume_component.resize(volumes, index);
    out->first_mode.push_back(static_cast<Index>(out->modes.size()));
    if (out->modes.size() + type.failure_modes.size() > limits.modes) {
      throw Error(Code::limit_exceeded,
                  "components have more than " + std::to_string(limits.modes) + " failure modes",
                  here);
    }
    for (const FailureModeType& mode_type : type.failure_modes) {
      FailureMode mode;
      mode.id = component.id + "." + mode_type.name;
      mode.type_mode = type.name + "." + mode_type.name;
      mode.component = component.id;
      mode.type = type.name;
      mode.name = mode_type.name;
      mode.code = mode_type.code;
      mode.title = mode_type.title;
      if (mode.title.empty()) {
        mode.title = mode_type.name;
        for (char& c : mode.title) c = c == '_' ? ' ' : c;
      }
      mode.component_index = i;
      mode.prior = mode_type.prior;
      const auto own = component.priors.find(mode_type.name);
      if (own != component.priors.end()) {
        mode.prior = own->second;
        mode.prior_is_own = true;
      }
      out->modes.push_back(std::move(mode));
    }
  }
  out->first_volume.push_back(static_cast<Index>(out->volume_component.size()));
  out->first_mode.push_back(static_cast<Index>(out->modes.size()));
}

void place_elements(const Limits& limits, Structure* out) {
  std::unordered_map<const ComponentType*, TypeElements> by_type;
  std::size_t placed = 0;
  for (std::size_t i = 0; i < out->type.size(); ++i) {
    check_stop();
    const ComponentType& type = *out->type[i];
    const TypeElements& of_type = by_type.try_emplace(&type, type).first->second;
    placed += of_type.ends.size() + of_type.effects;
    if (placed > limits.elements) {
      throw Error(Code::limit_exceeded,
                  "components have more than " + std::to_string(limits.elements) +
                      " elements and effects of failure modes on them",
                  at("/components", i));
    }
    const std::size_t first = out->elements.size();
    out->first_element.push_back(static_cast<Index>(first));
    const auto volume = [&](Index end) {
      return end < TypeElements::kFirstOwn ? end
                                           : out->first_volume[i] + end - TypeElements::kFirstOwn;
    };
    for (std::size_t e = 0; e < of_type.ends.size(); ++e) {
      PlacedElement one;
      one.element = &type.elements[e];
      one.component = static_cast<Index>(i);
      one.from = volume(of_type.ends[e].from);
      one.to = volume(of_type.ends[e].to);
      if (of_type.ends[e].pilot != kNone) one.pilot = volume(of_type.ends[e].pilot);
      out->elements.push_back(std::move(one));
    }
    for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
      const Index mode = out->first_mode[i] + static_cast<Index>(m);
      for (const std::size_t e : of_type.leaking[m]) {
        out->elements[first + e].leaking.push_back(mode);
      }
      for (const std::size_t e : of_type.restricting[m]) {
        out->elements[first + e].restricting.push_back(mode);
      }
    }
  }
  out->first_element.push_back(static_cast<Index>(out->elements.size()));
}

}  // namespace faultodds::circuit
