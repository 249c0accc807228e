// What each test would tell of every suspect taken by itself: a cheaper measure than the
// assessment's cause_bits, for replaying thousands of jobs. It does not rank (backtest.h does).
//
//   sum over the modes m that can cause the complaint of  I(grade of m; outcome | evidence)
//
// Exact, from propagations on the model's own network, none of which depends on the pattern of
// evidence. cause_bits looks at the suspects jointly, and every new pattern of evidence is another
// computation, larger with each test known: replaying the refuse truck's orders took 5 s of
// processor time a job by cause_bits and 0.2 s by these.
#pragma once

#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"

namespace faultodds::priors {

// In bits, by observation; 0 where there is evidence. The suspects are the modes in a set of an
// abnormal symptom, and all modes where there is none. Throws Error(conflicting_evidence).
std::vector<double> suspect_bits(const diagnosis::Model& model,
                                 const diagnosis::CaseNumbers& numbers);

}  // namespace faultodds::priors
