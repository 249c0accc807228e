// Steady leakage worked by hand: the formula stands beside each value. Sources: Merritt, Hydraulic
// Control Systems, Wiley 1967, for clearances and orifices; the identities q = A v, p A = F and
// q = (V/K) dP/dt are any textbook's. Values were computed from the formulas apart from this code.
#include <catch2/catch.hpp>
#include <cmath>

#include "core/hydraulics/solver.h"

using namespace faultodds::hydraulics;

namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr Index kTank = 0;

double disc(double diameter_mm) { return kPi / 4 * diameter_mm * diameter_mm / 100; }  // cm2

FlowCircuit volumes(std::size_t count) {
  FlowCircuit circuit;
  circuit.volumes.resize(count);
  circuit.volumes[kTank].held = 0;
  return circuit;
}

// Cap side 1, rod side 2, of a cylinder; the load drives it in with `pressure` on the bore.
FlowCircuit cylinder(double bore, double rod, double pressure) {
  FlowCircuit circuit = volumes(3);
  circuit.actuators.push_back({1, 2, disc(bore), disc(bore) - disc(rod), pressure * disc(bore)});
  return circuit;
}

SteadyState solved(const FlowCircuit& circuit) {
  const SteadyState state = steady_state(circuit);
  REQUIRE(state.status == Status::solved);
  return state;
}

}  // namespace

TEST_CASE("an annular clearance leaks pi d c^3 dp (1 + 1.5 e^2) / (12 mu L)") {
  // d 20 mm, c 10 um, L 10 mm, mu 0.04 Pa s, 21 MPa
  CHECK(annulus_flow({20, 0.01, 10, 0}, 210, 0.04) == Approx(16.493).epsilon(1e-4));
  CHECK(annulus_flow({20, 0.01, 10, 0.5}, 210, 0.04) == Approx(22.678).epsilon(1e-4));
  CHECK(annulus_flow({20, 0.01, 10, 1}, 210, 0.04) == Approx(41.233).epsilon(1e-4));
  // The same at 100 bar and 46 mm2/s of 870 kg/m3 is its size: mu 0.04002 Pa s.
  CHECK(annulus_size({20, 0.01, 10, 0}) == Approx(16.493 / 2.1 * 0.04 / 0.04002).epsilon(1e-4));
}

TEST_CASE("a sharp-edged orifice passes Cd A sqrt(2 dp / rho)") {
  CHECK(bore_flow(1, 100) == Approx(4429.8).epsilon(1e-4));    // 1 mm, 10 MPa, 870 kg/m3
  CHECK(bore_flow(0.1, 200) == Approx(62.647).epsilon(1e-4));  // 0.1 mm, 20 MPa
  // 0.001 m2 under 2 m of water: 0.00388 m3/s
  CHECK(bore_flow(std::sqrt(4e-3 / kPi) * 1e3, 2 * 9.80665e-2, 1000) / 6e7 ==
        Approx(0.00388).epsilon(2e-3));
  CHECK(bore_size(1) == Approx(4429.8).epsilon(1e-4));
}

