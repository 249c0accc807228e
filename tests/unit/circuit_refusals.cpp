// Every inconsistency of a circuit is refused with a sentence that names what is wrong and a JSON
// pointer to it.
#include <catch2/catch.hpp>
#include <functional>

#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/names.h"
#include "tests/unit/circuit_builder.h"

using namespace circuit_test;
using faultodds::Code;
using faultodds::circuit::StepBudget;

namespace {

struct Fault {
  std::string what;
  std::function<void(Description&)> spoil;
  std::string pointer;
  Names words;  // that the message must contain
};

ComponentType& own_type(Description& machine) {
  machine.types = {type("relief", {"in", "out"}, {relief("poppet", "in", "out")},
                        {leaks("seat_leak", {"poppet"})})};
  machine.types[0].cartridge = true;
  machine.types[0].pointer = "/types/relief";
  return machine.types[0];
}

WrittenObservation& own_test(Description& machine) {
  WrittenObservation test;
  test.id = "gauge";
  test.kind = ObservationKind::test;
  test.model.outcomes = {"good", "bad"};
  test.model.matrix = {{0.9, 0.1}, {0.5, 0.5}, {0.1, 0.9}};
  test.shows = {{{"main.seat_leak"}, 1}};
  machine.observations = {test};
  return machine.observations[0];
}

WrittenObservation& own_override(Description& machine) {
  WrittenObservation entry;
  entry.id = "static/valve.a";
  machine.observations = {entry};
  return machine.observations[0];
}

void check_all(const std::vector<Fault>& faults) {
  for (const Fault& fault : faults) {
    CAPTURE(fault.what);
    Description machine = lift();
    REQUIRE(refusal(machine).code == Code::ok);
    fault.spoil(machine);
    const Refusal refused = refusal(machine);
    CAPTURE(refused.message);
    CHECK(refused.code == Code::invalid_circuit);
    CHECK(refused.pointer == fault.pointer);
    for (const std::string& word : fault.words) {
      CAPTURE(word);
      CHECK(refused.message.find(word) != std::string::npos);
    }
  }
}

}  // namespace

TEST_CASE("Components that do not resolve are refused", "[circuit]") {
  check_all({
      {"unknown type",
       [](auto& m) { m.components[2].type = "valv"; },
       "/components/2/type",
       {"`valv`", "did you mean `valve`"}},
      {"duplicate id",
       [](auto& m) { m.components[4].id = "relief_a"; },
       "/components/4/id",
       {"`relief_a`", "twice"}},
      {"prior of no mode",
       [](auto& m) {
         m.components[1].priors["sat_leak"] = {1, 0, 0};
       },
       "/components/1/priors/sat_leak",
       {"`sat_leak`", "did you mean `seat_leak`"}},
      {"rod as thick as the bore",
       [](auto& m) {
         m.components[5].bore = 0.1;
         m.components[5].rod = 0.1;
       },
       "/components/5/rod",
       {"bore"}},
      {"area of no volume",
       [](auto& m) { m.components[5].areas["cop"] = 0.01; },
       "/components/5/areas/cop",
       {"`cop`", "`cap`"}},
      {"area of no actuator",
       [](auto& m) { m.components[1].areas["in"] = 0.01; },
       "/components/1/areas",
       {"no actuator"}},
      {"one area of two",
       [](auto& m) { m.components[5].areas["cap"] = 0.01; },
       "/components/5/areas",
       {"`cap`", "`rod`", "both"}},
  });
}

TEST_CASE("Connections and fittings that do not resolve are refused", "[circuit]") {
  check_all({
      {"unknown port",
       [](auto& m) { m.connections[3].from = "main.uot"; },
       "/connections/3/from",
       {"`main.uot`", "did you mean `out`"}},
      {"dangling component",
       [](auto& m) { m.connections[3].to = "tonk.in"; },
       "/connections/3/to",
       {"`tonk`"}},
      {"a component without a port",
       [](auto& m) { m.connections[3].to = "boom"; },
       "/connections/3/to",
       {"component.port"}},
      {"a port joined with itself",
       [](auto& m) { m.connections[3].to = "main.out"; },
       "/connections/3/to",
       {"same port"}},
      {"tank joined with outside",
       [](auto& m) {
         m.connections[3] = {"tank", "outside", ""};
       },
       "/connections/3/to",
       {"reservoirs"}},
      {"tank joined with outside over a port",
       [](auto& m) {
         m.connections.push_back({"valve.t", "outside", ""});
       },
       "/connections",
       {"tank", "outside"}},
      {"line used twice",
       [](auto& m) { m.connections[10].line = "cap_hose"; },
       "/connections/10/line",
       {"`cap_hose`", "twice"}},
      {"fitting at no port",
       [](auto& m) {
         m.fittings = {{"valve.c", "ISO 6149-1", "M22", {}}};
       },
       "/fittings/valve.c",
       {"`c`", "Known ports"}},
      {"two fittings at one port",
       [](auto& m) {
         m.fittings = {{"valve.a", "ISO 6149-1", "M22", {}}, {"valve.a", "ISO 1179", "1/2", {}}};
       },
       "/fittings/valve.a",
       {"twice"}},
  });
}

