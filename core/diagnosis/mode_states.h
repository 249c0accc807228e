// The states of failure modes and what a set shows of them, the same way for modes with sizes and
// for those of which only the grade is known. It computes no sizes (sizes.h does) and no posterior.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <utility>
#include <vector>

#include "core/circuit/analysis.h"

namespace faultodds::diagnosis {

// Most states of one mode.
inline constexpr std::size_t kMostStates = 32;

// By grade: a mode without states of its own has one for each grade.
std::span<const circuit::ModeState> states_of(const circuit::FailureMode& mode);

// What sets show of their modes' states: a set's own link, or where it has none that of the least
// grade, effective with the set's probability, which sets alike have in common.
class SetLinks {
 public:
  explicit SetLinks(const circuit::Analysis& analysis) : analysis_(analysis) {}
  // Lives as long as this and the set.
  const circuit::SetLink& of(const circuit::ModeSet& set);

 private:
  const circuit::Analysis& analysis_;
  // By the sets' probability and their modes, 0 for one without states of its own.
  std::map<std::pair<double, std::vector<std::uint32_t>>, circuit::SetLink> by_grade_;
};

// P(the set shows at most limit t | states of its modes, in their order), t = 0 or 1.
double at_most(const circuit::SetLink& link, std::size_t t, std::span<const std::size_t> states);

// Whether a set shows more than the first limit in some state in which all its modes are sound.
bool shows_though_sound(const circuit::Analysis& analysis, const circuit::ModeSet& set);

// States that a question cannot tell apart count as one *class*.
struct StateClasses {
  std::vector<std::uint8_t> of;  // by state
  std::size_t count = 0;

  std::size_t representative(std::size_t c) const;  // its first state
};

// Classes of a mode's states: those that act alike in every set of `links` (with the mode's place
// in it), and in `also`, a value per state.
class StatesAlike {
 public:
  explicit StatesAlike(std::size_t states) { classes_.of.assign(states, 0), classes_.count = 1; }
  void add(const circuit::SetLink& link, std::size_t place);
  void add(std::span<const std::uint8_t> also);
  const StateClasses& classes() const { return classes_; }

 private:
  template <typename Value>
  void tell_apart(const Value* by_state);

  StateClasses classes_;  // numbered by their first states
};

}  // namespace faultodds::diagnosis
