// The member `advice` of an assessment. Tests are named by id; their cautions stand in the
// assessment's `tests`, and here where a test is not among those.
#pragma once

#include "capi/documents/json_text.h"
#include "capi/documents/wording.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/before_service.h"

namespace faultodds::documents {

void write_before_service(JsonText& out, const circuit::Analysis& analysis,
                          const diagnosis::BeforeService& service);

void write_advice(JsonText& out, const Words& words, const diagnosis::Advice& advice);

// The same without what only an expert reads, and not closed: `verify` and the end of the object
// follow.
void write_advice_in_short(JsonText& out, const Words& words, const diagnosis::Advice& advice);

// Values and members of it that the plan has, too.
void write_repair(JsonText& out, const circuit::Analysis& analysis,
                  const diagnosis::RepairPlan& plan);
void write_verify(JsonText& out, const Words& words,
                  const std::vector<diagnosis::Verification>& list);
void write_bring_list(JsonText& out, const diagnosis::BringList& bring);

}  // namespace faultodds::documents
