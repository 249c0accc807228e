// A variant of a circuit, `extends` with its base inside and `overrides`, to the document that both
// stand for. Who names a base in place of having it there puts it in first: nothing is read from
// elsewhere here. Assemblies are left as they are (circuit_assemblies.h).
#pragma once

#include <string>

#include "capi/documents/circuit_origins.h"
#include "capi/documents/json.h"

namespace faultodds::documents {

// Bases within bases.
inline constexpr int kMostBases = 16;

// A document without `extends` and `overrides`; `origins` says where in `variant` each part of it
// stands. Throws Error(invalid_document, limit_exceeded) with a pointer into `variant`.
std::string write_variant(const Json& variant, Origins* origins);

}  // namespace faultodds::documents
