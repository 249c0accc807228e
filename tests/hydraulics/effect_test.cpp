// What observations show of sets of modes, worked by hand on a cylinder with a port relief on each
// side.
#include "core/hydraulics/effect.h"
#include "core/hydraulics/shown_from.h"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/unit/circuit_builder.h"

using namespace faultodds::hydraulics;
using circuit_test::component;
using circuit_test::kBar;
using circuit_test::part;
using faultodds::circuit::Description;
using faultodds::circuit::resolve;
using faultodds::circuit::Structure;
using Set = std::vector<faultodds::circuit::Index>;

namespace {

constexpr double kPi = 3.14159265358979323846;

// 100/70 mm, so the rod side stands at 1.961 times what is pressed into a closed cap side, and both
// at 1 / 0.49 of the load's pressure where the piston seal leaks. relief_a 200 bar, relief_b 150
// bar.
struct Lift {
  Description description = circuit_test::lift();
  std::vector<faultodds::circuit::ComponentType> types = circuit_test::types();
  Structure structure;

  Lift() {
    part(description, "boom").bore = 0.100;
    part(description, "boom").rod = 0.070;
    structure = resolve(description, types, {});
  }
  faultodds::circuit::Index mode(const std::string& id) const {
    for (std::size_t i = 0; i < structure.modes.size(); ++i) {
      if (structure.modes[i].id == id) return static_cast<faultodds::circuit::Index>(i);
    }
    FAIL("no mode " << id);
    return 0;
  }
  faultodds::circuit::Index volume(const std::string& of, const std::string& port) const {
    return volume_of(structure, structure.component_index.at(of), port);
  }
  // Of seats, seals and hoses 0.3 mL/min where they are sound, of spools 4.
  std::vector<Leak> sound() const {
    std::vector<Leak> out;
    for (faultodds::circuit::Index m = 0; m < structure.modes.size(); ++m) {
      const auto size = default_size(structure, m);
      const bool gap = size.law == faultodds::circuit::SizeLaw::laminar;
      out.push_back({gap ? FlowLaw::laminar : FlowLaw::orifice, size.of_grade[0].median});
    }
    return out;
  }
  // All sound parts all but tight, so that a set stands alone.
  std::vector<Leak> tight() const {
    std::vector<Leak> out = sound();
    for (Leak& one : out) one.sound = 0.001;
    return out;
  }
  Situation drift(double load, std::size_t direction = 0) const {
    Situation out;
    out.actuator = structure.component_index.at("boom");
    out.direction = &structure.type[out.actuator]->directions[direction];
    out.load = load;
    out.viscosity = kHotViscosity;
    return out;
  }
};

constexpr double kBore = kPi / 4 * 100, kAnnulus = kBore * 0.51;  // cm2

}  // namespace

TEST_CASE("A leaking seat on the cap side lets the load sink at its flow over the bore's area") {
  const Lift lift;
  EffectOfSets drift(lift.structure, lift.drift(100), lift.sound());
  const Set seat = {lift.mode("relief_a.seat_leak")};
  // The rod side draws: it stands at -1 bar, and the cap side at F / A_c - 0.51 bar.
  const double pressure = 100 - 0.51;
  CHECK(drift.effect(seat, 200).value() ==
        Approx(10 * (200. / 10 * std::sqrt(pressure)) / kBore).epsilon(1e-6));
  CHECK(drift.effect(seat, 0).value() == 0);
  CHECK(drift.effect(seat, 400).value() ==
        Approx(2 * drift.effect(seat, 200).value()).epsilon(1e-6));
}

TEST_CASE("A spool land leaks more in hot oil, a seat does not") {
  const Lift lift;
  Situation warm = lift.drift(100), cold = lift.drift(100);
  cold.viscosity = kShopViscosity;
  const Set spool = {lift.mode("valve.bore_wear")}, seat = {lift.mode("relief_a.seat_leak")};
  EffectOfSets hot(lift.structure, warm, lift.sound()), cool(lift.structure, cold, lift.sound());
  CHECK(hot.effect(seat, 100).value() == Approx(cool.effect(seat, 100).value()).epsilon(1e-3));
  CHECK(hot.effect(spool, 100).value() > 5 * cool.effect(spool, 100).value());
}

