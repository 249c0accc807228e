// What the engine takes: for an assessment of one case, for many cases, for compiling a circuit,
// and of memory. Times against other engines are peers.py's.
#include <benchmark/benchmark.h>
#include <malloc.h>

#include <array>
#include <cstdio>
#include <memory>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/program.h"
#include "tests/benchmarks/load_model.h"
#include "tests/benchmarks/machine.h"

namespace {

using ::benchmark::Counter;
using ::benchmark::State;
using faultodds::benchmark::machine_model;
using faultodds::benchmark::observe;
using faultodds::diagnosis::Assessed;
using faultodds::diagnosis::Case;
using faultodds::diagnosis::Model;

// A work order as it grows: the arm sinks; the port holds; extending is slow. Or, 4, extending is
// slow and nothing else is known.
Case case_with(const Model& model, long pieces) {
  Case the_case;
  if (pieces == 4) {
    observe(model, the_case, "delivery/extend0", 1);
    return the_case;
  }
  if (pieces > 0) observe(model, the_case, "drift/cylinder0/retract", 1);
  if (pieces > 1) observe(model, the_case, "static/valve0.a", 0);
  if (pieces > 2) observe(model, the_case, "delivery/extend0", 1);
  return the_case;
}

// A case whose evidence is on observations that no other benchmark has.
Case case_apart(const Model& model) {
  Case the_case;
  observe(model, the_case, "static/valve0.b", 0);
  observe(model, the_case, "delivery/retract0", 0);
  return the_case;
}

const Model& model_of(const State& state) {
  return machine_model(static_cast<int>(state.range(0)), static_cast<int>(state.range(1)));
}

void count_size(State& state, const Model& model) {
  state.counters["modes"] = static_cast<double>(model.analysis().modes.size());
  state.counters["observations"] = static_cast<double>(model.analysis().observations.size());
}

// All posteriors and every test ranked, of a case whose pattern of evidence was met before.
void assess(State& state) {
  const Model& model = model_of(state);
  const Case the_case = case_with(model, state.range(2));
  ::benchmark::DoNotOptimize(faultodds::diagnosis::assess(model, the_case));
  for (auto _ : state) {
    ::benchmark::DoNotOptimize(faultodds::diagnosis::assess(model, the_case));
  }
  count_size(state, model);
}

// The same when the pattern is new to the model.
void assess_first(State& state) {
  const Model& model = model_of(state);
  const Case the_case = case_with(model, state.range(2));
  const Case apart = case_apart(model);
  for (auto _ : state) {
    state.PauseTiming();
    auto fresh = std::make_unique<Model>(
        Model::compile(model.analysis(), model.wear_out(), model.exact_prior()));
    ::benchmark::DoNotOptimize(faultodds::diagnosis::assess(*fresh, apart));
    state.ResumeTiming();
    ::benchmark::DoNotOptimize(faultodds::diagnosis::assess(*fresh, the_case));
    state.PauseTiming();
    fresh.reset();
    state.ResumeTiming();
  }
  count_size(state, model);
}

// 4,096 work orders of one circuit on one thread. Each has evidence on 1 to 4 observations drawn
// at random, all orders together on `patterns` different lists of observations; what they saw there
// is drawn too, and with it which of them are the complaint.
void assess_many(State& state) {
  constexpr std::size_t kCases = 4096;
  const Model& model = machine_model(1);
  const auto patterns = static_cast<std::size_t>(state.range(0));
  std::mt19937 chance(20240501);
  const auto below = [&](std::size_t n) { return static_cast<std::uint32_t>(chance() % n); };
  std::set<std::vector<std::uint32_t>> different;
  while (different.size() < patterns) {
    std::set<std::uint32_t> pattern;
    for (std::size_t left = 1 + below(4); left > 0; --left) {
      pattern.insert(below(model.analysis().observations.size()));
    }
    different.emplace(pattern.begin(), pattern.end());
  }
  const std::vector<std::vector<std::uint32_t>> lists(different.begin(), different.end());
  std::vector<Case> cases(kCases);
  std::vector<const Case*> pointers;
  for (std::size_t i = 0; i < kCases; ++i) {
    for (std::uint32_t o : lists[i % patterns]) {
      faultodds::diagnosis::Evidence evidence;
      evidence.observation = o;
      evidence.outcome = below(model.analysis().observations[o].outcomes.size());
      cases[i].evidence.push_back(std::move(evidence));
    }
    pointers.push_back(&cases[i]);
  }
  std::vector<Assessed> results(kCases);
  faultodds::diagnosis::assess_many(model, pointers, results, 1);
  for (auto _ : state) {
    faultodds::diagnosis::assess_many(model, pointers, results, 1);
    ::benchmark::ClobberMemory();
  }
  std::size_t answered = 0;
  for (const Assessed& result : results) answered += result.error ? 0 : 1;
  state.SetItemsProcessed(state.iterations() * static_cast<long>(kCases));
  state.counters["answered"] = static_cast<double>(answered);
}

// From the document to a model ready to assess.
void load(State& state) {
  const std::string document = faultodds::benchmark::machine(static_cast<int>(state.range(0)),
                                                             static_cast<int>(state.range(1)));
  for (auto _ : state) ::benchmark::DoNotOptimize(faultodds::benchmark::load_model(document));
  const Model& model = model_of(state);
  count_size(state, model);
  if (!model.program().has_tree()) return;
  state.counters["cliques"] = static_cast<double>(model.program().tree().cliques());
  state.counters["tree_bytes"] = static_cast<double>(model.program().tree().bytes());
}

// Of that, the inference program alone.
void compile(State& state) {
  const Model& model = machine_model(static_cast<int>(state.range(0)));
  for (auto _ : state) {
    ::benchmark::DoNotOptimize(
        Model::compile(model.analysis(), model.wear_out(), model.exact_prior()));
  }
  count_size(state, model);
}

double allocated() {
  const struct mallinfo2 info = mallinfo2();
  return static_cast<double>(info.uordblks) + static_cast<double>(info.hblkhd);
}

double resident() {
  double kilobytes = 0;
  if (std::FILE* status = std::fopen("/proc/self/status", "r")) {
    std::array<char, 256> line{};
    while (std::fgets(line.data(), static_cast<int>(line.size()), status)) {
      if (std::sscanf(line.data(), "VmRSS: %lf kB", &kilobytes) == 1) break;
    }
    std::fclose(status);
  }
  return kilobytes * 1024;
}

// Memory of 1,000 compiled sections in one process, each of which has assessed `range(0)` patterns
// of evidence; of 10,000 by multiplication.
void memory(State& state) {
  const auto count = static_cast<std::size_t>(state.range(0));
  const std::string document = faultodds::benchmark::section();
  for (auto _ : state) {
    malloc_trim(0);
    const double allocated_before = allocated(), resident_before = resident();
    std::vector<Model> models;
    models.reserve(count);
    for (std::size_t i = 0; i < count; ++i) {
      models.push_back(faultodds::benchmark::load_model(document));
      for (long pieces = 0; pieces < state.range(1); ++pieces) {
        ::benchmark::DoNotOptimize(
            faultodds::diagnosis::assess(models.back(), case_with(models.back(), pieces)));
      }
    }
    const double bytes = (allocated() - allocated_before) / static_cast<double>(count);
    malloc_trim(0);
    const double resident_bytes = (resident() - resident_before) / static_cast<double>(count);
    state.counters["KiB_each"] = bytes / 1024;
    state.counters["resident_KiB_each"] = resident_bytes / 1024;
    state.counters["tree_KiB"] = static_cast<double>(models[0].program().tree().bytes()) / 1024;
    state.counters["GiB_of_10000"] = 10'000 * resident_bytes / (1024.0 * 1024 * 1024);
  }
}

// Memory first, before other benchmarks leave holes in the heap.
BENCHMARK(memory)
    ->ArgNames({"circuits", "patterns"})
    ->Args({1000, 0})
    ->Args({100, 3})
    ->Iterations(1)
    ->Unit(::benchmark::kMillisecond);
BENCHMARK(assess)
    ->ArgNames({"sections", "conditions", "evidence"})
    ->ArgsProduct({{1, 4, 16, 64}, {0, 3}, {0, 1, 2, 3, 4}})
    ->Unit(::benchmark::kMicrosecond);
BENCHMARK(assess_first)
    ->ArgNames({"sections", "conditions", "evidence"})
    ->ArgsProduct({{1, 4, 16, 64}, {0, 3}, {0, 1, 2, 3, 4}})
    ->Iterations(5)
    ->Unit(::benchmark::kMicrosecond);
BENCHMARK(assess_many)
    ->ArgName("patterns")
    ->Arg(1)
    ->Arg(16)
    ->Arg(200)
    ->Unit(::benchmark::kMillisecond);
BENCHMARK(load)
    ->ArgNames({"sections", "conditions"})
    ->ArgsProduct({{1, 4, 16, 64}, {0, 3}})
    ->Unit(::benchmark::kMillisecond);
BENCHMARK(compile)
    ->ArgName("sections")
    ->Arg(1)
    ->Arg(4)
    ->Arg(16)
    ->Arg(64)
    ->Unit(::benchmark::kMillisecond);

}  // namespace

BENCHMARK_MAIN();
