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

}  // namespace

std::string machine(int sections) {
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
  return circuit.dump();
}

std::string section() { return machine(1); }

}  // namespace faultodds::benchmark
