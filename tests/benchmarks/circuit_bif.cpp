// Prints the Bayesian network behind a machine of the benchmarks, or behind a circuit document, in
// the Interchange Format for Bayesian Networks, so that other engines can be asked the same: modes
// and the conditions on them, maxes and mins of two inputs each, and for every observation a
// variable `seen <id>` with its outcomes, whose table has the unmodelled background in it.
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "core/diagnosis/program.h"
#include "core/error.h"
#include "core/network/network.h"
#include "tests/benchmarks/load_model.h"
#include "tests/benchmarks/machine.h"

namespace {

using faultodds::diagnosis::Model;
using faultodds::network::Factor;
using faultodds::network::Network;
using faultodds::network::Var;

// The engine's network, and the outcome variables that the engine itself has no need of.
Network network_of(const Model& model) {
  const auto& analysis = model.analysis();
  const auto by = faultodds::diagnosis::mode_conditions(analysis);
  faultodds::diagnosis::NetworkBuilder builder(analysis, by);
  for (std::uint32_t m = 0; m < analysis.modes.size(); ++m) builder.mode(m);
  std::vector<std::vector<Var>> parts;
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o)
    parts.push_back(builder.parts(o));
  const std::vector<Var> grade = builder.shared_max(std::move(parts));

  Network network = builder.network();
  for (std::uint32_t o = 0; o < analysis.observations.size(); ++o) {
    const auto& observation = analysis.observations[o];
    const Var seen =
        network.add("seen_" + observation.id, observation.outcomes.size(), observation.outcomes);
    std::vector<double> table;
    for (const auto& row : model.program().rows(o))
      table.insert(table.end(), row.begin(), row.end());
    network.set_table(seen, {grade[o]}, std::move(table));
  }
  return network;
}

std::string name_of(const Network& network, Var v) {
  return network.name(v).empty() ? "node_" + std::to_string(v) : network.name(v);
}

std::vector<std::string> states_of(const Network& network, Var v) {
  if (!network.state_names(v).empty()) return network.state_names(v);
  std::vector<std::string> names;
  for (std::size_t s = 0; s < network.states(v); ++s) names.push_back("s" + std::to_string(s));
  return names;
}

void print_row(const double* row, std::size_t states) {
  for (std::size_t s = 0; s < states; ++s) std::printf(s == 0 ? "%.17g" : ", %.17g", row[s]);
  std::printf(";\n");
}

void print(const Network& network) {
  std::printf("network machine {\n}\n");
  for (Var v = 0; v < network.size(); ++v) {
    std::printf("variable %s {\n  type discrete [ %zu ] {", name_of(network, v).c_str(),
                network.states(v));
    const char* between = " ";
    for (const std::string& state : states_of(network, v)) {
      std::printf("%s%s", between, state.c_str());
      between = ", ";
    }
    std::printf(" };\n}\n");
  }
  for (Var v = 0; v < network.size(); ++v) {
    const Factor& factor = network.table(v);
    const std::vector<Var> parents(factor.scope.begin(), factor.scope.end() - 1);
    std::printf("probability ( %s", name_of(network, v).c_str());
    const char* between = " | ";
    for (Var parent : parents) {
      std::printf("%s%s", between, name_of(network, parent).c_str());
      between = ", ";
    }
    std::printf(" ) {\n");
    const double* row = factor.table.data();
    if (parents.empty()) {
      std::printf("  table ");
      print_row(row, network.states(v));
    } else {
      std::vector<std::size_t> sizes, index(parents.size(), 0);
      for (Var parent : parents) sizes.push_back(network.states(parent));
      do {
        for (std::size_t p = 0; p < parents.size(); ++p) {
          std::printf("%s%s", p == 0 ? "  (" : ", ",
                      states_of(network, parents[p])[index[p]].c_str());
        }
        std::printf(") ");
        print_row(row, network.states(v));
        row += network.states(v);
      } while (faultodds::network::next_combination(index, sizes));
    }
    std::printf("}\n");
  }
}

// A bank of the benchmarks, or the circuit document in a file.
std::string document_of(int argc, char** argv) {
  const int sections = std::atoi(argv[1]);
  const int conditions = argc == 3 ? std::atoi(argv[2]) : 0;
  if (sections > 0 && conditions >= 0 && conditions <= faultodds::benchmark::kMostConditions) {
    return faultodds::benchmark::machine(sections, conditions);
  }
  std::ifstream file(argv[1]);
  std::ostringstream text;
  text << file.rdbuf();
  return file && argc == 2 ? text.str() : std::string();
}

}  // namespace

int main(int argc, char** argv) {
  const std::string document = argc == 2 || argc == 3 ? document_of(argc, argv) : std::string();
  if (document.empty()) {
    std::fprintf(stderr, "usage: circuit_bif SECTIONS [CONDITIONS]\n       circuit_bif FILE\n");
    return 2;
  }
  try {
    print(network_of(faultodds::benchmark::load_model(document)));
  } catch (const faultodds::Error& error) {
    std::fprintf(stderr, "%s: %s\n", error.pointer().c_str(), error.what());
    return 1;
  }
}
