// The member `advice` of an assessment. Tests are named by id; their cautions stand in the
// assessment's `tests`, and here where a test is not among those.
#pragma once

#include "capi/documents/json_text.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/advice.h"

namespace faultodds::documents {

void write_advice(JsonText& out, const circuit::Analysis& analysis,
                  const diagnosis::Advice& advice);

}  // namespace faultodds::documents
