#include "core/hydraulics/flow_circuit.h"

#include <cmath>

#include "core/unit_factors.h"

namespace faultodds::hydraulics {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kMm = 1e-3;         // m
constexpr double kDischarge = 0.62;  // Cd

}  // namespace

double laminar_conductance(double size, double viscosity) {
  return size / kReferencePressure * (kReferenceViscosity / viscosity);
}

double orifice_conductance(double size) { return size / std::sqrt(kReferencePressure); }

double relief_conductance(double rated_flow, double setting) {
  return rated_flow / (kOverride * setting);
}

FlowElement laminar_leak(Index from, Index to, double size, double viscosity) {
  return passage(from, to, laminar_conductance(size, viscosity));
}

FlowElement orifice_leak(Index from, Index to, double size) {
  FlowElement leak = passage(from, to, orifice_conductance(size));
  leak.law = FlowLaw::orifice;
  return leak;
}

FlowElement passage(Index from, Index to, double conductance) {
  FlowElement one;
  one.from = from;
  one.to = to;
  one.conductance = conductance;
  return one;
}

FlowElement check(Index from, Index to, double cracking, double conductance) {
  return relief(from, to, cracking, conductance);
}

FlowElement relief(Index from, Index to, double setting, double conductance) {
  FlowElement one = passage(from, to, conductance);
  one.law = FlowLaw::one_way;
  one.setting = setting;
  return one;
}

FlowElement piloted_relief(Index from, Index to, double setting, double conductance, Index pilot,
                           double ratio) {
  FlowElement one = relief(from, to, setting, conductance);
  one.pilot = pilot;
  one.ratio = ratio;
  return one;
}

FlowElement pump(Index suction, Index outlet, double flow, double limit) {
  FlowElement one = passage(suction, outlet, 0);
  one.law = FlowLaw::pump;
  one.flow = flow;
  one.setting = limit;
  return one;
}

double annulus_flow(const Annulus& annulus, double pressure, double dynamic_viscosity) {
  const double clearance = annulus.clearance * kMm;
  return kPi * (annulus.diameter * kMm) * clearance * clearance * clearance * pressure *
         kPascalPerBar * (1 + 1.5 * annulus.eccentricity * annulus.eccentricity) /
         (12 * dynamic_viscosity * annulus.length * kMm) * kMlPerMinute;
}

double annulus_size(const Annulus& annulus, double density) {
  return annulus_flow(annulus, kReferencePressure, kReferenceViscosity * 1e-6 * density);
}

double bore_flow(double diameter, double pressure, double density) {
  const double metres = diameter * kMm;
  return kDischarge * kPi / 4 * metres * metres *
         std::sqrt(2 * pressure * kPascalPerBar / density) * kMlPerMinute;
}

double bore_size(double diameter, double density) {
  return bore_flow(diameter, kReferencePressure, density);
}

double decay_flow(double volume, double stiffness, double pressure_per_minute) {
  return volume / stiffness * pressure_per_minute;
}

}  // namespace faultodds::hydraulics
