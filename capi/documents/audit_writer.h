// The audit of a learned pack as part of "faultodds-records-summary/1": per failure mode what was
// believed before and after, and the work orders that say something of it. Which those are is
// priors/audit.h's.
#pragma once

#include "capi/documents/json_text.h"
#include "priors/audit.h"
#include "priors/pack.h"

namespace faultodds::documents {

// Writes one object.
void write_audit(JsonText& out, const priors::Audit& audit, const priors::PriorPack& before,
                 const priors::PriorPack& after);

}  // namespace faultodds::documents
