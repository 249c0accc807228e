#include "tests/property/generator.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>
#include <utility>
#include <vector>

namespace oracle {
namespace {

// Not the standard distributions: those differ between libraries.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  std::size_t below(std::size_t n) { return static_cast<std::size_t>(engine_() % n); }
  int between(int low, int high) {
    return low + static_cast<int>(below(static_cast<std::size_t>(high - low + 1)));
  }
  double real(double low, double high) {
    return low + (high - low) * static_cast<double>(engine_() >> 11) * 0x1p-53;
  }
  bool chance(double p) { return real(0, 1) < p; }
  template <class Container>
  auto pick(const Container& from) {
    auto at = from.begin();
    std::advance(at, static_cast<std::ptrdiff_t>(below(from.size())));
    return *at;
  }
  template <class T>
  void shuffle(std::vector<T>& list) {
    for (std::size_t i = list.size(); i > 1; --i) std::swap(list[i - 1], list[below(i)]);
  }

 private:
  std::mt19937_64 engine_;
};

double rounded(double value, double steps = 1000) { return std::round(value * steps) / steps; }

// "12.5 mL/min", four significant digits.
std::string text(double value, const char* unit) {
  char buffer[64];
  std::snprintf(buffer, sizeof buffer, "%.4g %s", value, unit);
  return buffer;
}

std::vector<double> distribution(Dice& dice, std::size_t n, double zero_chance) {
  std::vector<double> p(n);
  double sum = 0;
  for (double& x : p) {
    x = dice.chance(zero_chance) ? 0 : -std::log(dice.real(0.001, 1));
    sum += x;
  }
  if (sum == 0) {
    p[0] = sum = 1;
  }
  double rest = 1;
  std::size_t last = 0;
  for (std::size_t i = 0; i < n; ++i) {
    if (p[i] > 0) last = i;
  }
  for (std::size_t i = 0; i < n; ++i) {
    if (i == last) continue;
    p[i] = std::floor(p[i] / sum * 1000) / 1000;
    rest -= p[i];
  }
  p[last] = rest;
  return p;
}

// In `rare` circuits every fault is, as faults of good parts are: then cancellation shows.
Json prior(Dice& dice, bool rare = false) {
  if (rare) {
    const double worn = std::pow(10, dice.real(-12, -3)), failed = std::pow(10, dice.real(-12, -3));
    return {1 - worn - failed, worn, failed};
  }
  const int style = dice.between(0, 19);
  if (style == 0) return {1.0, 0.0, 0.0};
  if (style == 1) return {0.0, 0.25, 0.75};
  double worn = rounded(dice.real(0.001, 0.2), 10000),
         failed = rounded(dice.real(0.001, 0.1), 10000);
  if (style == 2) worn = 0;
  if (style == 3) failed = 0;
  if (style <= 6) {
    worn = rounded(dice.real(0.1, 0.4));
    failed = rounded(dice.real(0.1, 0.4));
  }
  return {1 - worn - failed, worn, failed};
}

Json element(Dice& dice, const char* kind, const std::string& from, const std::string& to) {
  const bool turn = std::string(kind) == "seal" && dice.chance(0.5);
  return {{"kind", kind}, {"from", turn ? to : from}, {"to", turn ? from : to}};
}

Json land(Dice& dice, const std::string& from, const std::string& to,
          const std::vector<std::string>& open_in) {
  Json made = element(dice, "seal", from, to);
  if (!open_in.empty()) made["open_in"] = open_in;
  return made;
}

Json mode(Dice& dice, const char* code) {
  return {{"code", code}, {"title", "generated"}, {"prior", prior(dice)}};
}

// Some of `all`, at least one.
std::vector<std::string> some(Dice& dice, std::vector<std::string> all) {
  dice.shuffle(all);
  all.resize(1 + dice.below(all.size()));
  return all;
}

Json one_or_list(Dice& dice, const std::vector<std::string>& list) {
  if (list.size() == 1 && dice.chance(0.5)) return list.front();
  return list;
}

// ---- types ------------------------------------------------------------------------------------

// Members of an ordered object move when one is added: build the parts apart, then join them.
Json whole(Json type, const Json& elements, const Json& modes) {
  type["elements"] = elements;
  type["failure_modes"] = modes;
  return type;
}

Json valve_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"p", "t", "a", "b"};
  std::string supply = "p";
  if (dice.chance(0.4)) {
    supply = "core";
    type["volumes"] = Json::array({"core"});
    elements["load_check"] = element(dice, dice.chance(0.7) ? "check" : "passage", "p", "core");
  }
  std::vector<std::string> to_tank_in = {"back"}, back_to_tank_in = {"forward"};
  if (dice.chance(0.3)) {
    to_tank_in.push_back("float");
    back_to_tank_in.push_back("float");
  }
  if (dice.chance(0.1)) to_tank_in.push_back("neutral");
  elements["pa"] = land(dice, supply, "a", {"forward"});
  elements["pb"] = land(dice, supply, "b", {"back"});
  elements["at"] = land(dice, "a", "t", to_tank_in);
  elements["bt"] = land(dice, "b", "t", back_to_tank_in);
  std::vector<std::string> lands = {"pa", "pb", "at", "bt"};
  if (dice.chance(0.4)) {
    elements["pt"] = land(dice, "p", "t", {"neutral"});
    lands.push_back("pt");
  }
  if (dice.chance(0.3)) {
    elements["ab"] = land(dice, "a", "b", {});
    lands.push_back("ab");
  }
  if (dice.chance(0.3)) elements["wall"] = land(dice, "a", "outside", {});  // may never leak
  modes["bore_wear"] = mode(dice, "INL");
  modes["bore_wear"]["leaks"] = some(dice, lands);
  if (dice.chance(0.5)) {
    modes["spool_scored"] = mode(dice, "INL");
    modes["spool_scored"]["leaks"] = one_or_list(dice, {dice.pick(lands)});
  }
  if (dice.chance(0.4)) {
    modes["spool_sticks"] = mode(dice, "STD");
    modes["spool_sticks"]["restricts"] = one_or_list(dice, some(dice, {"pa", "pb", "at", "bt"}));
    if (dice.chance(0.4)) modes["spool_sticks"]["leaks"] = some(dice, lands);
  }
  if (elements.contains("wall") && dice.chance(0.6)) {
    modes["body_crack"] = mode(dice, "ELU");
    modes["body_crack"]["leaks"] = "wall";
    if (dice.chance(0.3)) modes["body_crack"]["leaks"] = {"wall", dice.pick(lands)};
  }
  if (elements.contains("load_check") && dice.chance(0.5)) {
    modes["load_check_leak"] = mode(dice, "INL");
    modes["load_check_leak"]["leaks"] = "load_check";
    if (dice.chance(0.3)) modes["load_check_leak"]["restricts"] = "load_check";
  }
  return whole(type, elements, modes);
}