TEST_CASE("Component types that contradict themselves are refused", "[circuit]") {
  check_all({
      {"element volume not known",
       [](auto& m) { own_type(m).elements[0].from = "inn"; },
       "/types/relief/elements/poppet/from",
       {"`inn`", "did you mean `in`"}},
      {"element that joins a volume with itself",
       [](auto& m) { own_type(m).elements[0].to = "in"; },
       "/types/relief/elements/poppet/to",
       {"itself"}},
      {"open_in of a relief",
       [](auto& m) { own_type(m).elements[0].open_in = {"a"}; },
       "/types/relief/elements/poppet/open_in",
       {"seal"}},
      {"element described twice",
       [](auto& m) {
         ComponentType& one = own_type(m);
         one.elements.push_back(one.elements[0]);
       },
       "/types/relief/elements/poppet",
       {"twice"}},
      {"leaks of no element",
       [](auto& m) { own_type(m).failure_modes[0].leaks = {"popet"}; },
       "/types/relief/failure_modes/seat_leak/leaks",
       {"`popet`", "did you mean `poppet`"}},
      {"restricts of no element",
       [](auto& m) { own_type(m).failure_modes[0].restricts = {"bore"}; },
       "/types/relief/failure_modes/seat_leak/restricts",
       {"`bore`"}},
      {"weakens of no port",
       [](auto& m) { own_type(m).failure_modes[0].weakens = {"up"}; },
       "/types/relief/failure_modes/seat_leak/weakens",
       {"`up`"}},
      {"unknown ISO 14224 code",
       [](auto& m) { own_type(m).failure_modes[0].code = "LEAK"; },
       "/types/relief/failure_modes/seat_leak/code",
       {"`LEAK`", "ISO 14224"}},
      {"failure mode described twice",
       [](auto& m) {
         ComponentType& one = own_type(m);
         one.failure_modes.push_back(one.failure_modes[0]);
       },
       "/types/relief/failure_modes/seat_leak",
       {"twice"}},
      {"port named like a reservoir",
       [](auto& m) { own_type(m).ports[1] = "tank"; },
       "/types/relief/ports/1",
       {"reservoir"}},
      {"port named twice",
       [](auto& m) { own_type(m).ports.push_back("in"); },
       "/types/relief/ports/2",
       {"twice"}},
      {"port with a dot in its name",
       [](auto& m) { own_type(m).ports[1] = "o.ut"; },
       "/types/relief/ports/1",
       {"`o.ut`", "letters, digits"}},
      {"inner volume named like a port",
       [](auto& m) { own_type(m).volumes = {"in"}; },
       "/types/relief/volumes/0",
       {"`in`", "twice"}},
      {"element with a space in its name",
       [](auto& m) {
         own_type(m).elements[0].name = "pop pet";
         m.types[0].failure_modes[0].leaks = {"pop pet"};
       },
       "/types/relief/elements/pop pet",
       {"`pop pet`", "letters, digits"}},
      {"failure mode with a dot in its name",
       [](auto& m) { own_type(m).failure_modes[0].name = "seat.leak"; },
       "/types/relief/failure_modes/seat.leak",
       {"`seat.leak`", "letters, digits"}},
      {"valve position with a space in its name",
       [](auto& m) { own_type(m).elements[0] = seal("poppet", "in", "out", {"wide open"}); },
       "/types/relief/elements/poppet/open_in/0",
       {"`wide open`", "letters, digits"}},
      {"valve position listed twice",
       [](auto& m) {
         own_type(m).elements[0] = seal("poppet", "in", "out", {"a", "b", "a"});
       },
       "/types/relief/elements/poppet/open_in/2",
       {"`poppet`", "`a`", "twice"}},
      {"direction with a space in its name",
       [](auto& m) {
         own_type(m).directions = {{"all up", "in", "out"}};
       },
       "/types/relief/actuator/directions/all up",
       {"`all up`", "letters, digits"}},
      {"direction described twice",
       [](auto& m) {
         own_type(m).directions = {{"up", "in", "out"}, {"up", "out", "in"}};
       },
       "/types/relief/actuator/directions/up",
       {"`up`", "twice"}},
      {"direction out of no volume",
       [](auto& m) {
         own_type(m).directions = {{"up", "cap", "in"}};
       },
       "/types/relief/actuator/directions/up/0",
       {"contracting", "`cap`"}},
      {"direction from a volume into itself",
       [](auto& m) {
         own_type(m).directions = {{"up", "in", "in"}};
       },
       "/types/relief/actuator/directions/up/1",
       {"`in`", "two different volumes"}},
      {"area rule of no volume",
       [](auto& m) {
         own_type(m).areas = {{"inn", faultodds::circuit::AreaRule::bore}};
       },
       "/types/relief/actuator/areas/inn",
       {"`inn`", "did you mean `in`"}},
      {"direction over no volume",
       [](auto& m) {
         own_type(m).directions = {{"up", "in", "cap"}};
       },
       "/types/relief/actuator/directions/up/1",
       {"`cap`"}},
      {"direction described twice",
       [](auto& m) {
         own_type(m).directions = {{"up", "in", "out"}, {"up", "out", "in"}};
       },
       "/types/relief/actuator/directions/up",
       {"`up`", "twice"}},
      {"unknown parameter",
       [](auto& m) { own_type(m).parameters = {"settting"}; },
       "/types/relief/parameters/0",
       {"did you mean `setting`"}},
      {"parameter the type does not take",
       [](auto& m) { own_type(m).parameters = {"volume"}; },
       "/components/1/setting",
       {"`relief`"}},
      {"type described twice",
       [](auto& m) {
         own_type(m);
         m.types.push_back(m.types[0]);
       },
       "/types/relief",
       {"twice"}},
  });
}

