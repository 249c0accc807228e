#include "core/authoring/joints.h"

#include "core/authoring/joint_checks.h"
#include "core/circuit/type_check.h"
#include "core/stop.h"

namespace faultodds::authoring {

void check_joints(const circuit::HydraulicGraph& graph, const Written& written,
                  Findings* findings) {
  Joints joints(graph, written, findings);
  const circuit::Structure& structure = joints.structure;
  check_connections(joints);
  check_islands(joints);
  for (Index c = 0; c < structure.type.size(); ++c) {
    check_stop();
    check_ports(joints, c);
    check_bridged(joints, c);
    check_direction(joints, c);
    check_tank_side(joints, c);
    check_valve(joints, c);
    check_load_holding(joints, c);
    check_pump(joints, c);
    if (circuit::is_actuator(*structure.type[c])) check_actuator(joints, c);
    if (structure.type[c]->stores_gas) check_store(joints, c);
  }
  check_actuator_pairs(joints);
  check_reliefs_alike(joints);
  check_moved_valves(joints);
  for (std::size_t f = 0; f < structure.functions.size(); ++f) check_function(joints, f);
}

}  // namespace faultodds::authoring
