#include "tests/property/oracle.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <limits>
#include <tuple>
#include <utility>

namespace oracle {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr int kMostBarriers = 4;

const std::map<std::string, double> kDefaultTimes = {
    {"lockout", 10},    {"open_line", 5},        {"remove_cartridge", 8}, {"install_meter", 20},
    {"static_test", 3}, {"drift_test", 6},       {"delivery_test", 5},    {"flow_test", 10},
    {"look_test", 3},   {"temperature_test", 8}, {"written_test", 5}};

struct KindDefaults {
  std::vector<std::string> outcomes;
  std::vector<std::vector<double>> matrix;
  Grades background;
};

const std::map<std::string, KindDefaults> kKinds = {
    {"static",
     {{"held", "bled_down", "would_not_build"},
      {{.96, .03, .01}, {.10, .80, .10}, {.02, .13, .85}},
      {.985, .010, .005}}},
    {"drift",
     {{"none", "slow", "fast"},
      {{.97, .025, .005}, {.15, .75, .10}, {.03, .22, .75}},
      {.97, .02, .01}}},
    {"delivery",
     {{"normal", "slow", "stalled"},
      {{.96, .035, .005}, {.15, .75, .10}, {.03, .22, .75}},
      {.96, .03, .01}}},
    {"flow",
     {{"normal", "low", "very_low"},
      {{.95, .04, .01}, {.10, .80, .10}, {.02, .18, .80}},
      {.99, .007, .003}}},
    {"look",
     {{"dry", "wet", "drips"},
      {{.95, .04, .01}, {.2, .7, .1}, {.03, .22, .75}},
      {.97, .025, .005}}},
    {"temperature",
     {{"normal", "warm", "hot"},
      {{.95, .04, .01}, {.3, .6, .1}, {.05, .35, .6}},
      {.96, .03, .01}}}};

// ---- structure --------------------------------------------------------------------------------

struct Element {
  std::string component, name, kind, from, to;  // from and to are full volume names
  std::set<std::string> open_in;
  std::set<int> leaking, choking;  // modes
  bool piloted = false;
};

struct Connection {
  std::string from, to, line;
};

struct Circuit {
  std::vector<Element> elements;
  std::vector<Connection> connections;
  std::set<std::string> volumes;
};

// How the circuit stands during one observation.
struct Stand {
  std::set<std::string> lines_off;
  std::string plugged;                           // component whose elements are gone
  std::map<std::string, std::string> positions;  // of components not in neutral
};

bool matches(const std::string& pattern, const std::string& text, std::size_t p = 0,
             std::size_t t = 0) {
  if (p == pattern.size()) return t == text.size();
  if (pattern[p] == '*') {
    for (std::size_t skip = t; skip <= text.size(); ++skip) {
      if (matches(pattern, text, p + 1, skip)) return true;
    }
    return false;
  }
  return t < text.size() && pattern[p] == text[t] && matches(pattern, text, p + 1, t + 1);
}

std::vector<std::string> one_or_more(const Json& value) {
  std::vector<std::string> list;
  if (value.is_string()) {
    list.push_back(value.get<std::string>());
  } else {
    for (const auto& item : value) list.push_back(item.get<std::string>());
  }
  return list;
}

Grades grades(const Json& value) { return {value.at(0), value.at(1), value.at(2)}; }

bool is_reservoir(const std::string& volume) { return volume == "tank" || volume == "outside"; }

std::string component_of(const std::string& port) { return port.substr(0, port.rfind('.')); }

// Name of the merged volume each volume belongs to, joining two at a time until nothing changes.
std::map<std::string, std::string> merge(const Circuit& circuit, const Stand& stand) {
  std::map<std::string, std::string> joined;
  for (const auto& volume : circuit.volumes) joined[volume] = volume;
  bool changed = true;
  while (changed) {
    changed = false;
    for (const auto& connection : circuit.connections) {
      if (!connection.line.empty() && stand.lines_off.count(connection.line)) continue;
      const std::string a = joined.at(connection.from), b = joined.at(connection.to);
      if (a == b) continue;
      const std::string keep = std::min(a, b), drop = std::max(a, b);
      for (auto& entry : joined) {
        if (entry.second == drop) entry.second = keep;
      }
      changed = true;
    }
  }
  return joined;
}

bool passes(const Element& element, bool forward, const Stand& stand, Broken rule) {
  if (element.kind == "passage") return true;
  if (element.kind == "check") return forward != (rule == Broken::check_direction);
  if (element.kind == "relief") return forward && rule == Broken::relief_passes;
  const auto position = stand.positions.find(element.component);
  if (rule == Broken::open_in) return false;
  return element.open_in.count(position == stand.positions.end() ? "neutral" : position->second) >
         0;
}

struct Step {
  const Element* element;
  bool forward, passing;
};
using Path = std::vector<Step>;

// Every simple path from `source` to any of `sinks` (merged names), ending at the first sink met.
// With `only_passing`, over elements that pass.
std::vector<Path> simple_paths(const Circuit& circuit, const Stand& stand,
                               const std::string& source, const std::set<std::string>& sinks,
                               bool only_passing, Broken rule) {
  const auto joined = merge(circuit, stand);
  std::set<std::string> ends;
  for (const auto& sink : sinks) ends.insert(joined.at(sink));
  std::vector<Path> found;
  Path path;
  std::set<std::string> visited;
  std::function<void(const std::string&)> walk = [&](const std::string& here) {
    if (ends.count(here)) {
      found.push_back(path);
      return;
    }
    visited.insert(here);
    for (const auto& element : circuit.elements) {
      if (element.component == stand.plugged && rule != Broken::plug_leaves_elements) continue;
      const std::string from = joined.at(element.from), to = joined.at(element.to);
      for (const bool forward : {true, false}) {
        if ((forward ? from : to) != here) continue;
        const std::string& next = forward ? to : from;
        if (visited.count(next)) continue;
        const bool passing = passes(element, forward, stand, rule);
        if (only_passing && !passing) continue;
        if (!passing && element.leaking.empty()) continue;  // never leaks
        path.push_back({&element, forward, passing});
        walk(next);
        path.pop_back();
      }
    }
    visited.erase(here);
  };
  walk(joined.at(source));
  return found;
}

// Modes that choke an element of every path; none where a relief of the same component stands
// beside it.
std::set<int> choked_on_every(const Circuit& circuit, const std::vector<Path>& paths) {
  std::set<int> modes;
  for (const auto& element : circuit.elements) {
    const bool everywhere =
        !paths.empty() && std::all_of(paths.begin(), paths.end(), [&](const Path& path) {
          return std::any_of(path.begin(), path.end(),
                             [&](const Step& step) { return step.element == &element; });
        });
    const bool beside =
        std::any_of(circuit.elements.begin(), circuit.elements.end(), [&](const Element& other) {
          return element.kind == "passage" && other.kind == "relief" &&
                 other.component == element.component && other.from == element.from &&
                 other.to == element.to;
        });
    if (everywhere && !beside) modes.insert(element.choking.begin(), element.choking.end());
  }
  return modes;
}

// Modes that choke what a pump sucks from tank, the pump itself taken away.
std::set<int> suction(const Circuit& circuit, Stand stand, const std::string& pump, Broken rule) {
  std::set<int> modes;
  stand.plugged = pump;
  for (const auto& element : circuit.elements) {
    if (element.component != pump || element.kind != "check") continue;
    const auto paths = simple_paths(circuit, stand, element.from, {"tank"}, true, rule);
    modes.merge(choked_on_every(circuit, paths));
  }
  return modes;
}

// The merged volumes that pressure in `source` reaches through elements that pass; it ends at the
// reservoirs.
std::set<std::string> region(const Circuit& circuit, const Stand& stand,
                             const std::string& source) {
  const auto joined = merge(circuit, stand);
  std::set<std::string> reached = {joined.at(source)};
  bool changed = true;
  while (changed) {
    changed = false;
    for (const auto& element : circuit.elements) {
      const std::string from = joined.at(element.from), to = joined.at(element.to);
      for (const bool forward : {true, false}) {
        const std::string &here = forward ? from : to, &next = forward ? to : from;
        if (!reached.count(here) || reached.count(next)) continue;
        if (here == joined.at("tank") || here == joined.at("outside")) continue;
        if (!passes(element, forward, stand, Broken::nothing)) continue;
        reached.insert(next);
        changed = true;
      }
    }
  }
  return reached;
}

std::vector<Set> minimal(const std::set<std::set<int>>& sets, Broken rule) {
  std::vector<Set> kept;
  for (const auto& set : sets) {
    bool contains_another = false;
    for (const auto& other : sets) {
      if (other != set && std::includes(set.begin(), set.end(), other.begin(), other.end())) {
        contains_another = true;
      }
    }
    if (!contains_another || rule == Broken::minimal_sets) kept.push_back({set, 1.0});
  }
  return kept;
}

// Mode sets of the leak paths; nothing when the volume is open by design.
std::optional<std::set<std::set<int>>> leak_sets(const Circuit& circuit, const Stand& stand,
                                                 const std::string& source,
                                                 const std::set<std::string>& sinks, Broken rule,
                                                 std::map<std::string, int>& features) {
  std::set<std::set<int>> sets;
  for (const auto& path : simple_paths(circuit, stand, source, sinks, false, rule)) {
    std::vector<const Element*> barriers;
    for (const auto& step : path) {
      if (step.passing) {
        if (step.element->kind == "check") ++features["check passed on a leak path"];
        if (step.element->kind == "passage") ++features["passage on a leak path"];
        if (step.element->kind == "seal") ++features["open land on a leak path"];
      } else {
        barriers.push_back(step.element);
        if (step.element->kind == "check") ++features["leaking check on a leak path"];
        if (step.element->kind == "relief") ++features["leaking relief on a leak path"];
      }
    }
    if (barriers.empty()) {
      ++features["open by design"];
      return std::nullopt;
    }
    if (barriers.size() > kMostBarriers) {
      ++features["path over the limit"];
      if (rule != Broken::path_limit) continue;
    }
    std::set<std::set<int>> expanded = {{}};
    for (const Element* barrier : barriers) {
      if (barrier->leaking.size() > 1) ++features["barrier with several modes"];
      std::set<std::set<int>> next;
      for (const auto& set : expanded) {
        for (const int mode : barrier->leaking) {
          auto longer = set;
          longer.insert(mode);
          next.insert(longer);
        }
      }
      expanded = next;
    }
    for (const auto& set : expanded) {
      if (set.size() < barriers.size()) ++features["one mode leaks several barriers of a path"];
    }
    sets.insert(expanded.begin(), expanded.end());
  }
  return sets;
}

}  // namespace

