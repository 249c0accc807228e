// A case in the course of which components were replaced. The model is extended in time: a replaced
// component's modes stand for the part that is in now, and a copy of them for each part that was in
// before. What was observed before a replacement
//   - and involves none of the replaced parts' modes still applies and is kept as it is;
//   - and involves some is evidence about the parts that were in then, exactly: it bears on the
//     machine of today through the modes that were not replaced.
// All inference is then the usual one, on the extended model.
//
// A new part is sound with the probability kNewPart says (working judgement: one in a hundred is
// faulty or wrongly fitted), or with its own prior's where that is better; neither hours nor
// conditions act on it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/diagnosis/assessment.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

inline constexpr circuit::GradeDistribution kNewPart{0.99, 0.007, 0.003};

// Of one case, in all its repairs together: each makes the model larger.
inline constexpr std::size_t kMostReplaced = 500;

// What of an extended model is of the machine as it is now. In a model that is not extended that is
// everything.
struct Present {
  std::size_t components = 0, modes = 0, observations = 0;
  // Of the observations after the first `observations`: which of those each was.
  std::vector<std::uint32_t> was;
  std::uint32_t original(std::uint32_t o) const {
    return o < observations ? o : was[o - observations];
  }
};
Present present_of(const Model& model);

struct PartBefore {
  std::uint32_t component = 0;       // index into the original analysis
  std::vector<std::uint32_t> modes;  // of the part that was in, indices into the extended one
};

// The circuit with the parts that were in, and with what was observed of them. What else a case
// says is not in it, so that it serves every case with these repairs and these observations before
// them.
struct RenewedCircuit {
  Model model;
  Present present;
  std::vector<PartBefore> replaced;  // in the order replaced

  std::size_t bytes() const;
};

struct Extended {
  std::shared_ptr<const RenewedCircuit> circuit;
  Case the_case;  // without repairs, on the extended model
};

// The circuit is kept with the model, and takes at most half of its memory budget. Throws
// Error(invalid_case) for unknown components and Error(limit_exceeded) for too many, with a
// pointer into the case document.
Extended extend(const Model& model, const Case& the_case);

// assess() of a case with repairs: the machine as it is now.
Assessment assess_extended(const Model& model, const Case& the_case);

}  // namespace faultodds::diagnosis
