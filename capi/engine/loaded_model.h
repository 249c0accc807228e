// A model as a program holds it: a circuit document and a prior pack, compiled, and what is needed
// to say how. Immutable and shared between threads; every open case keeps its model alive. C++
// programs use this floor (loaded_model.h, questions.h, open_case.h) as the C layer does, which
// adds nothing to it but pointers, lengths and status codes. The mathematics is in
// core/diagnosis/model.h.
#pragma once

#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "capi/documents/titles.h"
#include "core/circuit/analysis.h"
#include "core/circuit/description.h"
#include "core/diagnosis/model.h"

namespace faultodds::engine {

struct LoadedModel {
  diagnosis::Model model;
  std::string asset_class;             // of the pack's entries that were used; empty: none
  std::set<std::string> pack_classes;  // asset classes that the prior pack distinguishes
  documents::Titles titles;            // in other languages
  // In order, as the analysis is: for what is drawn and said of functions.
  circuit::Description description;
};

using SharedModel = std::shared_ptr<const LoadedModel>;

// Documents as UTF-8 JSON; none is kept.
struct Load {
  std::string_view circuit;
  std::optional<std::string_view> priors;  // none: the shipped pack
  std::string asset_class;
  diagnosis::Options options;
  circuit::Limits limits;
};

// Which document is at fault when something is thrown.
enum class At { circuit, priors, the_case };

// Reads and compiles. Throws Error: invalid_json, invalid_document, invalid_circuit,
// invalid_priors, limit_exceeded, or cancelled where a StopScope ends it; `at` then says of which
// document.
SharedModel load(const Load& what, At& at);

}  // namespace faultodds::engine
