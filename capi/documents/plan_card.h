// The plan as a card to print: one page of A4 that needs nothing else, in which everything that
// came from a document is escaped. The cautions of all tests on it stand before everything else;
// then the tree as SVG, the tests with their limits and blanks to fill in, and what to bring. Of a
// plan too large for the page the most probable branches are drawn, and the card says how probable
// the rest is. It computes nothing but its layout.
#pragma once

#include <string>

#include "capi/documents/json.h"
#include "capi/documents/wording.h"
#include "core/diagnosis/plan.h"

namespace faultodds::documents {

// `case_document` has been read before, so it is well-formed; `plan` is null where there is no
// complaint.
std::string write_plan_card(const Words& words, const Json& case_document,
                            const diagnosis::Plan* plan);

}  // namespace faultodds::documents
