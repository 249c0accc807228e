// The sums of cure.h and after_repair.h over hypotheses (hypotheses.h), for circuits that no
// junction tree holds. It chooses nothing.
#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/hypotheses.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

// What was or might be seen of an observation besides the case's evidence.
struct Supposition {
  std::uint32_t observation = 0;
  Grades likelihood{};
};

// What is left of the likelihood of an observation when its background shows nothing: factors by
// grade of what is observed of it, or of nothing.
Grades without_background(const circuit::Observation& observation, const ObservedGrade* seen);

// By background b: factors by S on the likelihood of what was observed of it that leave P(b, that).
std::array<Grades, 3> by_background(const circuit::Observation& observation,
                                    const ObservedGrade& seen);

// P(the larger of both) of S and a background that is not known.
Grades with_background(const circuit::Observation& observation, const Grades& grades);

// What was observed of it, if anything.
const ObservedGrade* seen_of(const CaseNumbers& numbers, std::uint32_t observation);

class CureSums {
 public:
  // `asked`: observations whose grades are wanted, besides those observed and complained of. Keeps
  // references to the model and numbers.
  CureSums(const Model& model, const CaseNumbers& numbers, std::vector<std::uint32_t> complaint,
           std::span<const std::uint32_t> asked);

  const Hypotheses& hypotheses() const { return hypotheses_; }
  bool knows(std::uint32_t o) const { return hypotheses_.knows(o); }

  struct Of {
    double probability = 0;
    std::vector<Grades> grades;  // by observation; 0 where it is not known
  };
  // `left`: by set of the complaint, one observation after the other, whether it is to show
  // nothing, and then no background either; without, whatever happens. P(that, what is supposed |
  // e) and P(that, S = s | e).
  Of sum(const std::vector<bool>* left, std::span<const Supposition> supposed, bool grades) const;

  struct After {
    Grades grades{};  // P(the larger of S and the background, after the repair | e)
    Grades cured{};   // P(that, `left` shows nothing and no background of the complaint | e)
  };
  // Of a test after a repair: `renewed` says of each of its sets whether a new part is in it, which
  // then shows nothing.
  After after(std::uint32_t test, const std::vector<bool>& renewed,
              const std::vector<bool>& left) const;

  // P(a set of the complaint shows anything | e), of those chosen together.
  double shows(const std::vector<bool>& chosen) const;
  double not_sound(std::uint32_t mode) const;
  // P(all these modes are sound | e).
  double all_sound(std::span<const std::uint32_t> modes) const;

 private:
  struct Complained {
    std::uint32_t observation = 0;
    std::size_t sets = 0;
    Grades whatever{1, 1, 1}, cured{1, 1, 1};  // likelihoods over S
    std::vector<double> at_most;               // set, t, hypothesis
    std::vector<double> likelihood;            // by hypothesis: of what was observed
  };
  enum class Background { any, none };  // of what is complained of
  // By hypothesis: P(h, the sets `left` show nothing, the background is as said, what is supposed |
  // e); in `shown`, by observation complained of, P(its S = s | all this) by s, hypothesis.
  std::vector<double> factors(const std::vector<bool>* left, Background background,
                              std::span<const Supposition> supposed,
                              std::vector<std::vector<double>>* shown) const;

  const Model& model_;
  const CaseNumbers& numbers_;
  Hypotheses hypotheses_;
  std::vector<Complained> complaint_;
  std::vector<std::uint32_t> plain_;  // known observations that are not complained of
  std::vector<std::size_t> place_;    // by observation: in `plain_`
  std::vector<double> at_most_;       // plain observation, t, hypothesis: P(S <= t | h)
  // By plain observation that was seen: grade, hypothesis: P(S = grade | hypothesis, what was
  // seen).
  std::vector<std::vector<double>> shares_;
};

}  // namespace faultodds::diagnosis
