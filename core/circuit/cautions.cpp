#include "core/circuit/cautions.h"

namespace faultodds::circuit {

const std::vector<std::string>& general_cautions() {
  static const std::vector<std::string> texts = {
      "Lock out and tag out every source of energy before anything is opened, and try the controls "
      "to prove that nothing moves.",
      "Lower the load to its stops or block it mechanically. Trapped oil does not hold a load that "
      "somebody works under.",
      "Release stored energy (raised loads, springs, accumulators, trapped pressure) in the way "
      "the "
      "maker prescribes and verify zero pressure where you work; go on verifying where it can "
      "build up again.",
      "Never open a line or let oil out to atmosphere while the machine is under power.",
      "Oil under pressure goes through skin. Never feel for a leak by hand; any injection, however "
      "small it looks, is a surgical emergency: go to hospital at once.",
      "Follow the maker's instructions, local codes and licensed practice. These notes add to them "
      "and replace none of them."};
  return texts;
}

const std::vector<std::string>& static_hold_cautions() {
  static const std::vector<std::string> texts = {
      "Adapters, hoses, gauge and plugs must be rated for at least the test pressure.",
      "Fill and bleed before raising pressure, raise it in steps from a source that stores little "
      "energy, such as a hand pump, and stand clear of the joints.",
      "Plug the line end that was taken off. Bring the pressure back to zero before any joint is "
      "touched again.",
      "Oil may be hot enough to scald: let it cool before a line is opened. Oil that cools while "
      "it "
      "is held loses pressure without a leak."};
  return texts;
}

const std::vector<std::string>& actuator_hold_cautions() {
  static const std::vector<std::string> texts = {
      "The piston must be bottomed in the direction the pressure pushes it, or the load held "
      "mechanically, before pressure is applied: the opposite port is open and the actuator can "
      "move.",
      "Adapters at the actuator's ports must be rated for the test pressure. Lead the open port to "
      "a container and keep clear of it."};
  return texts;
}

const std::vector<std::string>& actuator_reached_cautions() {
  static const std::vector<std::string> texts = {
      "The pressure reaches an actuator and can move it: before it is applied, hold what the "
      "actuator moves mechanically, or have it at the end of its stroke in the direction the "
      "pressure pushes it. Oil trapped on its other side can stand at more than the test "
      "pressure."};
  return texts;
}

const std::vector<std::string>& plugged_cavity_cautions() {
  static const std::vector<std::string> texts = {
      "The cavity plug must be made for that cavity and rated for the test pressure.",
      "The part that was taken out no longer protects or holds this port: stay at or below the "
      "test pressure and refit it before the machine gets power."};
  return texts;
}

const std::vector<std::string>& low_pressure_port_cautions() {
  static const std::vector<std::string> texts = {
      "In service this port is open to tank: it and what is joined to it may stand low pressure "
      "only. Take the test pressure from the maker's documents."};
  return texts;
}

const std::vector<std::string>& no_test_pressure_cautions() {
  static const std::vector<std::string> texts = {
      "Not all that the pressure reaches is known: take the test pressure from the maker's "
      "documents "
      "and stay within the rating of everything that is pressurised."};
  return texts;
}

const std::vector<std::string>& both_sides_closed_cautions() {
  static const std::vector<std::string> texts = {
      "A piston stands between two closed volumes: the smaller side takes more than the test "
      "pressure. Stay at or below the test pressure, and verify zero on both sides afterwards."};
  return texts;
}

const std::vector<std::string>& trapped_pressure_cautions() {
  static const std::vector<std::string> texts = {
      "A load-holding valve traps pressure between itself and the piston, and keeps it when "
      "everything else is without pressure. Release it as the maker prescribes and verify zero "
      "there before anything is opened."};
  return texts;
}

const std::vector<std::string>& free_shaft_cautions() {
  static const std::vector<std::string> texts = {
      "The pressure can turn a pump's or motor's shaft: hold the shaft or take it off its load, "
      "and "
      "keep clear of what it drives."};
  return texts;
}

const std::vector<std::string>& stored_gas_cautions() {
  static const std::vector<std::string> texts = {
      "Gas in an accumulator stores energy: shut it off, discharge its oil side and verify zero "
      "before anything is opened."};
  return texts;
}

const std::vector<std::string>& brake_and_steering_cautions() {
  static const std::vector<std::string> texts = {
      "The pressure can reach brakes or steering: before the machine is used again, bleed them and "
      "check that they work."};
  return texts;
}

const std::vector<std::string>& drift_cautions() {
  static const std::vector<std::string> texts = {
      "The load is left up while its drift is measured: nobody stands under it or in its path, and "
      "the area is closed off until it is lowered again.",
      "Measure from a safe place; open nothing while the load is up."};
  return texts;
}

const std::vector<std::string>& power_on_cautions() {
  static const std::vector<std::string> texts = {
      "The machine runs during this test: guards stay on, everybody stays clear of what moves, and "
      "nothing is opened or tightened."};
  return texts;
}

const std::vector<std::string>& look_cautions() {
  static const std::vector<std::string> texts = {
      "Look with the machine off and the load down, with a lamp and a piece of card, not with the "
      "hand: a jet may be too fine to be seen."};
  return texts;
}

const std::vector<std::string>& temperature_cautions() {
  static const std::vector<std::string> texts = {
      "Measure without touching, or with a probe on a long lead, from where nothing moves: a valve "
      "that passes oil can be hot enough to burn."};
  return texts;
}

const std::vector<std::string>& flow_meter_cautions() {
  static const std::vector<std::string> texts = {
      "Fit and remove the flow meter with the machine locked out and at zero pressure. The oil "
      "stays in a closed line; it is never measured into the open.",
      "Meter, hoses and adapters must be rated for the full pressure and flow. Start with the load "
      "valve fully open and make sure that a relief protects the line; load it slowly."};
  return texts;
}

}  // namespace faultodds::circuit
