#include "tests/benchmarks/decision/circuits.h"

#include <map>
#include <nlohmann/json.hpp>

#include "tests/benchmarks/machine.h"

namespace faultodds::benchmark {
namespace {

using nlohmann::json;

// Money and minutes to exchange one.
struct Price {
  double part, minutes;
};
const std::map<std::string, Price> kPrices{{"port_relief", {90, 25}},
                                           {"makeup_check", {60, 20}},
                                           {"load_check", {60, 25}},
                                           {"main_relief", {120, 25}},
                                           {"pilot_operated_check", {160, 40}},
                                           {"counterbalance_valve", {180, 40}},
                                           {"closed_centre_section", {900, 240}},
                                           {"open_centre_section", {900, 240}},
                                           {"single_rod_cylinder", {220, 180}},
                                           {"hose", {70, 40}},
                                           {"fixed_pump", {620, 120}},
                                           {"suction_strainer", {45, 40}},
                                           {"return_filter", {40, 20}},
                                           {"tank", {30, 15}}};

std::string priced(json circuit) {
  for (json& component : circuit["components"]) {
    const Price& price = kPrices.at(component["type"]);
    component["part_cost"] = price.part;
    component["minutes"] = price.minutes;
  }
  return circuit.dump();
}

json join(const char* from, const char* to, const char* line = nullptr) {
  json connection{{"from", from}, {"to", to}};
  if (line) connection["line"] = line;
  return connection;
}

json cylinder() {
  return {
      {"id", "cylinder"}, {"type", "single_rod_cylinder"}, {"bore", "100 mm"}, {"rod", "56 mm"}};
}

json named(const char* id) {
  return {{"format", "faultodds-circuit/1"}, {"id", id}, {"title", id}};
}

// A cylinder held by a closed spool, with a relief on the load's side.
json held_by_spool() {
  json circuit = named("held_by_spool");
  circuit["components"] = {{{"id", "valve"}, {"type", "closed_centre_section"}},
                           {{"id", "relief"}, {"type", "port_relief"}, {"setting", "180 bar"}},
                           cylinder()};
  circuit["connections"] = {join("valve.p", "tank"),
                            join("valve.t", "tank"),
                            join("relief.in", "valve.a"),
                            join("relief.out", "tank"),
                            join("valve.a", "cylinder.cap", "line_a"),
                            join("valve.b", "cylinder.rod", "line_b")};
  return circuit;
}

// Reliefs and make-up checks on both sides.
json fully_equipped() {
  json circuit = held_by_spool();
  circuit["id"] = circuit["title"] = "fully_equipped";
  for (const char* more : {"makeup", "relief_b"}) {
    const bool check = std::string(more) == "makeup";
    json component{{"id", more}, {"type", check ? "makeup_check" : "port_relief"}};
    if (!check) component["setting"] = "180 bar";
    circuit["components"].push_back(component);
  }
  circuit["connections"].push_back(join("makeup.tank_side", "tank"));
  circuit["connections"].push_back(join("makeup.port_side", "valve.a"));
  circuit["connections"].push_back(join("relief_b.in", "valve.b"));
  circuit["connections"].push_back(join("relief_b.out", "tank"));
  return circuit;
}

// A lock at the cylinder: what sinks has two barriers or one.
json locked() {
  json circuit = named("locked");
  circuit["components"] = {{{"id", "valve"}, {"type", "closed_centre_section"}},
                           {{"id", "relief"}, {"type", "port_relief"}, {"setting", "180 bar"}},
                           {{"id", "lock"}, {"type", "pilot_operated_check"}},
                           cylinder()};
  circuit["connections"] = {join("valve.p", "tank"),
                            join("valve.t", "tank"),
                            join("relief.in", "valve.a"),
                            join("relief.out", "tank"),
                            join("valve.a", "lock.valve", "line_a"),
                            join("lock.load", "cylinder.cap"),
                            join("valve.b", "cylinder.rod", "line_b")};
  return circuit;
}

// A part looked at, out of its cavity or moved by hand.
json look(const char* component, const char* title, const json& modes, const json& setup) {
  json shows = json::array();
  for (const json& mode : modes) shows.push_back({{"modes", {mode}}});
  return {{"id", std::string("look/") + component},
          {"title", title},
          {"kind", "test"},
          {"outcomes", {"good", "worn", "failed"}},
          {"matrix", {{0.96, 0.03, 0.01}, {0.1, 0.8, 0.1}, {0.02, 0.13, 0.85}}},
          {"shows", shows},
          {"energised", false},
          {"setup", setup},
          {"minutes", 5}};
}

// The section of the speed benchmarks, pump and returns straight at the tank, and what a look at
// its parts shows.
json one_section() {
  json circuit = json::parse(section());
  const auto dropped = [](const std::string& id) {
    return id == "strainer" || id == "returns" || id == "tank";
  };
  json components = json::array(), connections = json::array();
  for (const json& component : circuit["components"]) {
    if (!dropped(component["id"])) components.push_back(component);
  }
  for (json connection : circuit["connections"]) {
    int ends = 0;
    for (const char* end : {"from", "to"}) {
      const std::string port = connection[end];
      if (!dropped(port.substr(0, port.find('.')))) continue;
      connection[end] = "tank";
      ++ends;
    }
    if (ends < 2) connections.push_back(connection);
  }
  circuit["components"] = components;
  circuit["connections"] = connections;
  circuit["observations"] = {
      look("valve0", "Spool moved by hand", {"valve0.spool_sticks"}, {"lockout"}),
      look("load_check0", "Load check looked at", {"load_check0.stuck_closed"},
           {"lockout", "cartridge/load_check0"}),
      look("relief", "Main relief looked at", {"relief.seat_leak"},
           {"lockout", "cartridge/relief"})};
  return circuit;
}

}  // namespace

std::vector<BenchmarkCircuit> decision_circuits() {
  return {{"held by spool", priced(held_by_spool()), true},
          {"fully equipped", priced(fully_equipped()), true},
          {"locked", priced(locked()), true},
          {"section", priced(one_section()), false}};
}

}  // namespace faultodds::benchmark
