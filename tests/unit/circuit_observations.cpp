// What each observation is made of besides its sets: delivery and flow, pressures, setup, what to
// bring, cautions, hand-written entries, conditions.
#include <catch2/catch.hpp>
#include <cmath>

#include "capi/documents/wording.h"
#include "core/circuit/kinds.h"
#include "tests/unit/circuit_builder.h"

using namespace circuit_test;

namespace {

// The lift with a component between pump and valve inlet (`in` side at the pump).
Description with_supply_part(const std::string& id, const std::string& of_type) {
  Description machine = lift();
  machine.components.push_back(component(id, of_type));
  machine.connections[1] = {"pump.out", id + ".in", ""};
  machine.connections.push_back({id + ".out", "valve.p", ""});
  return machine;
}

bool has_caution(const Observation& one, const std::string& words) {
  const auto& english = faultodds::documents::MessageCatalogue::in("en");
  return std::any_of(one.cautions.begin(), one.cautions.end(), [&](const std::string& id) {
    return english.say("caution." + id).find(words) != std::string::npos;
  });
}

WrittenObservation written(std::string id, std::optional<ObservationKind> kind,
                           std::vector<Names> shows) {
  WrittenObservation out;
  out.id = std::move(id);
  out.kind = kind;
  for (Names& modes : shows) out.shows.push_back({std::move(modes), 1});
  return out;
}

WrittenObservation noise() {
  WrittenObservation out = written("noise", ObservationKind::symptom, {{"pump.wear"}});
  out.model.outcomes = {"quiet", "whines"};
  out.model.matrix = {{0.9, 0.1}, {0.4, 0.6}, {0.1, 0.9}};
  return out;
}

}  // namespace

TEST_CASE("Delivery shows a weak source, restrictions in series and leaks of what is pressurised",
          "[circuit]") {
  const Sets causes = sets(analyse(lift()), "delivery/raise");
  CHECK(causes == Sets{{"pump.wear"},
                       {"main.seat_leak"},
                       {"valve.bore_wear"},
                       {"valve.sticks"},
                       {"relief_a.seat_leak"},
                       {"boom.piston_seal_leak"}});
}

TEST_CASE("The return side is not pressurised: its leaks do not show in delivery", "[circuit]") {
  const Analysis analysis = analyse(lift());
  CHECK(sets(analysis, "delivery/raise").count({"relief_b.seat_leak"}) == 0);
  CHECK(sets(analysis, "delivery/raise").count({"boom.rod_seal_leak"}) == 0);
  CHECK(sets(analysis, "delivery/lower").count({"boom.rod_seal_leak"}) == 1);
}

TEST_CASE("A way into the return side is a leak even where it cannot drain", "[circuit]") {
  Description machine = lift();
  // A blank in the rod line: the contracting volume has no way to tank.
  machine.components.push_back(component("blank", "blank"));
  machine.connections[10] = {"valve.b", "blank.in", ""};
  machine.connections.push_back({"blank.out", "boom.rod", ""});
  machine.functions.pop_back();
  CHECK(sets(analyse(machine), "delivery/raise").count({"boom.piston_seal_leak"}) == 1);
}

TEST_CASE("A choked element shows in delivery when every way of the oil passes it", "[circuit]") {
  CHECK(sets(analyse(with_supply_part("screen", "filter")), "delivery/raise")
            .count({"screen.clogged"}) == 1);
}

TEST_CASE("A choked element that the oil can go round does not show in delivery", "[circuit]") {
  Description machine = with_supply_part("screen", "filter");
  machine.components.push_back(component("second", "filter"));
  machine.connections.push_back({"pump.out", "second.in", ""});
  machine.connections.push_back({"second.out", "valve.p", ""});
  const Sets causes = sets(analyse(machine), "delivery/raise");
  CHECK(causes.count({"screen.clogged"}) == 0);
  CHECK(causes.count({"second.clogged"}) == 0);
  CHECK(causes.count({"valve.sticks"}) == 1);
}

