// The joint states of failure modes and conditions that are probable in a case, one by one with
// their probabilities: what a decision sums over where no junction tree holds the circuit. Complete
// where there are few; else the most probable, found by a beam over single changes from the prior's
// most probable state, and for all others a sample (Gibbs sampling: Geman & Geman, IEEE PAMI 6
// (1984) 721), the same at every call. It decides nothing.
//
// Where not complete, states that neither what was observed nor `complaint` tells apart are one:
// what they let a set show is averaged set by set, which is exact but where one test sees such a
// mode in several sets, or conditions act on it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"

namespace faultodds::diagnosis {

// P(S = s, what was observed of it | h) by s, for the likelihoods of what was observed and
// P(S <= 0 | h), P(S <= 1 | h); their sum; and P(S = s | h, what was observed of it), which is 0
// where that is impossible.
inline Grades seen_as(const Grades& likelihood, double most0, double most1) {
  return {likelihood[0] * most0, likelihood[1] * (most1 - most0), likelihood[2] * (1 - most1)};
}
inline double weighed(const Grades& likelihood, double most0, double most1) {
  const Grades joint = seen_as(likelihood, most0, most1);
  return joint[0] + joint[1] + joint[2];
}
inline Grades given_seen(const Grades& likelihood, double most0, double most1) {
  const Grades joint = seen_as(likelihood, most0, most1);
  const double all = joint[0] + joint[1] + joint[2];
  const double scale = all > 0 ? 1 / all : 0;
  return {scale * joint[0], scale * joint[1], scale * joint[2]};
}

class Hypotheses {
 public:
  struct Effort {
    std::size_t kept = 0;
    std::size_t beam = 300;   // from which single changes are tried
    std::size_t sampled = 0;  // states of the rest
  };
  // `complaint` and `asked`: observations whose sets are asked about, besides those with evidence.
  // Where they are not complete, at most `effort.kept` are kept.
  // Throws Error(limit_exceeded) where one set has too many modes or the model's memory budget does
  // not suffice, and conflicting_evidence where nothing explains what was observed.
  Hypotheses(const Model& model, const CaseNumbers& numbers,
             std::span<const std::uint32_t> complaint, std::span<const std::uint32_t> asked,
             const Effort& effort);

  ~Hypotheses();
  Hypotheses(Hypotheses&&) noexcept;

  std::size_t size() const { return weight_.size(); }
  bool complete() const { return complete_; }
  // P(h | e), which sum to 1; the most probable first, then what was sampled.
  double weight(std::size_t h) const { return weight_[h]; }
  // Natural log of P(e), as far as they tell it.
  double log_evidence() const { return log_evidence_; }
  // An estimate, not a bound, of how far any probability summed over them is from what all joint
  // states give: of what was looked for twice the standard error of the sample, from the spread of
  // its chains; without a sample three times what was seen and not kept and what the last changes
  // added. 0 where complete.
  double estimated_error() const { return error_; }
  // Likewise of log_evidence().
  double log_evidence_error() const { return log_evidence_error_; }

  bool knows(std::uint32_t o) const { return first_set_[o] != kUnknown; }
  // P(set j of o shows at most t | h), t = 0 or 1.
  double at_most(std::size_t h, std::uint32_t o, std::size_t j, std::size_t t) const;
  // P(S <= t | h) of an observation, t = 0 or 1.
  double at_most(std::size_t h, std::uint32_t o, std::size_t t) const;
  // P(a mode is not sound | h), and P(its grade | h).
  double not_sound(std::size_t h, std::uint32_t mode) const;
  Grades grades(std::size_t h, std::uint32_t mode) const;

 private:
  static constexpr auto kUnknown = static_cast<std::size_t>(-1);
  struct Variable;
  struct Search;
  struct Layout;
  class Chain;
  class Reserved;  // bytes of the model's memory account
  // What one set shows, by the classes of its variables.
  struct SetTable {
    std::vector<std::uint32_t> variables;
    std::vector<std::uint32_t> stride;
    std::vector<double> at_most;  // entry, t
  };
  const std::uint8_t* classes(std::size_t h) const { return classes_.data() + h * variables_; }
  std::size_t entry(const SetTable& table, const std::uint8_t* classes) const {
    std::size_t at = 0;
    for (std::size_t i = 0; i < table.variables.size(); ++i) {
      at += table.stride[i] * classes[table.variables[i]];
    }
    return at;
  }

  const Grades& free_grades(std::size_t h, std::uint32_t mode) const;
  void look(const Search& search, const Effort& effort);
  void sample(const Search& search, std::size_t states);

  std::unique_ptr<Reserved> reserved_;
  bool complete_ = false;
  std::size_t variables_ = 0;
  std::vector<std::uint8_t> classes_;  // hypothesis, variable
  std::vector<double> weight_;
  double log_evidence_ = 0, error_ = 0, log_evidence_error_ = 0;
  std::vector<std::size_t> first_set_, sets_;  // by observation: of `tables_`
  std::vector<SetTable> tables_;
  std::vector<std::int32_t> variable_of_mode_;  // -1: none
  std::vector<std::vector<Grades>> grades_;     // by variable, class
  // Of a mode without a variable: its conditions that have one, the first in the highest bit, and
  // its grades by combination.
  struct Free {
    std::vector<std::uint32_t> conditions;
    std::vector<Grades> grades;
  };
  std::vector<Free> free_;  // by mode
};

}  // namespace faultodds::diagnosis
