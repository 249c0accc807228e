// How large failure modes are, loads and the drift limit: what circuit documents say becomes, and
// what the description of a model says of it. Bad ones are in tests/vectors/bad_documents.json.
#include <catch2/catch.hpp>
#include <cmath>
#include <string>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "core/circuit/kinds.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/sizes.h"
#include "core/error.h"

using faultodds::Error;
using faultodds::circuit::Description;
using faultodds::circuit::ModeSize;
using faultodds::circuit::SizeLaw;
using faultodds::documents::Json;
using faultodds::documents::kCatalogue;
using faultodds::documents::parse_json;
using faultodds::documents::read_catalogue;
using faultodds::documents::read_circuit;

namespace {

const std::string kTypes = R"("types": {"ram": {
    "ports": ["cap", "rod"],
    "elements": {"piston_seal": {"kind": "seal", "from": "cap", "to": "rod"}},
    "failure_modes": {
      "piston_leak": {"code": "INL", "leaks": "piston_seal", "prior": [0.9, 0.07, 0.03], "sizes": {
        "law": "orifice", "sound": {"median": "0.5 mL/min", "spread": 0.8},
        "worn": {"median": "40 mL/min"}, "source": "the maker's data sheet"}},
      "other": {"code": "INL", "leaks": "piston_seal", "prior": [0.9, 0.07, 0.03]}},
    "actuator": {"directions": {"in": ["cap", "rod"]}}}})";

// A ram with these members, in a circuit with these besides.
Description circuit(const std::string& members, const std::string& besides = "") {
  return read_circuit(parse_json(R"({"format": "faultodds-circuit/1", "id": "lift", )" + kTypes +
                                 besides + R"(, "components": [{"id": "one", "type": "ram")" +
                                 members + "}]}"));
}

ModeSize size_in(const Description& description, const std::string& mode) {
  return description.components.at(0).sizes.at(mode);
}

std::string refusal(const std::string& members, std::string* pointer) {
  try {
    faultodds::circuit::analyse(circuit(members), {});
  } catch (const Error& error) {
    *pointer = error.pointer();
    return error.what();
  }
  FAIL("accepted: " << members);
  return {};
}

}  // namespace

TEST_CASE("A type's sizes have medians in mL/min, and what they leave unsaid is as usual") {
  const auto description = circuit("");
  const auto& modes = description.types.at(0).failure_modes;
  REQUIRE(modes.at(0).size.has_value());
  const ModeSize& size = *modes[0].size;
  CHECK(size.law == SizeLaw::orifice);
  CHECK(size.of_grade[0].median == Approx(0.5));
  CHECK(size.of_grade[0].spread == 0.8);
  CHECK(size.of_grade[1].median == Approx(40));
  CHECK(size.of_grade[1].spread == 1);
  CHECK(size.of_grade[2].median == 1000);
  CHECK_FALSE(modes.at(1).size.has_value());
}

TEST_CASE("A component's sizes change what they say and leave the rest to its type") {
  const ModeSize size =
      size_in(circuit(R"(, "sizes": {"piston_leak": {"sound": {"spread": 0.4}}})"), "piston_leak");
  CHECK(size.law == SizeLaw::orifice);
  CHECK(size.of_grade[0].median == Approx(0.5));
  CHECK(size.of_grade[0].spread == 0.4);
  CHECK(size.of_grade[1].median == Approx(40));
}

TEST_CASE("What a shipped type says of sizes holds for a component that says less") {
  auto shipped = circuit("").types;
  const auto description =
      read_circuit(parse_json(R"({"format": "faultodds-circuit/1", "id": "lift", "components": [
          {"id": "one", "type": "ram", "sizes": {"piston_leak": {"failed": {"median": "2 L/min"}}}}
      ]})"),
                   shipped);
  const ModeSize size = size_in(description, "piston_leak");
  CHECK(size.of_grade[0].median == Approx(0.5));
  CHECK(size.of_grade[2].median == Approx(2000));
}

TEST_CASE("Another law than the type's brings its own usual sizes") {
  const ModeSize size = size_in(
      circuit(R"(, "sizes": {"piston_leak": {"law": "loss", "failed": {"median": "70 %"}}})"),
      "piston_leak");
  CHECK(size.law == SizeLaw::loss);
  CHECK(size.of_grade[0].median == 0);
  CHECK(size.of_grade[1].median == 12);
  CHECK(size.of_grade[2].median == Approx(70));
}

TEST_CASE("A spool's dimensions give its sound size by the formula of the annular gap") {
  const ModeSize size = size_in(circuit(R"(, "sizes": {"other": {"law": "laminar", "sound": {
          "diameter": "20 mm", "clearance": "5 um", "overlap": "4 mm"}}})"),
                                "other");
  // pi d c^3 dp (1 + 1.5 e^2) / (12 mu L), e = 1, at 100 bar, 46 mm2/s and 870 kg/m3
  const double flow =
      3.14159265358979 * 0.020 * std::pow(5e-6, 3) * 100e5 * 2.5 / (12 * 46e-6 * 870 * 0.004);
  CHECK(size.of_grade[0].median == Approx(flow * 6e7).epsilon(1e-9));
  CHECK(size.of_grade[0].spread == 0.6);
  CHECK(size.of_grade[1].median == 30);
}

TEST_CASE("A load is a force or a pressure, of one direction or either") {
  const auto force = circuit(R"(, "load": {"force": "120 kN", "direction": "in"})");
  CHECK(force.components[0].load->force.value() == Approx(120e3));
  CHECK(force.components[0].load->direction == "in");
  CHECK(force.components[0].load->spread == 0.3);
  const auto pressure = circuit(R"(, "load": {"pressure": "140 bar", "spread": 0.5})");
  CHECK(pressure.components[0].load->pressure.value() == Approx(140e5));
  CHECK(pressure.components[0].load->spread == 0.5);
  CHECK(pressure.components[0].load->direction.empty());
}