TEST_CASE("A detour round part of the way spares only that part", "[circuit]") {
  Description machine = with_supply_part("first", "filter");
  // pump - first - middle - valve.p, with a bypass from after `first` to before the valve.
  machine.components.push_back(component("middle", "filter"));
  machine.components.push_back(component("bypass", "filter"));
  machine.connections.back() = {"first.out", "middle.in", ""};
  machine.connections.push_back({"middle.out", "valve.p", "inlet"});
  machine.connections.push_back({"first.out", "bypass.in", ""});
  machine.connections.push_back({"bypass.out", "middle.out", ""});
  const Sets causes = sets(analyse(machine), "delivery/raise");
  CHECK(causes.count({"first.clogged"}) == 1);
  CHECK(causes.count({"middle.clogged"}) == 0);
  CHECK(causes.count({"bypass.clogged"}) == 0);
}

TEST_CASE("A choked return way shows in delivery", "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("return_filter", "filter"));
  machine.connections[4] = {"valve.t", "return_filter.in", ""};
  machine.connections.push_back({"return_filter.out", "tank", ""});
  CHECK(sets(analyse(machine), "delivery/raise").count({"return_filter.clogged"}) == 1);
}

TEST_CASE("A source named by its component is the port that one of its modes weakens",
          "[circuit]") {
  const Analysis by_name = analyse(lift());
  Description machine = lift();
  machine.functions[0].source = "pump.out";
  CHECK(sets(by_name, "delivery/raise") == sets(analyse(machine), "delivery/raise"));
}

TEST_CASE("Restrictions inside the source show in delivery", "[circuit]") {
  Description machine = with_supply_part("supply", "check");
  machine.functions[0].source = "supply.out";
  CHECK(sets(analyse(machine), "delivery/raise").count({"supply.stuck"}) == 1);
}

TEST_CASE("A flow test sees the modes of its component, each by itself", "[circuit]") {
  Description machine = lift();
  part(machine, "pump").rated_flow = 0.001;
  const Analysis analysis = analyse(machine);
  CHECK(sets(analysis, "flow/pump") == Sets{{"pump.wear"}});
  const Observation flow = *find(analysis, "flow/pump");
  CHECK(flow.energised);
  CHECK(flow.rated_flow == 0.001);
  CHECK(flow.setup == Names{"lockout", "meter/pump"});
  CHECK(flow.leak_median == std::array<double, 3>{0.03, 0.12, 0.35});
  REQUIRE(flow.bring.size() == 1);
  CHECK(flow.bring[0].what == "flow meter");
  CHECK(flow.bring[0].port == "pump.out");
}

TEST_CASE("Holds and looks are not energised; drift, delivery, flow and temperature are",
          "[circuit]") {
  for (const Observation& one : analyse(lift()).observations) {
    CAPTURE(one.id);
    CHECK(one.energised == !(one.id.starts_with("static/") || one.id.starts_with("look/")));
    CHECK(one.symptom == (one.id.starts_with("drift/") || one.id.starts_with("delivery/") ||
                          faultodds::circuit::is_reported(one)));
  }
}

TEST_CASE("The test pressure is 80 % of the lowest relief setting that it reaches past one suspect",
          "[circuit]") {
  const Analysis analysis = analyse(rated_lift());
  // A worn spool lets the pressure of `a` reach the relief of `b`, at 150 bar.
  CHECK(find(analysis, "static/valve.a")->test_pressure.value() == Approx(120 * kBar));
  CHECK(find(analysis, "static/valve.a")->pressure_limit->by == "relief");
  CHECK(find(analysis, "static/valve.b")->test_pressure.value() == Approx(120 * kBar));
}

TEST_CASE("A relief behind a barrier does not count for the test pressure", "[circuit]") {
  Description machine = rated_lift();
  part(machine, "relief_a").setting.reset();
  const auto hold = find(analyse(machine), "static/valve.a");
  CHECK_FALSE(hold->test_pressure.has_value());
  CHECK(hold->no_figure->volume == "valve.a");
}

TEST_CASE("The test pressure is never above the rating of a fitting on the way", "[circuit]") {
  Description machine = rated_lift();
  machine.fittings = {{"relief_a.in", "ISO 6149-1", "M27x2", 110 * kBar},
                      {"boom.cap", "ISO 6162-1", "25", 90 * kBar}};
  // The cylinder's fitting is beyond the joint.
  CHECK(find(analyse(machine), "static/valve.a")->test_pressure.value() == Approx(110 * kBar));
}