Json cylinder_type(Dice& dice, bool double_rod) {
  Json type, elements = Json::object(), modes = Json::object();
  const bool renamed = !double_rod && dice.chance(0.15);  // areas by rule, not by name
  const std::string one = double_rod ? "left"
                          : renamed  ? "head"
                                     : "cap",
                    two = double_rod ? "right"
                          : renamed  ? "gland"
                                     : "rod";
  type["ports"] = {one, two};
  elements["piston_seal"] = land(dice, one, two, {});
  elements["rod_seal"] = land(dice, two, "outside", {});
  modes["piston_seal_leak"] = mode(dice, "INL");
  modes["piston_seal_leak"]["leaks"] = one_or_list(dice, {"piston_seal"});
  modes["rod_seal_leak"] = mode(dice, "ELU");
  modes["rod_seal_leak"]["leaks"] = "rod_seal";
  if (double_rod || dice.chance(0.3)) {
    elements["second_rod_seal"] = land(dice, one, "outside", {});
    if (dice.chance(0.5)) {
      modes["rod_seal_leak"]["leaks"] = {"rod_seal", "second_rod_seal"};
    } else if (dice.chance(0.5)) {
      modes["second_rod_seal_leak"] = mode(dice, "ELU");
      modes["second_rod_seal_leak"]["leaks"] = "second_rod_seal";
    }
  }
  if (!double_rod && dice.chance(0.2)) {
    // A cushion: the chamber is an inner volume behind a passage.
    type["ports"] = {"inlet", two};
    type["volumes"] = Json::array({one});
    elements["cushion"] = element(dice, "passage", "inlet", one);
    modes["cushion_clogged"] = mode(dice, "PLU");
    modes["cushion_clogged"]["restricts"] = "cushion";
  }
  if (dice.chance(0.2)) {
    modes["tube_scored"] = mode(dice, "INL");
    modes["tube_scored"]["leaks"] = {"piston_seal", "rod_seal"};
  }
  type["actuator"]["directions"] = {{"retract", {one, two}}, {"extend", {two, one}}};
  if (renamed) type["actuator"]["areas"] = {{one, "bore"}, {two, "annulus"}};
  return whole(type, elements, modes);
}

Json motor_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"left", "right", "drain"};
  type["flow_test"] = true;
  elements["across"] = land(dice, "left", "right", {});
  elements["left_case"] = land(dice, "left", "drain", {});
  elements["right_case"] = land(dice, "right", "drain", {});
  modes["plate_wear"] = mode(dice, "INL");
  modes["plate_wear"]["leaks"] = some(dice, {"across", "left_case", "right_case"});
  modes["group_wear"] = mode(dice, "LOO");
  modes["group_wear"]["leaks"] = some(dice, {"left_case", "right_case"});
  type["actuator"]["directions"] = {{"forward", {"right", "left"}}, {"back", {"left", "right"}}};
  return whole(type, elements, modes);
}

Json pump_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"in", "out"};
  type["flow_test"] = dice.chance(0.8);
  elements["slip"] = land(dice, "out", "in", {});
  modes["wear"] = mode(dice, "LOO");
  modes["wear"]["weakens"] = one_or_list(dice, {"out"});
  if (dice.chance(0.15)) modes["wear"]["weakens"] = true;
  if (dice.chance(0.6)) modes["wear"]["leaks"] = "slip";
  if (dice.chance(0.4)) {
    type["volumes"] = Json::array({"chamber"});
    elements["inlet"] = element(dice, "check", "in", "chamber");
    elements["outlet"] = element(dice, "check", "chamber", "out");
    modes["strainer_clogged"] = mode(dice, "PLU");
    modes["strainer_clogged"]["restricts"] = "inlet";
    if (dice.chance(0.3)) modes["strainer_clogged"]["leaks"] = "outlet";
    if (dice.chance(0.4)) {
      modes["valve_plate_wear"] = mode(dice, "INL");
      modes["valve_plate_wear"]["leaks"] = {"inlet", "outlet"};
    }
  }
  return whole(type, elements, modes);
}

