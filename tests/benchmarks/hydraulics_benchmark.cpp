// bench_hydraulics: processor time of one steady state of a section of 20 volumes, from rest and
// along sizes, and of random circuits.
#include <benchmark/benchmark.h>

#include <fstream>
#include <iterator>
#include <vector>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "core/circuit/structure.h"
#include "core/hydraulics/effect.h"
#include "core/hydraulics/solver.h"
#include "tests/hydraulics/random_circuits.h"

using namespace faultodds::hydraulics;

namespace {

// A load held by a counterbalance valve: cylinder (1 cap, 2 rod), hoses (3 to 6), the valve's two
// sides, a spool section with reliefs and make-up checks, gallery, filter and return: 20 volumes.
FlowCircuit section() {
  FlowCircuit circuit;
  circuit.volumes.resize(20);
  circuit.volumes[0].held = 0;
  circuit.actuators.push_back({1, 2, 50.27, 34.36, 50.27 * 120});
  std::vector<FlowElement>& e = circuit.elements;
  e = {orifice_leak(1, 2, 0.3),
       orifice_leak(2, 0, 0.3),
       passage(1, 3),
       passage(3, 4),
       passage(2, 5),
       passage(5, 6),
       check(7, 4),
       orifice_leak(4, 7, 0.3),
       piloted_relief(4, 7, 260, 3000, 6, 4),
       passage(7, 8),
       passage(6, 9),
       passage(8, 10),
       passage(9, 11)};
  const Index a = 10, b = 11, p = 12, t = 13;
  for (const Index port : {a, b}) {
    e.push_back(laminar_leak(p, port, 4));
    e.push_back(laminar_leak(port, t, 4));
    e.push_back(relief(port, t, 230, 4000));
    e.push_back(orifice_leak(port, t, 0.3));
    e.push_back(check(t, port));
    e.push_back(orifice_leak(port, t, 0.3));
  }
  e.push_back(passage(t, 14));
  e.push_back(passage(14, 15));
  e.push_back(passage(15, 0));
  e.push_back(check(14, 15, 1.5));
  e.push_back(passage(p, 16));
  e.push_back(passage(16, 17));
  e.push_back(check(18, 17));
  e.push_back(passage(18, 19));
  e.push_back(relief(18, 0, 250, 4800));
  e.push_back(orifice_leak(18, 0, 0.3));
  e.push_back(laminar_leak(19, 0, 100));
  return circuit;
}

void from_rest(benchmark::State& state) {
  SteadyFlow flow(section());
  long steps = 0;
  for (auto _ : state) {
    flow.from_rest();
    steps += flow.solve().steps;
  }
  state.counters["steps"] =
      benchmark::Counter(static_cast<double>(steps), benchmark::Counter::kAvgIterations);
}

// The seat of the counterbalance valve at twelve sizes of half a decade and less, as for an effect.
void along_sizes(benchmark::State& state) {
  SteadyFlow flow(section());
  flow.solve();
  long steps = 0, at = 0;
  for (auto _ : state) {
    const double size = 0.3 * static_cast<double>(1L << (at++ % 12));
    flow.circuit.elements[7].conductance = orifice_conductance(size);
    steps += flow.solve().steps;
  }
  state.counters["steps"] =
      benchmark::Counter(static_cast<double>(steps), benchmark::Counter::kAvgIterations);
}

void random_circuits(benchmark::State& state) {
  std::vector<FlowCircuit> circuits;
  for (std::uint64_t i = 1; i <= 1000; ++i) circuits.push_back(random_circuit(i));
  std::size_t at = 0;
  for (auto _ : state) benchmark::DoNotOptimize(steady_state(circuits[at++ % circuits.size()]));
}

void effects(benchmark::State& state, const char* demo) {
  using namespace faultodds;
  std::ifstream in(std::string(EXAMPLES "/") + demo + "/circuit.json");
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  const circuit::Description description = documents::read_circuit(documents::parse_json(text));
  const auto catalogue = documents::read_catalogue(documents::parse_json(documents::kCatalogue));
  const circuit::Analysis analysis = circuit::analyse(description, catalogue);
  const circuit::Structure structure = circuit::resolve(description, catalogue, {});
  double solves = 0, unsolved = 0, observations = 0, sets = 0;
  for (auto _ : state) {
    solves = unsolved = observations = sets = 0;
    for (const circuit::Observation& observation : analysis.observations) {
      const auto situation = situation_of(structure, observation, 100);
      if (!situation) continue;
      ++observations;
      std::vector<Leak> leaks;
      for (const circuit::FailureMode& mode : analysis.modes) {
        const bool gap = mode.size.law == circuit::SizeLaw::laminar;
        leaks.push_back({gap ? FlowLaw::laminar : FlowLaw::orifice, mode.size.of_grade[0].median});
      }
      EffectOfSets effect(structure, *situation, std::move(leaks));
      const bool drift = observation.kind == circuit::ObservationKind::drift;
      for (const circuit::ModeSet& set : observation.sets) {
        ++sets;
        for (int load = 0; load < (drift ? 10 : 1); ++load) {
          effect.set_load(50 + 15 * load);
          for (int size = 0; size < 12; ++size, ++solves)
            unsolved += !effect.shown(set.modes, 0.3 * static_cast<double>(1L << size));
        }
      }
    }
  }
  state.counters["observations"] = observations;
  state.counters["sets"] = sets;
  state.counters["solves"] = solves;
  state.counters["unsolved"] = unsolved;
}

BENCHMARK_CAPTURE(effects, refuse_truck, "refuse_truck")->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(effects, veneer_press, "veneer_press")->Unit(benchmark::kMillisecond);
BENCHMARK(from_rest);
BENCHMARK(along_sizes);
BENCHMARK(random_circuits);

}  // namespace

BENCHMARK_MAIN();
