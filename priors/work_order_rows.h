// One closed job as rows of a work-order file whose columns bear our own field names (records.h): a
// row for each component that was opened. What reads them back is records.h and learning.h.
#pragma once

#include <string>
#include <string_view>

#include "core/circuit/analysis.h"
#include "priors/learning.h"

namespace faultodds::priors {

// Evidence is written with its outcome or, for a reading that is a leak rate and no more, as that, and
// with `again` where the same was seen more than once; a likelihood has no place in such a file and
// is left out.
std::string work_order_header();
std::string work_order_rows(const Job& job, const circuit::Analysis& circuit,
                            std::string_view asset_class, std::string_view asset = {});

}  // namespace faultodds::priors
