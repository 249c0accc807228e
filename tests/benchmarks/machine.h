// Circuits for the benchmarks: an open-centre bank of n alike sections on one pump, from the
// shipped component types. Invented; only their size matters.
#pragma once

#include <string>

namespace faultodds::benchmark {

// A circuit document with `sections` sections. One section has about 20 modes and 18 observations.
std::string machine(int sections);

// A section cut out of its bank: the same section on a supply that is not modelled further.
std::string section();

}  // namespace faultodds::benchmark
