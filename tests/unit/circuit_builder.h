// Small circuits for the circuit tests, built as C++ values: a handful of component types and one
// machine that most tests start from. It reads no documents.
#pragma once

#include <algorithm>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/circuit/analysis.h"
#include "core/error.h"

namespace circuit_test {

using faultodds::circuit::Analysis;
using faultodds::circuit::AreaRule;
using faultodds::circuit::Component;
using faultodds::circuit::ComponentType;
using faultodds::circuit::Connection;
using faultodds::circuit::Description;
using faultodds::circuit::Element;
using faultodds::circuit::ElementKind;
using faultodds::circuit::FailureModeType;
using faultodds::circuit::Fitting;
using faultodds::circuit::Function;
using faultodds::circuit::Observation;
using faultodds::circuit::ObservationKind;
using faultodds::circuit::WrittenObservation;

using Names = std::vector<std::string>;
using Sets = std::set<std::set<std::string>>;

inline constexpr double kBar = 1e5;

inline Element seal(std::string name, std::string from, std::string to, Names open_in = {}) {
  return {std::move(name), ElementKind::seal, std::move(from), std::move(to), std::move(open_in)};
}
inline Element check(std::string name, std::string from, std::string to) {
  return {std::move(name), ElementKind::check, std::move(from), std::move(to), {}};
}
inline Element relief(std::string name, std::string from, std::string to) {
  return {std::move(name), ElementKind::relief, std::move(from), std::move(to), {}};
}
inline Element passage(std::string name, std::string from, std::string to) {
  return {std::move(name), ElementKind::passage, std::move(from), std::move(to), {}};
}

inline FailureModeType leaks(std::string name, Names elements) {
  FailureModeType mode;
  mode.name = std::move(name);
  mode.code = "INL";
  mode.leaks = std::move(elements);
  mode.prior = {0.9, 0.07, 0.03};
  return mode;
}
inline FailureModeType restricts(std::string name, Names elements) {
  FailureModeType mode = leaks(std::move(name), {});
  mode.code = "PLU";
  mode.restricts = std::move(elements);
  return mode;
}

inline ComponentType type(std::string name, Names ports, std::vector<Element> elements,
                          std::vector<FailureModeType> modes) {
  ComponentType out;
  out.name = std::move(name);
  out.ports = std::move(ports);
  out.elements = std::move(elements);
  out.failure_modes = std::move(modes);
  return out;
}

inline ComponentType cartridge(ComponentType of) {
  of.cartridge = true;
  return of;
}

// The types the tests draw on; same shapes as the shipped ones but small and under our control.
inline std::vector<ComponentType> types() {
  std::vector<ComponentType> out;

  ComponentType pump = type("pump", {"in", "out"}, {check("displacement", "in", "out")},
                            {leaks("wear", {"displacement"})});
  pump.failure_modes[0].weakens = {"out"};
  pump.flow_test = true;
  out.push_back(pump);

  out.push_back(type("valve", {"p", "t", "a", "b"},
                     {seal("pa", "p", "a", {"a"}), seal("pb", "p", "b", {"b"}),
                      seal("at", "a", "t", {"b"}), seal("bt", "b", "t", {"a"})},
                     {leaks("bore_wear", {"pa", "pb", "at", "bt"}),
                      restricts("sticks", {"pa", "pb", "at", "bt"})}));
  out.push_back(type("open_centre", {"in", "out"}, {seal("gallery", "in", "out", {"neutral"})},
                     {leaks("land_wear", {"gallery"})}));
  out.push_back(cartridge(type("relief", {"in", "out"}, {relief("poppet", "in", "out")},
                               {leaks("seat_leak", {"poppet"})})));
  out.push_back(cartridge(type("check", {"in", "out"}, {check("poppet", "in", "out")},
                               {leaks("seat_leak", {"poppet"}), restricts("stuck", {"poppet"})})));
  out.push_back(type("filter", {"in", "out"}, {passage("screen", "in", "out")},
                     {restricts("clogged", {"screen"})}));
  out.push_back(type("hose", {"a", "b"}, {passage("bore", "a", "b"), seal("wall", "a", "outside")},
                     {leaks("burst", {"wall"}), restricts("collapsed", {"bore"})}));
  out.push_back(
      type("barrier", {"in", "out"}, {seal("seat", "in", "out")}, {leaks("leak", {"seat"})}));
  out.push_back(type("blank", {"in", "out"}, {seal("wall", "in", "out")}, {}));

  ComponentType cylinder =
      type("cylinder", {"cap", "rod"},
           {seal("piston_seal", "cap", "rod"), seal("rod_seal", "rod", "outside")},
           {leaks("piston_seal_leak", {"piston_seal"}), leaks("rod_seal_leak", {"rod_seal"})});
  cylinder.directions = {{"retract", "cap", "rod"}, {"extend", "rod", "cap"}};
  out.push_back(cylinder);

  ComponentType double_rod =
      type("double_rod", {"left", "right"}, {seal("piston_seal", "left", "right")},
           {leaks("piston_seal_leak", {"piston_seal"})});
  double_rod.directions = {{"left", "left", "right"}, {"right", "right", "left"}};
  double_rod.areas = {{"left", AreaRule::annulus}, {"right", AreaRule::annulus}};
  out.push_back(double_rod);
  return out;
}

inline Component component(std::string id, std::string of_type) {
  Component out;
  out.id = std::move(id);
  out.type = std::move(of_type);
  return out;
}

// Pump, valve with a relief on each work port, cylinder on two lines, main relief, return to tank.
inline Description lift() {
  Description out;
  out.id = "lift";
  out.components = {component("pump", "pump"),       component("main", "relief"),
                    component("valve", "valve"),     component("relief_a", "relief"),
                    component("relief_b", "relief"), component("boom", "cylinder")};
  out.components[1].setting = 180 * kBar;
  out.components[3].setting = 200 * kBar;
  out.components[4].setting = 150 * kBar;
  out.connections = {{"tank", "pump.in", ""},
                     {"pump.out", "valve.p", ""},
                     {"main.in", "valve.p", ""},
                     {"main.out", "tank", ""},
                     {"valve.t", "tank", ""},
                     {"relief_a.in", "valve.a", ""},
                     {"relief_a.out", "tank", ""},
                     {"relief_b.in", "valve.b", ""},
                     {"relief_b.out", "tank", ""},
                     {"valve.a", "boom.cap", "cap_hose"},
                     {"valve.b", "boom.rod", "rod_hose"}};
  out.functions = {{"raise", "Boom up", "boom", "extend", "pump", {{"valve", "a"}}},
                   {"lower", "Boom down", "boom", "retract", "pump.out", {{"valve", "b"}}}};
  return out;
}

// The same with what statics must know of the cylinder.
inline Description rated_lift() {
  Description out = lift();
  out.components[5].bore = 0.1;
  out.components[5].rod = 0.07;
  out.components[5].rating = 320 * kBar;
  return out;
}

inline Analysis analyse(const Description& description,
                        const faultodds::circuit::Limits& limits = {}) {
  return faultodds::circuit::analyse(description, types(), limits);
}

// A copy, so that it outlives a temporary analysis.
inline std::optional<Observation> find(const Analysis& analysis, const std::string& id) {
  const auto found = std::find_if(analysis.observations.begin(), analysis.observations.end(),
                                  [&](const Observation& one) { return one.id == id; });
  if (found == analysis.observations.end()) return std::nullopt;
  return *found;
}

// Minimal sets of an observation by mode id; none when it does not exist.
inline Sets sets(const Analysis& analysis, const std::string& id) {
  Sets out;
  const std::optional<Observation> one = find(analysis, id);
  if (!one) return out;
  for (const auto& set : one->sets) {
    std::set<std::string> names;
    for (const auto mode : set.modes) names.insert(analysis.modes[mode].id);
    out.insert(names);
  }
  return out;
}

inline Component& part(Description& description, const std::string& id) {
  return *std::find_if(description.components.begin(), description.components.end(),
                       [&](const Component& one) { return one.id == id; });
}

struct Refusal {
  faultodds::Code code = faultodds::Code::ok;
  std::string message, pointer;
};

// How the analysis of a circuit is refused; code `ok` when it is not.
inline Refusal refusal(const Description& description,
                       const faultodds::circuit::Limits& limits = {}) {
  try {
    analyse(description, limits);
  } catch (const faultodds::Error& error) {
    return {error.code(), error.what(), error.pointer()};
  }
  return {};
}

}  // namespace circuit_test
