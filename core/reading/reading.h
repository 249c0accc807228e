// What a gauge, a stopwatch and a ruler say about a leak: a reading in SI units becomes an apparent
// leak rate, and that a likelihood over the grade the instrument sees. It knows no circuit and no
// JSON; units of the trade are in units.h.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "core/message.h"
#include "core/reading/trapped_oil.h"

namespace faultodds::reading {

// One reading as taken. All SI: Pa, m3/s, m3, m, s, K. Exactly one form must be given:
//   leak_rate                                    already a leak rate
//   pressure_drop, time and volume               static hold: q = (V/K) dP/dt
//   pressures and volume                         the same of a gauge's course
//   supply_flow with pressure                    would not build: the flow that sustains `pressure`
//   strokes_per_minute, stroke_volume, pressure  the same, counted at a hand pump
//   distance and time, distances, or speed       drift: q = contracting area x speed
//   flow with rated_flow                         flow test: loss = rated - measured
//   below                                        nothing seen; q is under this detection limit
struct Reading {
  std::optional<double> leak_rate;
  std::optional<double> pressure_drop, time, volume;
  std::vector<PressurePoint> pressures;
  std::optional<double> bulk_modulus,
      line_stiffness;                              // Pa: of the oil, of hoses and pipes round it
  std::optional<double> gas_volume, gas_pressure;  // gas in the volume, at 0 of the gauge if unsaid
  std::optional<double> supply_flow;
  std::optional<double> strokes_per_minute, stroke_volume;
  std::optional<double> distance, speed;
  struct DistancePoint {
    double time = 0, distance = 0;
  };
  std::vector<DistancePoint> distances;
  std::optional<double> flow, rated_flow;
  std::optional<double> revolutions_per_minute,
      displacement;                       // what a pump of this speed should give
  std::optional<double> oil_temperature;  // K, of a flow test: cold oil slips less
  std::optional<double> below;
  std::optional<double> pressure;            // at which it was taken, for normalising
  std::optional<double> back_pressure;       // behind the leak, where a second gauge says so
  std::optional<double> exponent;            // x of q_ref = q (p_ref/p)^x; default 1 (laminar)
  std::optional<double> temperature_change;  // K, end minus start; a cooling oil mimics a leak
};

// What is known of the observation the reading belongs to.
struct Setting {
  bool drift = false, flow_test = false;
  std::optional<double> reference_pressure;  // Pa
  std::optional<double> contracting_area;    // m2
  std::optional<double> rated_flow;          // m3/s
  std::optional<double> volume;              // m3
  std::optional<double> displacement{};      // m3 per revolution, of a motor that creeps
  double gas_volume = 0;                     // m3, of accumulators that it goes into
  std::array<double, 3> median{};            // mL/min per grade; for a flow test, loss / rated flow
  std::array<double, 3> sigma{};             // of the natural logarithm
};

// The apparent leak rate of a reading, before the likelihood.
struct LeakRate {
  double value = 0;       // mL/min at the reference pressure (loss / rated flow for a flow test)
  bool censored = false;  // true: only known to be below `value`
  Messages warnings{};    // for example on oil temperature
  double error = 0;       // standard deviation of `value` for what is not known of temperatures
};

// Throws Error(invalid_case) whose pointer is relative to the reading (`/time`).
LeakRate leak_rate(const Reading& reading, const Setting& setting);

// Likelihood over G = 0, 1, 2: the density of ln q under Normal(ln median_G, sigma_G), or its
// cumulative probability when censored. Never all zero for a finite rate: computed from log
// densities, scaled so that the largest is exp(*log_scale).
std::array<double, 3> likelihood(const LeakRate& rate, const Setting& setting, double* log_scale);

}  // namespace faultodds::reading