TEST_CASE("Functions that cannot work are refused", "[circuit]") {
  check_all({
      {"unknown actuator",
       [](auto& m) { m.functions[1].actuator = "bom"; },
       "/functions/1/actuator",
       {"`bom`", "did you mean `boom`"}},
      {"a valve as actuator",
       [](auto& m) { m.functions[1].actuator = "valve"; },
       "/functions/1/actuator",
       {"no actuator"}},
      {"unknown direction",
       [](auto& m) { m.functions[0].direction = "extent"; },
       "/functions/0/direction",
       {"did you mean `extend`"}},
      {"unknown valve",
       [](auto& m) {
         m.functions[0].positions = {{"vlave", "a"}};
       },
       "/functions/0/positions/vlave",
       {"Known valves", "`valve`"}},
      {"a component that is no valve",
       [](auto& m) { m.functions[0].positions["main"] = "a"; },
       "/functions/0/positions/main",
       {"no valve"}},
      {"unknown position",
       [](auto& m) { m.functions[0].positions["valve"] = "c"; },
       "/functions/0/positions/valve",
       {"`c`", "`neutral`"}},
      {"unknown source",
       [](auto& m) { m.functions[0].source = "pumps"; },
       "/functions/0/source",
       {"`pumps`"}},
      {"source port that is none",
       [](auto& m) { m.functions[0].source = "pump.up"; },
       "/functions/0/source",
       {"`up`"}},
      {"source without an outlet",
       [](auto& m) { m.functions[0].source = "valve"; },
       "/functions/0/source",
       {"`valve.port`"}},
      {"driven volume out of reach",
       [](auto& m) { m.functions[0].positions = {}; },
       "/functions/0/positions",
       {"boom.cap", "pump.out", "neutral", "`valve` in `a`"}},
      {"driven volume reached over the tank only",
       [](auto& m) {
         m.components.push_back(component("makeup", "check"));
         m.connections.push_back({"tank", "makeup.in", ""});
         m.connections.push_back({"makeup.out", "valve.a", ""});
         m.connections.push_back({"main.in", "main.out", ""});
         m.functions[0].positions = {};
       },
       "/functions/0/positions",
       {"boom.cap"}},
      {"duplicate id", [](auto& m) { m.functions[1].id = "raise"; }, "/functions/1/id", {"twice"}},
  });
}

