// The readers of the circuit document, the prior pack and the catalogue: what good documents
// become. What bad ones are answered is in tests/vectors/bad_documents.json.
#include <catch2/catch.hpp>
#include <map>
#include <string>
#include <utility>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"
#include "core/circuit/analysis.h"
#include "core/error.h"

using faultodds::Code;
using faultodds::Error;
using faultodds::circuit::AreaRule;
using faultodds::circuit::Description;
using faultodds::circuit::ElementKind;
using faultodds::circuit::ObservationKind;
using faultodds::diagnosis::Pack;
using faultodds::documents::kCatalogue;
using faultodds::documents::kShippedPack;
using faultodds::documents::parse_json;
using faultodds::documents::read_catalogue;
using faultodds::documents::read_circuit;
using faultodds::documents::read_pack;

namespace {

// A circuit with one member besides the ones that must be there.
Description circuit_with(const std::string& member) {
  return read_circuit(parse_json(R"({"format": "faultodds-circuit/1", "id": "lift", )" +
                                 (member.empty() ? "" : member + ", ") + R"("components": []})"));
}

Description circuit_with_component(const std::string& members) {
  return read_circuit(parse_json(R"({"format": "faultodds-circuit/1", "id": "lift", "components": [
      {"id": "ram", "type": "cylinder")" +
                                 members + "}]}"));
}

Pack pack_with(const std::string& members) {
  return read_pack(parse_json(R"({"format": "faultodds-priors/1", "id": "p", )" + members + "}"));
}

std::string refusal_of_pack(const std::string& members, std::string* pointer) {
  try {
    pack_with(members);
  } catch (const Error& error) {
    *pointer = error.pointer();
    return error.what();
  }
  FAIL("accepted: " << members);
  return {};
}

}  // namespace

TEST_CASE("the smallest circuit document has an id and components, its title is its id") {
  const Description circuit = circuit_with("");
  CHECK(circuit.id == "lift");
  CHECK(circuit.title == "lift");
  CHECK(circuit.components.empty());
  CHECK(circuit.connections.empty());
}

TEST_CASE("quantities of a component are read in SI units") {
  const auto component =
      circuit_with_component(R"(, "bore": "100 mm", "rod": "56 mm", "setting": "175 bar",
          "displacement": "45 cm3/rev", "rated_flow": "60 L/min", "volume": "0.4 L",
          "areas": {"cap": "50 cm2"}, "part_cost": 420.5, "lead_days": 3)")
          .components.at(0);
  CHECK(component.bore.value() == Approx(0.1));
  CHECK(component.rod.value() == Approx(0.056));
  CHECK(component.setting.value() == Approx(17.5e6));
  CHECK(component.displacement.value() == Approx(45e-6));
  CHECK(component.rated_flow.value() == Approx(1e-3));
  CHECK(component.volume.value() == Approx(0.4e-3));
  CHECK(component.areas.at("cap") == Approx(50e-4));
  CHECK(component.part_cost.value() == 420.5);
  CHECK(component.lead_days.value() == 3);
  CHECK_FALSE(component.minutes.has_value());
}

TEST_CASE("minutes are a plain number or a quantity of time") {
  CHECK(circuit_with_component(R"(, "minutes": 90)").components[0].minutes.value() == 90);
  CHECK(circuit_with_component(R"(, "minutes": "1.5 h")").components[0].minutes.value() ==
        Approx(90));
  const auto times = circuit_with(R"("times": {"lockout": "720 s", "static_test": 4})").times;
  CHECK(times.at("lockout") == Approx(12));
  CHECK(times.at("static_test") == 4);
}

