// The answer: posterior of every failure mode and every test worth making next, ranked.
#pragma once

#include <array>
#include <boost/container/small_vector.hpp>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/preparation.h"
#include "core/error.h"
#include "core/message.h"

namespace faultodds::diagnosis {

struct FaultAssessment {
  std::uint32_t mode = 0;          // index into Analysis::modes
  std::array<double, 3> grades{};  // P(grade | evidence)
  double prior_odds = 0;           // of not sound, before the evidence
  double posterior_odds = 0;       // infinite when sound is impossible
  double decibans = 0;             // 10 log10(posterior odds / prior odds)
};

struct TestAssessment {
  std::uint32_t observation = 0;  // index into Analysis::observations
  // Per outcome; few enough to lie inside.
  boost::container::small_vector<double, 4> probability;
  std::array<double, 3> grades{};  // P(S | evidence)
  double information_bits = 0;     // I(F; O | e); 0 where the case does not ask for it
  double cause_bits = 0;           // I(cause of the complaint; O | e); 0 without a complaint
  double minutes = 0;              // performing it and the setup still to do
  double bits_per_minute = 0;      // of the bits that rank it
  bool again = false;              // made before, and looked at once more
  // Filled by explain():
  std::vector<std::uint32_t> setup;      // indices of the circuit's setup steps still to do
  std::vector<circuit::SetupStep> work;  // what the case says is to be done before them
  std::vector<std::uint32_t> suspects;   // modes it can show, most probable first
  Messages because;                      // what it would tell apart
};

// Components that cause an observation together, ascending.
struct Cause {
  std::vector<std::uint32_t> components;
  double probability = 0;
};

// Why an observation is as it is. The shares sum to 1.
struct CauseAssessment {
  std::uint32_t observation = 0;  // index into Analysis::observations
  std::vector<Cause> causes;      // most probable first
  double by_design = 0;           // what leaks although all is sound
  double elsewhere = 0;           // a cause that the circuit does not model
  double nothing = 0;             // a false report
};

struct Assessment {
  double log_evidence = 0;
  std::vector<CauseAssessment> causes;    // of the complaint, then of the other abnormal symptoms
  std::vector<FaultAssessment> faults;    // most probable first
  std::vector<TestAssessment> tests;      // best first
  std::vector<std::uint32_t> complaint;   // abnormal symptoms, indices into observations
  std::vector<NotPossible> not_possible;  // as the case says
  std::vector<NotProposed> not_proposed;  // for want of people or time
  Messages warnings;
  std::string method = "exact";
  double error_bound = 0;  // of any probability, bits or log_evidence; 0 when exact
};

// Throws Error (invalid_case, conflicting_evidence, limit_exceeded). `error.pointer()` is into the
// case document. Where the case has repairs, the assessment is of the machine after them
// (renewal.h).
Assessment assess(const Model& model, const Case& the_case);

// An assessment, explained, as a model keeps it: an answer is shown, drawn and noted by a question
// each.
struct KeptAssessment {
  Assessment assessment;
  std::size_t bytes() const;  // about
};

// assess() and explain(), or what they said of the same `question`, which has to tell all of the
// case, byte for byte.
std::shared_ptr<const KeptAssessment> assess_once(const Model& model, const Case& the_case,
                                                  std::string_view question);

// One of the two.
struct Assessed {
  Assessment assessment;
  std::optional<Error> error;
};

// Assesses many cases of one model, several side by side where they have evidence on the same
// observations; each result is what assess() gives, to the bit. `results` has as many places as
// `cases`. Works on `threads` threads, the caller's among them. Throws only what concerns the whole
// (std::bad_alloc, std::system_error).
void assess_many(const Model& model, std::span<const Case* const> cases,
                 std::span<Assessed> results, std::size_t threads = 1);

// Adds the parts of an assessment that are read by people.
void explain(const Model& model, const Case& the_case, Assessment& assessment);

// Fills in the steps that are left to do before a test.
void say_setup(const Preparation& preparation, TestAssessment& test);

// Modes that no observation of the circuit can tell apart, groups of two and more.
std::vector<std::vector<std::uint32_t>> ambiguity_groups(const circuit::Analysis& analysis);

}  // namespace faultodds::diagnosis
