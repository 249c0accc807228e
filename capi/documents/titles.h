// `titles` of a circuit document: what its parts, failure modes, observations and lines are called
// in other languages than the one it is written in. They reach people through the model's
// description; the engine knows one title of each.
#pragma once

#include <map>
#include <string>

#include "capi/documents/json.h"
#include "capi/documents/json_text.h"
#include "core/circuit/analysis.h"
#include "core/circuit/description.h"

namespace faultodds::documents {

using Titles = std::map<std::string, std::map<std::string, std::string>>;  // language, id

// Throws Error(invalid_document) where one names what the circuit has not.
Titles read_titles(const Json& circuit, const circuit::Description& description,
                   const circuit::Analysis& analysis);

// The member `titles`, if there are any.
void write_titles(JsonText& out, const Titles& titles);

}  // namespace faultodds::documents
