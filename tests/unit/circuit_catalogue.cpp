// The shipped component types: that they are sound, build the usual circuits, and weigh the usual
// causes as practice does.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tests/unit/circuit_builder.h"

using namespace circuit_test;
using Json = nlohmann::ordered_json;

namespace {

Names texts(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end()) return {};
  if (found->is_string()) return {found->get<std::string>()};
  return found->get<Names>();
}

ElementKind kind_of(const std::string& text) {
  if (text == "check") return ElementKind::check;
  if (text == "relief") return ElementKind::relief;
  if (text == "passage") return ElementKind::passage;
  REQUIRE(text == "seal");
  return ElementKind::seal;
}

// A reader of just what the catalogue uses; the product's own reader is tested where it lives.
std::vector<ComponentType> shipped() {
  std::ifstream file(CATALOGUE);
  REQUIRE(file.good());
  const Json document = Json::parse(file);
  std::vector<ComponentType> out;
  for (const auto& [name, json] : document.at("types").items()) {
    ComponentType one;
    one.name = name;
    one.title = json.at("title");
    one.ports = texts(json, "ports");
    one.volumes = texts(json, "volumes");
    one.parameters = texts(json, "parameters");
    one.cartridge = json.value("cartridge", false);
    one.flow_test = json.value("flow_test", false);
    for (const auto& [element, body] : json.at("elements").items()) {
      one.elements.push_back({element, kind_of(body.at("kind")), body.at("from"), body.at("to"),
                              texts(body, "open_in")});
    }
    for (const auto& [mode, body] : json.at("failure_modes").items()) {
      FailureModeType made;
      made.name = mode;
      made.code = body.at("code");
      made.title = body.at("title");
      made.leaks = texts(body, "leaks");
      made.restricts = texts(body, "restricts");
      made.weakens = texts(body, "weakens");
      made.prior = body.at("prior").get<std::array<double, 3>>();
      one.failure_modes.push_back(made);
    }
    if (json.contains("actuator")) {
      for (const auto& [direction, pair] : json.at("actuator").at("directions").items()) {
        one.directions.push_back({direction, pair.at(0), pair.at(1)});
      }
      for (const auto& [volume, rule] : json.at("actuator").at("areas").items()) {
        one.areas[volume] = rule == "bore"      ? AreaRule::bore
                            : rule == "annulus" ? AreaRule::annulus
                                                : AreaRule::displacement;
      }
    }
    out.push_back(one);
  }
  return out;
}

const ComponentType& named(const std::vector<ComponentType>& all, const std::string& name) {
  return *std::find_if(all.begin(), all.end(),
                       [&](const ComponentType& one) { return one.name == name; });
}

double not_sound(const std::vector<ComponentType>& all, const std::string& of_type,
                 const std::string& mode) {
  for (const FailureModeType& one : named(all, of_type).failure_modes) {
    if (one.name == mode) return one.prior[1] + one.prior[2];
  }
  FAIL("no mode " << of_type << "." << mode);
  return 0;
}

struct Bank {
  Description description;

  void add(const std::string& id, const std::string& of_type) {
    description.components.push_back(component(id, of_type));
  }
  void join(const std::string& from, const std::string& to, const std::string& line = {}) {
    description.connections.push_back({from, to, line});
  }
};

// A machine of many sections, each with load check, two combined port reliefs, hoses and a
// cylinder.
Description bank(int sections, bool open_centre) {
  Bank out;
  out.description.id = "bank";
  out.add("reservoir", "tank");
  out.add("strainer", "suction_strainer");
  out.add("pump", open_centre ? "fixed_pump" : "variable_pump");
  out.add("main", "main_relief");
  out.add("filter", "return_filter");
  out.join("reservoir.suction", "strainer.in");
  out.join("strainer.out", "pump.in");
  out.join("pump.out", "main.in", "pressure_line");
  out.join("main.out", "filter.in");
  out.join("filter.out", "reservoir.return");
  part(out.description, "main").setting = 210 * kBar;
  std::string gallery = "main.in";
  for (int i = 1; i <= sections; ++i) {
    const std::string n = std::to_string(i);
    const std::string section = "section" + n;
    out.add(section, open_centre ? "open_centre_section" : "closed_centre_section");
    out.add("check" + n, "load_check");
    out.join("main.in", "check" + n + ".in");
    out.join("check" + n + ".out", section + ".p");
    out.join(section + ".t", "main.out");
    if (open_centre) {
      out.join(gallery, section + ".in");
      gallery = section + ".out";
    }
    out.add("cylinder" + n, "single_rod_cylinder");
    for (const std::string port : {"a", "b"}) {
      const std::string relief = "relief" + n + port;
      out.add(relief, "relief_makeup");
      part(out.description, relief).setting = 240 * kBar;
      out.join(section + "." + port, relief + ".port_side");
      out.join(relief + ".tank_side", section + ".t");
      const std::string hose = "hose" + n + port;
      out.add(hose, "hose");
      out.join(section + "." + port, hose + ".a", "line" + n + port);
      out.join(hose + ".b", "cylinder" + n + (port == "a" ? ".cap" : ".rod"),
               "line" + n + port + "_far");
    }
    for (const std::string position : {"a", "b"}) {
      out.description.functions.push_back({"f" + n + position,
                                           "",
                                           "cylinder" + n,
                                           position == "a" ? "extend" : "retract",
                                           "pump",
                                           {{section, position}}});
    }
  }
  if (open_centre) out.join(gallery, "main.out");
  return out.description;
}

}  // namespace