TEST_CASE("a component type is read in document order with all its elements and failure modes") {
  const auto types = circuit_with(R"("types": {"zvalve": {
      "title": "valve", "ports": ["p", "a"], "volumes": ["pilot"], "cartridge": true,
      "flow_test": true, "parameters": ["setting"],
      "elements": {
        "spool": {"kind": "seal", "from": "p", "to": "a", "open_in": ["up", "down"]},
        "ball": {"kind": "check", "from": "a", "to": "pilot"},
        "spring": {"kind": "relief", "from": "pilot", "to": "tank"},
        "bore": {"kind": "passage", "from": "p", "to": "outside"}},
      "failure_modes": {
        "wear": {"code": "INL", "title": "worn", "leaks": ["spool", "ball"], "prior": [0.9, 0.06, 0.04]},
        "clog": {"code": "PLU", "restricts": "bore", "prior": [0.8, 0.1, 0.1]}}},
      "apump": {"ports": ["in", "out"]}})")
                         .types;
  REQUIRE(types.size() == 2);
  const auto& valve = types[0];
  CHECK(valve.name == "zvalve");
  CHECK(valve.title == "valve");
  CHECK(valve.pointer == "/types/zvalve");
  CHECK(valve.ports == std::vector<std::string>{"p", "a"});
  CHECK(valve.volumes == std::vector<std::string>{"pilot"});
  CHECK(valve.cartridge);
  CHECK(valve.flow_test);
  CHECK(valve.parameters == std::vector<std::string>{"setting"});
  REQUIRE(valve.elements.size() == 4);
  CHECK(valve.elements[0].name == "spool");
  CHECK(valve.elements[0].kind == ElementKind::seal);
  CHECK(valve.elements[0].open_in == std::vector<std::string>{"up", "down"});
  CHECK(valve.elements[1].kind == ElementKind::check);
  CHECK(valve.elements[1].from == "a");
  CHECK(valve.elements[1].to == "pilot");
  CHECK(valve.elements[2].kind == ElementKind::relief);
  CHECK(valve.elements[3].kind == ElementKind::passage);
  REQUIRE(valve.failure_modes.size() == 2);
  CHECK(valve.failure_modes[0].name == "wear");
  CHECK(valve.failure_modes[0].code == "INL");
  CHECK(valve.failure_modes[0].leaks == std::vector<std::string>{"spool", "ball"});
  CHECK(valve.failure_modes[0].prior[1] == 0.06);
  CHECK(valve.failure_modes[1].title == "clog");
  CHECK(valve.failure_modes[1].restricts == std::vector<std::string>{"bore"});
  CHECK(types[1].name == "apump");
  CHECK_FALSE(types[1].cartridge);
}

