// What inference leaves of a case, by whichever method holds the circuit: tables, products, a
// junction tree, hypotheses, bounded conditioning. What is told of it, and in which order, is
// assessment.cpp's.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/cause.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/network/junction_tree.h"

namespace faultodds::diagnosis {

// What inference leaves of a case.
struct Inferred {
  double log_evidence = 0;      // of the likelihoods as scaled
  double missed = 0;            // see network/conditioning.h; 0 when exact
  double log_evidence_off = 0;  // at most, either way
  const char* method = "exact";
  std::vector<Grades> modes, observations;
  std::optional<CauseAnswer> cause;  // of the complaint, where it came along
  // Of the other abnormal symptoms, where they did.
  std::optional<std::vector<std::pair<std::uint32_t, CauseAnswer>>> other_causes;
};

// Whether the tree of the whole circuit answers, and not what was tabulated for the evidence.
bool tree_answers(const Model& model, const Case& the_case, const CaseNumbers& numbers);

void read(const network::Posterior& posterior, const Model& model, Inferred& into);

// Where nothing holds the circuit, or P(e) is 0, it says so by log_evidence or throws.
Inferred infer(const Model& model, const Case& the_case, const CaseNumbers& numbers);

// Where something of it takes more memory than there is: from the most probable hypotheses, or else
// by bounded conditioning. Throws Error(limit_exceeded) where that is wrong by too much.
Inferred infer_approximately(const Model& model, const Case& the_case, const CaseNumbers& numbers);

// Throws Error(conflicting_evidence) that names a smallest set of observations that cannot all be
// true.
[[noreturn]] void refuse_conflict(const Model& model, const CaseNumbers& numbers);

}  // namespace faultodds::diagnosis
