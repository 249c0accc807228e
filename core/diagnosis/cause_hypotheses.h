// The joint distribution of the cause of one observation and of the grade of every test, by summing
// over hypotheses (hypotheses.h): for cases that neither products nor a junction tree answer. What
// the hypotheses leave out it leaves out.
#pragma once

#include <cstdint>

#include "core/diagnosis/cause_products.h"
#include "core/diagnosis/evidence.h"
#include "core/diagnosis/hypotheses.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

// Of the focus, which has evidence; tests are all observations that the hypotheses know, and after
// them all modes. Others count as showing nothing.
CauseSums cause_sums(const Model& model, const CaseNumbers& numbers, std::uint32_t focus,
                     const Hypotheses& hypotheses);

}  // namespace faultodds::diagnosis
