// What a closed volume of oil, hose and gas gives up as its pressure falls or its temperature
// changes: from a gauge's course to the flow of a leak. All SI, pressures of the gauge, not
// absolute. It knows no reading and no circuit.
#pragma once

#include <vector>

namespace faultodds::reading {

// Oil that cools by a kelvin shrinks by 7e-4 of its volume, its steel by 3.5e-5 (three
// times 1.2e-5, rounded): mineral oil and steel, common handbook figures, from memory.
inline constexpr double kExpansion = 6.65e-4;  // per K

// The charge of an accumulator of which it is not known, of the pressure that it is used at: makers
// ask for 0.25 to 0.9 of it. Working judgement.
inline constexpr double kChargeShare = 0.5;

struct TrappedOil {
  double volume = 0;        // m3
  double bulk_modulus = 0;  // Pa, of the oil in its lines
  double gas_volume = 0;    // m3 at gas_pressure
  double gas_pressure = 0;  // Pa
};

// 1/K = 1/K_oil + 1/K_line.
double stiffness_in_line(double oil, double line);

// m3 that leave as the pressure falls from `high` to `low`: V/K (high - low) of the oil, and what
// the gas takes more room, slowly and so at one temperature: p V constant, absolute. Below its
// charge gas gives nothing more.
double given_up(const TrappedOil& oil, double high, double low);

// m3 that a change of temperature adds to the oil, below 0 where it cools: V x expansion x change.
double grown(const TrappedOil& oil, double change);

// A gauge's course.
struct PressurePoint {
  double time = 0, pressure = 0;  // s, Pa
};

// The flow of a leak at the first pressure, m3/s, by least squares through all points, and its
// standard error by how far they lie off: of a leak q(p) = q_first ((p - back) / (p_first -
// back))^exponent the integral of dV/dp / (q(p) / q_first) over the pressures passed is q_first
// times the time. What is below `kNearEmpty` of the first drive counts as there: next to no
// pressure drives nothing. Times ascend and pressures are above `back`; two points at least.
struct LeakFlow {
  double flow = 0, error = 0;
  double early = 0, late = 0;  // of the first and the second half of the points
};
inline constexpr double kNearEmpty = 0.02;
LeakFlow leak_flow(const TrappedOil& oil, const std::vector<PressurePoint>& course, double back,
                   double exponent);

// The slope of `value` over `time` by least squares, its standard error, and the slopes of the
// halves.
LeakFlow slope(const std::vector<double>& time, const std::vector<double>& value);

// Kinematic viscosity in mm2/s of oil of grade VG 46 with viscosity index 100 or so: 46 at 40 C
// and 6.8 at 100 C, between them by lg lg(v + 0.7) = a - b lg T (Walther's equation, ASTM D341).
double viscosity(double kelvin);

}  // namespace faultodds::reading