TEST_CASE("The maker's drift limit is a speed") {
  CHECK(circuit("", R"(, "drift_limit": "4 mm/min")").drift_limit.value() == Approx(4e-3 / 60));
  CHECK_FALSE(circuit("").drift_limit.has_value());
}

TEST_CASE("Sizes and loads that cannot be are refused in the author's units") {
  std::string pointer;
  CHECK(refusal(R"(, "sizes": {"piston_leak": {"sound": {"median": "50 mL/min"}}})", &pointer) ==
        "the median of `worn` of `one.piston_leak` is 40 mL/min; more than that of `sound`, 50 "
        "mL/min, was expected");
  CHECK(pointer == "/components/0/sizes/piston_leak/worn");
  CHECK_THAT(refusal(R"(, "sizes": {"piston_leek": {"law": "loss"}})", &pointer),
             Catch::Contains("did you mean `piston_leak`"));
  CHECK(pointer == "/components/0/sizes/piston_leek");
  CHECK_THAT(
      refusal(R"(, "sizes": {"other": {"law": "loss", "failed": {"median": "120 %"}}})", &pointer),
      Catch::Contains("is 120 %; at most 100 % was expected"));
  CHECK_THAT(refusal(R"(, "load": {"pressure": "90 bar", "direction": "up"})", &pointer),
             Catch::Contains("direction `up`") && Catch::Contains("`in`"));
  CHECK(pointer == "/components/0/load/direction");
}

TEST_CASE("Every shipped failure mode says its sizes, where they are from, and worse is larger") {
  const Json document = parse_json(std::string(kCatalogue));
  for (const auto& [name, type] : document.at("types").items()) {
    for (const auto& [mode, of] : type.at("failure_modes").items()) {
      CAPTURE(name, mode);
      CHECK_FALSE(of.at("sizes").at("source").get<std::string>().empty());
    }
  }
  for (const auto& type : read_catalogue(parse_json(std::string(kCatalogue)))) {
    for (const auto& mode : type.failure_modes) {
      CAPTURE(type.name, mode.name);
      REQUIRE(mode.size.has_value());
      // What only chokes or weakens is a loss, what leaks a flow unless it weakens too.
      if (mode.leaks.empty()) CHECK(mode.size->law == SizeLaw::loss);
      if (mode.restricts.empty() && mode.weakens.empty()) {
        CHECK(mode.size->law != SizeLaw::loss);
      }
      for (std::size_t grade = 1; grade < 3; ++grade) {
        CHECK(mode.size->of_grade[grade].median > mode.size->of_grade[grade - 1].median);
      }
    }
  }
}

TEST_CASE("The description of a model lists what sizes make of its network") {
  auto analysis = faultodds::circuit::analyse(
      circuit("", R"(, "connections": [{"from": "one.cap", "to": "outside", "line": "a"},
                                       {"from": "one.rod", "to": "tank", "line": "b"}])"),
      {});
  auto& hold = analysis.observations.at(0);
  REQUIRE(hold.sets.at(0).modes.size() == 1);
  auto& mode = analysis.modes.at(hold.sets[0].modes[0]);
  mode.size = {SizeLaw::orifice, {{{0.3, 1}, {30, 1}, {1000, 1}}}};
  hold.sets[0].shown_from = {{0.25, {20, std::numeric_limits<double>::infinity()}},
                             {0.75, {10, 100}}};
  hold.limits = faultodds::circuit::EffectLimits{};
  hold.limits->first = 6;
  hold.limits->second = 94;
  hold.limits->seconds = 10;
  faultodds::diagnosis::size_up(analysis);
  const Json model = parse_json(
      faultodds::documents::write_model(faultodds::diagnosis::Model::compile(analysis, {})));

  const Json& said = model.at("modes").at(hold.sets[0].modes[0]);
  CHECK(said.at("sizes").at("law") == "orifice");
  CHECK(said.at("sizes").at("worn").at("median") == 30);
  CHECK(said.at("unsplit").empty());
  REQUIRE(said.at("states").size() == mode.states.size());
  double total = 0;
  for (const Json& state : said.at("states")) {
    CHECK(state.at("low") < state.at("high"));
    total += state.at("prior").get<double>();
    const auto grade = state.at("grade").get<std::size_t>();
    CHECK(state.at("prior") == mode.prior[grade] * state.at("share").get<double>());
  }
  CHECK(total == Approx(1));

  const Json& seen = model.at("observations").at(0);
  CHECK(seen.at("limits").at("unit") == "mL/min");
  CHECK(seen.at("limits").at("first") == 6);
  CHECK(seen.at("limits").at("seconds") == 10);
  const Json& set = seen.at("sets").at(0);
  CHECK(set.at("shown_from").at(0).at("size").at(1).is_null());  // infinite
  CHECK(set.at("link").at("weight") == Json::parse("[0.25, 0.75]"));
  const Json& exceeds = set.at("link").at("exceeds");
  REQUIRE(exceeds.size() == 1);
  REQUIRE(exceeds[0].size() == 2);
  for (std::size_t level = 0; level < 2; ++level) {
    for (std::size_t limit = 0; limit < 2; ++limit) {
      for (std::size_t state = 0; state < mode.states.size(); ++state) {
        CHECK(exceeds[0][level][limit][state] ==
              faultodds::diagnosis::exceeds(mode.size, mode.states[state],
                                            hold.sets[0].shown_from[level].size[limit]));
      }
    }
  }
}
