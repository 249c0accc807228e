// Limits of observations and the sizes from which sets pass them, worked by hand on a cylinder of
// 100/70 mm with a port relief on each side, and held against the effects they were solved from.
#include "core/hydraulics/shown_from.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "core/hydraulics/effect.h"
#include "tests/unit/circuit_builder.h"

namespace shown_from_test {

using namespace faultodds::circuit;
using namespace faultodds::hydraulics;
using circuit_test::kBar;
using circuit_test::part;

namespace {

constexpr double kBore = 78.5398163397, kAnnulus = kBore * 0.51;  // cm2
constexpr double kThin = 46.0 / 20;                               // hot oil through a gap

Description lift(double load = 0) {
  Description out = circuit_test::rated_lift();
  out.by_grades = false;
  part(out, "pump").rated_flow = 60e-3 / 60;  // 60 L/min
  if (load > 0) part(out, "boom").load = Load{load * kBar, {}, 1e-4, ""};
  return out;
}

std::vector<ShownFrom> shown_from(const Analysis& analysis, const std::string& observation,
                                  std::set<std::string> modes) {
  const auto one = circuit_test::find(analysis, observation);
  REQUIRE(one);
  for (const ModeSet& set : one->sets) {
    std::set<std::string> names;
    for (const auto mode : set.modes) names.insert(analysis.modes[mode].id);
    if (names == modes) return set.shown_from;
  }
  return {};
}

// Where there is one level.
std::array<double, 2> sizes(const Analysis& analysis, const std::string& observation,
                            const std::string& mode) {
  const std::vector<ShownFrom> levels = shown_from(analysis, observation, {mode});
  REQUIRE(levels.size() == 1);
  CHECK(levels[0].weight == Approx(1));
  return levels[0].size;
}

// Of the pump 2 % of its 60 L/min, through its clearances.
std::vector<Leak> leaks_of(const Analysis& analysis) {
  std::vector<Leak> out;
  for (const FailureMode& mode : analysis.modes) {
    const double sound = mode.size.of_grade[0].median;
    if (mode.size.law == SizeLaw::loss) {
      out.push_back({FlowLaw::laminar, 1'200});
    } else {
      const bool gap = mode.size.law == SizeLaw::laminar;
      out.push_back({gap ? FlowLaw::laminar : FlowLaw::orifice, sound});
    }
  }
  return out;
}

double normal(double z) { return std::erfc(-z / std::sqrt(2)) / 2; }

}  // namespace

TEST_CASE("A component's sizes go before its type's, and those before what its elements are") {
  Description one = lift();
  auto types = circuit_test::types();
  const auto size_of = [&] {
    const Analysis analysis = faultodds::circuit::analyse(one, types);
    for (const FailureMode& mode : analysis.modes) {
      if (mode.id == "relief_a.seat_leak") return mode.size.of_grade[1].median;
    }
    return 0.0;
  };
  CHECK(size_of() == 30);
  for (ComponentType& type : types) {
    if (type.name == "relief")
      type.failure_modes[0].size = {SizeLaw::orifice, {{{0.5, 1}, {40, 1}, {800, 1}}}};
  }
  CHECK(size_of() == 40);
  part(one, "relief_a").sizes["seat_leak"] = {SizeLaw::orifice, {{{1, 1}, {50, 1}, {900, 1}}}};
  CHECK(size_of() == 50);
}

TEST_CASE("A seat on the cap side drifts past the limit from v A_c over the root of its pressure") {
  const Analysis analysis = circuit_test::analyse(lift(100));
  // q = v A_c; the rod side stands at -1 bar, the cap side at 100 - 0.51. q = s sqrt(p / 100).
  const double size = 0.4 * kBore / std::sqrt(0.9949);
  const auto from = sizes(analysis, "drift/boom/retract", "relief_a.seat_leak");
  CHECK(from[0] == Approx(size).epsilon(0.01));
  CHECK(from[1] == Approx(10 * size).epsilon(0.01));
}

TEST_CASE("A spool's lands drift past the limit to tank and to a gallery that the pump drains") {
  const Analysis analysis = circuit_test::analyse(lift(100));
  // q = s p / 100 x 46 / 20 through each of two lands: the clearances of a sound pump, 2 % of its
  // flow, leave next to nothing in the gallery. Without them it would take a third more.
  const double size = 0.4 * kBore / (kThin * 2 * 0.9949);
  CHECK(sizes(analysis, "drift/boom/retract", "valve.bore_wear")[0] == Approx(size).epsilon(0.02));
}

TEST_CASE("A load hanging on the rod side drifts through the rod's seal by the annulus") {
  const Analysis analysis = circuit_test::analyse(lift(100));
  const double size = 0.4 * kAnnulus;  // to air, 100 bar and a little
  CHECK(sizes(analysis, "drift/boom/extend", "boom.rod_seal_leak")[0] ==
        Approx(size).epsilon(0.02));
}

TEST_CASE("The circuit's drift limit is the first and ten times it the second") {
  Description one = lift(100);
  one.drift_limit = 2e-3 / 60;  // 2 mm/min
  const Analysis analysis = circuit_test::analyse(one);
  const auto drift = circuit_test::find(analysis, "drift/boom/retract");
  REQUIRE(drift->limits);
  CHECK(drift->limits->first == Approx(2));
  CHECK(drift->limits->second == Approx(20));
  CHECK(sizes(analysis, "drift/boom/retract", "relief_a.seat_leak")[0] ==
        Approx(0.2 * kBore / std::sqrt(0.9949)).epsilon(0.01));
}

TEST_CASE("A piston seal alone is fast only under loads that lift the relief of the closed side") {
  // Both chambers stand at load / 0.49 (A_c / (A_c - A_r) with A_r = 0.51 A_c): 150 bar at 73.5.
  const auto second = [](double load) {
    return sizes(circuit_test::analyse(lift(load)), "drift/boom/retract",
                 "boom.piston_seal_leak")[1];
  };
  CHECK(std::isinf(second(70)));
  CHECK(std::isfinite(second(85)));
}

TEST_CASE("Levels under which a relief stays shut weigh as much as the loads below its lift") {
  // 60 % of the cap side's relief of 200 bar, spread 0.3, cut at 90 %.
  const double below = normal(std::log(73.5 / 120) / 0.3) / normal(std::log(180.0 / 120) / 0.3);
  double shut = 0, all = 0;
  for (const ShownFrom& level :
       shown_from(circuit_test::analyse(lift()), "drift/boom/retract", {"boom.piston_seal_leak"})) {
    all += level.weight;
    if (std::isinf(level.size[1])) shut += level.weight;
  }
  CHECK(all == Approx(1));
  CHECK(shut == Approx(below).epsilon(0.1));
}

TEST_CASE("A set's effect passes the limit at the size it shows from, to a per cent of the size") {
  std::size_t seen = 0;
  for (const double load : {30., 60., 80., 100., 130.}) {
    const Description one = lift(load);
    const auto types = circuit_test::types();
    const Structure structure = resolve(one, types, {});
    const Analysis analysis = faultodds::circuit::analyse(one, types);
    for (const Observation& observation : analysis.observations) {
      const auto pressure =
          observation.test_pressure ? observation.test_pressure : observation.reference_pressure;
      const bool drift = observation.kind == ObservationKind::drift;
      const auto situation = situation_of(structure, observation,
                                          drift      ? load
                                          : pressure ? *pressure / kBar
                                                     : 100);
      if (!situation || !observation.limits) continue;
      EffectOfSets effect(structure, *situation, leaks_of(analysis));
      for (const ModeSet& set : observation.sets) {
        REQUIRE(set.shown_from.size() == 1);
        for (std::size_t t = 0; t < 2; ++t) {
          const double size = set.shown_from[0].size[t];
          const double limit = t == 0 ? observation.limits->first : observation.limits->second;
          INFO(observation.id << " under " << load << " bar, first mode "
                              << analysis.modes[set.modes[0]].id << ", from " << size);
          ++seen;
          if (std::isinf(size)) {
            CHECK(effect.effect(set.modes, 5e4).value() < limit);
          } else {
            CHECK(effect.effect(set.modes, size * 0.99).value() < limit);
            CHECK(effect.effect(set.modes, size * 1.01).value() > limit);
          }
        }
      }
    }
  }
  CHECK(seen > 100);
}

TEST_CASE("A hold's seconds lie between what a gap and a seat of its first limit take to half") {
  const Analysis analysis = circuit_test::analyse(lift());
  std::size_t seen = 0;
  for (const Observation& one : analysis.observations) {
    if (one.kind != ObservationKind::static_hold || !one.limits || !one.test_pressure) continue;
    ++seen;
    // dP/dt = -(K / V) q(P): 150 mL, 10,000 bar; q falls with P in a gap, with its root at a seat.
    const double bar = *one.test_pressure / kBar;
    const double full = 60 * 150 / 1e4 * bar / one.limits->first;  // s, if the flow stayed
    INFO(one.id);
    CHECK(*one.limits->seconds <= full * std::log(2) * (1 + 1e-9));
    CHECK(*one.limits->seconds >= full * (2 - std::sqrt(2)) * (1 - 1e-9));
  }
  CHECK(seen > 0);
}

TEST_CASE("A function loses a tenth of its speed to leaks of a tenth of the pump's flow") {
  const Analysis analysis = circuit_test::analyse(lift());
  // 6 L/min at 150 bar: through a seat s sqrt(1.5), through a gap s 1.5 x 46 / 20.
  const auto seat = sizes(analysis, "delivery/raise", "main.seat_leak");
  CHECK(seat[0] == Approx(6'000 / std::sqrt(1.5)));
  CHECK(seat[1] == Approx(36'000 / std::sqrt(1.5)));
  CHECK(sizes(analysis, "delivery/raise", "valve.bore_wear")[0] == Approx(6'000 / (1.5 * kThin)));
  CHECK(sizes(analysis, "delivery/raise", "pump.wear") == std::array<double, 2>{10, 60});
  CHECK(sizes(analysis, "flow/pump", "pump.wear") == std::array<double, 2>{10, 30});
}

TEST_CASE("Of a function that takes a third of the flow, two thirds are lost before it slows") {
  Description one = lift();
  part(one, "boom").rated_flow = 20e-3 / 60;  // of 60 L/min
  const Analysis analysis = circuit_test::analyse(one);
  // A tenth of 20 L/min lacks when 40 and 2 more are lost: 70 % of the pump, 42 L/min at the
  // relief.
  const auto pump = sizes(analysis, "delivery/raise", "pump.wear");
  CHECK(pump[0] == Approx(70));
  CHECK(pump[1] == Approx(100 * (40 + 12) / 60.0));
  CHECK(sizes(analysis, "delivery/raise", "main.seat_leak")[0] == Approx(42'000 / std::sqrt(1.5)));
  // Behind the valve a tenth of what the function takes is 2 L/min.
  CHECK(sizes(analysis, "delivery/raise", "relief_a.seat_leak")[0] ==
        Approx(2'000 / std::sqrt(1.5)));
  CHECK(sizes(analysis, "flow/pump", "pump.wear") == std::array<double, 2>{10, 30});
}

TEST_CASE("A drift whose areas nobody gave goes by grades") {
  Description one = lift();
  part(one, "boom").bore.reset();
  part(one, "boom").rod.reset();
  const auto drift = circuit_test::find(circuit_test::analyse(one), "drift/boom/retract");
  REQUIRE(drift);
  CHECK_FALSE(drift->limits);
  for (const ModeSet& set : drift->sets) CHECK(set.shown_from.empty());
}

TEST_CASE("A set of a leak and a loss goes by grades beside sets that were solved") {
  Description one = lift(100);
  part(one, "relief_b").sizes["seat_leak"] = {SizeLaw::loss, {{{0, 1}, {12, 0.6}, {50, 0.5}}}};
  const Analysis analysis = circuit_test::analyse(one);
  const auto drift = circuit_test::find(analysis, "drift/boom/retract");
  REQUIRE(drift->limits);
  CHECK(circuit_test::sets(analysis, "drift/boom/retract")
            .contains({"boom.piston_seal_leak", "relief_b.seat_leak"}));
  CHECK(shown_from(analysis, drift->id, {"boom.piston_seal_leak", "relief_b.seat_leak"}).empty());
  CHECK_FALSE(shown_from(analysis, drift->id, {"relief_a.seat_leak"}).empty());
}

TEST_CASE("A drift of which no set can be solved keeps the sets of its structure") {
  Description one = lift(100);
  const auto structural = [&] {
    Description plain = one;
    plain.by_grades = true;
    return circuit_test::sets(circuit_test::analyse(plain), "drift/boom/retract");
  }();
  for (const char* mode : {"relief_a.seat_leak", "relief_b.seat_leak", "boom.piston_seal_leak",
                           "boom.rod_seal_leak", "valve.bore_wear"}) {
    const std::string name = mode;
    part(one, name.substr(0, name.find('.'))).sizes[name.substr(name.find('.') + 1)] = {
        SizeLaw::loss, {{{0, 1}, {12, 0.6}, {50, 0.5}}}};
  }
  const Analysis analysis = circuit_test::analyse(one);
  CHECK(circuit_test::sets(analysis, "drift/boom/retract") == structural);
  CHECK_FALSE(circuit_test::find(analysis, "drift/boom/retract")->limits);
}

TEST_CASE("Losses that must come together take the share of the least of them") {
  Description one = lift();
  auto types = circuit_test::types();
  ComponentType store = circuit_test::type(
      "store", {"port"},
      {circuit_test::seal("wall", "port", "gas"), circuit_test::seal("valve", "gas", "outside")},
      {circuit_test::leaks("wall_leak", {"wall"}), circuit_test::leaks("valve_leak", {"valve"})});
  store.volumes = {"gas"};
  for (FailureModeType& mode : store.failure_modes) mode.weakens = {"port"};
  types.push_back(store);
  one.components.push_back(circuit_test::component("store", "store"));
  one.connections.push_back({"store.port", "valve.p", ""});
  const Analysis analysis = faultodds::circuit::analyse(one, types);
  const auto levels =
      shown_from(analysis, "delivery/raise", {"store.wall_leak", "store.valve_leak"});
  REQUIRE(levels.size() == 1);
  CHECK(levels[0].size == std::array<double, 2>{10, 60});
}

}  // namespace shown_from_test
