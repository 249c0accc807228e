#include "core/circuit/charge.h"

#include <set>

#include "core/circuit/type_check.h"

namespace faultodds::circuit {

std::optional<ChargePump> charge_pump_of(const Structure& structure, Passages& passages,
                                         Index supplier, Index source,
                                         const Configuration& configuration) {
  if (!structure.type[supplier]->flow_test) return std::nullopt;
  std::set<Index> pilots;
  for (Index e = structure.first_element[supplier]; e < structure.first_element[supplier + 1];
       ++e) {
    const PlacedElement& element = structure.elements[e];
    if (element.element->kind != ElementKind::check || element.pilot == kNone) continue;
    pilots.insert(structure.gallery[element.pilot]);
  }
  for (const Index pilot : pilots) {
    if (passages.reaches(source, pilot, configuration)) continue;
    for (Index c = 0; c < structure.type.size(); ++c) {
      const ComponentType& type = *structure.type[c];
      if (c == supplier || !type.flow_test || is_actuator(type)) continue;
      for (Index e = structure.first_element[c]; e < structure.first_element[c + 1]; ++e) {
        const PlacedElement& element = structure.elements[e];
        if (element.element->kind != ElementKind::check) continue;
        if (passages.reaches(structure.gallery[element.to], pilot, configuration)) {
          return ChargePump{c, element.to, pilot};
        }
      }
    }
  }
  return std::nullopt;
}

std::vector<Index> weak_charge(const Structure& structure, Series& series, const ChargePump& charge,
                               const Configuration& configuration) {
  std::vector<Index> modes = series.starving(charge.component, configuration);
  for (const Index mode :
       series.choking(structure.gallery[charge.outlet], charge.pilot, configuration)) {
    modes.push_back(mode);
  }
  const ComponentType& type = *structure.type[charge.component];
  for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
    if (type.failure_modes[m].weakens.empty()) continue;
    modes.push_back(structure.first_mode[charge.component] + static_cast<Index>(m));
  }
  return modes;
}

std::vector<std::vector<Index>> charge_leaks(const Structure& structure, LeakSearch& search,
                                             const ChargePump& charge,
                                             const Configuration& configuration,
                                             const std::string& what) {
  return search
      .search(structure.gallery[charge.outlet], {structure.tank(), structure.outside()},
              configuration, what)
      .sets;
}

}  // namespace faultodds::circuit
