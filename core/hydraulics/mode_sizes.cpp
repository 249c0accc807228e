// How large failure modes are: a component's own sizes, else its type's, else the usual ones.
#include <set>
#include <string_view>

#include "core/circuit/kinds.h"
#include "core/hydraulics/shown_from.h"

namespace faultodds::hydraulics {

using circuit::ModeSize;
using circuit::SizeLaw;
using circuit::Structure;

ModeSize default_size(const Structure& structure, circuit::Index mode) {
  const auto component = static_cast<circuit::Index>(structure.modes[mode].component_index);
  const circuit::ComponentType& type = *structure.type[component];
  const circuit::FailureModeType& described =
      type.failure_modes[mode - structure.first_mode[component]];
  if (!described.restricts.empty() || !described.weakens.empty()) {
    return circuit::default_size(SizeLaw::loss);
  }
  const std::set<std::string_view> leaks(described.leaks.begin(), described.leaks.end());
  int lands = 0;
  for (const circuit::Element& element : type.elements) {
    if (element.kind != circuit::ElementKind::seal || element.open_in.empty()) continue;
    lands += leaks.contains(element.name);
  }
  // Several seals that open by position are lands of one spool.
  const bool gap = type.flow_test || lands > 1;
  return circuit::default_size(gap ? SizeLaw::laminar : SizeLaw::orifice);
}

void set_mode_sizes(Structure& structure) {
  for (circuit::Index m = 0; m < structure.modes.size(); ++m) {
    circuit::FailureMode& mode = structure.modes[m];
    const auto c = static_cast<circuit::Index>(mode.component_index);
    const auto& own = structure.description->components[c].sizes;
    const auto given = own.find(mode.name);
    const auto& of_type = structure.type[c]->failure_modes[m - structure.first_mode[c]].size;
    mode.size_is_own = given != own.end();
    mode.size = mode.size_is_own ? given->second : of_type ? *of_type : default_size(structure, m);
  }
}

}  // namespace faultodds::hydraulics