Json relief_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"in", "out"};
  if (dice.chance(0.7)) type["cartridge"] = true;
  elements["poppet"] = element(dice, "relief", "in", "out");
  modes["seat_leak"] = mode(dice, "INL");
  modes["seat_leak"]["leaks"] = "poppet";
  if (dice.chance(0.3)) {
    modes["spring_broken"] = mode(dice, "BRD");
    modes["spring_broken"]["leaks"] = "poppet";
  }
  return whole(type, elements, modes);
}

Json check_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"in", "out"};
  if (dice.chance(0.6)) type["cartridge"] = true;
  elements["seat"] = element(dice, "check", "in", "out");
  modes["seat_leak"] = mode(dice, "INL");
  modes["seat_leak"]["leaks"] = "seat";
  if (dice.chance(0.4)) {
    modes["stuck"] = mode(dice, "STD");
    modes["stuck"]["restricts"] = "seat";
  }
  return whole(type, elements, modes);
}

// Holds a load: free flow in, shut out.
Json holding_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"in", "out"};
  if (dice.chance(0.7)) type["cartridge"] = true;
  elements["free_flow"] = element(dice, "check", "in", "out");
  elements["main"] = element(dice, dice.chance(0.6) ? "relief" : "seal", "out", "in");
  if (elements["main"]["kind"] == "seal") {
    elements["main"]["open_in"] = Json::array({"released"});
  }
  modes["seat_leak"] = mode(dice, "INL");
  modes["seat_leak"]["leaks"] = some(dice, {"free_flow", "main"});
  if (dice.chance(0.4)) {
    modes["main_leak"] = mode(dice, "INL");
    modes["main_leak"]["leaks"] = "main";
  }
  if (dice.chance(0.4)) {
    modes["clogged"] = mode(dice, "PLU");
    modes["clogged"]["restricts"] = some(dice, {"free_flow", "main"});
    if (dice.chance(0.3)) modes["clogged"]["leaks"] = "main";
  }
  return whole(type, elements, modes);
}

Json filter_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"in", "out"};
  elements["mesh"] = element(dice, "passage", "in", "out");
  modes["clogged"] = mode(dice, "PLU");
  modes["clogged"]["restricts"] = "mesh";
  if (dice.chance(0.4)) {
    elements["bypass"] = element(dice, "relief", "in", "out");
    modes["bypass_leak"] = mode(dice, "INL");
    modes["bypass_leak"]["leaks"] = "bypass";
  }
  if (dice.chance(0.6)) {
    // A clogged element lifts off its seal; the bowl behind it leaks to the outside.
    type["volumes"] = Json::array({"bowl"});
    elements["element_seal"] = land(dice, "out", "bowl", {});
    elements["bowl_seal"] = land(dice, "bowl", "outside", {});
    modes["clogged"]["leaks"] = "element_seal";
    modes["bowl_leak"] = mode(dice, "ELU");
    modes["bowl_leak"]["leaks"] = "bowl_seal";
  }
  return whole(type, elements, modes);
}

// Several barriers one behind another, sometimes more than a path may have.
Json chain_type(Dice& dice) {
  Json type, elements = Json::object(), modes = Json::object();
  type["ports"] = {"in", "out"};
  const int length = dice.chance(0.5) ? 5 : dice.between(2, 4);
  type["volumes"] = Json::array();
  std::string from = "in";
  std::vector<std::string> barriers;
  for (int i = 1; i <= length; ++i) {
    const std::string to = i == length ? "out" : "m" + std::to_string(i);
    if (i < length) type["volumes"].push_back(to);
    barriers.push_back("s" + std::to_string(i));
    elements[barriers.back()] = land(dice, from, to, {});
    from = to;
  }
  const int wanted = dice.between(1, 2);
  for (int i = 0; i < wanted; ++i) {
    const std::string called = "lip" + std::to_string(i + 1);
    modes[called] = mode(dice, "INL");
    modes[called]["leaks"] = Json::array();
  }
  for (const auto& barrier : barriers) {
    // Every barrier can leak, so that the chain shows.
    modes["lip" + std::to_string(dice.between(1, wanted))]["leaks"].push_back(barrier);
  }
  Json kept = Json::object();
  for (const auto& [called, made] : modes.items()) {
    if (!made["leaks"].empty()) kept[called] = made;
  }
  modes = kept;
  return whole(type, elements, modes);
}

// ---- circuits ---------------------------------------------------------------------------------

class Builder {
 public:
  Builder(std::uint64_t seed, const Sizes& sizes) : dice(seed), sizes_(sizes) {
    rare_ = dice.chance(0.2);
  }

  Json circuit() {
    document_["format"] = "faultodds-circuit/1";
    document_["id"] = "generated";
    document_["title"] = "generated circuit";
    document_["effects"] = "grades";  // what the enumeration knows; sizes have one of their own
    document_["types"] = Json::object();
    document_["components"] = Json::array();
    document_["connections"] = Json::array();
    if (dice.chance(0.65)) {
      machine();
    } else {
      heap();
    }
    thin_out_modes();
    if (rare_) make_rare();
    if (!functions_.empty()) document_["functions"] = functions_;
    add_conditions();
    if (dice.chance(0.3)) add_times();
    if (dice.chance(0.3)) add_pressures();
    return document_;
  }

