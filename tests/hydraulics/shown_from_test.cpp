// From which sizes sets of failure modes show more than an observation's limits, worked by hand on
// a cylinder of 100/70 mm with a port relief on each side (200 bar at the cap, 150 at the rod).
#include "core/hydraulics/shown_from.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <set>
#include <string>

#include "core/hydraulics/flow_circuit.h"
#include "tests/unit/circuit_builder.h"

using namespace faultodds::circuit;
using circuit_test::kBar;
using circuit_test::part;
using faultodds::hydraulics::orifice_conductance;

namespace {

constexpr double kBore = 3.14159265358979323846 / 4 * 100;  // cm2

Description lift_of(double load_bar) {
  Description lift = circuit_test::lift();
  part(lift, "boom").bore = 0.100;
  part(lift, "boom").rod = 0.070;
  part(lift, "boom").load = Load{load_bar * kBar, {}, 0.02, ""};
  lift.by_grades = false;
  return lift;
}

const Observation& observation(const Analysis& analysis, const std::string& id) {
  for (const Observation& one : analysis.observations) {
    if (one.id == id) return one;
  }
  FAIL("no observation " << id);
  return analysis.observations.front();
}

// The set of these modes in an observation, or null.
const ModeSet* set_of(const Analysis& analysis, const Observation& of,
                      const std::set<std::string>& modes) {
  for (const ModeSet& set : of.sets) {
    std::set<std::string> ids;
    for (std::uint32_t m : set.modes) ids.insert(analysis.modes[m].id);
    if (ids == modes) return &set;
  }
  return nullptr;
}

std::string drift_of(const Analysis& analysis) {
  for (const Observation& one : analysis.observations) {
    if (one.kind == ObservationKind::drift) return one.id;  // the load pushes in
  }
  FAIL("no drift");
  return "";
}

}  // namespace

TEST_CASE("A seat shows in a drift from the size whose flow moves the bore at the limit") {
  const Analysis analysis = analyse(lift_of(100), circuit_test::types());
  const Observation& drift = observation(analysis, drift_of(analysis));
  REQUIRE(drift.limits);
  CHECK(drift.limits->first == 4);
  CHECK(drift.limits->second == 40);
  const ModeSet* seat = set_of(analysis, drift, {"relief_a.seat_leak"});
  REQUIRE(seat);
  // The rod side draws, at -1 bar: the cap side stands at F / A_c - 0.51 bar.
  const double per_size = orifice_conductance(1) * std::sqrt(100 - 0.51) / kBore * 10;  // mm/min
  for (const ShownFrom& level : seat->shown_from) {
    CHECK(level.size[0] == Approx(4 / per_size).epsilon(0.05));
    CHECK(level.size[1] == Approx(40 / per_size).epsilon(0.05));
  }
}

TEST_CASE("A maker's drift limit stands in place of 4 mm/min") {
  Description lift = lift_of(100);
  lift.drift_limit = 0.010 / 60;
  const Analysis analysis = analyse(lift, circuit_test::types());
  CHECK(observation(analysis, drift_of(analysis)).limits->first == Approx(10));
}

TEST_CASE("A piston seal alone lets the load fall fast where the closed side lifts its relief") {
  // 150 bar at the rod side from 0.49 of them at the cap side on. Below, only what the sound spool
  // leaves through comes out of both chambers: slow at most.
  for (const double load : {100., 50.}) {
    const Analysis analysis = analyse(lift_of(load), circuit_test::types());
    const ModeSet* seal =
        set_of(analysis, observation(analysis, drift_of(analysis)), {"boom.piston_seal_leak"});
    REQUIRE(seal);
    for (const ShownFrom& level : seal->shown_from) {
      CHECK(std::isfinite(level.size[1]) == (load > 0.49 * 150));
    }
  }
}

TEST_CASE("A hold shows a seat from the size that takes the limit at the test pressure") {
  const Analysis analysis = analyse(lift_of(100), circuit_test::types());
  const Observation& hold = observation(analysis, "static/valve.a");
  REQUIRE(hold.limits);
  CHECK(hold.limits->second == 150);  // what a hand pump delivers
  CHECK(hold.limits->first <= 50);
  const double pressure = hold.test_pressure ? *hold.test_pressure / kBar : 100;
  const double root = std::sqrt(pressure / 100);
  const ModeSet* seat = set_of(analysis, hold, {"relief_a.seat_leak"});
  REQUIRE(seat);
  REQUIRE(seat->shown_from.size() == 1);
  CHECK(seat->shown_from[0].size[0] == Approx(hold.limits->first / root).epsilon(0.02));
  CHECK(seat->shown_from[0].size[1] == Approx(150 / root).epsilon(0.02));
  // V / K (p - p/2) / q: 150 mL and 10,000 bar.
  REQUIRE(hold.limits->seconds);
  CHECK(*hold.limits->seconds == Approx(60 * 150 / 10'000. * pressure / 2 / hold.limits->first));
}

TEST_CASE("Without areas a drift goes by grades, with its structural sets") {
  Description lift = circuit_test::lift();
  lift.by_grades = false;
  const Analysis solved = analyse(lift, circuit_test::types());
  lift.by_grades = true;
  const Analysis graded = analyse(lift, circuit_test::types());
  const Observation& drift = observation(solved, drift_of(solved));
  CHECK_FALSE(drift.limits);
  CHECK(drift.sets.size() == observation(graded, drift.id).sets.size());
}
