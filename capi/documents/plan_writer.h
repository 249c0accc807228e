// The plan as JSON text, "faultodds-plan/1". Cautions stand before everything, and those of a test
// before the test. It computes nothing.
#pragma once

#include <string>

#include "capi/documents/case_reader.h"
#include "capi/documents/wording.h"
#include "core/diagnosis/plan.h"

namespace faultodds::documents {

// `plan` is null where there is no complaint.
std::string write_plan(const Words& words, const diagnosis::Plan* plan, const Asset& asset);

// "depth", "time" or "limit".
const char* cut_name(diagnosis::PlanNode::Cut cut);

}  // namespace faultodds::documents