  Json written(const Structure& structure) {
    Json list = Json::array();
    std::vector<std::string> modes, setup;
    for (const auto& m : structure.modes) modes.push_back(m.id);
    for (const auto& step : structure.setup_minutes) setup.push_back(step.first);
    const int count = dice.between(0, 3);
    for (int i = 0; i < count; ++i) {
      static const std::vector<std::string> kinds = {"static", "drift",   "delivery",
                                                     "flow",   "symptom", "test"};
      Json made;
      made["id"] = "written" + std::to_string(i + 1);
      made["title"] = "generated";
      const std::string kind = dice.pick(kinds);
      made["kind"] = kind;
      const bool needs_matrix = kind == "symptom" || kind == "test";
      if (needs_matrix || dice.chance(0.3)) {
        outcomes_and_matrix(made, static_cast<std::size_t>(dice.between(2, 4)));
      }
      if (dice.chance(0.6)) made["background"] = distribution(dice, 3, 0.4);
      made["shows"] = Json::array();
      const int sets = dice.between(1, 4);
      for (int s = 0; s < sets; ++s) {
        auto chosen = modes;
        dice.shuffle(chosen);
        chosen.resize(
            std::min<std::size_t>(chosen.size(), dice.chance(0.5) ? 1 : 1 + dice.below(3)));
        Json entry = {{"modes", chosen}};
        if (dice.chance(0.6)) entry["probability"] = rounded(dice.real(0.2, 1));
        made["shows"].push_back(entry);
        if (dice.chance(0.1)) made["shows"].push_back(entry);
      }
      const bool energised = dice.chance(0.4);
      made["energised"] = energised;
      if (!energised && dice.chance(0.3)) made["opens_line"] = dice.chance(0.5);
      if (!needs_matrix || dice.chance(0.5)) made["minutes"] = dice.between(1, 30);
      if (kind != "flow" && dice.chance(0.3)) leak_rates(made);
      if (dice.chance(0.5)) made["reference_pressure"] = text(dice.between(50, 250), "bar");
      if (!energised && dice.chance(0.5)) {
        dice.shuffle(setup);
        made["setup"] = Json::array();
        for (std::size_t k = 0; k < setup.size() && k < 2; ++k) {
          if (setup[k].rfind("meter/", 0) != 0) made["setup"].push_back(setup[k]);
        }
      }
      list.push_back(made);
    }
    if (sizes_.job && modes.size() >= 3 && dice.chance(0.6)) list.push_back(tied(modes));
    for (const auto& observation : structure.observations) {
      if (!dice.chance(0.15)) continue;
      Json made;
      made["id"] = observation.id;
      if (dice.chance(0.7)) {
        outcomes_and_matrix(made,
                            dice.chance(0.5) ? 3 : static_cast<std::size_t>(dice.between(2, 5)));
      }
      if (dice.chance(0.7)) made["background"] = distribution(dice, 3, 0.4);
      if (dice.chance(0.3)) made["minutes"] = dice.between(1, 60);
      if (observation.kind != "flow" && dice.chance(0.3)) leak_rates(made);
      if (!pressures_ && observation.kind != "flow" && dice.chance(0.4)) {
        made["reference_pressure"] = text(dice.between(50, 250), "bar");
      }
      list.push_back(made);
    }
    return list;
  }

  // Sets of two and three modes that share them: round a hub, in a ring, or any way at all.
  Json tied(std::vector<std::string> modes) {
    dice.shuffle(modes);
    std::vector<std::vector<std::string>> sets;
    const int shape = dice.between(0, 2);
    const std::size_t n = modes.size();
    if (shape == 0) {
      for (std::size_t i = 1; i < n; ++i) sets.push_back({modes[0], modes[i]});
    } else if (shape == 1) {
      for (std::size_t i = 0; i < n; ++i) sets.push_back({modes[i], modes[(i + 1) % n]});
    } else {
      for (int i = dice.between(2, 5); i > 0; --i) {
        dice.shuffle(modes);
        sets.emplace_back(modes.begin(), modes.begin() + dice.between(2, 3));
      }
    }
    Json made = {{"id", "tied"}, {"title", "generated"}};
    made["kind"] = dice.chance(0.7) ? "symptom" : "test";
    outcomes_and_matrix(made, static_cast<std::size_t>(dice.between(2, 3)));
    if (dice.chance(0.7)) made["background"] = distribution(dice, 3, 0.3);
    made["shows"] = Json::array();
    for (const auto& set : sets) {
      made["shows"].push_back({{"modes", set}});
      if (dice.chance(0.3)) made["shows"].back()["probability"] = rounded(dice.real(0.2, 1));
    }
    if (dice.chance(0.5)) made["shows"].push_back({{"modes", {modes[0]}}});
    made["energised"] = dice.chance(0.4);
    made["minutes"] = dice.between(1, 30);
    return made;
  }

