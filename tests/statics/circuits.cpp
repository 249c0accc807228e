#include "tests/statics/circuits.h"

#include <random>
#include <string>
#include <vector>

namespace balance {
namespace {

class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  int below(int n) { return static_cast<int>(engine_() % static_cast<std::uint64_t>(n)); }
  bool once_in(int n) { return below(n) == 0; }
  template <typename List>
  const auto& of(const List& list) {
    return list[static_cast<std::size_t>(below(static_cast<int>(list.size())))];
  }

 private:
  std::mt19937_64 engine_;
};

std::string bar(int value) { return std::to_string(value) + " bar"; }

// Types that the catalogue does not have.
Json own_types() {
  return Json::parse(R"({
    "intensifier": {"ports": ["low", "high", "vent"], "parameters": ["areas"],
      "elements": {"low_seal": {"kind": "seal", "from": "low", "to": "vent"},
                   "high_seal": {"kind": "seal", "from": "high", "to": "vent"}},
      "failure_modes": {"low_seal_leak": {"code": "INL", "leaks": "low_seal", "prior": [0.9, 0.07, 0.03]},
                        "high_seal_leak": {"code": "INL", "leaks": "high_seal", "prior": [0.9, 0.07, 0.03]}},
      "actuator": {"directions": {"stroke": ["high", "low"], "return": ["low", "high"]}}},
    "stepped_cylinder": {"ports": ["cap", "rod", "boost"], "parameters": ["areas"],
      "elements": {"piston_seal": {"kind": "seal", "from": "cap", "to": "rod"},
                   "boost_seal": {"kind": "seal", "from": "boost", "to": "rod"}},
      "failure_modes": {"piston_seal_leak": {"code": "INL", "leaks": "piston_seal", "prior": [0.9, 0.07, 0.03]},
                        "boost_seal_leak": {"code": "INL", "leaks": "boost_seal", "prior": [0.9, 0.07, 0.03]}},
      "actuator": {"directions": {"retract": ["cap", "rod"], "extend": ["rod", "cap"], "boost": ["rod", "boost"]}}},
    "cased_motor": {"ports": ["a", "b", "case"], "flow_test": true, "rated": {"case": "2 bar"},
      "elements": {"clearance": {"kind": "seal", "from": "a", "to": "b"},
                   "case_a": {"kind": "seal", "from": "a", "to": "case"},
                   "case_b": {"kind": "seal", "from": "b", "to": "case"}},
      "failure_modes": {"wear": {"code": "INL", "leaks": ["clearance", "case_a", "case_b"], "prior": [0.9, 0.07, 0.03]}},
      "actuator": {"directions": {"forward": ["b", "a"], "reverse": ["a", "b"]},
                   "areas": {"a": "displacement", "b": "displacement"}}},
    "held_motor": {"ports": ["a", "b"], "flow_test": true, "hold": true,
      "elements": {"clearance": {"kind": "seal", "from": "a", "to": "b"}},
      "failure_modes": {"wear": {"code": "INL", "leaks": "clearance", "prior": [0.9, 0.07, 0.03]}},
      "actuator": {"directions": {"forward": ["b", "a"], "reverse": ["a", "b"]},
                   "areas": {"a": "displacement", "b": "displacement"}}},
    "plain_lock": {"ports": ["valve", "load"], "cartridge": true,
      "elements": {"free": {"kind": "check", "from": "valve", "to": "load"},
                   "piloted": {"kind": "seal", "from": "load", "to": "valve", "open_in": ["piloted"]}},
      "failure_modes": {"seat_leak": {"code": "INL", "leaks": ["free", "piloted"], "prior": [0.9, 0.07, 0.03]}}}
  })");
}

Json component(Dice& dice, const std::string& type, const Json& kind, int number) {
  Json one = {{"id", "c" + std::to_string(number)}, {"type", type}};
  const auto takes = [&](const char* parameter) {
    if (!kind.contains("parameters")) return false;
    for (const Json& name : kind["parameters"]) {
      if (name == parameter) return true;
    }
    return false;
  };
  if (takes("setting") && !dice.once_in(12)) {
    one["setting"] = bar(type == "return_filter" ? 2 : 20 + 10 * dice.below(30));
  }
  if (takes("bore") && !dice.once_in(15)) {
    const int bore = 40 + 10 * dice.below(12);
    one["bore"] = std::to_string(bore) + " mm";
    one["rod"] = std::to_string(bore * (3 + dice.below(6)) / 10) + " mm";
  } else if (takes("areas") && kind.contains("actuator")) {
    if (!dice.once_in(10) || type == "single_rod_cylinder") {
      for (const Json& port : kind["ports"]) {
        if (port == "vent") continue;
        one["areas"][port.get<std::string>()] = std::to_string(10 + dice.below(120)) + " cm2";
      }
    }
  }
  if ((takes("ratio") || type == "pilot_operated_check") && !dice.once_in(3)) {
    one["ratio"] = 1 + dice.below(8);
  }
  if (dice.once_in(3)) one["rating"] = bar(40 + 20 * dice.below(18));
  if (dice.once_in(8)) {
    one["rated"][dice.of(kind["ports"]).get<std::string>()] = bar(5 + 15 * dice.below(20));
  }
  if (dice.once_in(25)) one["use"] = dice.once_in(2) ? "brake" : "steering";
  return one;
}

}  // namespace

