// The sums of cure.h and after_repair.h over hypotheses (hypotheses.h), for circuits that no
// junction tree holds. It chooses nothing.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
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

  // What a decision compares sets of repair items by (cured_shares.h). P(h, `left` shows nothing
  // and no background of the complaint | e); by S of what is complained of, one observation after
  // the other.
  class Left;
  double cured(std::size_t h, const Left& left) const;
  Grades cured(std::size_t h, const Left& left, std::size_t complained) const;
  // Hypotheses in which set j of the complaint may show anything, ascending.
  std::span<const std::uint32_t> shown_in(std::size_t j) const { return shown_in_[j]; }
  const std::vector<std::uint32_t>& complaint() const { return complained_of_; }
  // Its place there; nothing where it is not complained of.
  std::optional<std::size_t> complained(std::uint32_t o) const;
  std::vector<Grades> no_grades() const { return std::vector<Grades>(place_.size(), Grades{}); }
  // By hypothesis, of an observation that is not complained of: the sum over s of weight[s] x
  // P(S = s | h, what was seen); 0 where it is not known.
  void weigh(std::uint32_t o, const Grades& weight, std::vector<double>& into) const;
  // Adds, for each observation that is not complained of, factor x P(S = s | h, what was seen).
  class Grader {
   public:
    explicit Grader(const CureSums& sums);
    void add(std::size_t h, double factor);
    // What was added, by observation of the circuit.
    void read(std::vector<Grades>& into) const;

   private:
    const CureSums* of_;
    std::vector<double> sums_;  // of all factors; plain observation, t; seen observation, s
  };

  // P(a set of the complaint shows anything | e), of those chosen together.
  double shows(const std::vector<bool>& chosen) const;
  double not_sound(std::uint32_t mode) const;
  // P(all these modes are sound | e).
  double all_sound(std::span<const std::uint32_t> modes) const;

 private:
  struct Complained {
    std::uint32_t observation = 0;
    std::size_t sets = 0, first_set = 0;       // of the complaint's
    Grades whatever{1, 1, 1}, cured{1, 1, 1};  // likelihoods over S
    std::vector<double> likelihood;            // by hypothesis: of what was observed
    // By set, what it shows at most in most hypotheses; and by hypothesis, from first[h] on, the
    // sets of which it is another, over that.
    std::vector<std::array<double, 2>> usual;
    struct Shown {
      std::uint32_t set = 0;  // of the complaint's
      double most[2] = {1, 1};
    };
    std::vector<std::size_t> first;
    std::vector<Shown> shown;
  };
  // P(those `left` show nothing | h), and P(the others show at most t | h).
  struct Split {
    double none = 1, most0 = 1, most1 = 1;
  };
  // The former of what is usual, the latter with what is not.
  using Sets = std::vector<std::uint8_t>;  // of the complaint: whether each is meant
  static Split usual(const Complained& of, const Sets* left);
  static Split split(const Complained& of, std::size_t h, const Sets* left, Split by);
  enum class Background { any, none };  // of what is complained of
  // By hypothesis: P(h, the sets `left` show nothing, the background is as said, what is supposed |
  // e); in `shown`, by observation complained of, P(its S = s | all this) by s, hypothesis.
  std::vector<double> factors(const Sets* left, Background background,
                              std::span<const Supposition> supposed,
                              std::vector<std::vector<double>>* shown) const;

  const Model& model_;
  const CaseNumbers& numbers_;
  Hypotheses hypotheses_;
  std::vector<std::uint32_t> complained_of_;
  std::vector<Complained> complaint_;
  std::vector<std::uint32_t> plain_;  // known observations that are not complained of
  std::vector<std::size_t> place_;    // by observation: in `plain_`
  std::vector<std::vector<std::uint32_t>> shown_in_;  // by set of the complaint: hypotheses
  std::vector<double> at_most_;  // hypothesis, plain observation, t: P(S <= t | h)
  // Plain observations that were seen, as places in `plain_`; hypothesis, each of them, s: P(S = s
  // | h, what was seen).
  std::vector<std::size_t> plain_seen_;
  std::vector<double> shares_;
};

// What a repair leaves, with what is the same for all hypotheses.
class CureSums::Left {
 public:
  Left(const CureSums& sums, const std::vector<bool>& left);
  bool has(std::size_t set) const { return sets_[set] != 0; }

 private:
  friend class CureSums;
  Sets sets_;
  std::vector<Split> usual_;  // by what is complained of
};

}  // namespace faultodds::diagnosis