  // Times, parts replaced and a complaint named, for a case that has none yet. An observation has
  // one time or none: which of several counts is not what is looked at.
  void make_a_job(const Structure& structure, Json& the_case) {
    std::set<std::string> seen;
    for (const auto& entry : the_case["observations"]) seen.insert(entry["observation"]);
    for (const auto& id : seen) {
      if (!dice.chance(0.5)) continue;
      const std::string at = "2024-05-0" + std::to_string(dice.between(1, 9));
      for (auto& entry : the_case["observations"]) {
        if (entry["observation"] == id) entry["at"] = at;
      }
    }
    if (!seen.empty() && dice.chance(0.2)) the_case["focus"] = dice.pick(seen);
    if (!dice.chance(0.4)) return;
    // A replaced part is more modes to enumerate.
    const std::size_t most = 9;
    std::size_t modes = structure.modes.size();
    for (int repairs = dice.between(1, 2); repairs > 0; --repairs) {
      Json ids = Json::array();
      for (int i = dice.between(1, 2); i > 0; --i) {
        const std::string id = dice.pick(document_["components"])["id"];
        std::size_t own = 0;
        for (const auto& mode : structure.modes) own += mode.component == id ? 1 : 0;
        if (own == 0 || modes + own > most || std::count(ids.begin(), ids.end(), id)) continue;
        modes += own;
        ids.push_back(id);
      }
      if (ids.empty()) continue;
      Json& list = the_case["observations"];
      list.insert(list.begin() + dice.between(0, static_cast<int>(list.size())),
                  Json{{"repaired", ids}});
    }
  }

  // The same observations, seen otherwise; the machine is the same one.
  Json again(const Structure& structure, Json before) {
    for (auto& entry : before["observations"]) {
      entry = seen(*structure.find(entry["observation"]));
    }
    return before;
  }

  // A prior pack that knows some of the circuit's types and kinds of observation.
  Json pack() {
    Json made = {{"format", "faultodds-priors/1"}, {"id", "generated"}, {"title", "generated"}};
    made["modes"] = Json::array();
    if (!dice.chance(0.5)) return made;
    for (const auto& [type, description] : document_["types"].items()) {
      for (const auto& [called, unused] : description["failure_modes"].items()) {
        for (const char* of_class : {"", "heavy", "light"}) {
          if (!dice.chance(0.3)) continue;
          Json entry = {{"type", type}, {"mode", called}};
          if (*of_class) entry["asset_class"] = of_class;
          const bool wear_out = dice.chance(0.5);
          if (!wear_out || dice.chance(0.5)) entry["grades"] = prior(dice, rare_);
          if (wear_out) {
            entry["wear_out"] = {{"shape", rounded(dice.real(0.7, 3))},
                                 {"scale", text(dice.between(2000, 60000), "h")}};
            if (dice.chance(0.7)) entry["wear_out"]["failed_share"] = rounded(dice.real(0, 1));
          }
          made["modes"].push_back(entry);
        }
      }
    }
    for (const char* kind : {"static", "drift", "delivery", "flow", "look", "temperature"}) {
      if (!dice.chance(0.2)) continue;
      if (!made.contains("outcomes")) made["outcomes"] = Json::array();
      Json entry = {{"kind", kind}, {"matrix", Json::array()}};
      for (int g = 0; g < 3; ++g) entry["matrix"].push_back(distribution(dice, 3, 0.1));
      if (dice.chance(0.5)) entry["background"] = distribution(dice, 3, 0.2);
      made["outcomes"].push_back(entry);
    }
    return made;
  }

  Json the_case(const Structure& structure) {
    Json made;
    made["format"] = "faultodds-case/1";
    made["circuit"] = "generated";
    if (dice.chance(0.5)) made["asset"] = {{"id", "unit-7"}};
    if (made.contains("asset") && dice.chance(0.5)) made["asset"]["class"] = "heavy";
    if (made.contains("asset") && dice.chance(0.7)) {
      for (const auto& component : document_["components"]) {
        if (!dice.chance(0.6)) continue;
        const int hours = dice.between(0, 20000);
        Json& all = made["asset"]["component_hours"];
        if (dice.chance(0.5)) {
          all[component["id"].get<std::string>()] = hours;
        } else {
          all[component["id"].get<std::string>()] = text(hours, "h");
        }
        if (dice.chance(0.3))
          made["asset"]["sound_at"][component["id"].get<std::string>()] = hours / 2;
      }
    }
    if (made.contains("asset") && dice.chance(0.3)) {
      made["asset"]["meter_hours"] = dice.between(10000, 20000);
    }
    made["observations"] = Json::array();
    std::vector<const Observation*> symptoms, all, used;
    for (const auto& observation : structure.observations) {
      all.push_back(&observation);
      if (observation.symptom) symptoms.push_back(&observation);
    }
    const std::size_t entries = dice.chance(0.08) ? 0 : 1 + dice.below(sizes_.evidence);
    for (std::size_t i = 0; i < entries; ++i) {
      const Observation* observation = dice.pick(all);
      if (!symptoms.empty() && dice.chance(i == 0 ? 0.8 : 0.2)) observation = dice.pick(symptoms);
      if (!used.empty() && dice.chance(0.2)) observation = dice.pick(used);
      used.push_back(observation);
      Json entry = seen(*observation);
      if (dice.chance(0.15)) entry["at"] = "day " + std::to_string(dice.between(1, 2));
      made["observations"].push_back(entry);
      if (dice.chance(0.15)) made["observations"].push_back(said_again(entry));
    }
    if (dice.chance(0.3)) {
      made["setup_done"] = Json::array();
      for (const auto& step : structure.setup_minutes) {
        if (dice.chance(0.4)) made["setup_done"].push_back(step.first);
      }
    }
    if (dice.chance(0.2)) made["focus"] = dice.chance(0.5) ? "complaint" : "circuit";
    return made;
  }

