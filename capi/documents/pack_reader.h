// The prior pack document "faultodds-priors/1" to a diagnosis::Pack. How an entry was estimated
// (posterior, counts, exposure, interval, method, source, date) is checked for shape and carried no
// further: the engine needs the distributions only. It estimates nothing (priors/).
#pragma once

#include "capi/documents/json.h"
#include "core/diagnosis/model.h"

namespace faultodds::documents {

// Throws Error(invalid_document, or invalid_priors where a well-formed entry makes no sense) with a
// pointer into the pack.
diagnosis::Pack read_pack(const Json& document);

}  // namespace faultodds::documents