TEST_CASE("Every shipped type is accepted and every mode has a title and prior doubt",
          "[circuit][catalogue]") {
  const std::vector<ComponentType> all = shipped();
  CHECK(all.size() >= 24);
  Description each;
  each.id = "each";
  for (const ComponentType& one : all) each.components.push_back(component(one.name, one.name));
  const Analysis analysis = faultodds::circuit::analyse(each, all);
  for (const auto& mode : analysis.modes) {
    CAPTURE(mode.id);
    CHECK_FALSE(mode.title.empty());
    CHECK(mode.prior[0] < 1);
    CHECK(mode.prior[0] > 0.5);
  }
}

TEST_CASE("Of a port that will not hold, relief or make-up is the cause 19 times to spool wear's 1",
          "[circuit][catalogue]") {
  // Common practice, no source.
  const std::vector<ComponentType> all = shipped();
  const double relief = not_sound(all, "port_relief", "seat_leak");
  const double makeup = not_sound(all, "makeup_check", "seat_leak");
  for (const char* section : {"closed_centre_section", "open_centre_section"}) {
    const double spool = not_sound(all, section, "spool_bore_wear");
    CHECK((relief + makeup) / spool == Approx(19).epsilon(0.02));
    CHECK((not_sound(all, "relief_makeup", "relief_seat_leak") +
           not_sound(all, "relief_makeup", "makeup_seat_leak")) /
              spool ==
          Approx(19).epsilon(0.02));
  }
}

TEST_CASE("Only pumps and motors need a flow meter", "[circuit][catalogue]") {
  for (const ComponentType& one : shipped()) {
    CAPTURE(one.name);
    const bool machine =
        one.name.find("pump") != std::string::npos || one.name.find("motor") != std::string::npos;
    CHECK(one.flow_test == machine);
  }
}

TEST_CASE("A shipped hose leaks to the outside and can be choked", "[circuit][catalogue]") {
  const Analysis analysis = faultodds::circuit::analyse(bank(1, false), shipped());
  CHECK(sets(analysis, "drift/cylinder1/retract").count({"hose1a.external_leak"}) == 1);
  CHECK(sets(analysis, "delivery/f1a").count({"hose1a.collapsed"}) == 1);
  CHECK(sets(analysis, "delivery/f1a").count({"hose1b.collapsed"}) == 1);
}

TEST_CASE("The work port of a shipped closed-centre section suspects its valves and its spool",
          "[circuit][catalogue]") {
  const Analysis analysis = faultodds::circuit::analyse(bank(2, false), shipped());
  CHECK(sets(analysis, "static/section1.a") == Sets{{"section1.spool_bore_wear"},
                                                    {"relief1a.relief_seat_leak"},
                                                    {"relief1a.makeup_seat_leak"}});
  CHECK(sets(analysis, "static/section1.a/plugged/relief1a") == Sets{{"section1.spool_bore_wear"}});
  CHECK_FALSE(find(analysis, "static/section1.a")->test_pressure.has_value());

  // Known all round, it may have 80 % of the main relief's 210 bar: more the function never gives.
  Description machine = bank(2, false);
  machine.fittings = {{"section1.p", "ISO 6149-1", "M27x2", 350 * kBar}};
  part(machine, "cylinder1").bore = 0.1;
  part(machine, "cylinder1").rod = 0.056;
  part(machine, "cylinder1").rating = 320 * kBar;
  const auto known = find(faultodds::circuit::analyse(machine, shipped()), "static/section1.a");
  CHECK(known->test_pressure.value() == Approx(165 * kBar));
}