 private:
  // Adds a component, of a new type or (sometimes) of one made before.
  std::string add(const std::string& family, Json (*make)(Dice&)) {
    std::string type = family;
    int n = 1;
    while (document_["types"].contains(type)) type = family + std::to_string(++n);
    if (n > 1 && dice.chance(0.5)) {
      type = n == 2 ? family : family + std::to_string(n - 1);
    } else {
      document_["types"][type] = make(dice);
    }
    const std::string id =
        std::string(1, static_cast<char>('A' + static_cast<int>(document_["components"].size()))) +
        (dice.chance(0.05) ? ".1" : "") + "_" + family;
    Json component = {{"id", id}, {"type", type}};
    if (dice.chance(0.3)) {
      for (const auto& [called, made] : document_["types"][type]["failure_modes"].items()) {
        if (dice.chance(0.5)) component["priors"][called] = prior(dice);
      }
    }
    if (family == "cylinder" || family == "double_rod") {
      if (family == "cylinder" && dice.chance(0.5)) {
        const int bore = dice.between(40, 200);
        component["bore"] = text(bore, "mm");
        component["rod"] = text(bore * dice.real(0.3, 0.8), "mm");
      } else if (dice.chance(0.6)) {
        const Json chambers = document_["types"][type]["actuator"]["directions"]["retract"];
        for (const auto& chamber : chambers) {
          component["areas"][chamber.get<std::string>()] = text(dice.between(20, 90), "cm2");
        }
      }
    }
    if ((family == "pump" || family == "motor") && dice.chance(0.5)) {
      component["rated_flow"] = text(dice.between(20, 200), "L/min");
    }
    document_["components"].push_back(component);
    return id;
  }

  void join(const std::string& from, const std::string& to, double line_chance) {
    const bool reservoir = to == "tank" || from == "tank";
    Json made = {{"from", from}, {"to", to}};
    if (dice.chance(0.3)) std::swap(made["from"], made["to"]);
    if (!lined_.count(from) && !lined_.count(to) && dice.chance(line_chance)) {
      made["line"] = "h" + std::to_string(++lines_);
      lined_.insert(from);
      if (!reservoir) lined_.insert(to);
    }
    document_["connections"].push_back(made);
  }

  void machine() {
    const bool pump = dice.chance(0.7), motor = dice.chance(0.15);
    const std::string valve = add("valve", valve_type);
    const bool double_rod = dice.chance(0.25);
    std::string actuator;
    if (motor) {
      actuator = add("motor", motor_type);
    } else if (double_rod) {
      actuator = add("double_rod", [](Dice& d) { return cylinder_type(d, true); });
    } else {
      actuator = add("cylinder", [](Dice& d) { return cylinder_type(d, false); });
    }
    const Json ports =
        document_["types"][document_["components"].back()["type"].get<std::string>()]["ports"];
    const std::string one = actuator + "." + ports[0].get<std::string>();
    const std::string two = actuator + "." + ports[1].get<std::string>();
    std::string source = valve + ".p";
    if (pump) {
      const std::string made = add("pump", pump_type);
      join(made + ".in", "tank", 0.3);
      source =
          dice.chance(0.4) && document_["types"]["pump"]["failure_modes"]["wear"]["weakens"] != true
              ? made
              : made + ".out";
      std::string upstream = made + ".out";
      if (dice.chance(0.5)) {
        const std::string filter = add("filter", filter_type);
        join(upstream, filter + ".in", 0.4);
        upstream = filter + ".out";
      }
      join(upstream, valve + ".p", 0.5);
    }
    std::string return_end = valve + ".t";
    if (dice.chance(0.2)) {
      const std::string filter = add("filter", filter_type);
      join(return_end, filter + ".in", 0.4);
      return_end = filter + ".out";
    }
    join(return_end, "tank", 0.3);
    std::string side_a = valve + ".a", holding;
    if (dice.chance(0.35)) {
      holding = add("holding", holding_type);
      join(side_a, holding + ".in", 0.5);
      side_a = holding + ".out";
    }
    join(side_a, one, 0.75);
    join(valve + ".b", two, 0.8);
    if (motor) join(actuator + ".drain", "tank", 0.4);
    const int extras = dice.between(0, 3);
    const std::vector<std::string> places = {valve + ".p", valve + ".a", valve + ".b"};
    for (int i = 0; i < extras; ++i) {
      const std::string place = dice.pick(places);
      const int which = dice.between(0, 3);
      if (which == 0) {
        const std::string made = add("relief", relief_type);
        join(place, made + ".in", 0.05);
        join(made + ".out", dice.chance(0.8) ? std::string("tank") : dice.pick(places), 0.05);
      } else if (which == 1) {
        const std::string made = add("check", check_type);
        join("tank", made + ".in", 0.05);
        join(made + ".out", place, 0.05);
      } else if (which == 2) {
        const std::string made = add("relief", relief_type);
        join(place, made + ".in", 0);
        join(made + ".out", "tank", 0);
      } else {
        const std::string made = add("chain", chain_type);
        join(place, made + ".in", 0.05);
        join(made + ".out", dice.chance(0.7) ? "tank" : "outside", 0.05);
      }
    }
    const std::vector<std::string> directions = motor
                                                    ? std::vector<std::string>{"back", "forward"}
                                                    : std::vector<std::string>{"retract", "extend"};
    for (const auto& direction : directions) {
      if (!dice.chance(0.7)) continue;
      Json made = {{"id", direction}, {"actuator", actuator}, {"direction", direction}};
      made["positions"][valve] = direction == directions[1] ? "forward" : "back";
      if (!holding.empty() && document_["types"]["holding"]["elements"]["main"]["kind"] == "seal" &&
          dice.chance(0.5)) {
        made["positions"][holding] = "released";
      }
      made["source"] = source;
      functions_.push_back(made);
    }
  }

