#include "core/circuit/cautions.h"

namespace faultodds::circuit {

const std::vector<std::string>& general_cautions() {
  static const std::vector<std::string> ids = {"general/1", "general/2", "general/3",
                                               "general/4", "general/5", "general/6"};
  return ids;
}

const std::vector<std::string>& static_hold_cautions() {
  static const std::vector<std::string> ids = {"hold/1", "hold/2", "hold/3", "hold/4"};
  return ids;
}

const std::vector<std::string>& actuator_hold_cautions() {
  static const std::vector<std::string> ids = {"actuator_hold/1", "actuator_hold/2"};
  return ids;
}

const std::vector<std::string>& actuator_reached_cautions() {
  static const std::vector<std::string> ids = {"actuator_reached/1"};
  return ids;
}

const std::vector<std::string>& plugged_cavity_cautions() {
  static const std::vector<std::string> ids = {"plugged_cavity/1", "plugged_cavity/2"};
  return ids;
}

const std::vector<std::string>& low_pressure_port_cautions() {
  static const std::vector<std::string> ids = {"low_pressure_port/1"};
  return ids;
}

const std::vector<std::string>& no_test_pressure_cautions() {
  static const std::vector<std::string> ids = {"no_test_pressure/1"};
  return ids;
}

const std::vector<std::string>& both_sides_closed_cautions() {
  static const std::vector<std::string> ids = {"both_sides_closed/1"};
  return ids;
}

const std::vector<std::string>& trapped_pressure_cautions() {
  static const std::vector<std::string> ids = {"trapped_pressure/1"};
  return ids;
}

const std::vector<std::string>& free_shaft_cautions() {
  static const std::vector<std::string> ids = {"free_shaft/1"};
  return ids;
}

const std::vector<std::string>& stored_gas_cautions() {
  static const std::vector<std::string> ids = {"stored_gas/1"};
  return ids;
}

const std::vector<std::string>& brake_and_steering_cautions() {
  static const std::vector<std::string> ids = {"brake_and_steering/1"};
  return ids;
}

const std::vector<std::string>& drift_cautions() {
  static const std::vector<std::string> ids = {"drift/1", "drift/2"};
  return ids;
}

const std::vector<std::string>& power_on_cautions() {
  static const std::vector<std::string> ids = {"power_on/1"};
  return ids;
}

const std::vector<std::string>& look_cautions() {
  static const std::vector<std::string> ids = {"look/1"};
  return ids;
}

const std::vector<std::string>& temperature_cautions() {
  static const std::vector<std::string> ids = {"temperature/1"};
  return ids;
}

const std::vector<std::string>& flow_meter_cautions() {
  static const std::vector<std::string> ids = {"flow_meter/1", "flow_meter/2"};
  return ids;
}

}  // namespace faultodds::circuit
