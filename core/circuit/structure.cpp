#include "core/circuit/structure.h"

#include <numbers>

#include "core/circuit/names.h"
#include "core/circuit/placement.h"
#include "core/circuit/type_check.h"

namespace faultodds::circuit {
namespace {

AreaRule rule_of(const ComponentType& type, const std::string& volume) {
  const auto given = type.areas.find(volume);
  if (given != type.areas.end()) return given->second;
  if (volume == "cap") return AreaRule::bore;
  if (volume == "rod") return AreaRule::annulus;
  return AreaRule::displacement;
}

}  // namespace

std::string Structure::volume_name(Index volume) const {
  if (volume == kTank) return "tank";
  if (volume == kOutside) return "outside";
  const Index component = volume_component[volume];
  const ComponentType& its = *type[component];
  const std::size_t number = volume - first_volume[component];
  return description->components[component].id + "." +
         (number < its.ports.size() ? its.ports[number] : its.volumes[number - its.ports.size()]);
}

std::string Structure::component_title(Index component) const {
  return description->components[component].display_title();
}

std::string Structure::component_pointer(Index component) const {
  return at("/components", std::size_t{component});
}

Index volume_of(const Structure& structure, Index component, const std::string& name) {
  if (name == "tank") return kTank;
  if (name == "outside") return kOutside;
  const ComponentType& type = *structure.type[component];
  std::size_t number = find_name(type.ports, name);
  if (number == type.ports.size()) number += find_name(type.volumes, name);
  return structure.first_volume[component] + static_cast<Index>(number);
}

std::optional<double> area_of(const Structure& structure, Index component,
                              const std::string& volume) {
  const Component& one = structure.description->components[component];
  const auto given = one.areas.find(volume);
  if (given != one.areas.end()) return given->second;
  const double quarter_pi = std::numbers::pi / 4;
  switch (rule_of(*structure.type[component], volume)) {
    case AreaRule::bore:
      if (one.bore) return quarter_pi * *one.bore * *one.bore;
      break;
    case AreaRule::annulus:
      if (one.bore && one.rod) return quarter_pi * (*one.bore * *one.bore - *one.rod * *one.rod);
      break;
    case AreaRule::displacement:
      break;
  }
  return std::nullopt;
}

bool expanding_takes_all(const Structure& structure, Index component,
                         const ComponentType::Direction& direction) {
  const std::optional<double> contracting = area_of(structure, component, direction.contracting);
  const std::optional<double> expanding = area_of(structure, component, direction.expanding);
  if (contracting && expanding) return *expanding >= *contracting;
  const Component& one = structure.description->components[component];
  const AreaRule from = rule_of(*structure.type[component], direction.contracting);
  const AreaRule to = rule_of(*structure.type[component], direction.expanding);
  const bool one_given =
      one.areas.contains(direction.contracting) || one.areas.contains(direction.expanding);
  if (!one_given) {
    if (from == to) return true;
    if (from == AreaRule::annulus && to == AreaRule::bore) return true;
    if (from == AreaRule::bore && to == AreaRule::annulus) return false;
  }
  refuse("areas of " + quoted(direction.contracting) + " and " + quoted(direction.expanding) +
             " of actuator " + quoted(one.id) +
             " cannot be compared: areas for both volumes were expected",
         at(structure.component_pointer(component), "areas"));
}

Structure resolve(const Description& description, const std::vector<ComponentType>& catalogue,
                  const Limits& limits) {
  check_length(description.id, "id", "/id");
  Structure out;
  out.description = &description;
  place_components(catalogue, limits, &out);
  place_elements(limits, &out);
  place_connections(limits, &out);
  place_fittings(&out);
  place_functions(&out);
  return out;
}

}  // namespace faultodds::circuit