  // Components joined any way at all.
  void heap() {
    using Make = Json (*)(Dice&);
    const std::vector<std::pair<std::string, Make>> families = {
        {"valve", valve_type},
        {"relief", relief_type},
        {"check", check_type},
        {"holding", holding_type},
        {"filter", filter_type},
        {"chain", chain_type},
        {"cylinder", [](Dice& d) { return cylinder_type(d, false); }},
        {"double_rod", [](Dice& d) { return cylinder_type(d, true); }}};
    const int count = dice.between(2, 5);
    std::vector<std::string> ports;
    for (int i = 0; i < count; ++i) {
      const auto family = dice.pick(families);
      const std::string id = add(family.first, family.second);
      const std::string type = document_["components"].back()["type"];
      for (const auto& port : document_["types"][type]["ports"]) {
        ports.push_back(id + "." + port.get<std::string>());
      }
    }
    dice.shuffle(ports);
    for (std::size_t i = 0; i < ports.size(); ++i) {
      if (dice.chance(0.15)) continue;
      if (dice.chance(0.25)) {
        join(ports[i], dice.chance(0.85) ? "tank" : "outside", 0.3);
      } else if (i + 1 < ports.size()) {
        join(ports[i], ports[i + 1 + dice.below(ports.size() - i - 1)], 0.5);
      }
    }
  }

  std::vector<std::pair<std::string, std::string>> modes() {
    std::vector<std::pair<std::string, std::string>> list;  // component, mode
    for (const auto& component : document_["components"]) {
      const std::string type = component["type"];
      for (const auto& [called, made] : document_["types"][type]["failure_modes"].items()) {
        list.emplace_back(component["id"], called);
      }
    }
    return list;
  }

  void thin_out_modes() {
    while (modes().size() > sizes_.modes) {
      const std::string type = dice.pick(document_["components"])["type"];
      Json& all = document_["types"][type]["failure_modes"];
      if (all.empty()) continue;
      auto at = all.begin();
      std::advance(at, static_cast<std::ptrdiff_t>(dice.below(all.size())));
      const std::string called = at.key();
      all.erase(called);
      for (auto& component : document_["components"]) {
        if (component["type"] == type && component.contains("priors")) {
          component["priors"].erase(called);
        }
      }
    }
  }

  void make_rare() {
    for (auto& type : document_["types"]) {
      for (auto& failure_mode : type["failure_modes"]) failure_mode["prior"] = prior(dice, true);
    }
    for (auto& component : document_["components"]) component.erase("priors");
  }

  void add_conditions() {
    const auto all = modes();
    const int count = sizes_.job ? dice.between(0, 4) : dice.between(0, 2);
    if (all.empty() || count == 0) return;
    std::map<std::string, std::string> type_of;
    for (const auto& component : document_["components"])
      type_of[component["id"]] = component["type"];
    document_["conditions"] = Json::array();
    for (int i = 0; i < count; ++i) {
      Json made = {{"id", "condition" + std::to_string(i + 1)},
                   {"title", "generated"},
                   {"probability", rounded(dice.real(0.01, 0.7))}};
      const int raises = dice.between(1, 3);
      for (int k = 0; k < raises; ++k) {
        const auto [component, called] = dice.pick(all);
        const std::vector<std::string> patterns = {
            component + "." + called,
            type_of[component] + "." + called,
            "*." + called,
            component + ".*",
            type_of[component] + ".*",
            "*",
            "*" + called.substr(1),
            component.substr(0, 1) + "*." + called.substr(0, 2) + "*"};
        made["raises"][dice.pick(patterns)] =
            dice.chance(0.15) ? rounded(dice.real(0.1, 0.9)) : rounded(dice.real(1.5, 20), 10);
      }
      document_["conditions"].push_back(made);
    }
  }

  // Settings and ratings: static holds then have a test pressure.
  void add_pressures() {
    pressures_ = true;
    Json fittings = Json::object();
    for (auto& component : document_["components"]) {
      if (dice.chance(0.8)) component["setting"] = text(dice.between(50, 350), "bar");
      const Json ports = document_["types"][component["type"].get<std::string>()]["ports"];
      for (const auto& port : ports) {
        if (!dice.chance(0.3)) continue;
        Json fitting = {{"standard", "ISO 6149-1"}, {"size", "M18x1.5"}};
        if (dice.chance(0.7)) fitting["rating"] = text(dice.between(60, 420), "bar");
        fittings[component["id"].get<std::string>() + "." + port.get<std::string>()] = fitting;
      }
    }
    if (!fittings.empty()) document_["fittings"] = fittings;
  }

  void add_times() {
    for (const char* key :
         {"lockout", "open_line", "remove_cartridge", "install_meter", "static_test", "drift_test",
          "delivery_test", "flow_test", "look_test", "temperature_test", "written_test"}) {
      if (dice.chance(0.4)) document_["times"][key] = dice.between(1, 40);
    }
    if (document_.contains("times") && document_["times"].empty()) document_.erase("times");
  }

  void outcomes_and_matrix(Json& made, std::size_t count) {
    made["outcomes"] = Json::array();
    for (std::size_t i = 0; i < count; ++i) made["outcomes"].push_back("o" + std::to_string(i));
    made["matrix"] = Json::array();
    for (int g = 0; g < 3; ++g) made["matrix"].push_back(distribution(dice, count, 0.25));
  }