Json random_circuit(std::uint64_t seed, const Json& catalogue) {
  Dice dice(seed * 0x9E3779B97F4A7C15ULL + 1);
  Json types = catalogue["types"];
  const Json own = own_types();
  for (const auto& [name, type] : own.items()) types[name] = type;
  std::vector<std::string> names;
  for (const auto& [name, type] : types.items()) names.push_back(name);
  // Pistons and the valves round them more often than the rest.
  static const std::vector<std::string> often = {"single_rod_cylinder",
                                                 "single_rod_cylinder",
                                                 "double_rod_cylinder",
                                                 "intensifier",
                                                 "stepped_cylinder",
                                                 "counterbalance_valve",
                                                 "pilot_operated_check",
                                                 "closed_centre_section",
                                                 "load_check",
                                                 "port_relief",
                                                 "hose"};
  Json circuit = {{"format", "faultodds-circuit/1"},
                  {"id", "random"},
                  {"types", own},
                  {"components", Json::array()},
                  {"connections", Json::array()}};
  std::vector<std::string> ports;
  const int count = 3 + dice.below(7);
  for (int i = 0; i < count; ++i) {
    // The first goes through all types in turn.
    const std::string type = i == 0            ? names[seed % names.size()]
                             : dice.once_in(2) ? dice.of(often)
                                               : dice.of(names);
    circuit["components"].push_back(component(dice, type, types[type], i));
    for (const Json& port : types[type]["ports"]) {
      ports.push_back("c" + std::to_string(i) + "." + port.get<std::string>());
    }
  }
  int line = 0;
  for (const std::string& port : ports) {
    const int joints = dice.once_in(4) ? 0 : dice.once_in(5) ? 2 : 1;
    for (int j = 0; j < joints; ++j) {
      const std::string other = dice.once_in(6) ? "tank" : dice.of(ports);
      if (other == port) continue;
      Json joint = {{"from", port}, {"to", other}};
      if (!dice.once_in(3)) {
        joint["line"] = "line" + std::to_string(line++);
        if (dice.once_in(4)) joint["rating"] = bar(60 + 20 * dice.below(16));
        if (dice.once_in(40)) joint["use"] = "steering";
      }
      circuit["connections"].push_back(joint);
    }
    if (dice.once_in(3)) {
      circuit["fittings"][port] = {{"standard", "ISO 6149-1"},
                                   {"size", "M22x1.5"},
                                   {"rating", bar(100 + 25 * dice.below(12))}};
      if (dice.once_in(4)) circuit["fittings"][port]["plug"] = true;
    }
  }
  return circuit;
}

Json mutated(const Json& original, std::uint64_t seed) {
  Dice dice(seed * 0xD1B54A32D192ED03ULL + 7);
  Json circuit = original;
  // Overrides name observations that a change may take away.
  circuit.erase("observations");
  circuit.erase("functions");
  Json functions = original.value("functions", Json::array());
  if (!functions.empty() && dice.once_in(2)) circuit["functions"] = functions;
  const int changes = 1 + dice.below(5);
  for (int i = 0; i < changes; ++i) {
    Json& parts = circuit["components"];
    Json& part = parts[static_cast<std::size_t>(dice.below(static_cast<int>(parts.size())))];
    Json& joints = circuit["connections"];
    const auto at = static_cast<std::size_t>(dice.below(static_cast<int>(joints.size())));
    switch (dice.below(9)) {
      case 0:
        if (part.contains("setting")) part["setting"] = bar(10 + 10 * dice.below(30));
        break;
      case 1:
        part.erase("setting");
        break;
      case 2:
        part["rating"] = bar(20 + 20 * dice.below(15));
        break;
      case 3:
        if (part.contains("bore") && part.contains("rod")) {
          part["bore"] = "120 mm";
          part["rod"] = std::to_string(30 + 10 * dice.below(9)) + " mm";
        }
        break;
      case 4:
        part.erase("ratio");
        break;
      case 5:
        joints.erase(at);
        break;
      case 6:
        joints[at].erase("rating");
        joints[at].erase("line");
        joints[at].erase("use");
        break;
      case 7:
        if (!circuit.contains("fittings") || circuit["fittings"].empty()) break;
        {
          auto entry = circuit["fittings"].begin();
          std::advance(entry, dice.below(static_cast<int>(circuit["fittings"].size())));
          if (dice.once_in(2)) {
            entry.value().erase("rating");
          } else {
            entry.value()["rating"] = bar(40 + 20 * dice.below(15));
          }
        }
        break;
      default: {
        const auto from = static_cast<std::size_t>(dice.below(static_cast<int>(joints.size())));
        joints[at]["to"] = joints[from]["to"];
        break;
      }
    }
  }
  return circuit;
}

Json without_new_keys(Json circuit, const Json& catalogue) {
  circuit.erase("allow_hold");
  // Types of today, as 0.1 would have been told of them.
  for (const auto& [name, type] : catalogue["types"].items()) {
    if (!circuit.contains("types") || !circuit["types"].contains(name)) {
      circuit["types"][name] = type;
    }
  }
  {
    for (auto& [name, type] : circuit["types"].items()) {
      for (const char* key : {"rated", "hold", "stores_gas", "reduces"}) type.erase(key);
      for (auto& [element, value] : type["elements"].items()) value.erase("pilot");
      if (type.contains("parameters")) {
        Json kept = Json::array();
        for (const Json& parameter : type["parameters"]) {
          if (parameter != "ratio") kept.push_back(parameter);
        }
        type["parameters"] = kept;
      }
    }
  }
  for (Json& component : circuit["components"]) {
    for (const char* key : {"rating", "rated", "ratio", "use"}) component.erase(key);
  }
  for (Json& joint : circuit["connections"]) {
    joint.erase("rating");
    joint.erase("use");
  }
  if (circuit.contains("fittings")) {
    for (auto& [port, fitting] : circuit["fittings"].items()) fitting.erase("plug");
  }
  if (circuit.contains("functions")) {
    for (Json& function : circuit["functions"]) function.erase("working_pressure");
  }
  return circuit;
}

}  // namespace balance
