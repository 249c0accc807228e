// The C ABI of faultodds.h for open cases and their results, over engine/open_case.h. What the
// functions promise is written in the header.
#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "capi/boundary.h"
#include "capi/faultodds.h"
#include "capi/handles.h"
#include "core/diagnosis/assessment.h"
#include "core/error.h"

namespace diagnosis = faultodds::diagnosis;
namespace engine = faultodds::engine;
using namespace faultodds::boundary;
using faultodds::Error;

namespace {

const diagnosis::Assessment& assessment_of(const faultodds_case* the_case) {
  need(the_case, "the_case");
  if (!the_case->open.assessment()) {
    refuse(
        "the case has no assessment; expected a call of faultodds_case_assess after the last "
        "change of the case");
  }
  return *the_case->open.assessment();
}

const diagnosis::CauseAssessment& causes_of(const faultodds_case* the_case, std::uint32_t rank) {
  const auto& causes = assessment_of(the_case).causes;
  if (rank >= causes.size()) {
    refuse("rank is " + std::to_string(rank) + "; expected an index below " +
           std::to_string(causes.size()));
  }
  return causes[rank];
}

std::size_t component_count(const diagnosis::CauseAssessment& of) {
  std::size_t count = 0;
  for (const diagnosis::Cause& cause : of.causes) count += cause.components.size();
  return count;
}

void check_capacity(std::size_t capacity, std::size_t needed, const char* name, const char* what) {
  if (capacity >= needed) return;
  refuse(std::string(name) + " is " + std::to_string(capacity) + "; expected at least " +
         std::to_string(needed) + ", " + what);
}

}  // namespace

extern "C" {

// ---- cases
// ---------------------------------------------------------------------------------------

faultodds_status faultodds_case_open(const faultodds_model* model, faultodds_case** new_case,
                                     faultodds_error** error) {
  clear(new_case);
  return guarded(error, [&] {
    need(model, "model");
    need(new_case, "new_case");
    *new_case = new faultodds_case{engine::OpenCase(model->loaded)};
  });
}

void faultodds_case_free(faultodds_case* the_case) { delete the_case; }

faultodds_status faultodds_case_observe_outcome(faultodds_case* the_case, uint32_t observation,
                                                uint32_t outcome, faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    the_case->open.observe_outcome(observation, outcome);
  });
}

faultodds_status faultodds_case_observe_likelihood(faultodds_case* the_case, uint32_t observation,
                                                   const double likelihood[3],
                                                   faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    need(likelihood, "likelihood");
    the_case->open.observe_likelihood(observation, {likelihood[0], likelihood[1], likelihood[2]});
  });
}

faultodds_status faultodds_case_observe_json(faultodds_case* the_case, const char* entry,
                                             size_t entry_len,
                                             const faultodds_call_options* options,
                                             faultodds_error** error) {
  return guarded(options, error, [&] {
    need(the_case, "the_case");
    the_case->open.observe(text_argument(entry, entry_len, "entry"));
  });
}

faultodds_status faultodds_case_retract(faultodds_case* the_case, uint32_t observation,
                                        faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    the_case->open.retract(observation);
  });
}

faultodds_status faultodds_case_setup_done(faultodds_case* the_case, const char* step,
                                           size_t step_len, faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    the_case->open.setup_done(std::string(text_argument(step, step_len, "step")));
  });
}

faultodds_status faultodds_case_assess(faultodds_case* the_case,
                                       const faultodds_call_options* options,
                                       faultodds_error** error) {
  return guarded(options, error, [&] {
    need(the_case, "the_case");
    the_case->open.assess();
  });
}

faultodds_status faultodds_cases_assess(faultodds_case* const* cases, size_t count,
                                        uint32_t threads, const faultodds_call_options* options,
                                        faultodds_status* statuses, faultodds_error** error) {
  if (statuses != nullptr) std::fill_n(statuses, count, FAULTODDS_INTERNAL);
  std::vector<std::optional<Error>> wrong;
  const faultodds_status whole = guarded(options, error, [&] {
    if (count == 0) return;
    need(cases, "cases");
    if (count > static_cast<size_t>(PTRDIFF_MAX) / sizeof(faultodds_case*)) {
      refuse("count is " + std::to_string(count) + "; expected the number of cases");
    }
    std::vector<engine::OpenCase*> open;
    for (size_t i = 0; i < count; ++i) {
      need(cases[i], ("cases[" + std::to_string(i) + "]").c_str());
      open.push_back(&cases[i]->open);
    }
    wrong = engine::assess_together(open, threads);
  });
  if (whole != FAULTODDS_OK) {
    if (statuses != nullptr) std::fill_n(statuses, count, whole);
    return whole;
  }
  faultodds_status first = FAULTODDS_OK;
  for (size_t i = 0; i < count; ++i) {
    const auto status =
        wrong[i] ? static_cast<faultodds_status>(wrong[i]->code()) : faultodds_status{FAULTODDS_OK};
    if (statuses != nullptr) statuses[i] = status;
    if (status == FAULTODDS_OK || first != FAULTODDS_OK) continue;
    first = guarded(error, [&] {
      throw Error(wrong[i]->code(), wrong[i]->what(),
                  "/cases/" + std::to_string(i) + wrong[i]->pointer());
    });
  }
  return first;
}