// What a value by itself may be is judged here and nowhere else; what it has to do with others is
// judged by circuit::analyse (tests/unit/circuit_refusals.cpp).
TEST_CASE("a value that is none of its kind is refused where it is read, with its pointer") {
  const std::string component = R"("components": [{"id": "ram", "type": "cylinder", %}])";
  const std::string type = R"("components": [], "types": {"ram": {"ports": ["a"], %}})";
  const std::string mode = R"("components": [], "types": {"ram": {"ports": [], "failure_modes":
      {"leak": {"code": "INL", %}}}})";
  const std::string observation = R"("components": [], "observations": [{"id": "gauge", %}])";
  const struct {
    std::string document, member, pointer;
  } wrong[] = {
      {R"("id": "a b", "components": [] %)", "", "/id"},
      {R"("components": [{"id": "a/b", %}])", R"("type": "x")", "/components/0/id"},
      {R"("components": [], "types": {"a/b": {%}})", R"("ports": [])", "/types/a~1b"},
      {R"("components": [], "connections": [{%}])", R"("from": "a.b", "to": "c.d", "line": "a b")",
       "/connections/0/line"},
      {R"("components": [], "conditions": [{"probability": 0, "raises": {}, %}])", R"("id": "a b")",
       "/conditions/0/id"},
      {R"("components": [], "conditions": [{"id": "a", "raises": {}, %}])", R"("probability": 2)",
       "/conditions/0/probability"},
      {R"("components": [], "conditions": [{"id": "a", "probability": 0, "raises": {%}}])",
       R"("*": 0)", "/conditions/0/raises/*"},
      {R"("components": [], "observations": [{%}])", R"("id": "a b")", "/observations/0/id"},
      {R"("components": [], "observations": [{%}])", R"("id": "")", "/observations/0/id"},
      {R"("components": [], "fittings": {"a.b": {%}})", R"("rating": "0 bar")",
       "/fittings/a.b/rating"},
      {R"("components": [], "times": {%})", R"("lockout": -3)", "/times/lockout"},
      {component, R"("priors": {"leak": [0.9, 0.1, 0.1]})", "/components/0/priors/leak"},
      {component, R"("priors": {"leak": [1.1, -0.1, 0]})", "/components/0/priors/leak/0"},
      {component, R"("setting": "-1 bar")", "/components/0/setting"},
      {component, R"("ratio": 0)", "/components/0/ratio"},
      {component, R"("displacement": "0 mL")", "/components/0/displacement"},
      {component, R"("areas": {"cap": "0 cm2"})", "/components/0/areas/cap"},
      {component, R"("rated": {"cap": "0 bar"})", "/components/0/rated/cap"},
      {component, R"("minutes": -1)", "/components/0/minutes"},
      {component, R"("load": {"force": "0 N"})", "/components/0/load/force"},
      {component, R"("load": {"force": "1 N", "spread": 0})", "/components/0/load/spread"},
      {component, R"("sizes": {"leak": {"law": "laminar", "worn": {"median": "0 mL/min"}}})",
       "/components/0/sizes/leak/worn/median"},
      {component,
       R"("sizes": {"leak": {"law": "laminar", "worn": {"median": "1 mL/min", "spread": 0}}})",
       "/components/0/sizes/leak/worn/spread"},
      {component, R"("sizes": {"leak": {"law": "loss", "sound": {"median": "1 %"}}})",
       "/components/0/sizes/leak/sound"},
      {type, R"("rated": {"a": "0 bar"})", "/types/ram/rated/a"},
      {mode, R"("prior": [0.9, 0.05, 0.04])", "/types/ram/failure_modes/leak/prior"},
      {observation, R"("shows": [{"modes": ["a.b"], "probability": 1.5}])",
       "/observations/0/shows/0/probability"},
      {observation, R"("outcomes": ["good"])", "/observations/0/outcomes"},
      {observation, R"("outcomes": ["good", ""])", "/observations/0/outcomes/1"},
      {observation, R"("matrix": [[1, 0], [0, 1]])", "/observations/0/matrix"},
      {observation, R"("matrix": [[1, 0], [0, 1], [0.1, 0.8]])", "/observations/0/matrix/2"},
      {observation, R"("matrix": [[1, 0], [0, 1], [-0.1, 1.1]])", "/observations/0/matrix/2/0"},
      {observation, R"("background": [0.9, 0.2, 0.1])", "/observations/0/background"},
      {observation, R"("leak_rates": {"median": ["0 mL/min", "1 mL/min", "2 mL/min"]})",
       "/observations/0/leak_rates/median/0"},
      {observation, R"("leak_rates": {"sigma": [1, 0, 1]})", "/observations/0/leak_rates/sigma/1"},
      {observation, R"("reference_pressure": "0 bar")", "/observations/0/reference_pressure"},
      {observation, R"("minutes": -1)", "/observations/0/minutes"},
      {observation, R"("people": 3)", "/observations/0/people"},
  };
  for (const auto& one : wrong) {
    std::string text = one.document;
    text.replace(text.find('%'), 1, one.member);
    CAPTURE(text);
    const std::string id = text.starts_with("\"id\"") ? "" : R"("id": "lift", )";
    try {
      read_circuit(parse_json(R"({"format": "faultodds-circuit/1", )" + id + text + "}"));
      FAIL("accepted");
    } catch (const Error& error) {
      CAPTURE(error.what());
      CHECK(error.pointer() == one.pointer);
      CHECK(error.code() == Code::invalid_document);
    }
  }
}

