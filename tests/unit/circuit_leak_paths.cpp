// What leaks where: the structural facts of hydraulics that every derived observation rests on.
#include <catch2/catch.hpp>

#include "core/circuit/cautions.h"
#include "tests/unit/circuit_builder.h"

using namespace circuit_test;

namespace {

// A row of components from valve port `a` to tank, in place of relief_a.
Description row_of(const Names& ids, const std::string& of_type) {
  Description lifted = lift();
  auto& connections = lifted.connections;
  connections.erase(
      std::remove_if(connections.begin(), connections.end(),
                     [](const Connection& one) { return one.from.starts_with("relief_a."); }),
      connections.end());
  std::string end = "valve.a";
  for (const std::string& id : ids) {
    lifted.components.push_back(component(id, of_type));
    connections.push_back({end, id + ".in", ""});
    end = id + ".out";
  }
  connections.push_back({end, "tank", ""});
  return lifted;
}

}  // namespace

TEST_CASE("A leaking piston seal alone explains creeping out under a pulling load", "[circuit]") {
  const Sets causes = sets(analyse(lift()), "drift/boom/extend");
  CHECK(causes.count({"boom.piston_seal_leak"}) == 1);
}

TEST_CASE("A leaking piston seal alone does not explain creeping in while the valve is tight",
          "[circuit]") {
  // The rod volume cannot take in what the cap volume gives out; oil must leave the rod side too.
  const Sets causes = sets(analyse(lift()), "drift/boom/retract");
  CHECK(causes == Sets{{"valve.bore_wear"},
                       {"relief_a.seat_leak"},
                       {"boom.piston_seal_leak", "boom.rod_seal_leak"},
                       {"boom.piston_seal_leak", "relief_b.seat_leak"}});
}

TEST_CASE("A double-rod cylinder with a leaking piston seal creeps both ways", "[circuit]") {
  Description press = lift();
  part(press, "boom").type = "double_rod";
  press.connections[9].to = "boom.left";
  press.connections[10].to = "boom.right";
  press.functions.clear();
  const Analysis analysis = analyse(press);
  CHECK(sets(analysis, "drift/boom/left").count({"boom.piston_seal_leak"}) == 1);
  CHECK(sets(analysis, "drift/boom/right").count({"boom.piston_seal_leak"}) == 1);
}

TEST_CASE("Areas given for an actuator decide whether its expanding side can take the oil in",
          "[circuit]") {
  Description machine = lift();
  machine.by_grades = true;  // the solve knows of reliefs that a leak lifts, and asks no such question
  part(machine, "boom").areas = {{"cap", 0.002}, {"rod", 0.003}};
  const Analysis analysis = analyse(machine);
  CHECK(sets(analysis, "drift/boom/retract").count({"boom.piston_seal_leak"}) == 1);
  CHECK(sets(analysis, "drift/boom/extend").count({"boom.piston_seal_leak"}) == 0);
}

TEST_CASE("A hold into a valve port with its line off suspects nothing beyond the line",
          "[circuit]") {
  const Sets causes = sets(analyse(lift()), "static/valve.a");
  CHECK(causes == Sets{{"valve.bore_wear"}, {"relief_a.seat_leak"}});
}

TEST_CASE("A hold never suspects what lies behind a sound barrier", "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("blank", "blank"));
  machine.components.push_back(component("far", "relief"));
  machine.connections.push_back({"valve.a", "blank.in", ""});
  machine.connections.push_back({"blank.out", "far.in", ""});
  machine.connections.push_back({"far.out", "tank", ""});
  const Sets causes = sets(analyse(machine), "static/valve.a");
  CHECK(causes == Sets{{"valve.bore_wear"}, {"relief_a.seat_leak"}});
}

TEST_CASE("Plugging the relief removes exactly the relief from the suspects", "[circuit]") {
  const Analysis analysis = analyse(lift());
  Sets expected = sets(analysis, "static/valve.a");
  REQUIRE(expected.erase({"relief_a.seat_leak"}) == 1);
  CHECK(sets(analysis, "static/valve.a/plugged/relief_a") == expected);
}

TEST_CASE("A hold with a cartridge's cavity plugged carries the cautions for that", "[circuit]") {
  const Analysis analysis = analyse(lift());
  const auto hold = find(analysis, "static/valve.a/plugged/relief_a");
  REQUIRE(hold);
  const Names& cautions = hold->cautions;
  REQUIRE_FALSE(faultodds::circuit::plugged_cavity_cautions().empty());
  for (const std::string& caution : faultodds::circuit::plugged_cavity_cautions()) {
    CHECK(std::count(cautions.begin(), cautions.end(), caution) == 1);
  }
}