TEST_CASE("A commanded section of an open-centre bank closes the gallery of all",
          "[circuit][catalogue]") {
  const Analysis analysis = faultodds::circuit::analyse(bank(3, true), shipped());
  for (const std::string id : {"delivery/f1a", "delivery/f2b", "delivery/f3a"}) {
    CAPTURE(id);
    const Sets causes = sets(analysis, id);
    CHECK(causes.count({"main.seat_leak"}) == 1);
    CHECK(causes.count({"pump.internal_wear"}) == 1);
  }
  CHECK(sets(analysis, "delivery/f2b").count({"section2.spool_bore_wear"}) == 1);
  CHECK(sets(analysis, "delivery/f2b").count({"check2.stuck_closed"}) == 1);
  CHECK(sets(analysis, "delivery/f2b").count({"check1.stuck_closed"}) == 0);
  // Round a clogged filter leads its bypass; a clogged strainer starves the pump.
  CHECK(sets(analysis, "delivery/f2b").count({"filter.clogged"}) == 0);
  CHECK(sets(analysis, "delivery/f2b").count({"strainer.clogged"}) == 1);
  CHECK(sets(analysis, "flow/pump").count({"strainer.clogged"}) == 1);
}

TEST_CASE("A counterbalance valve holds the load until it is piloted open",
          "[circuit][catalogue]") {
  Bank bench;
  bench.description.id = "bench";
  for (const auto& [id, of_type] : {std::pair{"pump", "fixed_pump"},
                                    {"valve", "closed_centre_section"},
                                    {"holding", "counterbalance_valve"},
                                    {"ram", "single_rod_cylinder"}}) {
    bench.add(id, of_type);
  }
  bench.join("tank", "pump.in");
  bench.join("pump.out", "valve.p");
  bench.join("valve.t", "tank");
  bench.join("valve.a", "holding.valve", "lift_line");
  bench.join("holding.load", "ram.cap");
  bench.join("valve.b", "ram.rod", "lower_line");
  bench.description.functions = {
      {"up", "", "ram", "extend", "pump", {{"valve", "a"}}},
      {"down", "", "ram", "retract", "pump", {{"valve", "b"}, {"holding", "piloted"}}}};
  const Analysis analysis = faultodds::circuit::analyse(bench.description, shipped());
  CHECK(sets(analysis, "drift/ram/retract").count({"holding.seat_leak", "valve.spool_bore_wear"}) ==
        1);
  CHECK(sets(analysis, "drift/ram/retract").count({"holding.seat_leak"}) == 0);
  CHECK(sets(analysis, "delivery/down").count({"holding.does_not_open"}) == 1);
  CHECK(sets(analysis, "delivery/up").count({"holding.does_not_open"}) == 0);
}

TEST_CASE("A motor creeps either way by its own wear", "[circuit][catalogue]") {
  Bank bench;
  bench.description.id = "winch";
  bench.add("valve", "closed_centre_section");
  bench.add("motor", "rotary_motor");
  bench.join("valve.t", "tank");
  bench.join("valve.a", "motor.a", "l1");
  bench.join("valve.b", "motor.b", "l2");
  const Analysis analysis = faultodds::circuit::analyse(bench.description, shipped());
  CHECK(sets(analysis, "drift/motor/forward").count({"motor.internal_wear"}) == 1);
  CHECK(sets(analysis, "drift/motor/reverse").count({"motor.internal_wear"}) == 1);
}

TEST_CASE("An accumulator loses oil to the outside only past bladder and gas valve",
          "[circuit][catalogue]") {
  Bank bench;
  bench.description.id = "charge";
  bench.add("store", "accumulator");
  bench.join("store.port", "tank", "charge_line");
  CHECK(sets(faultodds::circuit::analyse(bench.description, shipped()), "static/store.port") ==
        Sets{{"store.bladder_leak", "store.gas_valve_leak"}});
}