// ---- results
// -------------------------------------------------------------------------------------

faultodds_status faultodds_case_read_summary(const faultodds_case* the_case,
                                             faultodds_case_summary* summary,
                                             faultodds_error** error) {
  return guarded(error, [&] {
    need(summary, "summary");
    clear_struct(summary, "summary");
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    summary->method = assessment.method.c_str();
    summary->error_bound = assessment.error_bound;
    summary->log_evidence = assessment.log_evidence;
    summary->cause_count = static_cast<uint32_t>(assessment.causes.size());
    summary->test_count = static_cast<uint32_t>(assessment.tests.size());
  });
}

faultodds_status faultodds_case_posteriors(const faultodds_case* the_case, double* grades,
                                           size_t capacity, size_t* count,
                                           faultodds_error** error) {
  clear(count);
  return guarded(error, [&] {
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    need(grades, "grades");
    need(count, "count");
    const std::size_t needed = 3 * the_case->open.model().model.analysis().modes.size();
    check_capacity(capacity, needed, "capacity", "3 per failure mode");
    for (const diagnosis::FaultAssessment& fault : assessment.faults) {
      for (std::size_t grade = 0; grade < 3; ++grade) {
        grades[3 * std::size_t{fault.mode} + grade] = fault.grades[grade];
      }
    }
    *count = needed;
  });
}

faultodds_status faultodds_case_causes(const faultodds_case* the_case, uint32_t rank,
                                       faultodds_causes* causes, faultodds_error** error) {
  return guarded(error, [&] {
    need(causes, "causes");
    clear_struct(causes, "causes");
    const diagnosis::CauseAssessment& from = causes_of(the_case, rank);
    causes->observation = from.observation;
    causes->share_count = static_cast<uint32_t>(from.causes.size());
    causes->component_count = component_count(from);
    causes->by_design = from.by_design;
    causes->elsewhere = from.elsewhere;
    causes->nothing = from.nothing;
  });
}

faultodds_status faultodds_case_shares(const faultodds_case* the_case, uint32_t rank,
                                       double* probabilities, uint32_t* ends, size_t capacity,
                                       uint32_t* components, size_t component_capacity,
                                       faultodds_error** error) {
  return guarded(error, [&] {
    const diagnosis::CauseAssessment& from = causes_of(the_case, rank);
    if (from.causes.empty()) return;
    need(probabilities, "probabilities");
    need(ends, "ends");
    need(components, "components");
    check_capacity(capacity, from.causes.size(), "capacity", "one per share");
    check_capacity(component_capacity, component_count(from), "component_capacity",
                   "the components of all shares");
    std::uint32_t* end = components;
    for (std::size_t i = 0; i < from.causes.size(); ++i) {
      const diagnosis::Cause& cause = from.causes[i];
      probabilities[i] = cause.probability;
      end = std::copy(cause.components.begin(), cause.components.end(), end);
      ends[i] = static_cast<uint32_t>(end - components);
    }
  });
}

faultodds_status faultodds_case_test(const faultodds_case* the_case, uint32_t rank,
                                     faultodds_ranked_test* test, faultodds_error** error) {
  return guarded(error, [&] {
    need(test, "test");
    clear_struct(test, "test");
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    if (rank >= assessment.tests.size()) {
      refuse("rank is " + std::to_string(rank) + "; expected an index below " +
             std::to_string(assessment.tests.size()));
    }
    const diagnosis::TestAssessment& from = assessment.tests[rank];
    test->observation = from.observation;
    test->energised =
        the_case->open.model().model.analysis().observations[from.observation].energised ? 1 : 0;
    test->information_bits = from.information_bits;
    test->cause_bits = from.cause_bits;
    test->minutes = from.minutes;
    test->bits_per_minute = from.bits_per_minute;
  });
}

faultodds_status faultodds_case_answer_json(const faultodds_case* the_case,
                                            const faultodds_call_options* options, char** answer,
                                            faultodds_error** error) {
  clear(answer);
  return guarded(options, error, [&] {
    assessment_of(the_case);
    need(answer, "answer");
    *answer = copy_text(the_case->open.answer());
  });
}

}  // extern "C"
