#include "tests/benchmarks/machine.h"

#include <nlohmann/json.hpp>

namespace faultodds::benchmark {
namespace {

using nlohmann::json;

void add_section(json& circuit, int index) {
  const std::string n = std::to_string(index);
  const auto id = [&](const char* name) { return std::string(name) + n; };
  json& components = circuit["components"];
  components.push_back({{"id", id("valve")}, {"type", "open_centre_section"}});
  components.push_back({{"id", id("load_check")}, {"type", "load_check"}});
  for (const char* side : {"a", "b"}) {
    components.push_back(
        {{"id", id("relief_") + side}, {"type", "port_relief"}, {"setting", "180 bar"}});
    components.push_back({{"id", id("makeup_") + side}, {"type", "makeup_check"}});
    components.push_back({{"id", id("hose_") + side}, {"type", "hose"}});
  }
  components.push_back({{"id", id("cylinder")},
                        {"type", "single_rod_cylinder"},
                        {"bore", "100 mm"},
                        {"rod", "56 mm"}});
  json& connections = circuit["connections"];
  const auto join = [&](const std::string& from, const std::string& to,
                        const std::string& line = {}) {
    json connection{{"from", from}, {"to", to}};
    if (!line.empty()) connection["line"] = line;
    connections.push_back(connection);
  };
  join(id("load_check") + ".out", id("valve") + ".p");
  join(id("valve") + ".t", "returns.in");
  for (const std::string side : {"a", "b"}) {
    join(id("valve") + "." + side, id("relief_") + side + ".in");
    join(id("relief_") + side + ".out", "returns.in");
    join(id("makeup_") + side + ".port_side", id("valve") + "." + side);
    join(id("makeup_") + side + ".tank_side", "returns.in");
    join(id("valve") + "." + side, id("hose_") + side + ".a", id("line_") + side);
    join(id("hose_") + side + ".b", id("cylinder") + (side == "a" ? ".cap" : ".rod"));
  }
  const std::string source = "pump.out";
  for (const auto& [direction, position] : {std::pair("extend", "a"), std::pair("retract", "b")}) {
    circuit["functions"].push_back({{"id", id(direction)},
                                    {"actuator", id("cylinder")},
                                    {"direction", direction},
                                    {"positions", {{id("valve"), position}}},
                                    {"source", source}});
  }
}

// Working judgement, as all odds of a benchmark: only which modes they tie together matters.
json conditions_of(int count) {
  static const json all = {
      {{"id", "oil_contamination"},
       {"title", "oil contaminated"},
       {"probability", 0.08},
       {"raises",
        {{"*.*seat_leak", 3},
         {"*.spool_sticks", 4},
         {"*.spool_bore_wear", 4},
         {"*.internal_wear", 3},
         {"*.clogged", 5},
         {"*.piston_seal_leak", 2}}}},
      {{"id", "overheated_season"},
       {"title", "months with overheated oil"},
       {"probability", 0.05},
       {"raises", {{"*.piston_seal_leak", 3}, {"*.rod_seal_leak", 3}, {"hose.*", 2}}}},
      {{"id", "water_in_oil"},
       {"title", "water in the oil"},
       {"probability", 0.04},
       {"raises", {{"*.spool_sticks", 3}, {"*.*seat_leak", 2}, {"*.internal_wear", 2}}}},
      {{"id", "low_oil"},
       {"title", "oil level low"},
       {"probability", 0.04},
       {"raises", {{"*.starved", 25}, {"*.internal_wear", 2}}}},
      {{"id", "shock_loads"},
       {"title", "driven over rough ground"},
       {"probability", 0.15},
       {"raises", {{"hose.*", 3}, {"*.piston_seal_leak", 2}, {"port_relief.seat_leak", 2}}}},
      {{"id", "seals_of_one_lot"},
       {"title", "seals of one lot"},
       {"probability", 0.03},
       {"raises", {{"*.piston_seal_leak", 5}, {"*.rod_seal_leak", 5}}}},
      {{"id", "filter_bypassed"},
       {"title", "filter left out"},
       {"probability", 0.06},
       {"raises", {{"*.*seat_leak", 4}, {"*.spool_bore_wear", 3}, {"load_check.*", 2}}}}};
  json chosen = json::array();
  for (int i = 0; i < count; ++i) chosen.push_back(all.at(static_cast<std::size_t>(i)));
  return chosen;
}

}  // namespace

std::string machine(int sections, int conditions) {
  json circuit{{"format", "faultodds-circuit/1"},
               {"id", "bank-" + std::to_string(sections)},
               {"title", "bank of " + std::to_string(sections)}};
  circuit["components"] = {{{"id", "pump"}, {"type", "fixed_pump"}, {"displacement", "40 mL"}},
                           {{"id", "relief"}, {"type", "main_relief"}, {"setting", "160 bar"}},
                           {{"id", "strainer"}, {"type", "suction_strainer"}},
                           {{"id", "returns"}, {"type", "return_filter"}},
                           {{"id", "tank"}, {"type", "tank"}}};
  circuit["connections"] = {{{"from", "tank.suction"}, {"to", "strainer.in"}},
                            {{"from", "strainer.out"}, {"to", "pump.in"}},
                            {{"from", "pump.out"}, {"to", "relief.in"}},
                            {{"from", "relief.out"}, {"to", "returns.in"}},
                            {{"from", "returns.out"}, {"to", "tank.return"}}};
  circuit["functions"] = json::array();
  for (int i = 0; i < sections; ++i) {
    add_section(circuit, i);
    const std::string n = std::to_string(i);
    circuit["connections"].push_back({{"from", "pump.out"}, {"to", "load_check" + n + ".in"}});
    circuit["connections"].push_back(
        {{"from", i == 0 ? "pump.out" : "valve" + std::to_string(i - 1) + ".out"},
         {"to", "valve" + n + ".in"}});
  }
  circuit["connections"].push_back(
      {{"from", "valve" + std::to_string(sections - 1) + ".out"}, {"to", "returns.in"}});
  if (conditions > 0) circuit["conditions"] = conditions_of(conditions);
  return circuit.dump();
}

std::string gallery(int reliefs) {
  json circuit = json::parse(machine(1, 1));
  circuit["id"] = "gallery-" + std::to_string(reliefs);
  circuit["title"] = "gallery of " + std::to_string(reliefs) + " reliefs";
  for (int i = 1; i < reliefs; ++i) {  // one is there
    const std::string id = "gallery_relief" + std::to_string(i);
    circuit["components"].push_back({{"id", id}, {"type", "port_relief"}, {"setting", "180 bar"}});
    circuit["connections"].push_back({{"from", "valve0.a"}, {"to", id + ".in"}});
    circuit["connections"].push_back({{"from", id + ".out"}, {"to", "returns.in"}});
  }
  return circuit.dump();
}

std::string section() { return machine(1); }

}  // namespace faultodds::benchmark
