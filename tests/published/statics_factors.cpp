// Pressures across free pistons, worked by hand: areas of bore and rod, and p A on one side equals
// p A on the other (common arithmetic). The engine's factors and the second statics' state at rest.
#include <catch2/catch.hpp>
#include <memory>

#include "core/circuit/structure.h"
#include "core/hydraulics/statics.h"
#include "tests/statics/balance.h"
#include "tests/unit/circuit_builder.h"

using namespace circuit_test;
namespace circuit = faultodds::circuit;
namespace hydraulics = faultodds::hydraulics;

namespace {

// A cylinder with a hose on either port; what the far ends were joined to is plugged.
Description ram(double bore_mm, double rod_mm) {
  Description machine;
  machine.id = "ram";
  machine.components = {component("ram", "cylinder"), component("cap_hose", "hose"),
                        component("rod_hose", "hose"), component("valve", "blank"),
                        component("other", "blank")};
  machine.components[0].bore = bore_mm / 1000;
  machine.components[0].rod = rod_mm / 1000;
  for (Component& one : machine.components) one.rating = 1000 * kBar;
  machine.connections = {{"ram.cap", "cap_hose.b", "cap_joint"},
                         {"ram.rod", "rod_hose.b", "rod_joint"},
                         {"cap_hose.a", "valve.in", "cap_line"},
                         {"rod_hose.a", "other.in", "rod_line"}};
  return machine;
}

// Pressure on the other side per pressure on the side whose hose is pressed.
double across(double bore_mm, double rod_mm, const std::string& pressed,
              const std::string& opposite) {
  const Description machine = ram(bore_mm, rod_mm);
  const std::vector<ComponentType> known = types();
  const circuit::Structure structure = circuit::resolve(machine, known, {});
  const circuit::HydraulicGraph graph(structure);
  circuit::StepBudget budget(1'000'000);
  hydraulics::Statics statics(graph, &budget);
  hydraulics::Hold hold;
  hold.port = circuit::volume_of(structure, structure.component_index.at(pressed + "_hose"), "a");
  hold.configuration.lines_off = {structure.line_index.at("cap_line"),
                                  structure.line_index.at("rod_line")};
  hold.observation = "static/" + pressed + "_hose.a";
  const hydraulics::HoldStatics judged = statics.judge(hold);
  REQUIRE(judged.verdict == hydraulics::Verdict::proposed);
  for (const hydraulics::Reached& reached : judged.consequences.volumes) {
    if (reached.volume.rfind(opposite, 0) == 0 || reached.volume == "ram." + opposite) {
      return reached.factor;
    }
  }
  FAIL("the other side is not reached");
  return 0;
}

}  // namespace

TEST_CASE("A pressed cap side raises a closed rod side by bore area over annulus") {
  CHECK(across(100, 70, "cap", "rod") == Approx(1.961).margin(5e-4));
  CHECK(across(80, 45, "cap", "rod") == Approx(1.463).margin(5e-4));
  CHECK(across(100, 80, "cap", "rod") == Approx(2.778).margin(5e-4));
}

TEST_CASE("168 bar on the cap side of a 100/70 mm cylinder gives 329 bar on its closed rod side") {
  CHECK(168 * across(100, 70, "cap", "rod") == Approx(329).margin(0.5));
}

TEST_CASE("A pressed rod side raises the closed cap side of a 100/70 mm cylinder to 0.51 of it") {
  // Its own leaking piston seal would bring it to the whole of it: the limits count that as well.
  using balance::Json;
  const auto machine = Json::parse(R"({"components": [
      {"id": "ram", "type": "single_rod_cylinder", "bore": "100 mm", "rod": "70 mm"},
      {"id": "cap_hose", "type": "hose"}, {"id": "rod_hose", "type": "hose"}],
    "connections": [{"from": "ram.cap", "to": "cap_hose.b", "line": "cap_joint"},
                    {"from": "ram.rod", "to": "rod_hose.b", "line": "rod_joint"},
                    {"from": "tank", "to": "rod_hose.a", "line": "rod_line"}]})");
  const auto kinds = Json::parse(R"({"types": {
    "hose": {"ports": ["a", "b"], "elements": {"bore": {"kind": "passage", "from": "a", "to": "b"}}},
    "single_rod_cylinder": {"ports": ["cap", "rod"],
      "elements": {"piston_seal": {"kind": "seal", "from": "cap", "to": "rod"}},
      "actuator": {"directions": {"retract": ["cap", "rod"], "extend": ["rod", "cap"]}}}}})");
  const balance::Machine ram(machine, kinds);
  balance::Proposal hold;
  hold.observation = "static/rod_hose.a";
  hold.lines_off = {"rod_line"};
  CHECK(ram.factor(hold, "ram.cap") == Approx(0.51).margin(1e-4));
  hold.observation = "static/cap_hose.a";
  hold.lines_off = {"rod_line"};
  CHECK(ram.factor(hold, "ram.rod") == Approx(1.961).margin(5e-4));
  CHECK(across(100, 70, "rod", "cap") == Approx(1));
}
