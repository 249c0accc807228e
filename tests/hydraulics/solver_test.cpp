// The solver on random circuits: it ends, oil is conserved, actuators are in balance, nothing is
// below -1 bar. That the state is the right one is shown by independent_solve.py and
// tests/published.
#include "core/hydraulics/solver.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <iostream>

#include "tests/hydraulics/random_circuits.h"

using namespace faultodds::hydraulics;

namespace {

// Largest of what the equations of the header leave, recomputed from pressures and speeds, each
// beside the flows or forces that meet there and what rounding of the pressures makes of them.
double largest_violation(const FlowCircuit& circuit, const SteadyState& state) {
  const std::vector<double>& p = state.pressure;
  std::vector<double> out(p.size(), 0), through(p.size(), 0.01);
  double worst = 0;
  const auto move = [&](Index volume, double flow) {
    if (volume == kNowhere) return;
    out[volume] += flow;
    through[volume] += std::abs(flow);
  };
  for (const FlowElement& one : circuit.elements) {
    const double dp = p[one.from] - p[one.to];
    double flow = 0;
    if (one.law == FlowLaw::laminar) flow = one.conductance * dp;
    if (one.law == FlowLaw::orifice) {
      flow = std::abs(dp) < 0.1 ? one.conductance * dp / std::sqrt(0.1)
                                : std::copysign(one.conductance * std::sqrt(std::abs(dp)), dp);
    }
    if (one.law == FlowLaw::one_way) {
      double threshold = one.setting;
      if (one.pilot != kNowhere) threshold = std::fmax(0, threshold - one.ratio * p[one.pilot]);
      flow = one.conductance * std::fmax(0, dp - threshold);
    }
    if (one.law == FlowLaw::pump) {
      flow =
          one.flow * std::fmin(1, std::fmax(0, (1.05 * one.setting + dp) / (0.05 * one.setting)));
    }
    move(one.from, flow);
    move(one.to, -flow);
    // A threshold is found to 1e-11 of the pressures that make it.
    if (one.pilot != kNowhere) {
      const double rounding =
          1e-5 * one.conductance * (one.setting + one.ratio * std::abs(p[one.pilot]));
      through[one.from] += rounding;
      through[one.to] += rounding;
    }
    const double rounding = 4e-9 * one.conductance * (std::abs(p[one.from]) + std::abs(p[one.to]));
    through[one.from] += rounding;
    through[one.to] += rounding;
  }
  for (std::size_t k = 0; k < circuit.actuators.size(); ++k) {
    const Actuator& one = circuit.actuators[k];
    move(one.contracting, -one.area_contracting * state.speed[k]);
    move(one.expanding, one.area_expanding * state.speed[k]);
    const double back = one.expanding == kNowhere ? 0 : p[one.expanding] * one.area_expanding;
    worst =
        std::fmax(worst, std::abs(p[one.contracting] * one.area_contracting - back - one.force) /
                             (std::abs(one.force) + std::abs(back)));
  }
  for (std::size_t v = 0; v < p.size(); ++v) {
    if (circuit.volumes[v].held) {
      worst = std::fmax(worst, std::abs(p[v] - *circuit.volumes[v].held));
      continue;
    }
    worst = std::fmax(worst, -1 - p[v]);
    const double amiss = p[v] == -1 ? std::fmin(0, out[v]) : out[v];
    worst = std::fmax(worst, std::abs(amiss) / through[v]);
  }
  return worst;
}

void solve_random(std::uint64_t count) {
  std::size_t open = 0, shut = 0, voids = 0, piloted_open = 0, moving = 0, steps = 0, most = 0;
  for (std::uint64_t number = 1; number <= count; ++number) {
    const FlowCircuit circuit = random_circuit(number);
    const SteadyState state = steady_state(circuit);
    INFO("circuit " << number << ", " << state.steps << " steps, amiss " << state.residual);
    REQUIRE(state.status == Status::solved);
    REQUIRE(largest_violation(circuit, state) < 1e-6);
    for (std::size_t i = 0; i < circuit.elements.size(); ++i) {
      if (circuit.elements[i].law != FlowLaw::one_way) continue;
      ++(state.open[i] ? open : shut);
      piloted_open += state.open[i] && circuit.elements[i].pilot != kNowhere;
    }
    for (std::size_t v = 0; v < state.pressure.size(); ++v) voids += state.pressure[v] == -1;
    for (const double speed : state.speed) moving += std::abs(speed) > 1e-6;
    steps += static_cast<std::size_t>(state.steps);
    most = std::max(most, static_cast<std::size_t>(state.steps));
  }
  std::cout << count << " circuits: " << open << " checks and reliefs open, " << piloted_open
            << " of them piloted, " << shut << " shut, " << voids << " volumes at -1 bar, "
            << moving << " actuators moving; steps: " << steps / count << " on average, " << most
            << " at most\n";
  CHECK(open > count);
  CHECK(shut > count);
  CHECK(voids > count / 10);
  CHECK(moving > count / 4);
  CHECK(piloted_open > count / 20);
}

}  // namespace

TEST_CASE("2,000 random circuits reach their steady state") { solve_random(2'000); }

TEST_CASE("100,000 random circuits reach their steady state", "[.long]") { solve_random(100'000); }