const char* name(Broken rule) {
  switch (rule) {
    case Broken::nothing:
      return "nothing";
    case Broken::expanding_chamber:
      return "expanding_chamber";
    case Broken::check_direction:
      return "check_direction";
    case Broken::relief_passes:
      return "relief_passes";
    case Broken::open_in:
      return "open_in";
    case Broken::neutral_default:
      return "neutral_default";
    case Broken::lines_stay_on:
      return "lines_stay_on";
    case Broken::other_ports:
      return "other_ports";
    case Broken::plug_leaves_elements:
      return "plug_leaves_elements";
    case Broken::path_limit:
      return "path_limit";
    case Broken::minimal_sets:
      return "minimal_sets";
    case Broken::delivery_minimal:
      return "delivery_minimal";
    case Broken::shared_background:
      return "shared_background";
    case Broken::background:
      return "background";
    case Broken::noisy_sets:
      return "noisy_sets";
    case Broken::conditions:
      return "conditions";
    case Broken::one_factor:
      return "one_factor";
    case Broken::restrictions:
      return "restrictions";
    case Broken::weak_source:
      return "weak_source";
    case Broken::return_side:
      return "return_side";
    case Broken::normal_exponent:
      return "normal_exponent";
    case Broken::censored_as_seen:
      return "censored_as_seen";
    case Broken::sum_of_modes:
      return "sum_of_modes";
    case Broken::likelihood_of_all:
      return "likelihood_of_all";
    case Broken::cause_ties:
      return "cause_ties";
    case Broken::cause_background:
      return "cause_background";
    case Broken::cause_of_all_sets:
      return "cause_of_all_sets";
    case Broken::complaint_focus:
      return "complaint_focus";
    case Broken::complaint_time:
      return "complaint_time";
    case Broken::complaint_tests:
      return "complaint_tests";
    case Broken::repairs:
      return "repairs";
    case Broken::new_parts:
      return "new_parts";
    case Broken::pack_over_own:
      return "pack_over_own";
    case Broken::class_of_asset:
      return "class_of_asset";
    case Broken::hours:
      return "hours";
    case Broken::pack_outcomes:
      return "pack_outcomes";
    case Broken::said_twice:
      return "said_twice";
    case Broken::looked_again:
      return "looked_again";
    case Broken::said_at:
      return "said_at";
  }
  return "?";
}

double quantity(const std::string& text) {
  static const std::map<std::string, double> units = {{"Pa", 1},
                                                      {"kPa", 1e3},
                                                      {"MPa", 1e6},
                                                      {"GPa", 1e9},
                                                      {"bar", 1e5},
                                                      {"psi", 6894.757293168361},
                                                      {"m3/s", 1},
                                                      {"L/min", 1e-3 / 60},
                                                      {"mL/min", 1e-6 / 60},
                                                      {"m", 1},
                                                      {"cm", 1e-2},
                                                      {"mm", 1e-3},
                                                      {"in", 0.0254},
                                                      {"m2", 1},
                                                      {"cm2", 1e-4},
                                                      {"mm2", 1e-6},
                                                      {"m3", 1},
                                                      {"L", 1e-3},
                                                      {"mL", 1e-6},
                                                      {"cm3", 1e-6},
                                                      {"s", 1},
                                                      {"min", 60},
                                                      {"h", 3600},
                                                      {"m/s", 1},
                                                      {"mm/s", 1e-3},
                                                      {"mm/min", 1e-3 / 60}};
  char* rest = nullptr;
  const double number = std::strtod(text.c_str(), &rest);
  while (*rest == ' ') ++rest;
  const auto unit = units.find(rest);
  if (unit == units.end()) throw std::invalid_argument("oracle: quantity `" + text + "`");
  return number * unit->second;
}

namespace {

// A mode in three sets of several modes and more.
bool has_hub(const Observation& observation) {
  std::map<int, int> uses;
  for (const auto& set : observation.sets) {
    if (set.modes.size() < 2) continue;
    for (const int mode : set.modes) {
      if (++uses[mode] == 3) return true;
    }
  }
  return false;
}

// Three sets and more of which each shares a mode with the next and the last with the first, each
// time another one: sets and modes as the two sides of a graph that is not a forest.
bool has_ring(const Observation& observation) {
  std::map<int, int> part;  // of modes joined so far
  std::set<std::set<int>> different;
  for (const auto& set : observation.sets) {
    if (set.modes.size() < 2 || !different.insert(set.modes).second) continue;
    std::set<int> parts;
    for (const int mode : set.modes) {
      if (!part.count(mode)) part[mode] = mode;
      if (!parts.insert(part[mode]).second) return true;
    }
    for (auto& entry : part) {
      if (parts.count(entry.second)) entry.second = *parts.begin();
    }
  }
  return false;
}

}  // namespace

const Observation* Structure::find(const std::string& id) const {
  for (const auto& observation : observations) {
    if (observation.id == id) return &observation;
  }
  return nullptr;
}

std::string asset_class(const Json& the_case) {
  return the_case.contains("asset") ? the_case["asset"].value("class", std::string()) : "";
}