TEST_CASE("Taking a relief out does not raise the test pressure", "[circuit]") {
  Description machine = rated_lift();
  machine.fittings = {{"valve.a", "ISO 6149-1", "M27x2", 315 * kBar}};
  const Analysis analysis = analyse(machine);
  CHECK(find(analysis, "static/valve.a/plugged/relief_a")->test_pressure ==
        find(analysis, "static/valve.a")->test_pressure);
}

TEST_CASE("An actuator with its lines off is tested by the reliefs that protect it in service",
          "[circuit]") {
  Description machine = lift();
  CHECK_FALSE(find(analyse(machine), "static/boom.cap")->test_pressure.has_value());
  machine.fittings = {{"boom.cap", "ISO 6162-1", "25", 315 * kBar}};
  // The pump's relief at 180 bar: no function gives the cap side more.
  CHECK(find(analyse(machine), "static/boom.cap")->test_pressure.value() == Approx(140 * kBar));
  machine.fittings = {{"boom.cap", "ISO 6162-1", "25", 90 * kBar}};
  CHECK(find(analyse(machine), "static/boom.cap")->test_pressure.value() == Approx(90 * kBar));
}

TEST_CASE("No pressure is proposed for a port that drains to tank in service", "[circuit]") {
  Description machine = lift();
  machine.connections[0].line = "suction_line";  // tank - pump.in
  const Analysis analysis = analyse(machine);
  const auto suction = find(analysis, "static/pump.in");
  REQUIRE(suction.has_value());  // through the pump it sees the main relief
  CHECK(sets(analysis, "static/pump.in").count({"main.seat_leak"}) == 1);
  CHECK_FALSE(suction->test_pressure.has_value());
  CHECK(suction->withheld->reason == "pump_or_motor");
}

TEST_CASE("A hold into a pump's outlet is withheld", "[circuit]") {
  Description machine = lift();
  machine.types = {type("section", {"in", "out", "p", "a"},
                        {seal("gallery", "in", "out", {"neutral"}), seal("pa", "p", "a", {"a"})},
                        {leaks("wear", {"gallery"})})};
  machine.components.push_back(component("centre", "section"));
  machine.connections[1] = {"pump.out", "valve.p", "pressure_line"};
  machine.connections[2] = {"main.in", "pump.out", ""};
  machine.connections.push_back({"valve.p", "centre.in", ""});
  machine.connections.push_back({"centre.out", "tank", ""});
  for (Function& function : machine.functions) function.positions["centre"] = "a";
  const auto outlet = find(analyse(machine), "static/pump.out");
  REQUIRE(outlet.has_value());
  CHECK_FALSE(outlet->test_pressure.has_value());
  CHECK(outlet->withheld->reason == "pump_or_motor");
}

TEST_CASE("A valve-side hold needs its line off, an actuator hold all its lines", "[circuit]") {
  const Analysis analysis = analyse(lift());
  CHECK(find(analysis, "static/valve.a")->setup == Names{"lockout", "line/cap_hose"});
  CHECK(find(analysis, "static/valve.a/plugged/relief_a")->setup ==
        Names{"lockout", "line/cap_hose", "cartridge/relief_a"});
  CHECK(find(analysis, "static/boom.cap")->setup ==
        Names{"lockout", "line/cap_hose", "line/rod_hose"});
  CHECK(find(analysis, "drift/boom/extend")->setup.empty());
}

TEST_CASE("Every setup step of every test exists once and has minutes", "[circuit]") {
  const Analysis analysis = analyse(lift());
  std::set<std::string> steps;
  for (const auto& step : analysis.setup_steps) {
    CHECK(steps.insert(step.id).second);
    CHECK(step.minutes > 0);
    CHECK_FALSE(faultodds::documents::Words(analysis).step(step).empty());
  }
  for (const Observation& one : analysis.observations) {
    for (const std::string& id : one.setup) CHECK(steps.count(id) == 1);
  }
}

