// The circuits of the decision benchmark, with what their parts cost and take: three small enough
// for dynamic programming, and a section of an open-centre bank on its pump. Invented.
#pragma once

#include <string>
#include <vector>

namespace faultodds::benchmark {

struct BenchmarkCircuit {
  std::string name, document;
  bool small = false;  // dynamic programming is affordable
};

std::vector<BenchmarkCircuit> decision_circuits();

}  // namespace faultodds::benchmark
