// Invented machines, complaints and closed work orders with known truth, from a seed: for demo
// records, and for showing that learning recovers what it should. The same seed gives the same
// records on every platform. Nothing in it is drawn from any fleet. What writes them down is
// work_order_rows.h.
//
// How a job comes about: a machine of the truth's grades is used until its operator looks at one of
// its symptoms and sees it abnormal. A technician who knows the circuit but no odds makes some of
// the tests that could show it, in an order of habit, then opens components, the most suspect by
// those tests first, until one is found that could have caused the complaint. All that is seen is
// recorded; some components are replaced whole, and then only that they were not sound is.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "core/circuit/analysis.h"
#include "priors/learning.h"
#include "priors/work_order_rows.h"

namespace faultodds::priors {

// Numbers from a seed (SplitMix64), the same everywhere.
class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  std::uint64_t bits();
  double uniform();                      // in [0, 1)
  std::size_t below(std::size_t count);  // 0 .. count - 1
  bool chance(double probability) { return uniform() < probability; }

 private:
  std::uint64_t state_;
};

struct GeneratorOptions {
  std::uint64_t seed = 1;
  double ambiguous = 0.4;  // share of components with several modes that are replaced whole
  int fewest_tests = 1, most_tests = 4;
  bool complaint_only = true;  // else a job exists whatever the symptom says
  Date start{18993};           // 2022-01-01; a job opens every day or so after it
};

class Generator {
 public:
  // `truth` replaces the priors of the circuit's modes by type and mode; the circuit is copied.
  Generator(const circuit::Analysis& circuit,
            const std::map<ModeName, std::array<double, 3>>& truth,
            const GeneratorOptions& options);

  Job next();
  const circuit::Analysis& circuit() const { return circuit_; }
  // Grades of the modes of the machine behind the last job.
  const std::vector<int>& grades() const { return grades_; }

 private:
  void draw_machine();
  std::uint32_t outcome_of(std::uint32_t observation);
  void open(std::size_t component, Job& job);
  std::size_t draw(const std::vector<double>& probabilities);
  std::size_t draw(const std::array<double, 3>& probabilities);

  circuit::Analysis circuit_;
  GeneratorOptions options_;
  Random random_;
  std::vector<std::uint32_t> symptoms_;
  std::vector<std::vector<std::uint32_t>> modes_of_;  // by component
  std::vector<std::vector<std::uint32_t>> shown_by_;  // components, by observation
  std::vector<int> grades_;
  std::uint64_t made_ = 0;
};

}  // namespace faultodds::priors
