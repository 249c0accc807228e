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
// From the hypotheses of the advice, where it rests on some: given one of them what was seen of
// each observation stands for itself, and P(R_i | h) / P(L_i | h) is weighed with P(h | e).
//
// It decides nothing; advice.h does.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

// Observations contradict each other where it is likelier than not that some are wrong.
inline constexpr double kContradiction = 0.5;
// A finding that is surer is not looked at again for their sake: it would show the same.
// Working judgement.
inline constexpr double kDoubtful = 0.1;

struct Contradiction {
  std::uint32_t observation = 0;  // the most doubtful
  double wrong = 0;               // P(what was seen of it is wrong | e)
  double any_wrong = 0;           // P(some of all that was seen is | e)
};

class Hypotheses;
class LogEvidence;

// Both are worked out when they are asked for: a sum over all that was seen each, or over the
// hypotheses.
class Doubts {
 public:
  // All are kept by reference. What `hypotheses` leave out is left out.
  Doubts(const Model& model, const CaseNumbers& numbers, const Hypotheses* hypotheses = nullptr);
  ~Doubts();

  // P(some of what was seen is wrong | e), and of the i-th of `CaseNumbers::observed` that it is.
  // Throw Error(limit_exceeded) where the probability of what was seen fits no exact method.
  double any();
  double wrong(std::size_t i);

 private:
  double wrong(const CaseNumbers& right);
  // The same from hypotheses, of observations `from` to `end`.
  double wrong(const Hypotheses& hypotheses, std::size_t from, std::size_t end) const;

  const Model& model_;
  const CaseNumbers& numbers_;
  const Hypotheses* hypotheses_;
  std::unique_ptr<LogEvidence> evidence_;
  std::optional<double> all_;
};

}  // namespace faultodds::diagnosis
