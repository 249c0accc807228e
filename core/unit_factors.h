// Factors between the units of the trade and those of SI, in which everything is calculated. How
// units are written and read is core/reading/units.h.
#pragma once

namespace faultodds {

inline constexpr double kPascalPerBar = 1e5;
inline constexpr double kMlPerMinute = 6e7;  // per m3/s

}  // namespace faultodds
