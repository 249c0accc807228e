// What tests/vectors/assessments.json expects of small circuits, against the brute-force oracle:
// the file was made by the engine, so something else has to say that it is right.
#include <catch2/catch.hpp>
#include <fstream>
#include <stdexcept>
#include <string>

#include "tests/property/compare.h"

using namespace oracle;

namespace {

Json read(const std::string& path) {
  std::ifstream in(std::string(ROOT "/") + path);
  REQUIRE(in);
  return Json::parse(in);
}

// The oracle knows no types but the circuit's own.
Json with_catalogue(Json circuit) {
  Json types = read("core/circuit/catalogue.json");
  if (types.contains("types")) types = types["types"];
  if (circuit.contains("types")) types.update(circuit["types"]);
  circuit["types"] = types;
  return circuit;
}

// It does not know the temperature of oil, which has tests of its own.
bool beyond_the_oracle(const Json& the_case) {
  for (const auto& entry : the_case["observations"]) {
    if (entry.contains("reading") && entry["reading"].contains("temperature_start")) return true;
  }
  return false;
}

}  // namespace

TEST_CASE("what the vectors expect of small circuits is what brute force finds") {
  const Json table = read("tests/vectors/assessments.json");
  const Json pack = read("priors/packs/shipped.json");
  int compared = 0, in_other_units = 0;
  for (const auto& vector : table["vectors"]) {
    if (!vector.contains("expected") || !vector["expected"].contains("faults")) continue;
    INFO(vector["name"]);
    const Json& the_case = vector["case"];
    if (beyond_the_oracle(the_case)) continue;
    const Structure structure = analyse(with_catalogue(read(vector["circuit"])), Broken::nothing,
                                        pack, asset_class(the_case));
    Answer expected;
    try {
      expected = assess(structure, the_case);
    } catch (const std::invalid_argument&) {
      ++in_other_units;  // the oracle reads fewer units; tests/published checks those
      continue;
    }
    const Answer told = from_assessment(vector["expected"]);
    CHECK(told.faults.size() == structure.modes.size());
    CHECK(told.tests.size() == expected.tests.size());
    CHECK(told.causes.has_value());
    const auto found = differences(expected, told);
    for (const auto& difference : found) UNSCOPED_INFO(difference);
    CHECK(found.empty());
    ++compared;
  }
  CHECK(compared > 10);
  CHECK(in_other_units <= 1);
}
