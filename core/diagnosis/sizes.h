// From how large failure modes are to what the network is made of: the states of each mode, the
// links of its sets and the outcome matrices of observations. It knows the sizes and limits that an
// analysis carries, not where they come from (core/hydraulics) and nothing of the inference.
//
// Densities: the size of a sound mode (grade 0) within a state is its log-normal, truncated to the
// state; of one that is not sound it is log-uniform. The outermost states end at the 1 % and 99 %
// quantiles, and what lies beyond counts as in them. A state with no size (low and high 0) is 0.
#pragma once

#include <vector>

#include "core/circuit/analysis.h"
#include "core/reading/effect.h"

namespace faultodds::diagnosis {

inline constexpr std::size_t kMostBands = 5;  // of a sound mode
inline constexpr std::size_t kMostBandsAndClasses = 8;

// Fills FailureMode::states and ModeSet::link from FailureMode::size and ModeSet::shown_from, and
// Observation::matrix from Observation::limits unless matrix_is_own. Done again, it does the same.
// Modes that are in no set with shown_from keep no states. Throws Error(internal) where a set's
// modes have no sizes.
void size_up(circuit::Analysis& analysis);

// By mode: from which sizes it shows, ascending. Of each observation that may be made, those of the
// smallest sets with shown_from that the mode is in, at the median level of the load. What is only
// reported (circuit::is_reported) sets limits for modes that show nowhere else: merged with those
// of delivery they would leave classes that lie on both sides of what makes a function slow.
std::vector<std::vector<double>> limits_of_modes(const circuit::Analysis& analysis);

// Limits less than twice the lowest of them are one, at the mean of their logarithms: 30 % and 60 %
// of a flow are two.
std::vector<double> merged_limits(const std::vector<double>& ascending);

// The states of a mode, by grade, then size. Grade 0 in bands: one unless its 95 % quantile exceeds
// half the lowest limit, else cut at the merged limits between its 5 % and 95 % quantiles, then the
// heaviest halved until none holds over 40 %. Grades 1 and 2 share classes: a class is cut at a
// merged limit with more than 5 % of its mass under `prior` on either side, the heaviest first.
std::vector<circuit::ModeState> mode_states(const circuit::ModeSize& size,
                                            const circuit::GradeDistribution& prior,
                                            const std::vector<double>& limits);

// The merged limits at which a class of these states should have been cut, had there been room.
std::vector<double> unsplit_limits(const circuit::ModeSize& size,
                                   const circuit::GradeDistribution& prior,
                                   const std::vector<double>& limits,
                                   const std::vector<circuit::ModeState>& states);

// P(the size exceeds `least` | state): 0 and 1 exactly where the state lies on one side of it.
double exceeds(const circuit::ModeSize& size, const circuit::ModeState& state, double least);

// Levels whose rows are equal are one; those of no weight are left out.
circuit::SetLink set_link(const std::vector<circuit::ShownFrom>& shown_from,
                          const std::vector<const circuit::FailureMode*>& modes);

// The same limits as readings are held against them.
reading::EffectScale scale_of(const circuit::EffectLimits& limits);

// P(outcome | effect log-uniform in [low, high]) of the three outcomes that the limits part, to
// 1e-9. What is measured is effect + floor, with a normal error: of flows and speeds its variance
// is (0.3 (effect + floor))^2 + resolution^2, of shares resolution^2 alone, of 3 % of rated where
// none is given. With probability 0.02 another outcome is said, each of them as often.
std::vector<double> outcome_probabilities(const circuit::EffectLimits& limits, double low,
                                          double high);

// The same for the three classes of effect: from a hundredth of the first limit to it, from there
// to the second, and from the second to ten times it, a share to 100 % at most.
std::vector<std::vector<double>> outcome_matrix(const circuit::EffectLimits& limits);

}  // namespace faultodds::diagnosis
