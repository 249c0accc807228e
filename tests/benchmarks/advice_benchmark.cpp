// What advice takes on top of an assessment: the repair, the value of every test, second-fault
// checks, verification and the evidence trail of one complaint.
#include <benchmark/benchmark.h>

#include "core/diagnosis/advice.h"
#include "tests/benchmarks/load_model.h"

namespace {

using ::benchmark::State;
using faultodds::benchmark::machine_model;
using faultodds::benchmark::observe;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Model;

// Complaint 0: the load sinks; 1: the function is slow; 2: both.
void advice(State& state) {
  const Model& model =
      machine_model(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
  Case the_case;
  const long complaint = state.range(2);
  if (complaint != 1) observe(model, the_case, "drift/cylinder0/retract", 1);
  if (complaint != 0) observe(model, the_case, "delivery/extend0", 1);
  the_case.look_further = state.range(3) != 0;
  ::benchmark::DoNotOptimize(advise(model, the_case));
  for (auto _ : state) ::benchmark::DoNotOptimize(advise(model, the_case));
  state.counters["observations"] = static_cast<double>(model.analysis().observations.size());
}

BENCHMARK(advice)
    ->ArgNames({"sections", "conditions", "complaint", "further"})
    ->ArgsProduct({{1, 4, 16}, {0, 3}, {0, 1, 2}, {0, 1}})
    ->Unit(::benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
