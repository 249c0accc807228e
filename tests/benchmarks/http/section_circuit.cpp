// Prints the circuit document of one section of a valve bank, some 20 modes.
#include <cstdio>

#include "tests/benchmarks/machine.h"

int main() { std::puts(faultodds::benchmark::section().c_str()); }
