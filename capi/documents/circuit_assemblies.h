// Assemblies: types that are made of components, with ports and parameters of their own. Writes a
// circuit document with them out, part by part, so that whatever comes after sees components,
// connections, fittings and functions and nothing else. Parts are called `instance.part` and their
// titles begin with those of what they are in.
#pragma once

#include <string>

#include "capi/documents/circuit_origins.h"
#include "capi/documents/json.h"

namespace faultodds::documents {

// Assemblies within assemblies; what they are written out to: components, connections, fittings,
// functions, titles and assemblies, with the values of their parameters, together. An entry that is
// made no time counts as one.
inline constexpr int kMostLevels = 8;
inline constexpr std::size_t kMostWritten = 100'000;

// A document without `assemblies`; `origins` says where in `circuit` each part of it stands. Throws
// Error(invalid_document, limit_exceeded) with a pointer into `circuit`.
std::string write_assemblies(const Json& circuit, Origins* origins);

}  // namespace faultodds::documents
