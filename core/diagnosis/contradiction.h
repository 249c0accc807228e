// Whether the observations of a case contradict each other, and which of them is most doubtful.
//
// What was seen of an observation is *wrong* where the machine shows another effect there, by a
// part or by a cause that the circuit does not describe: a class of effect of which it is eight
// times less probable than of the one that it speaks for. Somebody read it wrong, or at the wrong
// port. With L_i what was seen of observation i, a likelihood over classes, and R_i the same with
// those classes at 0,
//
//   P(i is wrong | e)    = 1 - P(all L_j, but R_i for L_i) / P(all L_j)
//   P(some is wrong | e) = 1 - P(all R_j) / P(all L_j)
//
// It decides nothing; advice.h does.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

// Observations contradict each other where it is likelier than not that some are wrong.
inline constexpr double kContradiction = 0.5;

struct Contradiction {
  std::uint32_t observation = 0;  // the most doubtful
  double wrong = 0;               // P(what was seen of it is wrong | e)
  double any_wrong = 0;           // P(some of all that was seen is | e)
};

struct Doubts {
  std::vector<double> wrong;  // of `CaseNumbers::observed`, in its order
  double any = 0;
};
// Nothing where the probability of what was seen fits no method that is exact.
std::optional<Doubts> doubts(const Model& model, const CaseNumbers& numbers);

}  // namespace faultodds::diagnosis