Structure analyse(const Json& document, Broken rule, const Json& pack,
                  const std::string& asset_class) {
  Structure result;
  Circuit circuit;
  circuit.volumes = {"tank", "outside"};

  const Json types = document["types"];
  const Json pack_modes = pack.value("modes", Json::array());
  const Json pack_outcomes = pack.value("outcomes", Json::array());

  // Components, their volumes, elements and modes.
  std::map<std::string, Json> components, type_of;
  std::vector<std::string> order;
  for (const auto& component : document["components"]) {
    const std::string id = component["id"];
    Json type = types.at(component["type"].get<std::string>());
    for (const char* key : {"elements", "failure_modes"}) {
      if (!type.contains(key)) type[key] = Json::object();
    }
    order.push_back(id);
    components[id] = component;
    type_of[id] = type;
    auto full = [&](const std::string& volume) {
      return is_reservoir(volume) ? volume : id + "." + volume;
    };
    for (const auto& port : type["ports"]) circuit.volumes.insert(full(port));
    for (const auto& inner : type.value("volumes", Json::array())) {
      circuit.volumes.insert(full(inner));
    }
    const std::size_t first_element = circuit.elements.size();
    for (const auto& [element_name, element] : type["elements"].items()) {
      Element made{
          id, element_name, element["kind"], full(element["from"]), full(element["to"]), {}, {},
          {}};
      made.piloted = element.contains("pilot");
      if (element.contains("open_in")) {
        for (const auto& position : element["open_in"]) made.open_in.insert(position);
      }
      circuit.elements.push_back(made);
    }
    for (const auto& [mode_name, mode] : type["failure_modes"].items()) {
      const int index = static_cast<int>(result.modes.size());
      Mode made;
      made.id = id + "." + mode_name;
      made.type_mode = component["type"].get<std::string>() + "." + mode_name;
      made.component = id;
      made.prior = grades(mode["prior"]);
      // The pack's entry for the asset's class comes before the one for every class.
      const Json *entry = nullptr, *aged = nullptr;
      for (const auto& candidate : pack_modes) {
        const std::string of_class = candidate.value("asset_class", std::string());
        if (component["type"].get<std::string>() + "." + mode_name !=
            candidate["type"].get<std::string>() + "." + candidate["mode"].get<std::string>()) {
          continue;
        }
        const bool own =
            !of_class.empty() && of_class == asset_class && rule != Broken::class_of_asset;
        if (own) ++result.features["prior of the asset's class"];
        for (const auto& [key, best] :
             {std::pair{"grades", &entry}, std::pair{"wear_out", &aged}}) {
          if (candidate.contains(key) && (own || (of_class.empty() && !*best))) *best = &candidate;
        }
      }
      if (entry) {
        made.prior = grades((*entry)["grades"]);
        ++result.features["prior of the pack"];
      }
      if (aged) {
        const Json& wear_out = (*aged)["wear_out"];
        made.wear_out = Mode::WearOut{wear_out["shape"], quantity(wear_out["scale"]) / 3600,
                                      wear_out.value("failed_share", 0.5)};
        ++result.features["wear-out model"];
      }
      const bool keeps_own = (!entry && !aged) || rule != Broken::pack_over_own;
      if (keeps_own && component.contains("priors") && component["priors"].contains(mode_name)) {
        made.prior = grades(component["priors"][mode_name]);
        made.wear_out.reset();
        ++result.features["prior of the component's own"];
      }
      result.modes.push_back(made);
      int acts_on = 0;
      for (const auto& [key, target] :
           {std::pair{"leaks", &Element::leaking}, std::pair{"restricts", &Element::choking}}) {
        if (!mode.contains(key)) continue;
        for (const auto& element_name : one_or_more(mode[key])) {
          for (std::size_t i = first_element; i < circuit.elements.size(); ++i) {
            if (circuit.elements[i].name == element_name) {
              (circuit.elements[i].*target).insert(index);
              ++acts_on;
            }
          }
        }
      }
      if (acts_on > 1) ++result.features["mode that acts on several elements"];
    }
  }
  for (const auto& connection : document.value("connections", Json::array())) {
    circuit.connections.push_back(
        {connection["from"], connection["to"], connection.value("line", std::string())});
    ++result.features[connection.contains("line") ? "line" : "gallery"];
  }
  auto mode_index = [&](const std::string& id) {
    for (std::size_t i = 0; i < result.modes.size(); ++i) {
      if (result.modes[i].id == id) return static_cast<int>(i);
    }
    throw std::invalid_argument("oracle: mode `" + id + "`");
  };

  // Times and setup.
  std::map<std::string, double> times = kDefaultTimes;
  const Json own_times = document.value("times", Json::object());
  for (const auto& [key, value] : own_times.items()) {
    times[key] = value.is_string() ? quantity(value) / 60 : value.get<double>();
    ++result.features["own times"];
  }
  result.setup_minutes["lockout"] = times["lockout"];
  for (const auto& connection : circuit.connections) {
    if (!connection.line.empty()) {
      result.setup_minutes["line/" + connection.line] = times["open_line"];
    }
  }
  for (const auto& id : order) {
    if (type_of[id].value("cartridge", false)) {
      result.setup_minutes["cartridge/" + id] = times["remove_cartridge"];
    }
    if (type_of[id].value("flow_test", false)) {
      result.setup_minutes["meter/" + id] = times["install_meter"];
    }
  }

  auto add = [&](const std::string& id, const std::string& kind,
                 const std::vector<Set>& sets) -> Observation& {
    Observation made;
    made.id = id;
    made.kind = kind;
    made.sets = sets;
    made.symptom = kind == "drift" || kind == "delivery";
    made.energised = kind != "static" && kind != "look";
    made.outcomes = kKinds.at(kind).outcomes;
    made.matrix = kKinds.at(kind).matrix;
    made.background = kKinds.at(kind).background;
    if (kind == "flow") {
      made.median = {0.03, 0.12, 0.35};
      made.sigma = {0.6, 0.5, 0.5};
    }
    made.minutes = times.at(kind + "_test");
    result.observations.push_back(made);
    ++result.features[kind];
    return result.observations.back();
  };
  auto is_actuator = [&](const std::string& id) {
    return components.count(id) && type_of[id].contains("actuator");
  };

  // drift/<actuator>/<direction>
  for (const auto& id : order) {
    if (!is_actuator(id)) continue;
    const Json& actuator = type_of[id]["actuator"];
    auto area_rule = [&](const std::string& volume) -> std::string {
      if (actuator.contains("areas") && actuator["areas"].contains(volume)) {
        return actuator["areas"][volume];
      }
      return volume == "cap" ? "bore" : volume == "rod" ? "annulus" : "displacement";
    };
    auto area = [&](const std::string& volume) -> std::optional<double> {
      const Json& component = components[id];
      if (component.contains("areas") && component["areas"].contains(volume)) {
        return quantity(component["areas"][volume]);
      }
      if (area_rule(volume) == "displacement" || !component.contains("bore")) return std::nullopt;
      const double bore = quantity(component["bore"]);
      if (area_rule(volume) == "bore") return kPi / 4 * bore * bore;
      if (!component.contains("rod")) return std::nullopt;
      const double rod = quantity(component["rod"]);
      return kPi / 4 * (bore * bore - rod * rod);
    };
    for (const auto& [direction, pair] : actuator["directions"].items()) {
      const std::string contracting = pair[0], expanding = pair[1];
      const auto contracting_area = area(contracting), expanding_area = area(expanding);
      const bool own_areas = components[id].contains("areas") &&
                             components[id]["areas"].contains(contracting) &&
                             components[id]["areas"].contains(expanding);
      bool sink;
      if (own_areas) {
        sink = *expanding_area >= *contracting_area;
        ++result.features["areas given"];
      } else {
        sink = !(area_rule(contracting) == "bore" && area_rule(expanding) == "annulus");
      }
      if (rule == Broken::expanding_chamber) sink = !sink;
      ++result.features[sink ? "expanding volume is a sink" : "expanding volume is no sink"];
      std::set<std::string> sinks = {"tank", "outside"};
      if (sink) sinks.insert(id + "." + expanding);
      const auto sets =
          leak_sets(circuit, {}, id + "." + contracting, sinks, rule, result.features);
      if (!sets || sets->empty()) continue;
      auto& made = add("drift/" + id + "/" + direction, "drift", minimal(*sets, rule));
      made.area = contracting_area;
    }
  }

  // static/<port>, and plugged variants on the valve side
  std::set<std::string> done;
  auto static_hold = [&](const std::string& port, const Stand& stand,
                         const std::set<std::string>& sinks, const std::string& suffix,
                         std::vector<std::string> setup) -> std::vector<Set> {
    const auto sets = leak_sets(circuit, stand, port, sinks, rule, result.features);
    if (!sets || sets->empty()) return {};
    auto& made = add("static/" + port + suffix, "static", minimal(*sets, rule));
    made.setup = std::move(setup);
    const Json& component = components[component_of(port)];
    if (component.contains("volume")) made.volume = quantity(component["volume"]);
    Stand whole = stand;
    whole.plugged.clear();
    const auto joined = merge(circuit, whole);
    const auto reached = region(circuit, whole, port);
    auto at_most = [&](double pressure) {
      made.pressure_ceiling = std::min(made.pressure_ceiling.value_or(pressure), pressure);
    };
    for (const auto& element : circuit.elements) {
      // A relief back into the volume it comes from relieves nothing.
      if (joined.at(element.from) == joined.at(element.to)) continue;
      if (element.kind == "relief" && reached.count(joined.at(element.from)) &&
          components[element.component].contains("setting")) {
        at_most(0.8 * quantity(components[element.component]["setting"]));
        ++result.features["relief setting seen by a port"];
      }
    }
    const Json fittings = document.value("fittings", Json::object());
    for (const auto& [fitted, fitting] : fittings.items()) {
      if (fitting.contains("rating") && reached.count(joined.at(fitted))) {
        at_most(quantity(fitting["rating"]));
        ++result.features["fitting rating on the way"];
      }
    }
    return made.sets;
  };
  for (const auto& connection : circuit.connections) {
    if (connection.line.empty()) continue;
    for (const auto& port : {connection.from, connection.to}) {
      if (is_reservoir(port) || is_actuator(component_of(port)) || done.count(port)) continue;
      done.insert(port);
      Stand stand;
      int lines_here = 0;
      for (const auto& other : circuit.connections) {
        if (!other.line.empty() && (other.from == port || other.to == port)) {
          stand.lines_off.insert(other.line);
          ++lines_here;
        }
      }
      if (lines_here > 1) result.doubtful = true;  // which of several lines is taken off?
      if (rule == Broken::lines_stay_on) stand.lines_off.clear();
      const auto sets =
          static_hold(port, stand, {"tank", "outside"}, "", {"lockout", "line/" + connection.line});
      std::set<std::string> cartridges;
      for (const auto& set : sets) {
        for (const int mode : set.modes) {
          const std::string& owner = result.modes[static_cast<std::size_t>(mode)].component;
          if (type_of[owner].value("cartridge", false)) cartridges.insert(owner);
        }
      }
      for (const auto& cartridge : cartridges) {
        Stand plugged = stand;
        plugged.plugged = cartridge;
        if (!static_hold(port, plugged, {"tank", "outside"}, "/plugged/" + cartridge,
                         {"lockout", "line/" + connection.line, "cartridge/" + cartridge})
                 .empty()) {
          ++result.features["plugged"];
        } else {
          ++result.features["plugged away entirely"];
        }
      }
    }
  }
  for (const auto& id : order) {
    if (!is_actuator(id)) continue;
    Stand stand;
    std::vector<std::string> setup = {"lockout"};
    for (const auto& connection : circuit.connections) {
      if (connection.line.empty()) continue;
      if (component_of(connection.from) == id || component_of(connection.to) == id) {
        if (stand.lines_off.insert(connection.line).second) {
          setup.push_back("line/" + connection.line);
        }
      }
    }
    if (rule == Broken::lines_stay_on) stand.lines_off.clear();
    for (const auto& port : type_of[id]["ports"]) {
      std::set<std::string> sinks = {"tank", "outside"};
      for (const auto& other : type_of[id]["ports"]) {
        if (other != port && rule != Broken::other_ports) {
          sinks.insert(id + "." + other.get<std::string>());
        }
      }
      if (!static_hold(id + "." + port.get<std::string>(), stand, sinks, "", setup).empty()) {
        ++result.features["static hold of an actuator"];
      }
    }
  }

  // delivery/<function>
  for (const auto& function : document.value("functions", Json::array())) {
    const std::string id = function["id"], actuator = function["actuator"],
                      direction = function["direction"];
    const Json& pair = type_of[actuator]["actuator"]["directions"][direction];
    const std::string contracting = actuator + "." + pair[0].get<std::string>();
    const std::string driven = actuator + "." + pair[1].get<std::string>();
    Stand stand;
    const Json positions = function.value("positions", Json::object());
    for (const auto& [valve, position] : positions.items()) {
      stand.positions[valve] = position;
    }
    if (rule == Broken::neutral_default) stand.positions.clear();
    std::string source = function["source"];
    if (components.count(source)) {
      std::string port = "out";
      for (const auto& [mode_name, mode] : type_of[source]["failure_modes"].items()) {
        if (mode.contains("weakens") && !mode["weakens"].is_boolean()) {
          port = one_or_more(mode["weakens"]).front();
          break;
        }
      }
      source += "." + port;
      ++result.features["source named by component"];
    }
    const std::string source_component = component_of(source);

    const auto supply = simple_paths(circuit, stand, source, {driven}, true, rule);
    if (supply.empty()) {
      if (rule == Broken::nothing) {
        throw Refused("invalid_circuit",
                      "function `" + id + "`: the source does not reach " + driven);
      }
      continue;
    }
    const auto joined = merge(circuit, stand);
    auto through_reservoir = [&](const Path& path) {
      for (std::size_t i = 0; i + 1 < path.size(); ++i) {
        const std::string& end = path[i].forward ? path[i].element->to : path[i].element->from;
        if (joined.at(end) == joined.at("tank") || joined.at(end) == joined.at("outside")) {
          return true;
        }
      }
      return false;
    };
    // A way through the reservoirs is no way in a machine; the semantics do not say so.
    if (std::any_of(supply.begin(), supply.end(), through_reservoir)) result.doubtful = true;

    auto drain = simple_paths(circuit, stand, contracting, {"tank"}, true, rule);
    if (std::any_of(drain.begin(), drain.end(), through_reservoir)) result.doubtful = true;
    ++result.features[drain.empty() ? "return way shut" : "return way open"];
    // Regeneration: what comes back goes to the side that is driven, and what leaks there is lost
    // too.
    bool regenerates = false;
    if (drain.empty()) {
      drain = simple_paths(circuit, stand, contracting, {driven}, true, rule);
      if (std::any_of(drain.begin(), drain.end(), through_reservoir)) result.doubtful = true;
      // Through the pump itself it is a closed loop.
      regenerates = std::any_of(drain.begin(), drain.end(), [&](const Path& path) {
        return std::none_of(path.begin(), path.end(), [&](const auto& step) {
          return step.element->component == source_component;
        });
      });
    }

    std::set<std::string> sinks = {"tank", "outside"};
    if (rule != Broken::return_side && !regenerates) sinks.insert(contracting);
    const auto leaks = leak_sets(circuit, stand, source, sinks, rule, result.features);
    if (!leaks) continue;
    std::set<std::set<int>> sets = *leaks;
    if (regenerates) {
      ++result.features["regeneration"];
      const auto back = leak_sets(circuit, stand, contracting, sinks, rule, result.features);
      if (back) sets.insert(back->begin(), back->end());
    }
    std::set<int> singles;
    if (rule != Broken::restrictions) {
      for (const auto& paths : {supply, drain}) {
        for (const int mode : choked_on_every(circuit, paths)) {
          singles.insert(mode);
          ++result.features["restriction on a delivery way"];
        }
      }
      if (components.count(source_component) &&
          type_of[source_component].value("flow_test", false)) {
        const auto starving = suction(circuit, stand, source_component, rule);
        singles.insert(starving.begin(), starving.end());
      }
      for (const auto& element : circuit.elements) {
        if (element.component != source_component) continue;
        for (const int mode : element.choking) {
          singles.insert(mode);
          ++result.features["restriction inside the source"];
        }
      }
    }
    if (rule != Broken::weak_source && components.count(source_component)) {
      for (const auto& [mode_name, mode] : type_of[source_component]["failure_modes"].items()) {
        if (!mode.contains("weakens")) continue;
        bool weak = mode["weakens"].is_boolean() && mode["weakens"].get<bool>();
        if (!mode["weakens"].is_boolean()) {
          for (const auto& port : one_or_more(mode["weakens"])) {
            if (source_component + "." + port == source) weak = true;
          }
        }
        if (weak) {
          singles.insert(mode_index(source_component + "." + mode_name));
          ++result.features["weakened source"];
        }
      }
    }
    const auto leaks_only = minimal(sets, rule);
    for (const int mode : singles) sets.insert({mode});
    if (sets.empty()) continue;
    auto& made = add("delivery/" + id, "delivery", minimal(sets, rule));
    for (const auto& set : leaks_only) {
      const bool kept = std::any_of(made.sets.begin(), made.sets.end(),
                                    [&](const Set& one) { return one.modes == set.modes; });
      if (kept) continue;
      ++result.features["leak set that contains a restriction"];
      if (rule == Broken::delivery_minimal) made.sets.push_back(set);
    }
  }

  // flow/<component>
  for (const auto& id : order) {
    if (!type_of[id].value("flow_test", false)) continue;
    std::set<std::set<int>> sets;
    for (const auto& [mode_name, mode] : type_of[id]["failure_modes"].items()) {
      const bool weakens = mode.contains("weakens") &&
                           (mode["weakens"].is_boolean() ? mode["weakens"].get<bool>()
                                                         : !one_or_more(mode["weakens"]).empty());
      const bool leaks = mode.contains("leaks") && !one_or_more(mode["leaks"]).empty();
      if (weakens || leaks) sets.insert({mode_index(id + "." + mode_name)});
    }
    if (sets.empty()) continue;
    for (const int mode : suction(circuit, {}, id, rule)) sets.insert({mode});
    auto& made = add("flow/" + id, "flow", minimal(sets, Broken::nothing));
    made.setup = {"lockout", "meter/" + id};
    if (components[id].contains("rated_flow")) {
      made.rated_flow = quantity(components[id]["rated_flow"]);
    }
  }

  // look/<actuator, pump or motor>: what leaks to outside along the lines, passages and
  // load-holding valves from its ports, up to the next valves.
  for (const auto& id : order) {
    if (!is_actuator(id) && !type_of[id].value("flow_test", false)) continue;
    const auto joined = merge(circuit, {});
    std::set<std::string> reached;
    for (const auto& port : type_of[id]["ports"]) {
      reached.insert(joined.at(id + "." + port.get<std::string>()));
    }
    for (std::size_t before = 0; before != reached.size();) {
      before = reached.size();
      for (const auto& element : circuit.elements) {
        if (element.kind != "passage" && !element.piloted) continue;
        const std::string &one = joined.at(element.from), &other = joined.at(element.to);
        for (const auto& [here, there] : {std::pair{one, other}, std::pair{other, one}}) {
          const bool ends = here == joined.at("tank") || here == joined.at("outside");
          if (!ends && reached.count(here)) reached.insert(there);
        }
      }
    }
    reached.erase(joined.at("tank"));
    std::set<std::set<int>> sets;
    for (const auto& element : circuit.elements) {
      for (const bool turned : {false, true}) {
        const std::string& inner = joined.at(turned ? element.to : element.from);
        const std::string& outer = joined.at(turned ? element.from : element.to);
        if (outer != joined.at("outside") || inner == outer || !reached.count(inner)) continue;
        for (const int mode : element.leaking) sets.insert({mode});
      }
    }
    if (!sets.empty()) add("look/" + id, "look", minimal(sets, Broken::nothing));
  }
  // temperature/<component with a relief>: its modes that leak inside.
  for (const auto& id : order) {
    const auto joined = merge(circuit, {});
    std::set<std::set<int>> sets;
    bool relief = false;
    for (const auto& element : circuit.elements) {
      if (element.component != id) continue;
      relief = relief || element.kind == "relief";
      if (joined.at(element.to) == joined.at("outside")) continue;
      for (const int mode : element.leaking) sets.insert({mode});
    }
    if (relief && !sets.empty()) {
      add("temperature/" + id, "temperature", minimal(sets, Broken::nothing));
    }
  }

  // Hand-written observations and overrides.
  std::set<std::string> own_statistics;
  for (const auto& written : document.value("observations", Json::array())) {
    const std::string id = written["id"];
    Observation* target = nullptr;
    for (auto& observation : result.observations) {
      if (observation.id == id) target = &observation;
    }
    if (!target) {
      if (!written.contains("shows")) {
        throw Refused("invalid_circuit", "no observation `" + id + "` to override");
      }
      const std::string kind = written["kind"];
      Observation made;
      made.id = id;
      made.kind = kind;
      made.written = true;
      made.symptom = kind == "drift" || kind == "delivery" || kind == "symptom";
      if (kKinds.count(kind)) {
        made.outcomes = kKinds.at(kind).outcomes;
        made.matrix = kKinds.at(kind).matrix;
        made.background = kKinds.at(kind).background;
      }
      if (kind == "flow") {
        made.median = {0.03, 0.12, 0.35};
        made.sigma = {0.6, 0.5, 0.5};
      }
      made.minutes = times.at("written_test");
      for (const auto& entry : written["shows"]) {
        Set set;
        for (const auto& mode : entry["modes"]) set.modes.insert(mode_index(mode));
        set.probability = entry.value("probability", 1.0);
        if (set.modes.size() > 1) ++result.features["hand-written set of several modes"];
        if (set.probability < 1) ++result.features["hand-written set that may not show"];
        made.sets.push_back(set);
      }
      result.observations.push_back(made);
      target = &result.observations.back();
      ++result.features["hand-written " + kind];
    } else {
      ++result.features["override"];
    }
    if (written.contains("matrix") || written.contains("background")) {
      own_statistics.insert(id);
    }
    if (written.contains("outcomes")) {
      target->outcomes = written["outcomes"].get<std::vector<std::string>>();
      if (target->outcomes.size() != 3) ++result.features["other than three outcomes"];
    }
    if (written.contains("matrix")) {
      target->matrix = written["matrix"].get<std::vector<std::vector<double>>>();
    }
    if (written.contains("background")) target->background = grades(written["background"]);
    if (written.contains("leak_rates")) {
      if (written["leak_rates"].contains("median")) {
        for (std::size_t g = 0; g < 3; ++g) {
          target->median[g] = quantity(written["leak_rates"]["median"][g]) / quantity("1 mL/min");
        }
      }
      if (written["leak_rates"].contains("sigma")) {
        target->sigma = grades(written["leak_rates"]["sigma"]);
      }
      ++result.features["own leak rates"];
    }
    if (written.contains("energised")) target->energised = written["energised"].get<bool>();
    if (written.contains("minutes")) {
      const Json& minutes = written["minutes"];
      target->minutes = minutes.is_string() ? quantity(minutes) / 60 : minutes.get<double>();
    }
    if (written.contains("reference_pressure")) {
      target->reference_pressure = quantity(written["reference_pressure"]);
    }
    if (written.contains("setup")) {
      target->setup = written["setup"].get<std::vector<std::string>>();
    }
    // The semantics do not say it, safety does: nothing is opened or taken apart but under lockout.
    if (target->written && (!target->setup.empty() || written.value("opens_line", false)) &&
        std::count(target->setup.begin(), target->setup.end(), "lockout") == 0) {
      target->setup.push_back("lockout");
      ++result.features["lockout implied"];
    }
  }

  // Outcome statistics of the pack, where the circuit has none of its own: of this observation, or
  // of its kind.
  for (auto& observation : result.observations) {
    if (own_statistics.count(observation.id) || rule == Broken::pack_outcomes) continue;
    for (const char* by : {"kind", "observation"}) {
      for (const auto& entry : pack_outcomes) {
        if (!entry.contains(by) ||
            entry[by] != (by == std::string("kind") ? observation.kind : observation.id)) {
          continue;
        }
        if (entry.contains("matrix")) {
          observation.matrix = entry["matrix"].get<std::vector<std::vector<double>>>();
        }
        if (entry.contains("background")) observation.background = grades(entry["background"]);
        ++result.features[std::string("outcome statistics by ") + by];
      }
    }
  }

  // Conditions.
  for (const auto& condition : document.value("conditions", Json::array())) {
    Condition made;
    made.probability = condition["probability"];
    for (const auto& [pattern, factor] : condition["raises"].items()) {
      if (pattern.find('*') != std::string::npos) ++result.features["wildcard"];
      for (std::size_t i = 0; i < result.modes.size(); ++i) {
        const bool by_component = matches(pattern, result.modes[i].id);
        const bool by_type = matches(pattern, result.modes[i].type_mode);
        if (!by_component && !by_type) continue;
        ++result.features[by_component ? "raised by component" : "raised by type"];
        const int index = static_cast<int>(i);
        if (!made.factors.count(index)) {
          made.factors[index] = 1;
        } else {
          ++result.features["mode raised twice by one condition"];
        }
        made.factors[index] *= factor.get<double>();
      }
    }
    for (const auto& other : result.conditions) {
      for (const auto& [mode, factor] : other.factors) {
        if (made.factors.count(mode)) ++result.features["mode raised by several conditions"];
      }
    }
    result.conditions.push_back(made);
    ++result.features["condition"];
  }

  for (const auto& observation : result.observations) {
    std::map<int, int> uses;
    for (const auto& set : observation.sets) {
      if (set.modes.size() == 2) ++result.features["set of two"];
      if (set.modes.size() > 2) ++result.features["set of three or more"];
      for (const int mode : set.modes) ++uses[mode];
    }
    for (const auto& [mode, count] : uses) {
      if (count > 1) ++result.features["mode shared by sets of one observation"];
    }
    if (has_hub(observation)) ++result.features["mode that joins sets of several modes"];
    if (has_ring(observation)) ++result.features["sets that share modes in a ring"];
  }
  return result;
}