TEST_CASE("A cartridge that explains nothing has no plugged variant", "[circuit]") {
  CHECK_FALSE(find(analyse(lift()), "static/valve.a/plugged/relief_b").has_value());
}

TEST_CASE("A plugged variant with nothing left to find does not exist", "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("block", "blank"));
  machine.components.push_back(component("stop", "relief"));
  machine.connections.push_back({"block.in", "stop.in", ""});
  machine.connections.push_back({"stop.out", "tank", ""});
  machine.connections.push_back({"block.in", "valve.p", "gauge_line"});
  const Analysis analysis = analyse(machine);
  CHECK(sets(analysis, "static/block.in") == Sets{{"stop.seat_leak"}});
  CHECK_FALSE(find(analysis, "static/block.in/plugged/stop").has_value());
}

TEST_CASE("An actuator hold opens its other ports and sees the piston and rod seals only",
          "[circuit]") {
  const Analysis analysis = analyse(lift());
  CHECK(sets(analysis, "static/boom.cap") == Sets{{"boom.piston_seal_leak"}});
  CHECK(sets(analysis, "static/boom.rod") ==
        Sets{{"boom.piston_seal_leak"}, {"boom.rod_seal_leak"}});
}

TEST_CASE("An open-centre gallery is no barrier in neutral", "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("centre", "open_centre"));
  machine.connections.push_back({"pump.out", "centre.in", ""});
  machine.connections.push_back({"centre.out", "tank", ""});
  machine.connections[1].line = "pressure_line";  // pump.out - valve.p
  machine.connections[2] = {"main.in", "pump.out", ""};
  machine.functions.clear();
  const Analysis analysis = analyse(machine);
  // The pump's outlet stands open to tank in neutral; the valve's inlet behind the line does not.
  CHECK_FALSE(find(analysis, "static/pump.out").has_value());
  CHECK(find(analysis, "static/valve.p").has_value());
}

TEST_CASE("A commanded open-centre section closes its gallery, which its wear leaks", "[circuit]") {
  Description machine = lift();
  machine.types = {type("section", {"in", "out", "p", "a"},
                        {seal("gallery", "in", "out", {"neutral"}), seal("pa", "p", "a", {"a"})},
                        {leaks("wear", {"gallery", "pa"})})};
  machine.components.push_back(component("centre", "section"));
  machine.connections.push_back({"pump.out", "centre.in", ""});
  machine.connections.push_back({"centre.out", "tank", ""});
  CHECK_FALSE(find(analyse(machine), "delivery/raise").has_value());  // the pump is unloaded
  machine.functions[0].positions["centre"] = "a";
  CHECK(sets(analyse(machine), "delivery/raise").count({"centre.wear"}) == 1);
}

TEST_CASE("A check valve is no barrier in its free direction and is one in the other",
          "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("free", "check"));
  machine.components.push_back(component("beyond", "barrier"));
  machine.connections.push_back({"valve.a", "free.in", ""});
  machine.connections.push_back({"free.out", "beyond.in", ""});
  machine.connections.push_back({"beyond.out", "tank", ""});
  CHECK(sets(analyse(machine), "static/valve.a").count({"beyond.leak"}) == 1);

  machine.connections[machine.connections.size() - 3].to = "free.out";
  machine.connections[machine.connections.size() - 2].from = "free.in";
  CHECK(sets(analyse(machine), "static/valve.a").count({"beyond.leak", "free.seat_leak"}) == 1);
}

TEST_CASE("Barriers in series must all leak", "[circuit]") {
  const Sets causes = sets(analyse(row_of({"one", "two", "three"}, "barrier")), "static/valve.a");
  CHECK(causes == Sets{{"valve.bore_wear"}, {"one.leak", "two.leak", "three.leak"}});
}

TEST_CASE("A path of four barriers counts and one of five is ignored", "[circuit]") {
  const Sets four = sets(analyse(row_of({"b1", "b2", "b3", "b4"}, "barrier")), "static/valve.a");
  CHECK(four == Sets{{"valve.bore_wear"}, {"b1.leak", "b2.leak", "b3.leak", "b4.leak"}});
  const Sets five =
      sets(analyse(row_of({"b1", "b2", "b3", "b4", "b5"}, "barrier")), "static/valve.a");
  CHECK(five == Sets{{"valve.bore_wear"}});
}

