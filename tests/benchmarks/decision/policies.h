// Ways of finding and curing a fault, told apart by what they do next in a case. All ask the public
// engine (assess, advise) or the dynamic program, and remember what they were told: the cases of a
// benchmark repeat. They see outcomes only, never a machine.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"

namespace faultodds::benchmark {

// Answers of the engine by case.
class Engine {
 public:
  explicit Engine(const diagnosis::Model& model) : model_(model) {}

  const diagnosis::Advice& advice(const diagnosis::Case& the_case);
  const diagnosis::Assessment& assessment(const diagnosis::Case& the_case);
  const diagnosis::Model& model() const { return model_; }

 private:
  const diagnosis::Model& model_;
  std::map<std::string, diagnosis::Advice> advice_;
  std::map<std::string, diagnosis::Assessment> assessments_;
};

std::string key_of(const diagnosis::Case& the_case);

// The case once a test of it was made; its setup is done then.
diagnosis::Case after(const diagnosis::Model& model, diagnosis::Case the_case, std::uint32_t test,
                      std::uint32_t outcome);

struct Policy {
  std::string name;
  // The test to make next, or none: repair now.
  std::function<std::optional<std::uint32_t>(const diagnosis::Case&)> test;
  // Components to replace.
  std::function<std::vector<std::uint32_t>(const diagnosis::Case&)> repair;
  bool exactly = true;  // it always does the same in a case, and then repairs as advised
  bool on_small_only = false;
};

// Random, cheapest, most bits per minute: any of these tests while the advice says that some test
// pays, then its repair; so they differ in the order of tests alone. Most likely part first makes
// no test. "Energised as soon": without the rule that locked-out tests come first, to see what it
// costs. "With checks": with the second-fault checks before anything is replaced.
std::vector<Policy> policies(Engine& engine, std::uint64_t seed);

}  // namespace faultodds::benchmark
