// What pressure a hold is made at, and who must be warned of it, where the answer is not on the
// port itself.
#include <catch2/catch.hpp>

#include "tests/unit/circuit_builder.h"

using namespace circuit_test;

namespace {

// A hose between the valve's port `a` and the cylinder, with a joint at either end.
Description with_hose() {
  Description machine = lift();
  machine.components.push_back(component("hose", "hose"));
  machine.connections[9] = {"valve.a", "hose.a", "at_valve"};
  machine.connections.push_back({"hose.b", "boom.cap", "at_cylinder"});
  machine.components.back().rating = 280 * kBar;
  part(machine, "boom").rating = 320 * kBar;
  part(machine, "boom").bore = 0.1;
  part(machine, "boom").rod = 0.07;
  return machine;
}

// The same machine with a valve that drains its work ports in neutral, and a return filter whose
// bypass opens at 2 bar.
Description drained() {
  Description machine = lift();
  machine.types = {
      type("drained_valve", {"p", "t", "a", "b"},
           {seal("pa", "p", "a", {"a"}), seal("pb", "p", "b", {"b"}),
            seal("at", "a", "t", {"neutral", "b"}), seal("bt", "b", "t", {"neutral", "a"})},
           {leaks("bore_wear", {"pa", "pb", "at", "bt"})}),
      type("return_filter", {"in", "out"},
           {passage("element", "in", "out"), relief("bypass", "in", "out")},
           {restricts("clogged", {"element"})})};
  part(machine, "valve").type = "drained_valve";
  machine.components.push_back(component("filter", "return_filter"));
  machine.components.back().setting = 2 * kBar;
  part(machine, "boom").rating = 320 * kBar;
  machine.connections[4] = {"valve.t", "filter.in", ""};
  machine.connections.push_back({"filter.out", "tank", ""});
  return machine;
}

bool warns_of_moving(const Observation& one) {
  return std::any_of(one.cautions.begin(), one.cautions.end(),
                     [](const std::string& caution) { return caution == "actuator_reached/1"; });
}

}  // namespace

TEST_CASE("A hose tested with its valve end off is limited by what the piston makes of it",
          "[circuit]") {
  const auto hold = find(analyse(with_hose()), "static/hose.a");
  REQUIRE(hold.has_value());
  // 1.961 times as much stands on the closed rod side, whose relief is set to 150 bar.
  CHECK(hold->test_pressure.value() == Approx(60 * kBar));
  CHECK(hold->pressure_limit->volume == "relief_b.in");
}

TEST_CASE("A filter's bypass sets no test pressure for a port that drains through it in neutral",
          "[circuit]") {
  // Commanded, the port sees the pump's relief at 180 bar and its own at 200 or 150 bar.
  const Analysis analysis = analyse(drained());
  CHECK(find(analysis, "static/boom.cap")->test_pressure.value() == Approx(140 * kBar));
  CHECK(find(analysis, "static/boom.rod")->test_pressure.value() == Approx(120 * kBar));
}

TEST_CASE("A hold whose pressure reaches an actuator warns that it moves", "[circuit]") {
  const Analysis analysis = analyse(with_hose());
  CHECK(warns_of_moving(*find(analysis, "static/hose.a")));
  CHECK_FALSE(warns_of_moving(*find(analysis, "static/hose.b")));
  CHECK_FALSE(warns_of_moving(*find(analysis, "static/valve.a")));
}
