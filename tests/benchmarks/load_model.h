// A circuit document to a compiled model, as the C interface does it, for programs that look at the
// engine from inside.
#pragma once

#include <string>

#include "core/circuit/analysis.h"
#include "core/diagnosis/model.h"

namespace faultodds::benchmark {

circuit::Analysis analyse(const std::string& circuit_document);

diagnosis::Pack shipped_pack();

diagnosis::Model load_model(const std::string& circuit_document);

}  // namespace faultodds::benchmark
