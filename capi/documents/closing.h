// Closing a work order: what was found, put with the case that led there, as a record. As JSON it
// is for whoever keeps the order; as rows of a work-order file it is what learning reads back
// (priors/records.h). It judges nothing: whether what was found was what had been suspected is for
// a backtest to say.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "capi/documents/json.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "priors/learning.h"

namespace faultodds::documents {

struct PartUsed {
  std::uint32_t component = 0;
  std::string part;  // number or name of what was put in; may be empty
  double quantity = 1;
  std::optional<double> cost;
};

struct Closing {
  priors::Job job;  // the machine as it came in: evidence from before any repair
  std::string asset, asset_class, note;
  std::vector<PartUsed> parts;
  std::vector<diagnosis::NotPossible> not_possible;  // tests that could not be made
};

// Throws Error: of the closing document with a pointer into it, of the case document with a pointer
// that begins with "/case".
Closing read_closing(const Json& closing, const Json& case_document, const diagnosis::Model& model);

std::string write_record(const Closing& closing, const diagnosis::Model& model);

}  // namespace faultodds::documents