TEST_CASE(
    "A piston seal alone lets a pushing load sink only where intensification lifts a relief") {
  const Lift lift;
  EffectOfSets drift(lift.structure, lift.drift(60), lift.tight());
  const Set seal = {lift.mode("boom.piston_seal_leak")};
  const double below = drift.effect(seal, 1'000).value();  // both chambers at 122 bar
  drift.set_load(100);                                     // 204 bar: relief_b lifts at 150
  const double above = drift.effect(seal, 1'000).value();
  CHECK(above > 100 * below);
  // It lifts from 0.49 of its setting on.
  const std::vector<double> at = drift.crossings(seal, 100'000, 30, 120);
  REQUIRE(at.size() >= 1);
  CHECK(std::any_of(at.begin(), at.end(),
                    [](double load) { return std::abs(load - 150 * 0.49) < 0.5; }));
}

TEST_CASE("Behind a leaking piston seal a leak on the cap side counts many times more") {
  const Lift lift;
  std::vector<Leak> leaks = lift.tight();
  const Set seat = {lift.mode("relief_a.seat_leak")};
  EffectOfSets alone(lift.structure, lift.drift(60), leaks);
  leaks[lift.mode("boom.piston_seal_leak")].sound = 100'000;
  EffectOfSets behind(lift.structure, lift.drift(60), leaks);
  // Both chambers at F / (A_c - A_r), and the rod's section sinks where the bore did.
  const double times = std::sqrt(1 / 0.49) / 0.49;
  CHECK(behind.effect(seat, 100).value() / alone.effect(seat, 100).value() ==
        Approx(times).epsilon(0.01));
}

TEST_CASE(
    "With the piston seal as small as the leak, what passes it fills the rod side and no more") {
  const Lift lift;
  EffectOfSets drift(lift.structure, lift.drift(60), lift.tight());
  const Set seat = {lift.mode("relief_a.seat_leak")};
  const Set pair = {lift.mode("relief_a.seat_leak"), lift.mode("boom.piston_seal_leak")};
  // The rod side stays at -1 bar, for it takes 0.51 of the bore's flow and gets half: twice the
  // flow.
  const double pressure = 60 - 0.51;
  CHECK(drift.effect(pair, 100).value() / drift.effect(seat, 100).value() ==
        Approx(1 + std::sqrt((pressure + 1) / pressure)).epsilon(1e-3));
}

TEST_CASE("A load hanging on the rod side sinks through the piston seal alone") {
  const Lift lift;
  EffectOfSets drift(lift.structure, lift.drift(80, 1), lift.sound());
  const Set seal = {lift.mode("boom.piston_seal_leak")};
  CHECK(drift.effect(seal, 100).value() ==
        Approx(10 * 10 * std::sqrt(80) / kAnnulus).epsilon(0.05));
}

TEST_CASE("A hold into a cylinder's port shows what its piston seal passes at the test pressure") {
  const Lift lift;
  Situation hold;
  hold.configuration.lines_off = {lift.structure.line_index.at("cap_hose"),
                                  lift.structure.line_index.at("rod_hose")};
  hold.pressed = lift.volume("boom", "cap");
  hold.open = {lift.volume("boom", "rod")};
  hold.viscosity = kShopViscosity;
  for (const double pressure : {80., 160.}) {
    hold.pressure = pressure;
    EffectOfSets effect(lift.structure, hold, lift.sound());
    CHECK(effect.effect({lift.mode("boom.piston_seal_leak")}, 250).value() ==
          Approx(250 * std::sqrt(pressure / 100)).epsilon(1e-9));
    CHECK(effect.effect({lift.mode("boom.rod_seal_leak")}, 250).value() == 0);
    CHECK_FALSE(effect.shows({lift.mode("boom.rod_seal_leak")}, 1e-3));
  }
}

TEST_CASE("A hold into a work port shows sound spool lands as a floor and a worn seat beside it") {
  const Lift lift;
  Situation hold;
  hold.configuration.lines_off = {lift.structure.line_index.at("cap_hose")};
  hold.pressed = lift.volume("valve", "a");
  hold.pressure = 100;
  EffectOfSets effect(lift.structure, hold, lift.sound());
  // To tank 4, to the gallery 4 less what that holds back, the relief's seat 0.3.
  const double floor = effect.shown().value();
  CHECK(floor > 4.3);
  CHECK(floor < 8.4);
  CHECK(effect.effect({lift.mode("relief_a.seat_leak")}, 30).value() == Approx(30).epsilon(1e-6));
  // Through a gap the flow goes with 1/viscosity.
  hold.viscosity = 36.8;
  EffectOfSets thinner(lift.structure, hold, lift.sound());
  const Set spool = {lift.mode("valve.bore_wear")};
  CHECK(thinner.effect(spool, 50).value() ==
        Approx(effect.effect(spool, 50).value() * kReferenceViscosity / 36.8).epsilon(0.01));
}

TEST_CASE("Seats side by side are one element, and each of them shows what it takes by itself") {
  Lift lift;
  lift.description.components.push_back(component("beside", "relief"));
  lift.description.connections.push_back({"relief_a.in", "beside.in", ""});
  lift.description.connections.push_back({"beside.out", "tank", ""});
  lift.structure = resolve(lift.description, lift.types, {});
  Situation hold;
  hold.configuration.lines_off = {lift.structure.line_index.at("cap_hose")};
  hold.pressed = lift.volume("valve", "a");
  hold.pressure = 100;
  std::vector<Leak> leaks = lift.sound();
  const auto first = lift.mode("relief_a.seat_leak"), second = lift.mode("beside.seat_leak");
  leaks[first].sound = 2;
  leaks[second].sound = 5;
  EffectOfSets effect(lift.structure, hold, leaks);
  std::size_t seats = 0;
  for (const FlowElement& one : effect.circuit().elements) {
    seats += one.law == FlowLaw::orifice && one.conductance == orifice_conductance(7);
  }
  CHECK(seats == 1);
  const double both_sound = effect.shown().value();
  CHECK(effect.shown({first}, 30).value() == Approx(both_sound + 28).epsilon(1e-9));
  CHECK(effect.shown({second}, 30).value() == Approx(both_sound + 25).epsilon(1e-9));
  CHECK(effect.shown({first, second}, 30).value() == Approx(both_sound + 53).epsilon(1e-9));
  CHECK(effect.shown({second}, 0).value() == Approx(both_sound - 5).epsilon(1e-9));
  CHECK(effect.shown().value() == Approx(both_sound).epsilon(1e-12));
}

TEST_CASE("A cartridge taken out and plugged leaks no more") {
  const Lift lift;
  Situation hold;
  hold.configuration.lines_off = {lift.structure.line_index.at("cap_hose")};
  hold.configuration.removed = lift.structure.component_index.at("relief_a");
  hold.pressed = lift.volume("valve", "a");
  hold.pressure = 100;
  EffectOfSets effect(lift.structure, hold, lift.sound());
  CHECK(effect.effect({lift.mode("relief_a.seat_leak")}, 100).value() == 0);
  CHECK(effect.effect({lift.mode("valve.bore_wear")}, 100).value() > 99);
}

TEST_CASE("A motor turns at its leak over its displacement") {
  Lift lift;
  circuit_test::Description winch = circuit_test::lift();
  for (auto& type : lift.types) {
    if (type.name != "cylinder") continue;
    type.areas = {{"cap", circuit_test::AreaRule::displacement},
                  {"rod", circuit_test::AreaRule::displacement}};
  }
  part(winch, "boom").displacement = 80e-6;  // 80 cm3/rev
  const Structure structure = resolve(winch, lift.types, {});
  EffectOfSets drift(structure, lift.drift(100), lift.tight());
  // 100 bar across it: 40 mL/min of 80 mL a turn
  CHECK(drift.effect({lift.mode("boom.piston_seal_leak")}, 40).value() ==
        Approx(0.5).epsilon(1e-3));
}

TEST_CASE("A drift of an actuator whose areas nobody gave is refused by its name") {
  const Description description = circuit_test::lift();
  const auto types = circuit_test::types();
  const Structure structure = resolve(description, types, {});
  Situation drift;
  drift.actuator = structure.component_index.at("boom");
  drift.direction = &structure.type[drift.actuator]->directions[0];
  drift.load = 50;
  CHECK_THROWS_WITH(EffectOfSets(structure, drift, std::vector<Leak>(structure.modes.size())),
                    Catch::Contains("boom"));
}

TEST_CASE("Levels of a load share its cut distribution and lie on each side of every crossing") {
  const std::vector<LoadLevel> levels = load_levels(100, 0.3, 150, {73.5, 140});
  double sum = 0, mean_log = 0;
  for (const LoadLevel& one : levels) {
    sum += one.weight;
    mean_log += one.weight * std::log(one.load);
    CHECK(one.load < 150);
  }
  CHECK(sum == Approx(1));
  CHECK(levels.size() >= 9);
  CHECK(levels.size() <= 11);
  CHECK(levels.front().load < 73.5);
  CHECK(levels.back().load > 140);
  // Mean of a normal cut at z = ln 1.5 / 0.3 = 1.3516: -phi(z) / Phi(z) = -0.1756 spreads
  CHECK(mean_log == Approx(std::log(100) - 0.3 * 0.1756).margin(0.01));
}