TEST_CASE("Hand-written observations that make no sense are refused", "[circuit]") {
  check_all({
      {"under power with an open line",
       [](auto& m) {
         own_test(m).energised = true;
         own_test(m).energised = true;
         m.observations[0].opens_line = true;
       },
       "/observations/0/opens_line",
       {"under power"}},
      {"under power with a line taken off",
       [](auto& m) {
         own_test(m).setup = {"line/cap_hose"};
         m.observations[0].energised = true;
       },
       "/observations/0/setup",
       {"under power"}},
      {"unknown mode",
       [](auto& m) { own_test(m).shows[0].modes = {"main.seat_lek"}; },
       "/observations/0/shows/0/modes/0",
       {"did you mean `main.seat_leak`"}},
      {"no modes",
       [](auto& m) { own_test(m).shows[0].modes = {}; },
       "/observations/0/shows/0/modes",
       {"empty"}},
      {"no kind", [](auto& m) { own_test(m).kind.reset(); }, "/observations/0/kind", {"`symptom`"}},
      {"no outcomes",
       [](auto& m) { own_test(m).model.outcomes.clear(); },
       "/observations/0/outcomes",
       {"outcomes"}},
      {"outcome listed twice",
       [](auto& m) {
         own_test(m).model.outcomes = {"good", "good"};
       },
       "/observations/0/outcomes/1",
       {"twice"}},
      {"no matrix",
       [](auto& m) { own_test(m).model.matrix.clear(); },
       "/observations/0/matrix",
       {"matrix"}},
      {"row of three for two outcomes",
       [](auto& m) {
         own_test(m).model.matrix[1] = {0.5, 0.25, 0.25};
       },
       "/observations/0/matrix/1",
       {"3 entries"}},
      {"unknown setup step",
       [](auto& m) { own_test(m).setup = {"line/cap_hos"}; },
       "/observations/0/setup/0",
       {"did you mean `line/cap_hose`"}},
      {"setup step listed twice",
       [](auto& m) {
         own_test(m).setup = {"lockout", "line/cap_hose", "lockout"};
       },
       "/observations/0/setup/2",
       {"`lockout`", "twice"}},
      {"id used twice",
       [](auto& m) {
         own_test(m);
         m.observations.push_back(m.observations[0]);
       },
       "/observations/1/id",
       {"twice"}},
      {"id of a derived observation",
       [](auto& m) { own_test(m).id = "static/valve.a"; },
       "/observations/0/id",
       {"derived"}},
  });
}

TEST_CASE("Overrides of what follows from the circuit are refused", "[circuit]") {
  check_all({
      {"of no observation",
       [](auto& m) { own_override(m).id = "static/valve.aa"; },
       "/observations/0/shows",
       {"did you mean `static/valve.a`"}},
      {"of the kind",
       [](auto& m) { own_override(m).kind = ObservationKind::flow; },
       "/observations/0/kind",
       {"`static`"}},
      {"of energised",
       [](auto& m) { own_override(m).energised = true; },
       "/observations/0/energised",
       {"follows from the circuit"}},
      {"of opens_line",
       [](auto& m) { own_override(m).opens_line = false; },
       "/observations/0/opens_line",
       {"follows from the circuit"}},
      {"of the setup",
       [](auto& m) { own_override(m).setup = {"lockout"}; },
       "/observations/0/setup",
       {"follow from the circuit"}},
      {"of outcomes without a matrix",
       [](auto& m) {
         own_override(m).model.outcomes = {"yes", "no"};
       },
       "/observations/0/matrix",
       {"matrix must be too"}},
      {"with a pressure above what the port may see",
       [](auto& m) { own_override(m).reference_pressure = 190 * kBar; },
       "/observations/0/reference_pressure",
       {"at most"}},
  });
}

TEST_CASE("Conditions and times that do not resolve are refused", "[circuit]") {
  check_all({
      {"pattern that matches nothing",
       [](auto& m) {
         m.conditions = {{"dirt", "", 0.1, {{"releif.*", 2}}}};
       },
       "/conditions/0/raises/releif.*",
       {"matches no failure mode"}},
      {"duplicate id",
       [](auto& m) {
         m.conditions = {{"dirt", "", 0.1, {}}, {"dirt", "", 0.1, {}}};
       },
       "/conditions/1/id",
       {"twice"}},
      {"unknown time",
       [](auto& m) {
         m.times = {{"lock_out", 3}};
       },
       "/times/lock_out",
       {"did you mean `lockout`"}},
  });
}