TEST_CASE("A load lowered by its weight sinks past the lowering valve's seat or the gland",
          "[circuit][catalogue]") {
  Bank bench;
  bench.description.id = "table";
  for (const auto& [id, of_type] : {std::pair{"pump", "fixed_pump"},
                                    {"hold", "load_check"},
                                    {"lower", "lowering_valve"},
                                    {"ram", "plunger_cylinder"}}) {
    bench.add(id, of_type);
  }
  bench.join("tank", "pump.in");
  bench.join("pump.out", "hold.in");
  bench.join("hold.out", "ram.cap", "ram_line");
  bench.join("lower.load", "hold.out");
  bench.join("lower.return", "tank");
  bench.description.functions = {{"raise", "", "ram", "raise", "pump", {}}};
  const Analysis analysis = faultodds::circuit::analyse(bench.description, shipped());
  CHECK(sets(analysis, "drift/ram/lower").count({"lower.seat_leak"}) == 1);
  CHECK(sets(analysis, "drift/ram/lower").count({"ram.gland_leak"}) == 1);
  CHECK(sets(analysis, "drift/ram/lower").count({"hold.seat_leak", "pump.internal_wear"}) == 1);
  CHECK(sets(analysis, "delivery/raise").count({"lower.seat_leak"}) == 1);
}

TEST_CASE("A load-sensing pump whose margin is low makes every function slow",
          "[circuit][catalogue]") {
  Bank bench;
  bench.description.id = "ls";
  for (const auto& [id, of_type] : {std::pair{"pump", "load_sensing_pump"},
                                    {"compensator", "pressure_compensator"},
                                    {"valve", "proportional_section"},
                                    {"ram", "single_rod_cylinder"}}) {
    bench.add(id, of_type);
  }
  bench.join("tank", "pump.in");
  bench.join("pump.out", "compensator.in");
  bench.join("compensator.out", "valve.p");
  bench.join("valve.t", "tank");
  bench.join("valve.a", "ram.cap", "cap_line");
  bench.join("valve.b", "ram.rod", "rod_line");
  bench.description.functions = {{"out", "", "ram", "extend", "pump", {{"valve", "a"}}}};
  const Analysis analysis = faultodds::circuit::analyse(bench.description, shipped());
  for (const char* mode : {"pump.margin_low", "pump.control_sticks", "compensator.sticks",
                           "valve.solenoid_a_weak", "valve.spool_sticks"}) {
    CAPTURE(mode);
    CHECK(sets(analysis, "delivery/out").count({mode}) == 1);
  }
  CHECK(sets(analysis, "delivery/out").count({"valve.solenoid_b_weak"}) == 0);
}

TEST_CASE("A sequence valve that sticks stops only what is behind it", "[circuit][catalogue]") {
  Bank bench;
  bench.description.id = "order";
  for (const auto& [id, of_type] : {std::pair{"pump", "fixed_pump"},
                                    {"sequence", "sequence_valve"},
                                    {"valve", "closed_centre_section"},
                                    {"second_valve", "closed_centre_section"},
                                    {"clamp", "single_rod_cylinder"},
                                    {"drill", "single_rod_cylinder"}}) {
    bench.add(id, of_type);
  }
  bench.join("tank", "pump.in");
  bench.join("pump.out", "valve.p");
  bench.join("pump.out", "sequence.in");
  bench.join("sequence.out", "second_valve.p");
  for (const auto& [section, ram] : {std::pair{"valve", "clamp"}, {"second_valve", "drill"}}) {
    bench.join(std::string(section) + ".t", "tank");
    bench.join(std::string(section) + ".a", std::string(ram) + ".cap", std::string(ram) + "_cap");
    bench.join(std::string(section) + ".b", std::string(ram) + ".rod", std::string(ram) + "_rod");
  }
  bench.description.functions = {
      {"clamp_out", "", "clamp", "extend", "pump", {{"valve", "a"}}},
      {"drill_out", "", "drill", "extend", "pump", {{"second_valve", "a"}, {"sequence", "open"}}}};
  const Analysis analysis = faultodds::circuit::analyse(bench.description, shipped());
  CHECK(sets(analysis, "delivery/drill_out").count({"sequence.sticks_closed"}) == 1);
  CHECK(sets(analysis, "delivery/clamp_out").count({"sequence.sticks_closed"}) == 0);
}

TEST_CASE("Machines of 64 sections are analysed within the limits", "[circuit][catalogue]") {
  const std::vector<ComponentType> all = shipped();
  for (const bool open_centre : {false, true}) {
    CAPTURE(open_centre);
    const Analysis analysis = faultodds::circuit::analyse(bank(64, open_centre), all);
    CHECK(analysis.modes.size() > 900);
    CHECK(analysis.observations.size() > 900);
    // The same port of every section has the same suspects but for the section's number.
    CHECK(find(analysis, "static/section1.a")->sets.size() ==
          find(analysis, "static/section64.a")->sets.size());
  }
}