TEST_CASE("a mode weakens all ports, one port, a list of ports or none") {
  const auto weakens = [](const std::string& value) {
    return circuit_with(R"("types": {"pump": {"ports": ["in", "out"], "failure_modes": {
        "worn": {"code": "LOO", "prior": [1, 0, 0], "weakens": )" +
                        value + "}}}}")
        .types[0]
        .failure_modes[0]
        .weakens;
  };
  CHECK(weakens("true") == std::vector<std::string>{"in", "out"});
  CHECK(weakens("false").empty());
  CHECK(weakens("\"out\"") == std::vector<std::string>{"out"});
  CHECK(weakens("[\"out\", \"in\"]") == std::vector<std::string>{"out", "in"});
}

TEST_CASE("an actuator names its directions and may name rules for its areas") {
  const auto type = circuit_with(R"("types": {"motor": {"ports": ["a", "b"], "actuator": {
      "directions": {"left": ["b", "a"], "right": ["a", "b"]},
      "areas": {"a": "displacement", "b": "bore"}}}})")
                        .types[0];
  REQUIRE(type.directions.size() == 2);
  CHECK(type.directions[0].name == "left");
  CHECK(type.directions[0].contracting == "b");
  CHECK(type.directions[0].expanding == "a");
  CHECK(type.areas.at("a") == AreaRule::displacement);
  CHECK(type.areas.at("b") == AreaRule::bore);
}

TEST_CASE("connections, fittings, functions and conditions are read as written") {
  const Description circuit = circuit_with(R"(
      "connections": [{"from": "valve.a", "to": "ram.cap", "line": "hose_1"},
                      {"from": "valve.t", "to": "tank"}],
      "fittings": {"valve.a": {"standard": "ISO 6149-1", "size": "M27x2", "rating": "25 MPa"}},
      "functions": [{"id": "raise", "actuator": "ram", "direction": "extend", "source": "pump",
                     "positions": {"valve": "up"}}],
      "conditions": [{"id": "dirt", "title": "dirty oil", "probability": 0.1,
                      "raises": {"valve.*": 3, "pump.*": 2}}])");
  REQUIRE(circuit.connections.size() == 2);
  CHECK(circuit.connections[0].from == "valve.a");
  CHECK(circuit.connections[0].to == "ram.cap");
  CHECK(circuit.connections[0].line == "hose_1");
  CHECK(circuit.connections[1].line.empty());
  REQUIRE(circuit.fittings.size() == 1);
  CHECK(circuit.fittings[0].port == "valve.a");
  CHECK(circuit.fittings[0].standard == "ISO 6149-1");
  CHECK(circuit.fittings[0].size == "M27x2");
  CHECK(circuit.fittings[0].rating.value() == Approx(25e6));
  REQUIRE(circuit.functions.size() == 1);
  CHECK(circuit.functions[0].id == "raise");
  CHECK(circuit.functions[0].actuator == "ram");
  CHECK(circuit.functions[0].direction == "extend");
  CHECK(circuit.functions[0].source == "pump");
  CHECK(circuit.functions[0].positions.at("valve") == "up");
  REQUIRE(circuit.conditions.size() == 1);
  CHECK(circuit.conditions[0].title == "dirty oil");
  CHECK(circuit.conditions[0].probability == 0.1);
  REQUIRE(circuit.conditions[0].raises.size() == 2);
  CHECK(circuit.conditions[0].raises[0].pattern == "valve.*");
  CHECK(circuit.conditions[0].raises[0].factor == 3);
}