TEST_CASE("A circuit over a stated limit is refused as such", "[circuit]") {
  faultodds::circuit::Limits limits;
  limits.components = 5;
  CHECK(refusal(lift(), limits).code == Code::limit_exceeded);
  CHECK(refusal(lift(), limits).pointer == "/components");
  limits = {};
  limits.modes = 3;
  CHECK(refusal(lift(), limits).code == Code::limit_exceeded);
  limits = {};
  limits.positions = 2;
  CHECK(refusal(lift(), limits).code == Code::limit_exceeded);
  CHECK(refusal(lift(), limits).message.find("valve positions") != std::string::npos);
  limits = {};
  limits.path_steps = 20;
  CHECK(refusal(lift(), limits).code == Code::limit_exceeded);
  limits = {};
  const std::size_t observations = analyse(lift()).observations.size();
  limits.observations = observations;
  CHECK(refusal(lift(), limits).code == Code::ok);
  limits.observations = observations - 1;
  CHECK(refusal(lift(), limits).message ==
        "more than " + std::to_string(observations - 1) + " observations");
  limits = {};
  std::size_t all = 0;
  for (const auto& one : analyse(lift()).observations) all += one.sets.size();
  limits.sets = all;
  CHECK(refusal(lift(), limits).code == Code::ok);
  limits.sets = all - 1;
  CHECK(refusal(lift(), limits).code == Code::limit_exceeded);
  CHECK(refusal(lift(), limits).message ==
        "more than " + std::to_string(all - 1) + " minimal sets over all observations");
  limits = {};
  limits.sets_per_observation = 1;
  const Refusal refused = refusal(lift(), limits);
  CHECK(refused.code == Code::limit_exceeded);
  CHECK(refused.message.find("drift/boom/retract") != std::string::npos);
  CHECK(refusal(lift(), {}).code == Code::ok);
}

TEST_CASE("hand-written observations over a stated limit are refused as such", "[circuit]") {
  Description machine = lift();
  const std::size_t derived = analyse(machine).observations.size();
  own_test(machine).shows = {{{"main.seat_leak"}, 1}, {{"relief_a.seat_leak"}, 1}};
  faultodds::circuit::Limits limits;
  limits.observations = derived;
  Refusal refused = refusal(machine, limits);
  CHECK(refused.code == Code::limit_exceeded);
  CHECK(refused.pointer == "/observations/0");
  CHECK(refused.message == "more than " + std::to_string(derived) + " observations");
  limits.observations = derived + 1;
  CHECK(refusal(machine, limits).code == Code::ok);
}

TEST_CASE("the steps of all walks over a circuit are counted together", "[circuit]") {
  StepBudget budget(10);
  budget.spend(6, "first");
  budget.spend(4, "second");
  try {
    budget.spend(1, "third");
    FAIL("an eleventh step was taken");
  } catch (const faultodds::Error& error) {
    CHECK(error.code() == Code::limit_exceeded);
    CHECK_THAT(error.what(), Catch::Contains("third") && Catch::Contains("10"));
  }
}

TEST_CASE("What is just within a limit is taken", "[circuit]") {
  Description machine = lift();
  machine.times = {{"lockout", 0}};
  own_test(machine).model.outcomes.clear();
  for (int i = 0; i < 64; ++i) {
    machine.observations[0].model.outcomes.push_back("outcome_" + std::to_string(i));
  }
  std::vector<double> row(64, 0.0);
  row[63] = 1;
  machine.observations[0].model.matrix = {row, row, row};
  CHECK(refusal(machine).message == "");
  machine.observations[0].model.outcomes.push_back("outcome_64");
  CHECK(refusal(machine).pointer == "/observations/0/outcomes");
}

TEST_CASE("Where no barrier may leak, no leak is found and none is refused", "[circuit]") {
  faultodds::circuit::Limits limits;
  limits.barriers_per_path = 0;
  const Analysis analysis = analyse(lift(), limits);
  CHECK_FALSE(find(analysis, "static/valve.a"));
  CHECK_FALSE(find(analysis, "drift/boom/retract"));
}

TEST_CASE("A name that is not known gets the nearest as a suggestion, and the known ones listed",
          "[circuit]") {
  using faultodds::circuit::expected;
  const Names known = {"relief", "check", "pump"};
  CHECK(expected("relef", known, "types") ==
        "; did you mean `relief`? Known types: `relief`, `check`, `pump`");
  // Nothing is near: no suggestion, and all of them still.
  const std::string far = expected("accumulator", known, "types");
  CHECK_THAT(far, !Catch::Contains("did you mean") && Catch::Contains("`relief`") &&
                      Catch::Contains("`check`") && Catch::Contains("`pump`"));
}

TEST_CASE("paths over more barriers than can be kept are refused before any search", "[circuit]") {
  for (const int barriers : {-1, 9}) {
    faultodds::circuit::Limits limits;
    limits.barriers_per_path = barriers;
    const Refusal refused = refusal(lift(), limits);
    CHECK(refused.code == Code::invalid_argument);
    CHECK(refused.message ==
          "barriers_per_path: " + std::to_string(barriers) + " is given; 0 to 8 was expected");
  }
}

TEST_CASE("Names in pointers are escaped", "[circuit]") {
  Description machine = lift();
  machine.times = {{"open/line~", 1}};
  CHECK(refusal(machine).pointer == "/times/open~1line~0");
}