// ---- time -------------------------------------------------------------------------------------

namespace {

const Observation& the_observation(const Structure& structure, const std::string& id) {
  const Observation* found = structure.find(id);
  if (!found) throw Refused("invalid_case", "no observation `" + id + "`");
  return *found;
}

// One in a hundred new parts is faulty or wrongly fitted.
constexpr Grades kNewPart = {0.99, 0.007, 0.003};

// The machine in the course of a case. A component replaced is another part from then on, with
// modes of its own; what was seen of the part that was in before is an observation of its own.
struct Timeline {
  Structure structure;  // what is now, then what was
  std::size_t modes_now = 0, observations_now = 0;
  std::vector<std::size_t> is;  // which of the circuit's each observation is
  std::set<int> fitted_new;     // modes of parts fitted in the course of the case
  struct Entry {
    const Json* json;
    std::size_t observation;
  };
  std::vector<Entry> entries;
};

Timeline in_time(const Structure& circuit, const Json& observations, Broken rule,
                 std::map<std::string, int>& features) {
  Timeline time;
  time.structure = circuit;
  time.modes_now = circuit.modes.size();
  time.observations_now = circuit.observations.size();
  for (std::size_t o = 0; o < circuit.observations.size(); ++o) time.is.push_back(o);
  std::map<std::string, int> parts, fitted;  // of each component: replaced in all, and so far
  for (const auto& entry : observations) {
    if (!entry.contains("repaired")) continue;
    for (const auto& id : one_or_more(entry["repaired"])) ++parts[id];
  }
  std::map<std::pair<int, int>, int> was;  // mode and which part -> mode
  auto mode_then = [&](int mode) {
    const Mode& now = circuit.modes[static_cast<std::size_t>(mode)];
    const int part = fitted[now.component];
    if (part == parts[now.component] || rule == Broken::repairs) return mode;
    const auto [at, is_new] =
        was.emplace(std::pair(mode, part), static_cast<int>(time.structure.modes.size()));
    if (is_new) {
      time.structure.modes.push_back(now);
      time.structure.modes.back().id += "@" + std::to_string(part);
      if (part > 0) time.fitted_new.insert(at->second);
    }
    return at->second;
  };
  for (const auto& entry : observations) {
    if (entry.contains("repaired")) {
      for (const auto& id : one_or_more(entry["repaired"])) ++fitted[id];
      ++features["repair"];
      continue;
    }
    const Observation& now = the_observation(circuit, entry["observation"]);
    const auto index = static_cast<std::size_t>(&now - circuit.observations.data());
    std::vector<Set> sets = now.sets;
    bool as_now = true;
    for (std::size_t s = 0; s < sets.size(); ++s) {
      sets[s].modes.clear();
      for (const int mode : now.sets[s].modes) sets[s].modes.insert(mode_then(mode));
      as_now = as_now && sets[s].modes == now.sets[s].modes;
    }
    std::size_t at = index;
    if (!as_now) {
      ++features["seen before a repair"];
      auto same = [&](std::size_t o) {
        if (time.is[o] != index) return false;
        const auto& others = time.structure.observations[o].sets;
        for (std::size_t s = 0; s < sets.size(); ++s) {
          if (others[s].modes != sets[s].modes) return false;
        }
        return true;
      };
      at = time.observations_now;
      while (at < time.structure.observations.size() && !same(at)) ++at;
      if (at == time.structure.observations.size()) {
        time.structure.observations.push_back(now);
        time.structure.observations.back().id += "@" + std::to_string(at);
        time.structure.observations.back().sets = sets;
        time.is.push_back(index);
      }
    }
    time.entries.push_back({&entry, at});
  }
  for (std::size_t m = 0; m < time.modes_now; ++m) {
    if (parts[circuit.modes[m].component] > 0) time.fitted_new.insert(static_cast<int>(m));
  }
  for (auto& condition : time.structure.conditions) {
    const auto factors = std::exchange(condition.factors, {});
    for (const auto& [mode, factor] : factors) {
      const auto first = was.find({mode, 0});
      if (!time.fitted_new.count(mode)) condition.factors[mode] = factor;
      if (first != was.end()) condition.factors[first->second] = factor;
    }
  }
  if (rule == Broken::new_parts) time.fitted_new.clear();
  for (const int mode : time.fitted_new) {
    Mode& made = time.structure.modes[static_cast<std::size_t>(mode)];
    made.wear_out.reset();
    // A part is bad by one of its modes, by each as often as the circuit's priors say.
    double all = 0;
    for (const Mode& other : circuit.modes) {
      if (other.component == made.component) all += 1 - other.prior[0];
    }
    const double share = all > 0 ? (1 - made.prior[0]) / all : 0;
    const Grades bad = {1 - share * (1 - kNewPart[0]), share * kNewPart[1], share * kNewPart[2]};
    if (made.prior[0] < bad[0]) made.prior = bad;
  }
  return time;
}

// ---- probability ------------------------------------------------------------------------------

// One F: the grade of every mode, and its probability with the conditions summed out.
struct State {
  std::vector<int> grade;
  double prior = 0, posterior = 0;
};

std::vector<State> all_states(const Structure& structure, const Json& the_case, Broken rule,
                              std::map<std::string, int>& features) {
  std::vector<Grades> priors;
  for (const auto& mode : structure.modes) {
    priors.push_back(mode.prior);
    if (!mode.wear_out || rule == Broken::hours || !the_case.contains("asset")) continue;
    const Json& asset = the_case["asset"];
    const auto in_hours = [](const Json& said) {
      return said.is_string() ? quantity(said) / 3600 : said.get<double>();
    };
    const Json hours = asset.value("component_hours", Json::object());
    const Json sound = asset.value("sound_at", Json::object());
    if (!hours.contains(mode.component) && !asset.contains("meter_hours")) continue;
    const double h =
        in_hours(hours.contains(mode.component) ? hours[mode.component] : asset["meter_hours"]);
    // What is complained of is a fault of the last while, the share of a life that faults last.
    double since = sound.contains(mode.component) ? in_hours(sound[mode.component]) : 0;
    const auto& weibull = *mode.wear_out;
    if (the_case.value("focus", "") != "circuit") {
      const double life = weibull.scale_hours * std::tgamma(1 + 1 / weibull.shape);
      since = std::max(since, h - (1 - mode.prior[0]) * life);
    }
    const double not_sound = 1 - std::exp(std::pow(since / weibull.scale_hours, weibull.shape) -
                                          std::pow(h / weibull.scale_hours, weibull.shape));
    const double failed = mode.wear_out->failed_share;
    priors.back() = {1 - not_sound, not_sound * (1 - failed), not_sound * failed};
    ++features["prior by hours in service"];
  }
  const std::size_t n = structure.modes.size(), c = structure.conditions.size();
  std::vector<State> states;
  std::vector<int> grade(n, 0);
  while (true) {
    State state{grade, 0, 0};
    for (unsigned held = 0; held < (1u << c); ++held) {
      double p = 1;
      for (std::size_t k = 0; k < c; ++k) {
        const double holds = rule == Broken::conditions ? 0 : structure.conditions[k].probability;
        p *= (held >> k & 1u) ? holds : 1 - holds;
      }
      for (std::size_t m = 0; m < n && p > 0; ++m) {
        double factor = 1;
        for (std::size_t k = 0; k < c; ++k) {
          const auto& factors = structure.conditions[k].factors;
          const auto found = factors.find(static_cast<int>(m));
          if (!(held >> k & 1u) || found == factors.end()) continue;
          factor =
              rule == Broken::one_factor ? std::max(factor, found->second) : factor * found->second;
        }
        const Grades& prior = priors[m];
        const double not_sound = prior[1] + prior[2];
        const double raised = not_sound * factor / (prior[0] + not_sound * factor);
        if (grade[m] == 0) {
          p *= prior[0] / (prior[0] + not_sound * factor);
        } else {
          p *= not_sound == 0 ? 0 : raised * prior[static_cast<std::size_t>(grade[m])] / not_sound;
        }
      }
      state.prior += p;
    }
    states.push_back(state);
    std::size_t digit = 0;
    while (digit < n && grade[digit] == 2) grade[digit++] = 0;
    if (digit == n) break;
    ++grade[digit];
  }
  return states;
}

int set_grade(const Set& set, const State& state) {
  int least = 2;
  for (const int mode : set.modes) {
    least = std::min(least, state.grade[static_cast<std::size_t>(mode)]);
  }
  return least;
}

// P(S | F): 0 or 1 unless a hand-written set may fail to show.
Grades structural_grade(const Observation& observation, const State& state, Broken rule) {
  Grades at_most = {1, 1, 1};  // P(S <= s)
  for (const auto& set : observation.sets) {
    const double shows = rule == Broken::noisy_sets ? 1 : set.probability;
    const int grade = set_grade(set, state);
    for (int s = 0; s < 3; ++s) {
      if (grade > s) at_most[static_cast<std::size_t>(s)] *= 1 - shows;
    }
  }
  return {at_most[0], at_most[1] - at_most[0], at_most[2] - at_most[1]};
}

// From a function of G = max(S, B) to one of S.
Grades over_background(const Observation& observation, const Grades& of_g, Broken rule) {
  Grades of_s = {0, 0, 0};
  for (std::size_t s = 0; s < 3; ++s) {
    for (std::size_t b = 0; b < 3; ++b) {
      const double weight =
          rule == Broken::background ? (b == 0 ? 1.0 : 0.0) : observation.background[b];
      of_s[s] += weight * of_g[std::max(s, b)];
    }
  }
  return of_s;
}

Grades reading_likelihood(const Observation& observation, const Json& reading, Broken rule,
                          std::map<std::string, int>& features) {
  const double ml_min = quantity("1 mL/min");
  auto has = [&](const char* key) { return reading.contains(key); };
  auto value = [&](const char* key) { return quantity(reading.at(key)); };
  double q = 0;
  bool censored = false;
  if (has("below")) {
    q = value("below") / ml_min;
    censored = true;
    ++features["reading below the limit"];
  } else if (has("leak_rate")) {
    q = value("leak_rate") / ml_min;
    ++features["reading of a leak rate"];
  } else if (has("pressure_drop")) {
    const double volume = has("volume") ? value("volume") : observation.volume.value();
    const double modulus = has("bulk_modulus") ? value("bulk_modulus") : 1.0e9;
    q = volume / modulus * value("pressure_drop") / value("time") / ml_min;
    ++features["reading of a pressure decay"];
  } else if (has("supply_flow")) {
    q = value("supply_flow") / ml_min;
    ++features["reading of a supply flow"];
  } else if (has("speed") || has("distance")) {
    const double speed = has("speed") ? value("speed") : value("distance") / value("time");
    q = observation.area.value() * speed / ml_min;
    ++features["reading of a drift"];
  } else {
    const double rated = has("rated_flow") ? value("rated_flow") : observation.rated_flow.value();
    q = (rated - value("flow")) / rated;
    ++features["reading of a flow"];
  }
  if (observation.reference_pressure && has("pressure")) {
    double x = reading.value("exponent", 1.0);
    if (rule == Broken::normal_exponent) x = 1;
    q *= std::pow(*observation.reference_pressure / value("pressure"), x);
    ++features["reading normalised in pressure"];
  }
  Grades likelihood{};
  for (std::size_t g = 0; g < 3; ++g) {
    const double z = (std::log(q) - std::log(observation.median[g])) / observation.sigma[g];
    likelihood[g] = censored && rule != Broken::censored_as_seen
                        ? 0.5 * std::erfc(-z / std::sqrt(2.0))
                        : std::exp(-z * z / 2) / (observation.sigma[g] * std::sqrt(2 * kPi));
  }
  return likelihood;
}

double entropy_bits(const std::vector<double>& distribution) {
  double sum = 0;
  for (const double p : distribution) {
    if (p > 0) sum -= p * std::log2(p);
  }
  return sum;
}

// What was seen of one observation: its likelihood over G and, where callers gave their own, over
// S.
struct Seen {
  Grades of_g = {1, 1, 1}, of_s = {1, 1, 1};
  int entries = 0;
  bool abnormal = false;
  std::optional<std::string> at;  // the earliest
};
using AllSeen = std::map<std::size_t, Seen>;  // by observation

AllSeen all_seen(const Timeline& time, const Json& the_case, Broken rule,
                 std::map<std::string, int>& features) {
  AllSeen seen;
  // The same said of the same observation at the same time, no repair between, is said once, unless
  // `again`.
  std::set<std::pair<std::size_t, std::string>> said;
  std::vector<std::size_t> repairs_before;
  std::size_t repairs = 0;
  for (const auto& entry : the_case.value("observations", Json::array())) {
    if (entry.contains("repaired")) {
      ++repairs;
    } else {
      repairs_before.push_back(repairs);
    }
  }
  std::size_t number = 0;
  for (const auto& [json, o] : time.entries) {
    const Json& entry = *json;
    const std::size_t segment = repairs_before[number++];
    Json what = entry;
    what.erase("note");
    what.erase("again");
    if (rule == Broken::said_at) what.erase("at");
    const bool looked_again = entry.value("again", false) && rule != Broken::looked_again;
    if (looked_again) {
      ++features["looked at again"];
    } else if (!said.emplace(segment, what.dump()).second && rule != Broken::said_twice) {
      ++features["said twice"];
      continue;
    }
    if (entry.contains("at")) ++features["said with a time"];
    const Observation& observation = time.structure.observations[o];
    Seen& here = seen[o];
    if (++here.entries == 2) ++features["observation repeated"];
    if (entry.contains("at") && (!here.at || entry["at"].get<std::string>() < *here.at)) {
      here.at = entry["at"].get<std::string>();
      ++features["time of an observation"];
    }
    Grades of_g = {1, 1, 1}, favours;
    if (entry.contains("outcome")) {
      const auto at = std::find(observation.outcomes.begin(), observation.outcomes.end(),
                                entry["outcome"].get<std::string>());
      const auto outcome = static_cast<std::size_t>(at - observation.outcomes.begin());
      for (std::size_t g = 0; g < 3; ++g) of_g[g] = observation.matrix[g][outcome];
      if (outcome > 0) here.abnormal = true;
      ++features["evidence: outcome"];
    } else {
      if (entry.contains("reading")) {
        of_g = favours = reading_likelihood(observation, entry["reading"], rule, features);
        ++features["evidence: reading"];
      } else {
        favours = grades(entry["likelihood"]);
        if (rule == Broken::likelihood_of_all) {
          of_g = favours;
        } else {
          for (std::size_t s = 0; s < 3; ++s) here.of_s[s] *= favours[s];
        }
        ++features["evidence: likelihood"];
      }
      if (favours[1] > favours[0] || favours[2] > favours[0]) here.abnormal = true;
    }
    if (rule == Broken::shared_background) {
      const Grades of_s = over_background(observation, of_g, rule);
      for (std::size_t s = 0; s < 3; ++s) here.of_s[s] *= of_s[s];
    } else {
      for (std::size_t g = 0; g < 3; ++g) here.of_g[g] *= of_g[g];
    }
  }
  return seen;
}

// P(what was seen of one observation | F).
double seen_given(const Observation& observation, const Seen& here, const State& state,
                  Broken rule) {
  const Grades over = over_background(observation, here.of_g, rule);
  const Grades s = structural_grade(observation, state, rule);
  double p = 0;
  for (std::size_t g = 0; g < 3; ++g) p += s[g] * here.of_s[g] * over[g];
  return p;
}

// The posterior of every state; gives P(evidence).
double condition(std::vector<State>& states, const Timeline& time, const AllSeen& seen,
                 Broken rule) {
  double evidence = 0;
  for (auto& state : states) {
    state.posterior = state.prior;
    for (const auto& [o, here] : seen) {
      state.posterior *= seen_given(time.structure.observations[o], here, state, rule);
    }
    evidence += state.posterior;
  }
  if (!(evidence > 0)) throw Refused("conflicting_evidence", "P(evidence) = 0");
  for (auto& state : states) state.posterior /= evidence;
  return evidence;
}

// ---- causes -----------------------------------------------------------------------------------

// A value of the cause of an observation.
struct Value {
  enum Kind { components_leak, elsewhere, nothing } kind = nothing;
  std::set<std::string> components;
  bool operator==(const Value& other) const {
    return kind == other.kind && components == other.components;
  }
};

// P(cause, F | evidence).
struct CauseByState {
  std::vector<Value> values = {{Value::nothing, {}}, {Value::elsewhere, {}}};
  std::vector<std::size_t> of_set;         // which value each set of the observation is
  std::vector<std::vector<double>> joint;  // by state, then by value
};
constexpr std::size_t kNothing = 0, kElsewhere = 1;

CauseByState possible_causes(const Structure& structure, const Observation& observation) {
  CauseByState result;
  for (const auto& set : observation.sets) {
    Value value{Value::components_leak, {}};
    for (const int mode : set.modes) {
      value.components.insert(structure.modes[static_cast<std::size_t>(mode)].component);
    }
    std::size_t at = 0;
    while (at < result.values.size() && !(result.values[at] == value)) ++at;
    if (at == result.values.size()) result.values.push_back(value);
    result.of_set.push_back(at);
  }
  return result;
}

// The cause of one observation in one state: by value, P(value, what was seen of it | F).
std::vector<double> cause_given(const Observation& observation, const CauseByState& possible,
                                const Seen& here, const State& state, Broken rule) {
  struct Active {
    int grade;
    std::size_t value;
    double shows;
  };
  std::vector<Active> active;  // sets that are not sound; those that may not show first
  std::size_t noisy = 0;
  for (std::size_t i = 0; i < observation.sets.size(); ++i) {
    const Set& set = observation.sets[i];
    const int grade = set_grade(set, state);
    if (grade == 0) continue;
    if (set.probability < 1 && rule != Broken::noisy_sets && rule != Broken::cause_of_all_sets) {
      active.insert(active.begin(), {grade, possible.of_set[i], set.probability});
      ++noisy;
    } else {
      active.push_back({grade, possible.of_set[i], 1});
    }
  }
  std::vector<double> found(possible.values.size(), 0.0);
  for (unsigned effective = 0; effective < (1u << noisy); ++effective) {
    auto shows = [&](std::size_t i) { return i >= noisy || (effective >> i & 1u); };
    double p = 1;
    int s = 0;
    for (std::size_t i = 0; i < active.size(); ++i) {
      p *= shows(i) ? active[i].shows : 1 - active[i].shows;
      if (shows(i)) s = std::max(s, active[i].grade);
    }
    for (int b = 0; b < 3; ++b) {
      const double background = rule == Broken::background
                                    ? (b == 0 ? 1.0 : 0.0)
                                    : observation.background[static_cast<std::size_t>(b)];
      const int g = std::max(s, b);
      const double weight = p * background * here.of_s[static_cast<std::size_t>(s)] *
                            here.of_g[static_cast<std::size_t>(g)];
      if (g == 0) {
        found[kNothing] += weight;
        continue;
      }
      std::vector<std::size_t> largest;
      for (std::size_t i = 0; i < active.size(); ++i) {
        if (shows(i) && active[i].grade == g) largest.push_back(active[i].value);
      }
      if (b == g && (rule != Broken::cause_background || largest.empty())) {
        largest.push_back(kElsewhere);
      }
      if (rule == Broken::cause_ties) largest.resize(1);
      for (const std::size_t value : largest) {
        found[value] += weight / static_cast<double>(largest.size());
      }
    }
  }
  return found;
}

CauseByState cause_of(const Timeline& time, std::size_t o, const AllSeen& seen,
                      const std::vector<State>& states, double evidence, Broken rule) {
  const Observation& observation = time.structure.observations[o];
  const auto own = seen.find(o);
  const Seen here = own == seen.end() ? Seen{} : own->second;
  CauseByState result = possible_causes(time.structure, observation);
  for (const auto& state : states) {
    double rest = state.prior / evidence;
    for (const auto& [other, what] : seen) {
      if (other == o || rest == 0) continue;
      rest *= seen_given(time.structure.observations[other], what, state, rule);
    }
    if (rest == 0) {
      result.joint.emplace_back(result.values.size(), 0.0);
      continue;
    }
    result.joint.push_back(cause_given(observation, result, here, state, rule));
    for (double& p : result.joint.back()) p *= rest;
  }
  return result;
}

Causes summed(const Timeline& time, std::size_t o, const CauseByState& cause) {
  Causes result;
  result.observation = time.structure.observations[time.is[o]].id;
  std::vector<double> total(cause.values.size(), 0.0);
  for (const auto& joint : cause.joint) {
    for (std::size_t v = 0; v < total.size(); ++v) total[v] += joint[v];
  }
  for (std::size_t v = 0; v < total.size(); ++v) {
    if (v == kNothing) {
      result.nothing = total[v];
    } else if (v == kElsewhere) {
      result.elsewhere = total[v];
    } else {
      result.sets[cause.values[v].components] = total[v];
    }
  }
  return result;
}

// The observation whose cause is asked for.
std::optional<std::size_t> the_complaint(const Timeline& time, const AllSeen& seen,
                                         const Json& the_case, Broken rule,
                                         std::map<std::string, int>& features) {
  const std::string focus = the_case.value("focus", std::string());
  if (!focus.empty() && focus != "complaint" && focus != "circuit" &&
      rule != Broken::complaint_focus) {
    ++features["focus names an observation"];
    std::optional<std::size_t> named;  // as it was last seen
    for (const auto& entry : time.entries) {
      if (time.structure.observations[time.is[entry.observation]].id == focus) {
        named = entry.observation;
      }
    }
    if (named) return named;
    const Observation& observation = the_observation(time.structure, focus);
    return static_cast<std::size_t>(&observation - time.structure.observations.data());
  }
  for (const bool symptoms : {true, false}) {
    using Place = std::tuple<bool, std::string, std::string, std::size_t>;
    std::optional<Place> first;
    for (const auto& [o, here] : seen) {
      if (!here.abnormal || time.structure.observations[o].symptom != symptoms) continue;
      const bool timed = here.at && rule != Broken::complaint_time;
      const Place place{!timed, timed ? *here.at : "", time.structure.observations[time.is[o]].id,
                        // What was before a repair comes before what is since.
                        o < time.observations_now ? time.structure.observations.size() : o};
      if (!first || place < *first) first = place;
    }
    if (!first) continue;
    if (!symptoms) {
      if (rule == Broken::complaint_tests) return std::nullopt;
      ++features["an abnormal test stands for the complaint"];
    }
    const std::size_t last = std::get<3>(*first);
    if (last < time.structure.observations.size()) return last;
    const Observation& observation = the_observation(time.structure, std::get<2>(*first));
    return static_cast<std::size_t>(&observation - time.structure.observations.data());
  }
  return std::nullopt;
}

// ---- the answer -------------------------------------------------------------------------------

Fault fault_of(const std::vector<State>& states, std::size_t mode) {
  Grades before{}, after{};
  for (const auto& state : states) {
    before[static_cast<std::size_t>(state.grade[mode])] += state.prior;
    after[static_cast<std::size_t>(state.grade[mode])] += state.posterior;
  }
  Fault fault;
  fault.grades = after;
  if (before[0] > 0) fault.prior_odds = (before[1] + before[2]) / before[0];
  if (after[0] > 0) fault.posterior_odds = (after[1] + after[2]) / after[0];
  if (fault.prior_odds && fault.posterior_odds && *fault.prior_odds > 0 &&
      *fault.posterior_odds > 0) {
    fault.decibans = 10 * std::log10(*fault.posterior_odds / *fault.prior_odds);
  }
  return fault;
}

// Mutual information of a partition and the outcomes, of the joint probabilities by part.
double information(const std::vector<std::vector<double>>& joints,
                   const std::vector<double>& marginal) {
  double conditional = 0;
  for (const auto& joint : joints) {
    double total = 0;
    for (const double p : joint) total += p;
    if (total <= 0) continue;
    std::vector<double> scaled = joint;
    for (double& p : scaled) p /= total;
    conditional += total * entropy_bits(scaled);
  }
  return entropy_bits(marginal) - conditional;
}

Test test_of(const Structure& structure, const Observation& observation,
             const std::vector<State>& states, const CauseByState* cause, Broken rule) {
  Test test;
  const std::size_t outcomes = observation.outcomes.size();
  std::vector<Grades> of_s;  // P(outcome | S), per outcome
  for (std::size_t o = 0; o < outcomes; ++o) {
    const auto& m = observation.matrix;
    of_s.push_back(over_background(observation, {m[0][o], m[1][o], m[2][o]}, rule));
  }
  auto given = [&](const State& state) {
    const Grades s = structural_grade(observation, state, rule);
    std::vector<double> p(outcomes);
    for (std::size_t o = 0; o < outcomes; ++o) {
      p[o] = s[0] * of_s[o][0] + s[1] * of_s[o][1] + s[2] * of_s[o][2];
    }
    return p;
  };
  std::vector<double> marginal(outcomes, 0.0);
  double given_faults = 0;
  std::vector<std::vector<double>> by_cause(
      cause ? cause->values.size() : 0,
      std::vector<double>(outcomes));  // P(cause, outcome | e)
  std::vector<std::vector<std::vector<double>>> by_mode(
      structure.modes.size(), std::vector<std::vector<double>>(3, std::vector<double>(outcomes)));
  for (std::size_t i = 0; i < states.size(); ++i) {
    const State& state = states[i];
    if (state.posterior == 0) continue;
    const auto p = given(state);
    for (std::size_t o = 0; o < outcomes; ++o) {
      marginal[o] += state.posterior * p[o];
      if (rule == Broken::sum_of_modes) {
        for (std::size_t m = 0; m < structure.modes.size(); ++m) {
          by_mode[m][static_cast<std::size_t>(state.grade[m])][o] += state.posterior * p[o];
        }
      }
    }
    given_faults += state.posterior * entropy_bits(p);
    for (std::size_t v = 0; v < by_cause.size(); ++v) {
      for (std::size_t o = 0; o < outcomes; ++o) by_cause[v][o] += cause->joint[i][v] * p[o];
    }
  }
  for (std::size_t o = 0; o < outcomes; ++o)
    test.probability[observation.outcomes[o]] = marginal[o];
  test.information_bits = entropy_bits(marginal) - given_faults;
  if (rule == Broken::sum_of_modes) {
    test.information_bits = 0;
    for (const auto& joints : by_mode) test.information_bits += information(joints, marginal);
  }
  test.cause_bits = cause ? information(by_cause, marginal) : 0;
  return test;
}

}  // namespace