TEST_CASE("a trapped volume loses V / K dP/dt") {
  CHECK(decay_flow(1000, 14'000, 10) == Approx(0.714).epsilon(1e-3));  // 1 L, 1.4 GPa, 10 bar/min
}

TEST_CASE("a port held at a pressure needs the flow of the leaks behind it") {
  FlowCircuit circuit = volumes(2);
  circuit.volumes[1].held = 160;
  circuit.elements = {laminar_leak(1, kTank, 4), orifice_leak(1, kTank, 30)};
  // Gaps with pressure, seats with its root.
  CHECK(solved(circuit).supply[1] == Approx(4 * 1.6 + 30 * std::sqrt(1.6)).epsilon(1e-12));
  // 23 mm2/s: the gap leaks twice as much, the seat the same.
  circuit.elements[0] = laminar_leak(1, kTank, 4, 23);
  CHECK(solved(circuit).supply[1] == Approx(4 * 3.2 + 30 * std::sqrt(1.6)).epsilon(1e-12));
}

TEST_CASE(
    "leaks in series: gaps add their resistances, seats the squares, one of each a quadratic") {
  FlowCircuit circuit = volumes(3);
  circuit.volumes[1].held = 150;
  const double a = 10, b = 40;
  circuit.elements = {laminar_leak(1, 2, a), laminar_leak(2, kTank, b)};
  CHECK(solved(circuit).supply[1] == Approx(1.5 * a * b / (a + b)).epsilon(1e-12));
  circuit.elements = {orifice_leak(1, 2, a), orifice_leak(2, kTank, b)};
  CHECK(solved(circuit).supply[1] ==
        Approx(std::sqrt(1.5) * a * b / std::hypot(a, b)).epsilon(1e-12));
  // q / c_a + (q / c_b)^2 = 150 with c_a = a / 100, c_b = b / 10
  circuit.elements = {laminar_leak(1, 2, a), orifice_leak(2, kTank, b)};
  const double u = 100 / a, w = 100 / (b * b);
  CHECK(solved(circuit).supply[1] ==
        Approx((-u + std::sqrt(u * u + 4 * w * 150)) / (2 * w)).epsilon(1e-12));
}

TEST_CASE("an orifice is linear below 0.1 bar") {
  FlowCircuit circuit = volumes(2);
  circuit.elements = {orifice_leak(1, kTank, 100)};
  circuit.volumes[1].held = 0.025;
  CHECK(solved(circuit).supply[1] == Approx(10 * 0.025 / std::sqrt(0.1)));
  circuit.volumes[1].held = 0.4;
  CHECK(solved(circuit).supply[1] == Approx(10 * std::sqrt(0.4)));
}

TEST_CASE("a free piston intensifies what is pressed into one side with the other closed") {
  const auto factor = [](double bore, double rod) {
    FlowCircuit circuit = cylinder(bore, rod, 0);
    circuit.volumes[1].held = 168;
    return solved(circuit).pressure[2] / 168;
  };
  CHECK(factor(100, 70) == Approx(1 / (1 - 0.49)).epsilon(1e-9));  // 1.961: 168 bar gives 329
  CHECK(factor(100, 70) == Approx(1.961).epsilon(1e-3));
  CHECK(factor(80, 45) == Approx(1.463).epsilon(1e-3));
  CHECK(factor(100, 80) == Approx(2.778).epsilon(1e-3));
  FlowCircuit circuit = cylinder(100, 70, 0);
  circuit.volumes[2].held = 100;
  CHECK(solved(circuit).pressure[1] == Approx(51).epsilon(1e-3));
}

TEST_CASE("a cylinder sinks at leak over bore area") {
  // 3 mm/min on a bore of 100 mm is 23.56 mL/min (checks by hand: q = A v).
  FlowCircuit circuit = cylinder(100, 56, 100);
  circuit.elements = {laminar_leak(1, kTank, 23.56), check(kTank, 2)};
  const SteadyState state = solved(circuit);
  CHECK(state.speed[0] == Approx(0.3).epsilon(2e-3));
  CHECK(state.pressure[2] <= 0);
}

TEST_CASE("trapped oil holds an inward load on a leaking piston seal at F over the rod's area") {
  // bore 100, rod 56: 100 bar becomes 319 in both chambers
  FlowCircuit circuit = cylinder(100, 56, 100);
  circuit.elements = {orifice_leak(1, 2, 1000), relief(2, kTank, 350, 1000)};
  const SteadyState held = solved(circuit);
  CHECK(held.pressure[2] == Approx(100 * 100 * 100 / (56. * 56)).epsilon(1e-9));
  CHECK(held.pressure[1] == Approx(held.pressure[2]).epsilon(1e-9));
  CHECK(held.speed[0] == Approx(0).margin(1e-9));
  // A relief set lower lifts, and it creeps through that: what comes out is the rod's displacement.
  circuit.elements[1].setting = 280;
  const SteadyState creeping = solved(circuit);
  CHECK(creeping.open[1]);
  CHECK(creeping.speed[0] * disc(56) == Approx(creeping.flow[1]).epsilon(1e-9));
  CHECK(creeping.flow[1] > 100);
  // 80/45 mm: 3.16 times
  circuit = cylinder(80, 45, 100);
  circuit.elements = {orifice_leak(1, 2, 1000)};
  CHECK(solved(circuit).pressure[1] == Approx(316).epsilon(1e-3));
}

TEST_CASE("a load hanging on the rod side and a double rod sink through the piston seal alone") {
  FlowCircuit hanging = cylinder(100, 56, -50);  // pulls out: the rod side carries it
  hanging.elements = {orifice_leak(1, 2, 100), check(kTank, 1)};
  const double pressure = 50 * 100 * 100 / (100. * 100 - 56 * 56);
  const SteadyState out = solved(hanging);
  CHECK(out.pressure[2] == Approx(pressure).epsilon(1e-3));
  CHECK(-out.speed[0] * (disc(100) - disc(56)) == Approx(10 * std::sqrt(pressure)).epsilon(1e-3));

  FlowCircuit both = volumes(3);
  both.actuators.push_back({1, 2, 50, 50, 50 * 80});
  both.elements = {laminar_leak(1, 2, 25)};
  CHECK(solved(both).speed[0] == Approx(0.25 * 80 / 50).epsilon(1e-9));
}

TEST_CASE("a volume that is not filled stands at -1 bar and lacks what the piston takes") {
  FlowCircuit circuit = cylinder(100, 56, 100);
  circuit.elements = {laminar_leak(1, kTank, 100)};
  const SteadyState state = solved(circuit);
  CHECK(state.pressure[2] == -1);
  // Balance: p_c A_c = F - 1 bar A_e
  const double annulus = disc(100) - disc(56);
  CHECK(state.pressure[1] == Approx(100 - annulus / disc(100)).epsilon(1e-12));
  CHECK(state.supply[2] == Approx(annulus * state.speed[0]).epsilon(1e-12));
  CHECK(state.supply[1] == 0);
}

TEST_CASE("a relief passes its rated flow at 1.05 of its setting, nothing below it, nothing back") {
  FlowCircuit circuit = volumes(2);
  circuit.elements = {relief(1, kTank, 200, relief_conductance(40'000, 200))};
  circuit.volumes[1].held = 210;
  CHECK(solved(circuit).supply[1] == Approx(40'000));
  for (const double below : {199.9, 0.0, -1.0}) {
    circuit.volumes[1].held = below;
    CHECK(solved(circuit).supply[1] == 0);
  }
}

TEST_CASE("a counterbalance valve opens at its setting less ratio times pilot pressure") {
  // 200 bar, 4 : 1, load 100 bar: at 25 bar of pilot pressure it is about to open.
  FlowCircuit circuit = volumes(3);
  circuit.elements = {piloted_relief(1, kTank, 200, 500, 2, 4)};
  circuit.volumes[1].held = 100;
  circuit.volumes[2].held = 25;
  CHECK(solved(circuit).supply[1] == Approx(0).margin(1e-9));
  circuit.volumes[2].held = 30;
  CHECK(solved(circuit).supply[1] == Approx(500 * 20).epsilon(1e-9));
  circuit.volumes[2].held = 60;  // wide open: what passes is the pressure across it
  CHECK(solved(circuit).supply[1] == Approx(500 * 100).epsilon(1e-9));
}

TEST_CASE("a counterbalance valve lowers a load no faster than the pump fills the other side") {
  // 10 L/min into the rod side (2) lowers it; the valve is piloted from there.
  FlowCircuit circuit = cylinder(100, 56, 80);
  circuit.elements = {piloted_relief(1, kTank, 200, relief_conductance(40'000, 200), 2, 4),
                      pump(kTank, 2, 10'000, 180)};
  const SteadyState state = solved(circuit);
  CHECK(state.speed[0] * (disc(100) - disc(56)) == Approx(10'000).epsilon(1e-9));
  const double load = (80 * disc(100) + state.pressure[2] * (disc(100) - disc(56))) / disc(100);
  CHECK(state.pressure[1] == Approx(load).epsilon(1e-9));
  CHECK(state.flow[0] == Approx(state.speed[0] * disc(100)).epsilon(1e-9));
  CHECK(load - (200 - 4 * state.pressure[2]) == Approx(state.flow[0] / 4000).epsilon(1e-9));
}

TEST_CASE("a pump delivers its flow up to its limit and stands a twentieth above it at most") {
  FlowCircuit circuit = volumes(2);
  circuit.elements = {pump(kTank, 1, 20'000, 160), passage(1, kTank, 200)};
  CHECK(solved(circuit).pressure[1] == Approx(100));
  circuit.elements[1] = laminar_leak(1, kTank, 0);
  CHECK(solved(circuit).pressure[1] == Approx(168).epsilon(1e-3));
}

TEST_CASE("a load that nothing holds runs away and is said to") {
  FlowCircuit circuit = cylinder(100, 56, 100);
  circuit.volumes[1].held = 50;  // needs 100
  CHECK(steady_state(circuit).status == Status::unbalanced);
  circuit.volumes[1].held = 120;
  CHECK(solved(circuit).pressure[2] > 0);
  circuit.volumes[2].held = 0;
  CHECK(steady_state(circuit).status == Status::unbalanced);
}
