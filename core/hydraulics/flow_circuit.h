// Steady leakage as plain values: volumes, the elements that join them, the actuators between them,
// and how sizes and dimensions become conductances. It solves nothing (solver.h does) and knows no
// components, failure modes or probability.
//
// Units, in the whole of this folder's flow: pressure in bar above atmosphere, flow in mL/min, area
// in cm2, speed in cm/min (cm2 x cm/min = mL/min), force in bar cm2 (= 10 N), viscosity in mm2/s. A
// motor has cm3/rad in place of areas, rad/min in place of speed and bar cm3 (= 0.1 Nm) of torque.
//
// The *size* of a leak is its flow at reference conditions: 100 bar across it, oil of 46 mm2/s.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

namespace faultodds::hydraulics {

using Index = std::uint32_t;
inline constexpr Index kNowhere = ~Index{0};

inline constexpr double kReferencePressure = 100;  // bar
inline constexpr double kReferenceViscosity = 46;  // mm2/s, ISO VG 46 at 40 C (ISO 3448)
inline constexpr double kLeastPressure = -1;       // bar: oil does not pull; nothing falls below it
inline constexpr double kOrificeRounding = 0.1;    // bar, below which an orifice is linear
inline constexpr double kOverride = 0.05;  // of its setting, what a relief rises to rated flow in
// mL/min per bar of what passes freely: 100 L/min at 1 bar. Working judgement; it has only to be
// large beside leaks.
inline constexpr double kPassage = 1e5;

// Flow from -> to of an element, dp = p(from) - p(to):
enum class FlowLaw {
  laminar,  // c dp: gaps of spools, motors and pumps, and with a large c, passages
  orifice,  // c sign(dp) sqrt|dp|: seats, hoses, cracks; c dp / sqrt(0.1) below 0.1 bar
  one_way,  // c max(0, dp - T), T = max(0, setting - ratio p(pilot)): checks and reliefs
  pump,     // `flow` up to a rise -dp of `setting`, from there linearly to none at 1.05 of it
};

struct FlowElement {
  FlowLaw law = FlowLaw::laminar;
  Index from = kNowhere, to = kNowhere;  // volumes; a pump sucks at `from` and delivers at `to`
  double conductance = 0;                // c, mL/min per bar (orifice: per root of bar)
  double setting = 0;                    // one_way, pump: bar
  Index pilot = kNowhere;                // one_way: the volume that pilots it
  double ratio = 0;                      // one_way: pilot area over seat area
  double flow = 0;                       // pump: mL/min
};

struct Volume {
  std::optional<double> held;  // bar, by a reservoir or at a test port; else it is unknown
};

// A piston, plunger or motor. With speed v, positive as `contracting` contracts, it gives
// area_contracting v to that volume and takes area_expanding v from the other, and
// p(contracting) area_contracting - p(expanding) area_expanding = force,
// positive where the load drives the contraction. A plunger expands nowhere.
struct Actuator {
  Index contracting = kNowhere, expanding = kNowhere;
  double area_contracting = 0, area_expanding = 0;
  double force = 0;
};

struct FlowCircuit {
  std::vector<Volume> volumes;
  std::vector<FlowElement> elements;
  std::vector<Actuator> actuators;
};

// Laminar flow goes with the pressure and 1/viscosity: c = size / 100 bar x 46 / viscosity.
double laminar_conductance(double size, double viscosity = kReferenceViscosity);

// Turbulent flow goes with the root of pressure and does not depend on viscosity: c = size / 10.
double orifice_conductance(double size);

// A relief passes its rated flow at 1.05 of its setting.
double relief_conductance(double rated_flow, double setting);

FlowElement laminar_leak(Index from, Index to, double size, double viscosity = kReferenceViscosity);
FlowElement orifice_leak(Index from, Index to, double size);
FlowElement passage(Index from, Index to, double conductance = kPassage);
FlowElement check(Index from, Index to, double cracking = 0, double conductance = kPassage);
FlowElement relief(Index from, Index to, double setting, double conductance);
FlowElement piloted_relief(Index from, Index to, double setting, double conductance, Index pilot,
                           double ratio);
FlowElement pump(Index suction, Index outlet, double flow, double limit);

// Size of an annular clearance, for spools: Q = pi d c^3 dp (1 + 1.5 e^2) / (12 mu L), with
// mu = viscosity x density (Merritt, Hydraulic Control Systems, Wiley 1967, section 3-2). Lengths
// in mm, eccentricity e from 0 (concentric) to 1 (touching: 2.5 times the flow).
struct Annulus {
  double diameter = 0, clearance = 0, length = 0;  // mm; the clearance is radial
  double eccentricity = 1;  // what a side-loaded spool does; working judgement
};
double annulus_flow(const Annulus& annulus, double pressure,
                    double dynamic_viscosity);                      // bar, Pa s
double annulus_size(const Annulus& annulus, double density = 870);  // kg/m3, mineral oil

// Flow of a sharp-edged orifice: Q = Cd A sqrt(2 dp / rho), Cd 0.62 (Merritt 1967, section 3-3:
// 0.61 to 0.62 for sharp edges). Diameter in mm.
double bore_flow(double diameter, double pressure, double density = 870);
double bore_size(double diameter, double density = 870);

// Pressure decay q = (V / K) dP/dt of a trapped volume in mL, stiffness in bar, bar/min.
double decay_flow(double volume, double stiffness, double pressure_per_minute);

}  // namespace faultodds::hydraulics
