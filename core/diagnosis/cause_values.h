// What the cause of an observation can be: the components of one of its minimal sets, `by_design`
// (the largest is a set whose modes are all sound), `elsewhere` (a cause that the circuit does not
// model is the largest) or `nothing` (the grade seen is 0: a false report). It names the values and
// which observation is the complaint; the probabilities are cause.h's.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/evidence.h"

namespace faultodds::diagnosis {

struct CauseValues {
  // Distinct, each ascending; in the order in which the sets first name them.
  std::vector<std::vector<std::uint32_t>> components;
  std::vector<std::uint32_t> of_set;        // by set of the observation: index into `components`
  std::vector<std::uint32_t> though_sound;  // sets that may be the cause while all is sound

  std::size_t by_design() const { return components.size(); }
  std::size_t elsewhere() const { return components.size() + 1; }
  std::size_t nothing() const { return components.size() + 2; }
  std::size_t size() const { return components.size() + 3; }
};
CauseValues cause_values(const circuit::Analysis& analysis, std::uint32_t observation);

// The observation whose cause is asked for. What `focus` names; else of the abnormal symptoms, or
// of the abnormal tests where there is no such symptom, the one seen first, then by id. Those
// without a time come last.
std::optional<std::uint32_t> complaint_of(const circuit::Analysis& analysis,
                                          const CaseNumbers& numbers, const Case& the_case);

}  // namespace faultodds::diagnosis