  void leak_rates(Json& made) {
    const double sound = dice.real(0.1, 2);
    made["leak_rates"]["median"] = {text(sound, "mL/min"), text(sound * dice.real(5, 80), "mL/min"),
                                    text(dice.real(0.3, 3), "L/min")};
    if (dice.chance(0.6)) {
      made["leak_rates"]["sigma"] = {rounded(dice.real(0.4, 2)), rounded(dice.real(0.4, 2)),
                                     rounded(dice.real(0.4, 2))};
    }
  }

  Json seen(const Observation& observation) {
    Json entry = {{"observation", observation.id}};
    const int form = dice.between(0, 9);
    if (form < 5) {
      entry["outcome"] = dice.pick(observation.outcomes);
    } else if (form < 8 && observation.kind != "look" && observation.kind != "temperature") {
      entry["reading"] = reading(observation);
    } else {
      entry["likelihood"] = {rounded(dice.real(0.01, 1)), rounded(dice.real(0.01, 1)),
                             rounded(dice.real(0.01, 1))};
      if (dice.chance(0.2)) entry["likelihood"][dice.below(3)] = 0;
      if (rare_) entry["likelihood"][0] = std::pow(10, dice.real(-15, 0));
    }
    if (dice.chance(0.1)) entry["note"] = "generated";
    return entry;
  }

  // The entry once more: as it is, looked at again, or at another time.
  Json said_again(Json entry) {
    const int how = dice.between(0, 3);
    if (how == 1) entry["again"] = true;
    if (how == 2) entry["at"] = "day 3";
    if (how == 3) entry["note"] = "said again";
    return entry;
  }

  Json reading(const Observation& observation) {
    Json made;
    const double rate = std::exp(dice.real(std::log(0.1), std::log(4000)));  // mL/min
    if (observation.kind == "flow") {
      const double rated = observation.rated_flow.value_or(0) / quantity("1 L/min");
      const double own = rated > 0 && dice.chance(0.7) ? rated : dice.between(20, 200);
      if (own != rated) made["rated_flow"] = text(own, "L/min");
      made["flow"] = text(own * (1 - dice.real(0.01, 0.8)), "L/min");
      return made;
    }
    const int form = dice.between(0, 5);
    if (form == 0) {
      made["below"] = text(rate, "mL/min");
    } else if (observation.kind == "static" && !observation.written && form <= 2) {
      made["pressure_drop"] = text(dice.real(1, 90), "bar");
      made["time"] =
          dice.chance(0.5) ? text(dice.between(5, 600), "s") : text(dice.between(1, 9), "min");
      made["volume"] = text(dice.real(0.05, 3), "L");
      if (dice.chance(0.5)) made["bulk_modulus"] = text(dice.real(0.5, 1.8), "GPa");
    } else if (observation.kind == "static" && !observation.written && !pressures_ && form == 3) {
      made["supply_flow"] = dice.chance(0.5) ? text(rate, "mL/min") : text(rate / 1000, "L/min");
      made["pressure"] = text(dice.between(5, 150), "bar");
      return made;
    } else if (observation.area && form <= 4) {
      if (dice.chance(0.5)) {
        made["speed"] = text(dice.real(0.02, 60), "mm/min");
      } else {
        made["distance"] = text(dice.real(0.1, 90), "mm");
        made["time"] = text(dice.between(1, 20), "min");
      }
    } else {
      made["leak_rate"] = text(rate, "mL/min");
    }
    if (observation.reference_pressure && dice.chance(0.7)) {
      made["pressure"] = text(dice.between(20, 250), "bar");
      if (dice.chance(0.5)) made["exponent"] = rounded(dice.real(0.3, 1), 100);
    }
    return made;
  }

  Dice dice;
  Sizes sizes_;
  Json document_;
  Json functions_ = Json::array();
  std::set<std::string> lined_;
  int lines_ = 0;
  bool rare_ = false, pressures_ = false;
};

}  // namespace

Sample generate(std::uint64_t seed, const Sizes& sizes) {
  for (std::uint64_t attempt = 0;; ++attempt) {
    // Odd constants far apart keep attempts of different seeds from meeting.
    Builder builder(seed * 0x9E3779B97F4A7C15u + attempt * 0xBF58476D1CE4E5B9u, sizes);
    Sample sample;
    sample.seed = seed;
    sample.circuit = builder.circuit();
    std::optional<Structure> structure;
    try {
      structure = analyse(sample.circuit);
    } catch (const Refused&) {
      continue;
    }
    if (structure->doubtful || structure->modes.size() < 2 || structure->observations.empty()) {
      continue;
    }
    const Json written = builder.written(*structure);
    if (!written.empty()) {
      sample.circuit["observations"] = written;
      structure = analyse(sample.circuit);
    }
    sample.the_case = builder.the_case(*structure);
    sample.pack = builder.pack();
    if (sizes.job) {
      builder.make_a_job(*structure, sample.the_case);
      return sample;
    }
    for (int i = 0; i < 3; ++i) {
      sample.further_cases.push_back(builder.again(*structure, sample.the_case));
    }
    for (int i = 0; i < 2; ++i) {
      Json fresh = builder.the_case(*structure);
      // The model is compiled for the class of the first case's asset.
      if (fresh.contains("asset")) fresh["asset"].erase("class");
      sample.further_cases.push_back(fresh);
    }
    return sample;
  }
}

}  // namespace oracle