TEST_CASE("a hand-written observation is read with its statistics") {
  const auto written = circuit_with(R"("observations": [{
      "id": "noise", "title": "pump is noisy", "kind": "symptom", "outcomes": ["quiet", "loud"],
      "matrix": [[0.9, 0.1], [0.4, 0.6], [0.1, 0.9]], "background": [0.9, 0.06, 0.04],
      "shows": [{"modes": ["pump.starved", "pump.worn"], "probability": 0.8}, {"modes": ["a.b"]}],
      "energised": true, "opens_line": false, "minutes": 2, "setup": ["lockout"],
      "reference_pressure": "100 bar", "cautions": ["Wear ear protection."]}])")
                           .observations.at(0);
  CHECK(written.id == "noise");
  CHECK(written.title == "pump is noisy");
  CHECK(written.kind.value() == ObservationKind::symptom);
  CHECK(written.model.outcomes == std::vector<std::string>{"quiet", "loud"});
  CHECK(written.model.matrix.at(1).at(1) == 0.6);
  CHECK(written.model.background.value()[1] == 0.06);
  REQUIRE(written.shows.size() == 2);
  CHECK(written.shows[0].modes == std::vector<std::string>{"pump.starved", "pump.worn"});
  CHECK(written.shows[0].probability == 0.8);
  CHECK(written.shows[1].probability == 1);
  CHECK(written.energised.value());
  CHECK_FALSE(written.opens_line.value());
  CHECK(written.minutes.value() == 2);
  CHECK(written.setup == std::vector<std::string>{"lockout"});
  CHECK(written.reference_pressure.value() == Approx(10e6));
  CHECK(written.cautions == std::vector<std::string>{"Wear ear protection."});
}

TEST_CASE("median leak rates are flows in mL/min, and shares of rated flow for flow tests only") {
  const auto median = [](const std::string& id, const std::string& rates) {
    return circuit_with(R"("observations": [{"id": ")" + id + R"(", "leak_rates": {"median": )" +
                        rates + R"(, "sigma": [1.2, 1, 0.9]}}])")
        .observations.at(0)
        .model;
  };
  const auto flows = median("static/valve.a", R"(["0.5 mL/min", "30 mL/min", "1 L/min"])");
  CHECK(flows.leak_median.value()[0] == Approx(0.5));
  CHECK(flows.leak_median.value()[2] == Approx(1000));
  CHECK(flows.leak_sigma.value()[2] == 0.9);
  CHECK(median("flow/pump", "[0.03, 0.12, 0.35]").leak_median.value()[1] == 0.12);
  CHECK_THROWS_AS(median("static/valve.a", "[0.5, 30, 1000]"), Error);
}

TEST_CASE("a prior pack is read with grades, wear-out and outcome statistics") {
  const Pack pack = pack_with(R"("title": "t", "version": "3", "date": "2024-05-01",
      "source": "records of the depot",
      "modes": [
        {"type": "relief", "mode": "seat_leak", "grades": [0.9, 0.06, 0.04],
         "posterior": {"distribution": "dirichlet", "parameters": [91.5, 6.5, 4.5]},
         "counts": [91, 6, 4], "exposure": "210000 h", "interval": {"worn": [0.03, 0.11]},
         "method": "Jeffreys", "source": "work orders", "date": "2024-04-30"},
        {"type": "ram", "mode": "rod_leak", "asset_class": "balers",
         "wear_out": {"shape": 2.5, "scale": "12000 h", "failed_share": 0.3}}],
      "outcomes": [
        {"kind": "drift", "background": [0.98, 0.015, 0.005]},
        {"observation": "flow/pump", "leak_rates": {"median": [0.02, 0.1, 0.3]}}])");
  CHECK(pack.id == "p");
  CHECK(pack.title == "t");
  REQUIRE(pack.priors.size() == 2);
  CHECK(pack.priors[0].type == "relief");
  CHECK(pack.priors[0].mode == "seat_leak");
  CHECK(pack.priors[0].asset_class.empty());
  CHECK(pack.priors[0].grades.value()[2] == 0.04);
  CHECK_FALSE(pack.priors[0].wear_out.has_value());
  CHECK(pack.priors[1].asset_class == "balers");
  CHECK(pack.priors[1].wear_out.value().shape == 2.5);
  CHECK(pack.priors[1].wear_out.value().scale_hours == Approx(12000));
  CHECK(pack.priors[1].wear_out.value().failed_share == 0.3);
  REQUIRE(pack.outcomes.size() == 2);
  CHECK(pack.outcomes[0].kind.value() == ObservationKind::drift);
  CHECK(pack.outcomes[0].model.background.value()[0] == 0.98);
  CHECK(pack.outcomes[1].observation == "flow/pump");
  CHECK(pack.outcomes[1].model.leak_median.value()[1] == 0.1);
}

