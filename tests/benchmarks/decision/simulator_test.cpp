// The simulator of the decision benchmark: it conserves flow, and what leaks through by hydraulics
// is what the engine's minimal sets say can be seen.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "core/circuit/analysis.h"
#include "tests/benchmarks/decision/circuits.h"
#include "tests/benchmarks/decision/leak_network.h"
#include "tests/benchmarks/decision/simulator.h"

using namespace faultodds;
using benchmark::Law;
using benchmark::LeakNetwork;
using benchmark::Simulator;
using circuit::Analysis;
using circuit::ObservationKind;

namespace {

struct Subject {
  Analysis analysis;
  Simulator simulator;
};

Subject subject(const std::string& document) {
  const auto description = documents::read_circuit(documents::parse_json(document));
  const auto catalogue = documents::read_catalogue(documents::parse_json(documents::kCatalogue));
  return {circuit::analyse(description, catalogue), Simulator(description, catalogue)};
}

Simulator::Machine failed(const Simulator& simulator, const std::vector<std::uint32_t>& modes) {
  Simulator::Machine machine = simulator.sound();
  for (std::uint32_t m : modes) {
    machine[m] = {2, 1000, 0.03, 0.35};
  }
  return machine;
}

bool shown(const circuit::Observation& observation, const std::vector<std::uint32_t>& modes) {
  for (const auto& set : observation.sets) {
    bool all = true;
    for (std::uint32_t m : set.modes) {
      all = all && std::find(modes.begin(), modes.end(), m) != modes.end();
    }
    if (all) return true;
  }
  return false;
}

}  // namespace

TEST_CASE("leaks in series and in parallel pass what the textbook says") {
  // Two laminar leaks of 30 and 60 mL/min at 100 bar: in series 20, side by side 90; two orifices
  // of 30 in series pass 30 / sqrt 2.
  LeakNetwork series(3);
  series.add({0, 1, Law::laminar, 30, 0});
  series.add({1, 2, Law::laminar, 60, 0});
  series.hold(0, 100);
  series.hold(2, 0);
  series.solve();
  CHECK(series.outflow(0) == Approx(20).epsilon(1e-5));
  CHECK(series.pressure(1) == Approx(100.0 / 3).epsilon(1e-5));

  LeakNetwork parallel(2);
  parallel.add({0, 1, Law::laminar, 30, 0});
  parallel.add({0, 1, Law::laminar, 60, 0});
  parallel.hold(0, 100);
  parallel.hold(1, 0);
  parallel.solve();
  CHECK(parallel.outflow(0) == Approx(90));

  LeakNetwork orifices(3);
  orifices.add({0, 1, Law::orifice, 30, 0});
  orifices.add({1, 2, Law::orifice, 30, 0});
  orifices.hold(0, 100);
  orifices.hold(2, 0);
  orifices.solve();
  CHECK(orifices.outflow(0) == Approx(30 / std::sqrt(2.0)).epsilon(1e-4));
}

TEST_CASE("a single-rod piston with a leaking seal comes to rest, a pulled one goes on") {
  // Bore 100, rod 56: 100 bar on the bore come to rest at 100 A / (A - a) = 319 bar.
  const auto network = [](double area_c, double area_e) {
    LeakNetwork trapped(3);
    trapped.add({0, 1, Law::laminar, 1000, 0});
    trapped.hold(2, 0);
    trapped.set_piston({0, 1, area_c, area_e, 100 * area_c});
    trapped.solve();
    return trapped;
  };
  const double bore = 78.5398, annulus = 53.9096;
  const LeakNetwork pushed = network(bore, annulus), pulled = network(annulus, bore);
  CHECK(pushed.pressure(0) == Approx(319).epsilon(0.005));
  CHECK(pushed.speed() * bore == Approx(0).margin(1e-3));
  CHECK(pulled.speed() * annulus == Approx(1000).epsilon(1e-3));
}

TEST_CASE("what the hand pump delivers comes out at the reservoirs, and nowhere is any lost") {
  for (const auto& circuit : benchmark::decision_circuits()) {
    const Subject of = subject(circuit.document);
    Simulator::Chance chance(7);
    for (int i = 0; i < 40; ++i) {
      Simulator::Machine machine = of.simulator.sound();
      for (std::size_t m = 0; m < machine.size(); ++m) {
        if (chance() % 3 != 0) continue;
        machine[m] = of.simulator.of_grade(m, 1 + static_cast<int>(chance() % 2), chance);
      }
      for (const auto& observation : of.analysis.observations) {
        if (observation.kind != ObservationKind::static_hold) continue;
        const LeakNetwork network = of.simulator.held(machine, observation.id);
        double in = 0, out = 0;
        std::vector<double> sum;
        for (const auto& link : network.links()) {
          sum.resize(std::max({sum.size(), link.from + 1, link.to + 1}), 0.0);
          sum[link.from] += network.flow(link);
          sum[link.to] -= network.flow(link);
        }
        for (double flow : sum) {
          in += std::max(flow, 0.0);
          out += std::max(-flow, 0.0);
        }
        INFO(circuit.name << ", " << observation.id);
        CHECK(in == Approx(out).epsilon(1e-6).margin(1e-2));
        std::size_t between = 0;  // nodes that are neither fed nor open
        for (double flow : sum) between += std::abs(flow) < 1e-2 ? 1 : 0;
        CHECK(between + 5 >= sum.size());
      }
    }
  }
}

TEST_CASE("one or two failed parts leak through exactly where a minimal set of theirs says so") {
  std::size_t leaking = 0, tight = 0;
  for (const auto& circuit : benchmark::decision_circuits()) {
    const Subject of = subject(circuit.document);
    const auto& modes = of.analysis.modes;
    REQUIRE(modes.size() == of.simulator.modes().size());
    for (std::uint32_t a = 0; a < modes.size(); ++a) {
      REQUIRE(modes[a].id == of.simulator.modes()[a].id);
      for (std::uint32_t b = a; b < modes.size(); ++b) {
        const auto machine = failed(of.simulator, {a, b});
        for (const auto& observation : of.analysis.observations) {
          if (observation.kind != ObservationKind::static_hold &&
              observation.kind != ObservationKind::drift) {
            continue;
          }
          const double flow = of.simulator.effect(machine, observation.id);
          const bool expected = shown(observation, {a, b});
          INFO(circuit.name << ", " << observation.id << ": " << modes[a].id << ", " << modes[b].id
                            << ", " << flow << " mL/min");
          CHECK((flow > 1) == expected);
          ++(expected ? leaking : tight);
        }
      }
    }
  }
  CHECK(leaking > 500);
  CHECK(tight > 500);
}

TEST_CASE("a failed part slows a function where it restricts or weakens what the function needs") {
  std::size_t slowed = 0;
  for (const auto& circuit : benchmark::decision_circuits()) {
    const Subject of = subject(circuit.document);
    for (std::uint32_t m = 0; m < of.analysis.modes.size(); ++m) {
      const auto& mode = of.simulator.modes()[m];
      for (const auto& observation : of.analysis.observations) {
        if (observation.kind != ObservationKind::delivery &&
            observation.kind != ObservationKind::flow) {
          continue;
        }
        const double lost = of.simulator.effect(failed(of.simulator, {m}), observation.id);
        INFO(circuit.name << ", " << observation.id << ": " << mode.id << " loses " << lost);
        if (!shown(observation, {m})) {
          CHECK(lost == Approx(0).margin(0.02));
        } else if (mode.restricts || mode.weakens) {
          CHECK(lost > 0.1);
          ++slowed;
        }
      }
    }
  }
  CHECK(slowed > 5);
}
