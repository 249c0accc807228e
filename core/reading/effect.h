// A reading as a likelihood over how large the effect is that an observation shows: none, the first
// abnormal outcome's or the second's. The limits between these classes, the noise and the share of
// blunders are those that the outcomes themselves go by, so that a reading and the outcome it
// amounts to are the same finding. It knows no circuit and no JSON.
//
// Of what is measured the error has the variance (0.3 shown)^2 + resolution^2 + error^2, of shares
// resolution^2 + error^2: it is standard normal on the scale where that is 1 everywhere,
// z(v) = asinh(0.3 v / r) / 0.3, of shares v / r, r^2 = resolution^2 + error^2. On it a larger
// effect is the likelier the more was measured, at every value. What is measured below r is only
// known to be below it.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "core/reading/reading.h"

namespace faultodds::reading {

inline constexpr double kRelativeError = 0.3;  // of flows and speeds measured
inline constexpr double kShareError = 3;       // percent of rated flow, of shares
inline constexpr double kBlunder = 0.02;       // of outcomes and readings: people are wrong
// Effects looked at: from a hundredth of the first limit to ten times the second, a share to 100 %.
inline constexpr double kFaintest = 0.01, kLargest = 10, kWhole = 100;

enum class EffectUnit {
  ml_per_min,   // at the test pressure
  mm_per_min,   // of the rod
  rev_per_min,  // of a motor
  percent,      // of the flow
};

struct EffectScale {
  EffectUnit unit = EffectUnit::ml_per_min;
  double first = 0, second = 0;  // limits, in the unit
  double floor = 0;              // shown without any effect
  double resolution = 0;         // of what it is read with; of shares 3 % where it is 0
};

// The ends of the three classes of effect.
std::array<double, 4> class_ends(const EffectScale& scale);

// What was measured, in the unit of a scale.
struct MeasuredEffect {
  double value = 0;
  double error = 0;       // its standard deviation, besides that of every instrument
  bool censored = false;  // only known to be below `value`
  Messages warnings;
};

// Throws Error(invalid_case) whose pointer is relative to the reading. A hold's flow is brought to
// the setting's pressure by the reading's exponent. Warns of what no leak can give and of the
// likely unit.
MeasuredEffect measured_effect(const Reading& reading, const Setting& setting,
                               const EffectScale& scale);

// P(what was measured | class) of the three classes of effect, up to a factor: the largest is 1.
// `log_scale` takes the logarithm of the density of ln value, blunders included, or of the
// probability where it is censored. What blunders leave of the surest reading is a factor of 98: of
// any effect against none where one was measured, of none against the second class where none was,
// in two like steps; between the two classes 9.9 either way. The more was measured the more it
// speaks for a larger class against a smaller, always.
std::array<double, 3> effect_likelihood(const MeasuredEffect& measured, const EffectScale& scale,
                                        double* log_scale);

}  // namespace faultodds::reading
