// Safety cautions that go with every test, by id: the words are in the message catalogues, under
// `caution.<id>`. They add to the maker's procedure, to local codes and to licensed practice; they
// replace none of them. An observation has these and, after them, what the circuit's document
// writes itself, as text; a text that is an id is that caution.
#pragma once

#include <string>
#include <vector>

namespace faultodds::circuit {

// What holds for all work on a hydraulic machine, most important first.
const std::vector<std::string>& general_cautions();

// What is added for a test that pressurises a locked-out part, for a load left up, for a machine
// under power, for a flow meter, for a look and for a thermometer.
const std::vector<std::string>& static_hold_cautions();
const std::vector<std::string>& actuator_hold_cautions();
const std::vector<std::string>& actuator_reached_cautions();
const std::vector<std::string>& plugged_cavity_cautions();
const std::vector<std::string>& low_pressure_port_cautions();
const std::vector<std::string>& no_test_pressure_cautions();
const std::vector<std::string>& both_sides_closed_cautions();
const std::vector<std::string>& trapped_pressure_cautions();
const std::vector<std::string>& free_shaft_cautions();
const std::vector<std::string>& stored_gas_cautions();
const std::vector<std::string>& brake_and_steering_cautions();
const std::vector<std::string>& drift_cautions();
const std::vector<std::string>& power_on_cautions();
const std::vector<std::string>& flow_meter_cautions();
const std::vector<std::string>& look_cautions();
const std::vector<std::string>& temperature_cautions();

}  // namespace faultodds::circuit
