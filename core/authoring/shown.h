// What of a circuit can be observed and what not: observations that there are not and why, holds
// that may not be made and why, failure modes and functions that nothing shows. It reads what
// circuit::analyse found and derives nothing by itself.
#pragma once

#include "core/authoring/finding.h"
#include "core/circuit/analysis.h"

namespace faultodds::authoring {

void check_shown(const circuit::Description& description, const circuit::Analysis& analysis,
                 const std::vector<circuit::ComponentType>& catalogue, Findings* findings);

}  // namespace faultodds::authoring