TEST_CASE("Barriers are counted, not modes: one mode that leaks five of them is ignored too",
          "[circuit]") {
  const auto causes_with = [](std::size_t barriers) {
    Description machine = lift();
    ComponentType ladder = type("ladder", {"in"}, {}, {leaks("wear", {})});
    ladder.volumes = {"v1", "v2", "v3", "v4"};
    Names stops = {"in", "v1", "v2", "v3", "v4"};
    stops.resize(barriers);
    stops.push_back("tank");
    for (std::size_t i = 0; i < barriers; ++i) {
      const std::string name = "s" + std::to_string(i);
      ladder.elements.push_back(seal(name, stops[i], stops[i + 1]));
      ladder.failure_modes[0].leaks.push_back(name);
    }
    machine.types = {ladder};
    machine.components.push_back(component("rungs", "ladder"));
    machine.connections.push_back({"valve.a", "rungs.in", ""});
    return sets(analyse(machine), "static/valve.a");
  };
  CHECK(causes_with(4).count({"rungs.wear"}) == 1);
  CHECK(causes_with(5).count({"rungs.wear"}) == 0);
}

TEST_CASE("A set is minimal: a way that needs more than another explains nothing new",
          "[circuit]") {
  Description machine = lift();
  // From port a over a barrier into port b, which the same worn spool opens to tank.
  machine.components.push_back(component("cross", "barrier"));
  machine.connections.push_back({"valve.a", "cross.in", ""});
  machine.connections.push_back({"cross.out", "valve.b", ""});
  const Sets causes = sets(analyse(machine), "static/valve.a");
  for (const auto& one : causes) {
    for (const auto& other : causes) {
      if (one == other) continue;
      CHECK_FALSE(std::includes(one.begin(), one.end(), other.begin(), other.end()));
    }
  }
  CHECK(causes.count({"cross.leak", "relief_b.seat_leak"}) == 1);
  CHECK(causes.count({"cross.leak", "valve.bore_wear"}) == 0);
}

TEST_CASE("A barrier with several failure modes gives a set for each", "[circuit]") {
  Description machine = lift();
  ComponentType twofold = type("twofold", {"in", "out"}, {seal("seat", "in", "out")},
                               {leaks("scored", {"seat"}), leaks("dirt", {"seat"})});
  machine.types = {twofold};
  machine.components.push_back(component("x", "twofold"));
  machine.connections.push_back({"valve.a", "x.in", ""});
  machine.connections.push_back({"x.out", "tank", ""});
  const Sets causes = sets(analyse(machine), "static/valve.a");
  CHECK(causes.count({"x.scored"}) == 1);
  CHECK(causes.count({"x.dirt"}) == 1);
  CHECK(causes.count({"x.scored", "x.dirt"}) == 0);
}

TEST_CASE("A hose leaks to the outside and shows in drift", "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("hose", "hose"));
  machine.connections[9] = {"valve.a", "hose.a", "cap_hose"};
  machine.connections.push_back({"hose.b", "boom.cap", ""});
  const Analysis analysis = analyse(machine);
  CHECK(sets(analysis, "drift/boom/retract").count({"hose.burst"}) == 1);
  // With the line off at the valve the hose is on the far side of the joint.
  CHECK(sets(analysis, "static/valve.a").count({"hose.burst"}) == 0);
  CHECK(sets(analysis, "static/hose.a").count({"hose.burst"}) == 1);
}

TEST_CASE("A port that is open to tank by design has no pressure hold", "[circuit]") {
  Description machine = lift();
  machine.connections[4].line = "return_line";  // valve.t - tank
  machine.components.push_back(component("bleed", "filter"));
  machine.connections.push_back({"valve.a", "bleed.in", ""});
  machine.connections.push_back({"bleed.out", "tank", ""});
  const Analysis analysis = analyse(machine);
  CHECK_FALSE(find(analysis, "static/valve.a").has_value());
  CHECK_FALSE(find(analysis, "drift/boom/retract").has_value());
  CHECK(find(analysis, "static/valve.b").has_value());
}

TEST_CASE("A line that is taken off joins nothing, one that is on joins like a gallery",
          "[circuit]") {
  Description machine = lift();
  machine.components.push_back(component("lock", "check"));
  machine.connections[9].to = "lock.in";
  machine.connections.push_back({"lock.out", "boom.cap", "lock_hose"});
  const Analysis analysis = analyse(machine);
  CHECK(sets(analysis, "static/lock.out").count({"lock.seat_leak", "relief_a.seat_leak"}) == 1);
  CHECK(sets(analysis, "static/lock.in").count({"relief_a.seat_leak"}) == 0);
}