Answer assess(const Structure& circuit, const Json& the_case, Broken rule) {
  Answer answer;
  auto& features = answer.features;
  const Json observations = the_case.value("observations", Json::array());
  const Timeline time = in_time(circuit, observations, rule, features);
  const Structure& structure = time.structure;
  std::vector<State> states = all_states(structure, the_case, rule, features);
  const AllSeen seen = all_seen(time, the_case, rule, features);
  const double evidence = condition(states, time, seen, rule);
  answer.log_evidence = std::log(evidence);
  for (std::size_t m = 0; m < time.modes_now; ++m) {
    answer.faults[structure.modes[m].id] = fault_of(states, m);
  }

  answer.causes.emplace();
  std::set<std::pair<std::size_t, std::size_t>> abnormal;  // symptoms, in the order of the answer
  for (const auto& [o, here] : seen) {
    if (!structure.observations[o].symptom || !here.abnormal) continue;
    answer.complaint.insert(structure.observations[time.is[o]].id);
    abnormal.emplace(time.is[o], o);
  }
  std::optional<CauseByState> cause;
  const auto complaint = the_complaint(time, seen, the_case, rule, features);
  if (complaint) {
    cause = cause_of(time, *complaint, seen, states, evidence, rule);
    answer.causes->push_back(summed(time, *complaint, *cause));
  }
  for (const auto& [is, o] : abnormal) {
    if (o == complaint) continue;
    answer.causes->push_back(summed(time, o, cause_of(time, o, seen, states, evidence, rule)));
  }

  std::set<std::string> setup_done;
  for (const auto& step : the_case.value("setup_done", Json::array())) setup_done.insert(step);
  if (!setup_done.empty()) ++features["setup done"];
  // Tests: every observation not yet made of the machine as it is now.
  for (std::size_t o = 0; o < time.observations_now; ++o) {
    if (seen.count(o)) continue;
    const Observation& observation = structure.observations[o];
    Test test = test_of(structure, observation, states, cause ? &*cause : nullptr, rule);
    test.minutes = observation.minutes;
    for (const auto& step : observation.setup) {
      if (!setup_done.count(step)) test.minutes += structure.setup_minutes.at(step);
    }
    test.energised = observation.energised;
    answer.tests[observation.id] = test;
  }
  if (seen.empty()) ++features["no evidence"];
  if (!seen.empty() && !complaint) ++features["evidence without a complaint"];
  if (abnormal.size() == 1) ++features["one complaint"];
  if (abnormal.size() > 1) ++features["two complaints"];
  return answer;
}

}  // namespace oracle