TEST_CASE("A hold brings an adapter and a plug of the port's standard and size", "[circuit]") {
  Description machine = lift();
  machine.fittings = {{"valve.a", "ISO 6149-1", "M27x2", 250 * kBar},
                      {"relief_a", "ISO 7789", "27-01-1-97", std::nullopt}};
  const Analysis analysis = analyse(machine);
  const auto bring = find(analysis, "static/valve.a/plugged/relief_a")->bring;
  REQUIRE(bring.size() == 3);
  CHECK(bring[0].what == "adapter");
  CHECK(bring[0].standard == "ISO 6149-1");
  CHECK(bring[0].size == "M27x2");
  CHECK(bring[1].what == "plug");
  CHECK(bring[1].port == "valve.a");
  CHECK(bring[2].what == "cavity plug");
  CHECK(bring[2].port == "relief_a");
  CHECK(bring[2].standard == "ISO 7789");
}

TEST_CASE("Every test carries the general cautions first", "[circuit]") {
  for (const Observation& one : analyse(lift()).observations) {
    CAPTURE(one.id);
    REQUIRE(one.cautions.size() > 5);
    CHECK(one.cautions[0] == "general/1");
    CHECK(has_caution(one, "surgical emergency"));
    CHECK(has_caution(one, "under power"));
  }
}

TEST_CASE("An actuator hold warns that the piston must be bottomed or the load held", "[circuit]") {
  const Observation hold = *find(analyse(lift()), "static/boom.cap");
  CHECK(has_caution(hold, "bottomed"));
  CHECK(has_caution(hold, "held mechanically"));
  CHECK(has_caution(hold, "rated for the test pressure"));
}

TEST_CASE("Every observation has a title of its own in plain words", "[circuit]") {
  Description machine = lift();
  part(machine, "boom").title = "Boom cylinder";
  std::set<std::string> titles;
  const Analysis analysis = analyse(machine);
  const faultodds::documents::Words words(analysis);
  for (const Observation& one : analysis.observations) {
    const std::string title = words.observation(one);
    CAPTURE(one.id, title);
    CHECK(titles.insert(title).second);
    CHECK(title.find('/') == std::string::npos);
  }
  CHECK(titles.count("Boom cylinder creeps (retract) with the lever released") == 1);
  CHECK(titles.count("Boom up is slow or weak") == 1);
}

TEST_CASE("The contracting area of a drift follows from bore and rod", "[circuit]") {
  Description machine = lift();
  part(machine, "boom").bore = 0.1;
  part(machine, "boom").rod = 0.056;
  const Analysis analysis = analyse(machine);
  // Circle of 100 mm, and the same less a circle of 56 mm.
  CHECK(find(analysis, "drift/boom/retract")->contracting_area.value() == Approx(78.5398e-4));
  CHECK(find(analysis, "drift/boom/extend")->contracting_area.value() == Approx(53.9097e-4));
}

TEST_CASE("Times given by the circuit replace the defaults", "[circuit]") {
  Description machine = lift();
  machine.times = {{"lockout", 25}, {"static_test", 7}};
  const Analysis analysis = analyse(machine);
  CHECK(analysis.setup_steps[0].minutes == 25);
  CHECK(find(analysis, "static/valve.a")->perform_minutes == 7);
  CHECK(find(analysis, "drift/boom/extend")->perform_minutes == 6);
}

