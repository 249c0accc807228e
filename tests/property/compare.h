// Two answers side by side: every number that differs by more than the tolerance, as a sentence.
#pragma once

#include <string>
#include <vector>

#include "tests/property/oracle.h"

namespace oracle {

// An assessment document as the engine gives it, read into the values compared.
Answer from_assessment(const Json& assessment);

// Absolute for probabilities, bits and minutes; relative as well for odds, the logarithm of the
// evidence and decibans, whose size has no bound. What one side leaves undefined is not compared.
std::vector<std::string> differences(const Answer& expected, const Answer& actual,
                                     double tolerance = 1e-9);

}  // namespace oracle
