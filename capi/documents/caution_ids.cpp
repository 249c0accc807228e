#include "capi/documents/caution_ids.h"

#include "core/circuit/cautions.h"

namespace faultodds::documents {

CautionIds::CautionIds(const circuit::Analysis& analysis) {
  using namespace circuit;
  const struct {
    const char* name;
    const std::vector<std::string>& texts;
  } kinds[] = {{"general", general_cautions()},
               {"hold", static_hold_cautions()},
               {"actuator_hold", actuator_hold_cautions()},
               {"actuator_reached", actuator_reached_cautions()},
               {"plugged_cavity", plugged_cavity_cautions()},
               {"low_pressure_port", low_pressure_port_cautions()},
               {"no_test_pressure", no_test_pressure_cautions()},
               {"both_sides_closed", both_sides_closed_cautions()},
               {"trapped_pressure", trapped_pressure_cautions()},
               {"free_shaft", free_shaft_cautions()},
               {"stored_gas", stored_gas_cautions()},
               {"brake_and_steering", brake_and_steering_cautions()},
               {"drift", drift_cautions()},
               {"power_on", power_on_cautions()},
               {"flow_meter", flow_meter_cautions()},
               {"look", look_cautions()},
               {"temperature", temperature_cautions()}};
  for (const auto& [name, texts] : kinds) {
    for (std::size_t i = 0; i < texts.size(); ++i) {
      ids_.emplace(texts[i], std::string(name) + "/" + std::to_string(i + 1));
    }
  }
  std::size_t own = 0;
  for (const Observation& observation : analysis.observations) {
    for (const std::string& text : observation.cautions) {
      if (ids_.emplace(text, "own/" + std::to_string(own + 1)).second) ++own;
    }
  }
}

}  // namespace faultodds::documents