TEST_CASE("An entry without `shows` overrides the statistics of a derived observation",
          "[circuit]") {
  Description machine = lift();
  WrittenObservation entry = written("static/valve.a", std::nullopt, {});
  entry.model.outcomes = {"tight", "leaks"};
  entry.model.matrix = {{0.9, 0.1}, {0.5, 0.5}, {0.2, 0.8}};
  entry.model.background = {{0.9, 0.06, 0.04}};
  entry.model.leak_median = {{1, 50, 500}};
  entry.minutes = 11;
  entry.cautions = {"The lever springs back."};
  machine.observations = {entry};
  const Analysis before = analyse(lift());
  const Analysis after = analyse(machine);
  CHECK(after.observations.size() == before.observations.size());
  const Observation one = *find(after, "static/valve.a");
  CHECK(sets(after, "static/valve.a") == sets(before, "static/valve.a"));
  CHECK(one.outcomes == Names{"tight", "leaks"});
  CHECK(one.matrix[2][1] == 0.8);
  CHECK(one.matrix_is_own);
  CHECK(one.background[1] == 0.06);
  CHECK(one.leak_median[1] == 50);
  CHECK(one.leak_sigma[1] == 1.0);
  CHECK(one.perform_minutes == 11);
  CHECK_FALSE(one.written);
  CHECK(one.cautions.back() == "The lever springs back.");
  CHECK(one.cautions.size() == find(before, "static/valve.a")->cautions.size() + 1);
}

TEST_CASE("A hand-written observation shows the sets it lists, as listed", "[circuit]") {
  Description machine = lift();
  machine.observations = {noise()};
  machine.observations[0].shows = {{{"pump.wear"}, 0.9},
                                   {{"valve.sticks", "main.seat_leak", "valve.sticks"}, 1}};
  const Analysis analysis = analyse(machine);
  const Observation one = *find(analysis, "noise");
  CHECK(one.written);
  CHECK(one.symptom);
  CHECK(one.background == std::array<double, 3>{1, 0, 0});
  REQUIRE(one.sets.size() == 2);
  CHECK(one.sets[0].probability == 0.9);
  CHECK(one.sets[1].modes.size() == 2);
  CHECK(std::is_sorted(one.sets[1].modes.begin(), one.sets[1].modes.end()));
  CHECK(one.perform_minutes == 5);
}

TEST_CASE("A hand-written observation of a derived kind has that kind's statistics", "[circuit]") {
  Description machine = lift();
  machine.observations = {written("gauge", ObservationKind::static_hold, {{"main.seat_leak"}})};
  const Observation one = *find(analyse(machine), "gauge");
  CHECK(one.outcomes == Names{"held", "bled_down", "would_not_build"});
  CHECK(one.background[0] == 0.985);
  CHECK_FALSE(one.energised);
}

TEST_CASE("A hand-written test that takes a line off is locked out, lockout first", "[circuit]") {
  Description machine = lift();
  WrittenObservation entry = written("look", ObservationKind::static_hold, {{"main.seat_leak"}});
  entry.setup = {"cartridge/main", "line/cap_hose"};
  machine.observations = {entry};
  const Observation one = *find(analyse(machine), "look");
  CHECK_FALSE(one.energised);
  CHECK(one.setup == Names{"lockout", "line/cap_hose", "cartridge/main"});
}

TEST_CASE("A condition raises every mode that its patterns match, by component or type",
          "[circuit]") {
  Description machine = lift();
  machine.conditions = {{"dirt", "Dirty oil", 0.2, {{"relief.*", 3}, {"main.seat_leak", 2}}}};
  const Analysis analysis = analyse(machine);
  REQUIRE(analysis.conditions.size() == 1);
  std::map<std::string, double> factors;
  for (const auto& [mode, factor] : analysis.conditions[0].raises) {
    factors[analysis.modes[mode].id] = factor;
  }
  CHECK(factors == std::map<std::string, double>{{"main.seat_leak", 6},
                                                 {"relief_a.seat_leak", 3},
                                                 {"relief_b.seat_leak", 3}});
}

TEST_CASE("A pattern that matches a mode by component and by type raises it once", "[circuit]") {
  Description machine = lift();
  machine.conditions = {{"heat", "Hot oil", 0.1, {{"*pump.*wear", 4}}}};
  const Analysis analysis = analyse(machine);
  REQUIRE(analysis.conditions[0].raises.size() == 1);
  CHECK(analysis.conditions[0].raises[0].second == 4);
}

