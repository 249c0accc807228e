// Nothing that is proposed can hurt: the engine's pressure holds against the second statics.
//
// FAULTODDS_STATICS_CIRCUITS=20000 looks at so many random circuits and as many changed ones, and
// FAULTODDS_STATICS_OLD=1 leaves out of the documents what 0.1 does not read; DEVELOPERS.md says
// what both printed.
#include <array>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <sstream>

#include "tests/statics/balance.h"
#include "tests/statics/circuits.h"
#include "tests/statics/proposals.h"

using namespace balance;

namespace {

Json read(const std::string& path) {
  std::ifstream file(std::string(PROJECT_ROOT) + "/" + path);
  REQUIRE(file.good());
  return Json::parse(file);
}

const Json& catalogue() {
  static const Json is = read("core/circuit/catalogue.json");
  return is;
}

const std::vector<std::string>& demo_circuits() {
  static const std::vector<std::string> paths = {"examples/refuse_truck/circuit.json",
                                                 "examples/veneer_press/circuit.json",
                                                 "tests/statics/bin_lift.json"};
  return paths;
}

int circuits_wanted(int otherwise) {
  const char* said = std::getenv("FAULTODDS_STATICS_CIRCUITS");
  return said ? std::atoi(said) : otherwise;
}

struct Count {
  int circuits = 0, refused = 0, holds = 0, figures = 0, no_figure = 0, withheld = 0, wrong = 0;
  std::array<int, kKinds> kinds{};
  std::string first;  // the first that is wrong

  void look_at(const Json& circuit, std::uint64_t seed) {
    const std::optional<Described> engine =
        described(std::getenv("FAULTODDS_STATICS_OLD") ? without_new_keys(circuit) : circuit);
    if (!engine) {
      ++refused;
      return;
    }
    ++circuits;
    withheld += static_cast<int>(engine->withheld.size());
    const Machine machine(circuit, catalogue());
    for (const Proposal& proposal : engine->proposals) {
      ++holds;
      ++(proposal.pressure ? figures : no_figure);
      const std::vector<Fault> faults = machine.faults(proposal);
      if (faults.empty()) continue;
      ++wrong;
      for (const Fault& one : faults) ++kinds[static_cast<std::size_t>(one.kind)];
      if (!first.empty()) continue;
      std::ostringstream text;
      text << "seed " << seed << ": " << proposal.observation << " at "
           << proposal.pressure.value_or(0) / 1e5 << " bar: " << name(faults[0].kind) << ", "
           << faults[0].where << " " << faults[0].pressure / 1e5 << " of "
           << faults[0].allowed / 1e5 << " bar\n"
           << circuit.dump();
      first = text.str();
    }
  }

  void print(const char* what) const {
    std::cout << what << ": " << circuits << " circuits (" << refused << " refused), "
              << holds + withheld << " holds: " << figures << " with a figure, " << no_figure
              << " without, " << withheld << " withheld; " << wrong << " wrong";
    for (int k = 0; k < kKinds; ++k) {
      if (kinds[static_cast<std::size_t>(k)]) {
        std::cout << "; " << name(static_cast<Kind>(k)) << " "
                  << kinds[static_cast<std::size_t>(k)];
      }
    }
    std::cout << "\n";
  }
};

}  // namespace

TEST_CASE("No hold proposed for a random circuit can hurt") {
  Count count;
  const int wanted = circuits_wanted(150);
  for (int seed = 1; seed <= wanted; ++seed) {
    count.look_at(random_circuit(static_cast<std::uint64_t>(seed), catalogue()),
                  static_cast<std::uint64_t>(seed));
  }
  count.print("random");
  INFO(count.first);
  CHECK(count.wrong == 0);
  CHECK(count.figures > 0);
}

TEST_CASE("No hold proposed for a changed demo circuit can hurt") {
  const int wanted = circuits_wanted(12);
  for (const std::string& path : demo_circuits()) {
    const Json original = read(path);
    Count count;
    for (int seed = 0; seed <= wanted / 3; ++seed) {
      count.look_at(seed == 0 ? original : mutated(original, static_cast<std::uint64_t>(seed)),
                    static_cast<std::uint64_t>(seed));
    }
    count.print(path.c_str());
    INFO(count.first);
    CHECK(count.wrong == 0);
    CHECK(count.figures > 0);
  }
}
