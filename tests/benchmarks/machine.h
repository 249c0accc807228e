// Circuits for the benchmarks: an open-centre bank of n alike sections on one pump, from the
// shipped component types. Invented; only their size matters.
#pragma once

#include <string>

namespace faultodds::benchmark {

// A circuit document with `sections` sections. One section has about 20 modes and 18 observations.
// Each of up to 7 conditions raises modes of every section.
std::string machine(int sections, int conditions = 0);
inline constexpr int kMostConditions = 7;

// One section with `reliefs` port reliefs on the gallery of one of its ports, under one condition:
// an observation with as many single causes, each of which can be plugged.
std::string gallery(int reliefs);

// A section cut out of its bank: the same section on a supply that is not modelled further.
std::string section();

}  // namespace faultodds::benchmark