TEST_CASE("A line that joins two ports of one actuator is taken off once", "[circuit]") {
  Description machine = lift();
  ComponentType rotary =
      type("rotary", {"a", "b", "drain"}, {seal("vane", "a", "b"), seal("shaft", "a", "drain")},
           {leaks("vane_leak", {"vane"}), leaks("shaft_leak", {"shaft"})});
  rotary.directions = {{"left", "a", "b"}, {"right", "b", "a"}};
  rotary.areas = {{"a", AreaRule::displacement}, {"b", AreaRule::displacement}};
  machine.types = {rotary};
  machine.components.push_back(component("wrist", "rotary"));
  machine.connections.push_back({"wrist.a", "wrist.drain", "loop"});
  machine.connections.push_back({"wrist.b", "valve.b", "supply"});
  const std::optional<Observation> hold = find(analyse(machine), "static/wrist.b");
  REQUIRE(hold);
  CHECK(std::count(hold->setup.begin(), hold->setup.end(), "line/loop") == 1);
  CHECK(std::count(hold->setup.begin(), hold->setup.end(), "line/supply") == 1);
}

TEST_CASE("What has no title is called by its name or id", "[circuit]") {
  Description machine = lift();
  machine.conditions = {{"heat", "", 0.1, {{"pump.wear", 4}}},
                        {"dirt", "Dirty oil", 0.1, {{"pump.wear", 4}}}};
  WrittenObservation gauge;
  gauge.id = "gauge_reads_low";
  gauge.kind = ObservationKind::symptom;
  gauge.model.outcomes = {"no", "yes"};
  gauge.model.matrix = {{0.9, 0.1}, {0.5, 0.5}, {0.1, 0.9}};
  gauge.shows = {{{"pump.wear"}, 1}};
  machine.observations = {gauge};
  const Analysis analysis = analyse(machine);
  CHECK(analysis.conditions[0].title == "heat");
  CHECK(analysis.conditions[1].title == "Dirty oil");
  CHECK(find(analysis, "gauge_reads_low")->title == "gauge_reads_low");
  const auto mode = std::find_if(analysis.modes.begin(), analysis.modes.end(),
                                 [](const auto& m) { return m.id == "relief_a.seat_leak"; });
  REQUIRE(mode != analysis.modes.end());
  CHECK(mode->title == "seat leak");
}

TEST_CASE("A hand-written flow test that opens a line must say that it is locked out",
          "[circuit]") {
  Description machine = lift();
  WrittenObservation meter;
  meter.id = "meter";
  meter.kind = ObservationKind::flow;
  meter.setup = {"line/cap_hose"};
  meter.shows = {{{"pump.wear"}, 1}};
  machine.observations = {meter};
  CHECK(refusal(machine).pointer == "/observations/0/setup");
  machine.observations[0].energised = false;
  CHECK(refusal(machine).message == "");
}

TEST_CASE("A component's own prior is kept from being overridden by a prior pack", "[circuit]") {
  Description machine = lift();
  part(machine, "main").priors = {{"seat_leak", {0.5, 0.3, 0.2}}};
  const Analysis analysis = analyse(machine);
  for (const auto& mode : analysis.modes) {
    CAPTURE(mode.id);
    CHECK(mode.prior_is_own == (mode.id == "main.seat_leak"));
    CHECK(mode.prior[0] == (mode.id == "main.seat_leak" ? 0.5 : 0.9));
  }
}

TEST_CASE("The circuit's own types override the shipped ones by name", "[circuit]") {
  Description machine = lift();
  machine.types = {cartridge(type("relief", {"in", "out"}, {relief("poppet", "in", "out")},
                                  {leaks("spring_broken", {"poppet"})}))};
  CHECK(sets(analyse(machine), "static/valve.a").count({"relief_a.spring_broken"}) == 1);
}

TEST_CASE("Oil outside is looked for along what the ports of an actuator or pump lead to",
          "[circuit]") {
  const Analysis analysis = analyse(lift());
  CHECK(sets(analysis, "look/boom") == Sets{{"boom.rod_seal_leak"}});
  CHECK(has_caution(*find(analysis, "look/boom"), "piece of card"));
}

TEST_CASE("A relief that leaks inside is warmer than the parts beside it", "[circuit]") {
  const Analysis analysis = analyse(lift());
  CHECK(sets(analysis, "temperature/main") == Sets{{"main.seat_leak"}});
  CHECK(has_caution(*find(analysis, "temperature/main"), "without touching"));
}
