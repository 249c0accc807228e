// What advice takes on top of an assessment: the repair, the value of every test, second-fault
// checks, verification and the evidence trail of one complaint.
#include <benchmark/benchmark.h>

#include <map>
#include <stdexcept>
#include <string>

#include "core/diagnosis/advice.h"
#include "tests/benchmarks/load_model.h"
#include "tests/benchmarks/machine.h"

namespace {

using ::benchmark::State;
using faultodds::diagnosis::advise;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Model;

const Model& model_of(long sections) {
  static std::map<long, Model> models;
  auto at = models.find(sections);
  if (at == models.end()) {
    const std::string document = faultodds::benchmark::machine(static_cast<int>(sections));
    at = models.emplace(sections, faultodds::benchmark::load_model(document)).first;
  }
  return at->second;
}

void saw(const Model& model, Case& the_case, const std::string& id, std::uint32_t outcome) {
  const auto observation = model.find_observation(id);
  if (!observation) throw std::logic_error("the benchmark's circuit has no observation " + id);
  faultodds::diagnosis::Evidence evidence;
  evidence.observation = *observation;
  evidence.outcome = outcome;
  the_case.evidence.push_back(evidence);
}

// Complaint 0: the load sinks; 1: the function is slow; 2: both.
void advice(State& state) {
  const Model& model = model_of(state.range(0));
  Case the_case;
  const long complaint = state.range(1);
  if (complaint != 1) saw(model, the_case, "drift/cylinder0/retract", 1);
  if (complaint != 0) saw(model, the_case, "delivery/extend0", 1);
  the_case.look_further = state.range(2) != 0;
  ::benchmark::DoNotOptimize(advise(model, the_case));
  for (auto _ : state) ::benchmark::DoNotOptimize(advise(model, the_case));
  state.counters["observations"] = static_cast<double>(model.analysis().observations.size());
}

BENCHMARK(advice)
    ->ArgNames({"sections", "complaint", "further"})
    ->ArgsProduct({{1, 4, 16}, {0, 1, 2}, {0, 1}})
    ->Unit(::benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