TEST_CASE("the exposure of an entry is a time or a number of demands") {
  const auto with = [](const std::string& exposure) {
    return pack_with(R"("modes": [{"type": "a", "mode": "b", "grades": [1, 0, 0], "exposure": )" +
                     exposure + "}]");
  };
  CHECK(with("1200").priors.size() == 1);
  CHECK(with("\"1200 h\"").priors.size() == 1);
  for (const char* none : {"-1", "\"1200 bar\"", "true"}) {
    INFO(none);
    try {
      with(none);
      FAIL_CHECK("it was taken");
    } catch (const Error& error) {
      CHECK(error.pointer() == "/modes/0/exposure");
    }
  }
}

TEST_CASE("a pack for one asset class says so once") {
  const Pack pack = pack_with(R"("asset_class": "presses", "modes": [
      {"type": "a", "mode": "b", "grades": [1, 0, 0]},
      {"type": "a", "mode": "b", "asset_class": "balers", "grades": [1, 0, 0]}])");
  CHECK(pack.priors[0].asset_class == "presses");
  CHECK(pack.priors[1].asset_class == "balers");
}

TEST_CASE("outcome statistics are for one observation or for one kind, not both") {
  std::string pointer;
  CHECK_THAT(refusal_of_pack(R"("outcomes": [{"background": [1, 0, 0]}])", &pointer),
             Catch::Contains("neither `observation` nor `kind`"));
  CHECK(pointer == "/outcomes/0");
  CHECK_THAT(
      refusal_of_pack(R"("outcomes": [{"kind": "flow", "observation": "flow/p"}])", &pointer),
      Catch::Contains("both `observation` and `kind`"));
}

TEST_CASE("the background of an entry is checked for shape") {
  const auto entry = [](const std::string& member) {
    return R"("modes": [{"type": "a", "mode": "b", "grades": [1, 0, 0], )" + member + "}]";
  };
  std::string pointer;
  refusal_of_pack(entry(R"("interval": [0.1])"), &pointer);
  CHECK(pointer == "/modes/0/interval");
  refusal_of_pack(entry(R"("counts": {"failed": -1})"), &pointer);
  CHECK(pointer == "/modes/0/counts/failed");
  refusal_of_pack(entry(R"("exposure": "100 bar")"), &pointer);
  CHECK(pointer == "/modes/0/exposure");
  refusal_of_pack(entry(R"("method": 7)"), &pointer);
  CHECK(pointer == "/modes/0/method");
}

TEST_CASE("the shipped prior pack and the shipped catalogue agree on every mode") {
  std::map<std::pair<std::string, std::string>, faultodds::circuit::GradeDistribution> catalogue;
  for (const auto& type : read_catalogue(parse_json(kCatalogue))) {
    for (const auto& mode : type.failure_modes) catalogue[{type.name, mode.name}] = mode.prior;
  }
  REQUIRE(catalogue.size() > 20);
  const Pack pack = read_pack(parse_json(kShippedPack));
  CHECK(pack.priors.size() == catalogue.size());
  for (const auto& entry : pack.priors) {
    CAPTURE(entry.type, entry.mode);
    REQUIRE(catalogue.count({entry.type, entry.mode}) == 1);
    CHECK(entry.grades.value() == catalogue.at({entry.type, entry.mode}));
    CHECK(entry.asset_class.empty());
  }
}

TEST_CASE("the shipped prior pack says that it is working judgement") {
  const auto document = parse_json(kShippedPack);
  CHECK_THAT(document.at("provenance").get<std::string>(), Catch::Contains("orking judgement"));
}

TEST_CASE("every shipped type stands alone in a circuit") {
  for (const auto& type : read_catalogue(parse_json(kCatalogue))) {
    CAPTURE(type.name);
    Description circuit = circuit_with("");
    faultodds::circuit::Component component;
    component.id = component.title = "one";
    component.type = type.name;
    circuit.components.push_back(component);
    const auto analysis =
        faultodds::circuit::analyse(circuit, read_catalogue(parse_json(kCatalogue)));
    CHECK(analysis.modes.size() == type.failure_modes.size());
  }
}
