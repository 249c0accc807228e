#include "tests/statics/balance.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "tests/property/oracle.h"

namespace balance {
namespace {

constexpr double kStroke = 400;  // in volumes that a pressed group takes up
constexpr double kSlack = 1.002;
constexpr double kNothing = 1e-4;

std::optional<double> quantity(const Json& object, const char* key) {
  if (!object.contains(key)) return std::nullopt;
  return oracle::quantity(object[key].get<std::string>());
}

std::vector<std::string> names(const Json& value) {
  if (value.is_string()) return {value.get<std::string>()};
  return value.get<std::vector<std::string>>();
}

bool mentions(const std::string& text, const char* word) {
  std::string lower = text;
  std::transform(lower.begin(), lower.end(), lower.begin(), ::tolower);
  return lower.find(word) != std::string::npos;
}

bool safety_part(const Json& part, const std::string& id) {
  if (part.contains("use")) return part["use"] != "work";
  const std::string title = part.value("title", std::string());
  for (const char* word : {"brake", "steer"}) {
    if (mentions(id, word) || mentions(title, word)) return true;
  }
  return false;
}

}  // namespace

const char* name(Kind kind) {
  static const char* const texts[kKinds] = {
      "above a rating",         "above 0.8 of a relief", "figure with something unknown",
      "into a pump or motor",   "into an accumulator",   "no line to open",
      "into brake or steering", "piston moves",          "last relief plugged or none",
      "not verified",           "trapped pressure"};
  return texts[static_cast<int>(kind)];
}

struct Machine::Test {
  int source = -1;
  std::set<int> open;
  std::set<std::string> lines_off;
  std::string removed;

  bool there(const Element& e) const { return removed.empty() || e.component != removed; }
};

struct Machine::State {
  std::map<int, double> pressure;  // node -> share of the pressure at the port
  std::set<std::string> moved;     // pistons that went to a stop
  bool unknown_area = false;
};

int Machine::node(const std::string& volume) const {
  return gallery_[static_cast<std::size_t>(volume_.at(volume))];
}

Machine::Machine(const Json& circuit, const Json& catalogue) {
  const auto add_volume = [&](const std::string& name) {
    volume_.emplace(name, static_cast<int>(volume_.size()));
  };
  add_volume("tank");
  add_volume("outside");
  std::map<std::string, Json> types;
  for (const auto& [key, type] : catalogue["types"].items()) types[key] = type;
  if (circuit.contains("types")) {
    for (const auto& [key, type] : circuit["types"].items()) types[key] = type;
  }
  for (const Json& component : circuit["components"]) {
    const std::string id = component["id"];
    const Json& type = types.at(component["type"]);
    ports_[id] = type["ports"].get<std::vector<std::string>>();
    for (const std::string& port : ports_[id]) add_volume(id + "." + port);
    for (const Json& inner : type.value("volumes", Json::array())) {
      add_volume(id + "." + inner.get<std::string>());
    }
  }
  gallery_.resize(volume_.size());
  for (std::size_t v = 0; v < gallery_.size(); ++v) gallery_[v] = static_cast<int>(v);
  for (const Json& joint : circuit.value("connections", Json::array())) {
    if (joint.contains("line")) continue;
    const int keep = node(joint["from"]), drop = node(joint["to"]);
    for (int& at : gallery_) {
      if (at == drop) at = keep;
    }
  }
  named_.resize(gallery_.size());
  for (const auto& [volume, index] : volume_) {
    named_[static_cast<std::size_t>(gallery_[static_cast<std::size_t>(index)])].push_back(volume);
  }
  for (const Json& joint : circuit.value("connections", Json::array())) {
    if (!joint.contains("line")) continue;
    const std::string id = joint["line"];
    lines_.push_back({id, node(joint["from"]), node(joint["to"])});
    for (const char* end : {"from", "to"}) {
      openable_.insert(joint[end].get<std::string>());
      if (const auto rating = quantity(joint, "rating")) {
        limits_[node(joint[end])].push_back({*rating, "line " + id});
      }
      if (safety_part(joint, id) && joint[end] != "tank" && joint[end] != "outside") {
        safety_[node(joint[end])] = id;
      }
    }
  }
  std::set<std::string> sources;
  for (const Json& function : circuit.value("functions", Json::array())) {
    const std::string source = function["source"];
    sources.insert(source.substr(0, source.find('.')));
  }
  for (const Json& component : circuit["components"]) {
    Json type = types.at(component["type"]);
    // The source of a lowering function is the actuator that its load presses: that is no pump.
    if (sources.count(component["id"]) && !type.contains("actuator")) type["flow_test"] = true;
    place_part(component, type);
  }
  const Json all_1 = circuit.value("fittings", Json::object());
  for (const auto& [port, fitting] : all_1.items()) {
    if (fitting.value("plug", false)) openable_.insert(port);
    const auto rating = quantity(fitting, "rating");
    if (!rating) continue;
    std::vector<std::string> volumes = {port};
    if (ports_.count(port)) {
      volumes.clear();
      for (const std::string& one : ports_[port]) volumes.push_back(port + "." + one);
    }
    for (const std::string& one : volumes)
      limits_[node(one)].push_back({*rating, "fitting " + port});
  }
  for (const Json& id : circuit.value("allow_hold", Json::array())) allowed_.insert(id);
}

void Machine::place_part(const Json& component, const Json& type) {
  const std::string id = component["id"];
  bool machine = type.value("flow_test", false);
  Json areas = Json::object();
  if (type.contains("actuator")) areas = type["actuator"].value("areas", Json::object());
  for (const auto& [volume, rule] : areas.items()) machine = machine || rule == "displacement";

  std::vector<std::string> volumes = ports_[id];
  for (const Json& inner : type.value("volumes", Json::array())) volumes.push_back(inner);
  for (const std::string& volume : volumes) {
    const int at = node(id + "." + volume);
    const Json own = component.value("rated", Json::object());
    const Json kind = type.value("rated", Json::object());
    if (own.contains(volume)) {
      limits_[at].push_back({*quantity(own, volume.c_str()), id});
    } else if (component.contains("rating")) {
      limits_[at].push_back({*quantity(component, "rating"), id});
    } else if (kind.contains(volume)) {
      limits_[at].push_back({*quantity(kind, volume.c_str()), id});
    }
    for (const Json& reduced : type.value("reduces", Json::array())) {
      if (reduced == volume && component.contains("setting")) {
        limits_[at].push_back({*quantity(component, "setting"), "reduced by " + id});
      }
    }
    if (at == node("tank") || at == node("outside")) continue;
    if (machine && !type.value("hold", false)) machine_[at] = id;
    if (type.value("stores_gas", false)) gas_[at] = id;
    if (safety_part(component, id)) safety_[at] = id;
  }
  const auto volume_of = [&](const std::string& name) {
    return node(name == "tank" || name == "outside" ? name : id + "." + name);
  };
  std::map<std::string, int> placed;
  const Json all_2 = type.value("elements", Json::object());
  for (const auto& [key, element] : all_2.items()) {
    Element one;
    one.kind = element["kind"];
    one.component = id;
    one.name = key;
    one.from = volume_of(element["from"]);
    one.to = volume_of(element["to"]);
    one.pilot = element.contains("pilot") ? volume_of(element["pilot"]) : -1;
    for (const Json& position : element.value("open_in", Json::array())) {
      one.open_in.insert(position.get<std::string>());
    }
    one.load_holding = one.kind == "seal" && (one.pilot >= 0 || one.open_in.count("piloted"));
    one.clearance = machine && one.kind != "relief";
    one.setting = quantity(component, "setting");
    if (component.contains("ratio")) one.ratio = component["ratio"].get<double>();
    bool connected = one.pilot >= 0 && named_[static_cast<std::size_t>(one.pilot)].size() > 1;
    for (const Line& line : lines_)
      connected = connected || line.a == one.pilot || line.b == one.pilot;
    one.pilot_known = one.pilot >= 0 && connected && one.ratio;
    placed[key] = static_cast<int>(elements_.size());
    elements_.push_back(one);
  }
  const Json all_3 = type.value("failure_modes", Json::object());
  for (const auto& [key, mode] : all_3.items()) {
    if (!mode.contains("leaks")) continue;
    std::set<int> acts;
    for (const std::string& element : names(mode["leaks"])) acts.insert(placed.at(element));
    modes_[id].push_back(acts);
  }
  if (!type.contains("actuator")) return;
  actuators_.insert(id);
  Piston piston{id, machine, {}};
  std::map<std::string, double> sign;
  for (int again = 0; again < 4; ++again) {
    for (const auto& [key, pair] : type["actuator"]["directions"].items()) {
      const std::string contracting = pair[0], expanding = pair[1];
      if (sign.empty()) sign[expanding] = 1;
      if (sign.count(expanding)) sign.emplace(contracting, -sign[expanding]);
      if (sign.count(contracting)) sign.emplace(expanding, -sign[contracting]);
    }
  }
  std::set<std::string> rules;
  bool any = false;
  for (const auto& [volume, push] : sign) {
    const std::string rule = areas.value(volume, std::string(volume == "rod" ? "annulus" : "bore"));
    rules.insert(rule);
    std::optional<double> area;
    const auto bore = quantity(component, "bore"), rod = quantity(component, "rod");
    if (component.contains("areas") && component["areas"].contains(volume)) {
      area = quantity(component["areas"], volume.c_str());
    } else if (rule == "displacement") {
      area = 1;
    } else if (rule == "bore" && bore) {
      area = std::numbers::pi / 4 * *bore * *bore;
    } else if (rule == "annulus" && bore && rod) {
      area = std::numbers::pi / 4 * (*bore * *bore - *rod * *rod);
    }
    any = any || area;
    piston.chambers.push_back({volume_of(volume), push, area});
  }
  if (!any && rules.size() == 1 && piston.chambers.size() == 2) {
    for (Chamber& chamber : piston.chambers) chamber.area = 1;
  }
  pistons_.push_back(piston);
}

Machine::Test Machine::place(const Proposal& proposal) const {
  Test test;
  std::string port = proposal.observation.substr(7);
  const std::size_t plugged = port.find("/plugged/");
  if (plugged != std::string::npos) {
    test.removed = port.substr(plugged + 9);
    port = port.substr(0, plugged);
  }
  test.source = node(port);
  test.lines_off = proposal.lines_off;
  const std::string component = port.substr(0, port.rfind('.'));
  if (actuators_.count(component)) {
    for (const std::string& other : ports_.at(component)) {
      if (component + "." + other != port) test.open.insert(node(component + "." + other));
    }
  }
  return test;
}

// At rest: groups of nodes joined both ways; a check keeps its outlet at or above its inlet, a
// piston balances its forces or is at a stop, a void has no pressure. That is the least energy of
// the oil in the groups less the work of the source at pressure one.
Machine::State Machine::rest(const Test& test, const std::set<int>& leaking) const {
  const std::size_t count = gallery_.size();
  std::vector<int> group(count);
  for (std::size_t v = 0; v < count; ++v) group[v] = static_cast<int>(v);
  const std::function<int(int)> root = [&](int v) {
    while (group[static_cast<std::size_t>(v)] != v) v = group[static_cast<std::size_t>(v)];
    return v;
  };
  std::vector<std::pair<int, int>> one_way;
  std::vector<std::pair<int, int>> two_way;
  for (const Line& line : lines_) {
    if (!test.lines_off.count(line.id)) two_way.emplace_back(line.a, line.b);
  }
  for (const Element& e : elements_) {
    if (!test.there(e)) continue;
    if (e.kind == "passage" || e.open_in.count("neutral")) two_way.emplace_back(e.from, e.to);
    if (e.kind == "check") one_way.emplace_back(e.from, e.to);
  }
  // What has a way to tank, to outside or to an open port stays empty, whatever leaks into it.
  std::set<int> drained = test.open;
  drained.insert({node("tank"), node("outside")});
  for (bool more = true; more;) {
    more = false;
    for (const auto& [a, b] : two_way) {
      if (drained.count(b) && drained.insert(a).second) more = true;
      if (drained.count(a) && drained.insert(b).second) more = true;
    }
    for (const auto& [a, b] : one_way) {
      if (drained.count(b) && drained.insert(a).second) more = true;
    }
  }
  for (const int e : leaking) {
    const Element& element = elements_[static_cast<std::size_t>(e)];
    if (test.there(element)) two_way.emplace_back(element.from, element.to);
  }
  for (const auto& [a, b] : two_way) {
    if (!drained.count(a) && !drained.count(b)) group[static_cast<std::size_t>(root(a))] = root(b);
  }
  State state;
  const int source = root(test.source);
  if (drained.count(test.source)) return state;

  // Only what pressure can get to.
  std::set<int> near = {source};
  for (bool more = true; more;) {
    more = false;
    for (const auto& [a, b] : one_way) {
      if (drained.count(a) || drained.count(b)) continue;
      if (near.count(root(a)) && near.insert(root(b)).second) more = true;
    }
    for (const Piston& piston : pistons_) {
      const bool pressed =
          std::any_of(piston.chambers.begin(), piston.chambers.end(), [&](const Chamber& one) {
            return !drained.count(one.node) && near.count(root(one.node));
          });
      // What has one closed chamber moves to its stop, whatever its area.
      const auto closed =
          std::count_if(piston.chambers.begin(), piston.chambers.end(),
                        [&](const Chamber& one) { return !drained.count(one.node); });
      for (const Chamber& one : piston.chambers) {
        if (!pressed || drained.count(one.node)) continue;
        if (near.insert(root(one.node)).second) more = true;
        if (!one.area && closed > 1) state.unknown_area = true;
      }
    }
  }
  if (state.unknown_area) return state;

  std::map<int, double> oil, compliance;
  for (const int g : near) {
    oil[g] = 0;
    compliance[g] = 0.2 + (g * 7919 % 101) / 100.0;
  }
  const auto pressure = [&](int g) {
    return g == source ? 1.0 : std::max(0.0, oil.at(g)) / compliance.at(g);
  };
  struct Check {
    int from, to;
    double through = 0;
  };
  std::vector<Check> checks;
  for (const auto& [a, b] : one_way) {
    if (drained.count(a) || drained.count(b) || root(a) == root(b)) continue;
    if (near.count(root(a))) checks.push_back({root(a), root(b)});
  }
  struct Moving {
    const Piston* piston;
    std::map<int, double> push;  // group -> signed area
    double at = 0;
  };
  std::vector<Moving> moving;
  for (const Piston& piston : pistons_) {
    Moving one{&piston, {}, 0};
    double largest = 0;
    for (const Chamber& chamber : piston.chambers) {
      if (chamber.area) largest = std::max(largest, *chamber.area);
    }
    if (largest == 0) largest = 1;  // of one closed chamber no area matters
    for (const Chamber& chamber : piston.chambers) {
      if (drained.count(chamber.node) || !near.count(root(chamber.node))) continue;
      one.push[root(chamber.node)] += chamber.sign * chamber.area.value_or(1) / largest;
    }
    std::erase_if(one.push, [](const auto& push) { return std::abs(push.second) < 1e-9; });
    if (!one.push.empty()) moving.push_back(one);
  }
  for (int sweep = 0; sweep < 300000; ++sweep) {
    double change = 0;
    for (Check& check : checks) {
      double slope = 0;
      if (check.from != source) slope += 1 / compliance[check.from];
      if (check.to != source) slope += 1 / compliance[check.to];
      if (slope == 0) continue;
      const double want = (pressure(check.from) - pressure(check.to)) / slope;
      const double move = std::max(want, -check.through);
      check.through += move;
      oil[check.from] -= move;
      oil[check.to] += move;
      change = std::max(change, std::abs(move));
    }
    for (Moving& one : moving) {
      double force = 0, slope = 0;
      for (const auto& [g, push] : one.push) {
        force += push * pressure(g);
        if (g != source) slope += push * push / compliance[g];
      }
      double move = slope > 0 ? force / slope : force > 0 ? 2 * kStroke : -2 * kStroke;
      if (force == 0) move = 0;
      move = std::clamp(one.at + move, -kStroke, kStroke) - one.at;
      one.at += move;
      for (const auto& [g, push] : one.push) oil[g] -= push * move;
      change = std::max(change, std::abs(move));
    }
    if (change < 1e-7) break;
  }
  for (const Moving& one : moving) {
    if (std::abs(one.at) > kStroke * (1 - 1e-6)) state.moved.insert(one.piston->component);
  }
  for (std::size_t v = 0; v < count; ++v) {
    const int at = gallery_[v];
    if (drained.count(at) || !near.count(root(at))) continue;
    if (pressure(root(at)) > kNothing) state.pressure[at] = pressure(root(at));
  }
  return state;
}

// Nothing; what always leaks; and with either, every way in which one failure mode can leak through
// elements next to what is pressed. Each again with the valves open that may be.
std::vector<std::set<int>> Machine::leaks(const Test& test, const State& tight) const {
  std::set<int> clearances, opened;
  for (std::size_t e = 0; e < elements_.size(); ++e) {
    if (elements_[e].clearance) clearances.insert(static_cast<int>(e));
  }
  std::vector<std::set<int>> all;
  for (int round = 0; round < 3; ++round) {
    all.clear();
    std::vector<std::set<int>> bases = {{}, clearances};
    if (!opened.empty()) {
      bases.push_back(opened);
      std::set<int> both = clearances;
      both.insert(opened.begin(), opened.end());
      bases.push_back(both);
    }
    std::map<int, double> near = tight.pressure;
    for (const std::set<int>& base : bases) {
      all.push_back(base);
      for (const auto& [at, p] : rest(test, base).pressure) near[at] = p;
    }
    for (const std::set<int>& base : bases) {
      for (const auto& [component, modes] : modes_) {
        if (component == test.removed) continue;
        for (const std::set<int>& mode : modes) {
          const bool touches = std::any_of(mode.begin(), mode.end(), [&](int e) {
            const Element& one = elements_[static_cast<std::size_t>(e)];
            return near.count(one.from) || near.count(one.to);
          });
          if (!touches) continue;
          const std::vector<int> list(mode.begin(), mode.end());
          for (unsigned subset = 1; subset < (1U << list.size()); ++subset) {
            std::set<int> leaking = base;
            for (std::size_t i = 0; i < list.size(); ++i) {
              if ((subset >> i) & 1U) leaking.insert(list[i]);
            }
            all.push_back(leaking);
          }
        }
      }
    }
    const std::size_t before = opened.size();
    for (const std::set<int>& leaking : all) {
      const State state = rest(test, leaking);
      for (std::size_t e = 0; e < elements_.size(); ++e) {
        const Element& one = elements_[e];
        if (!one.load_holding || !test.there(one)) continue;
        const bool beside = state.pressure.count(one.from) || state.pressure.count(one.to);
        if (one.pilot_known ? state.pressure.count(one.pilot) > 0 : beside) {
          opened.insert(static_cast<int>(e));
        }
      }
    }
    if (opened.size() == before) break;
  }
  return all;
}

double Machine::factor(const Proposal& proposal, const std::string& port) const {
  const State state = rest(place(proposal), {});
  const auto found = state.pressure.find(node(port));
  return found == state.pressure.end() ? 0 : found->second;
}

std::vector<Fault> Machine::faults(const Proposal& proposal) const {
  const Test test = place(proposal);
  std::vector<Fault> found;
  const auto fault = [&](Kind kind, const std::string& where, double p = 0, double allowed = 0) {
    for (const Fault& one : found) {
      if (one.kind == kind) return;
    }
    found.push_back({kind, where, p, allowed});
  };
  const auto label = [&](int at) { return named_[static_cast<std::size_t>(at)].front(); };
  const std::string port =
      proposal.observation.substr(7, proposal.observation.find("/plugged/") - 7);
  if (!openable_.count(port)) fault(Kind::no_line, port);
  const std::string owner = port.substr(0, port.rfind('.'));
  if (actuators_.count(owner)) {
    for (const std::string& other : ports_.at(owner)) {
      if (!openable_.count(owner + "." + other)) fault(Kind::no_line, owner + "." + other);
    }
  }
  const State tight = rest(test, {});
  for (const auto& [at, p] : tight.pressure) {
    if (machine_.count(at)) fault(Kind::pump_or_motor, machine_.at(at));
    if (gas_.count(at)) fault(Kind::accumulator, gas_.at(at));
    if (safety_.count(at) && !allowed_.count(proposal.observation)) {
      fault(Kind::brake_or_steering, safety_.at(at));
    }
  }
  const auto has_step = [&](const std::string& start) {
    return std::any_of(proposal.steps.begin(), proposal.steps.end(),
                       [&](const std::string& step) { return step.rfind(start, 0) == 0; });
  };
  for (const std::string& component : tight.moved) {
    const bool motor = std::any_of(pistons_.begin(), pistons_.end(), [&](const Piston& one) {
      return one.component == component && one.motor;
    });
    if (!motor && !has_step("stop/" + component + "/")) fault(Kind::moves, component);
  }

  // Free ways, for what limits a volume.
  std::map<int, std::set<int>> onward;
  const auto arc = [&](int a, int b) { onward[a].insert(b); };
  for (const Line& line : lines_) {
    if (test.lines_off.count(line.id)) continue;
    arc(line.a, line.b);
    arc(line.b, line.a);
  }
  for (const Element& e : elements_) {
    if (!test.there(e)) continue;
    const bool both = e.kind == "passage" || e.open_in.count("neutral");
    if (both || e.kind == "check") arc(e.from, e.to);
    if (both) arc(e.to, e.from);
  }
  const auto reach = [&](int from) {
    std::set<int> seen = {from};
    std::vector<int> stack = {from};
    while (!stack.empty()) {
      const int here = stack.back();
      stack.pop_back();
      if (here == node("tank") || here == node("outside") || test.open.count(here)) continue;
      for (const int there : onward[here]) {
        if (seen.insert(there).second) stack.push_back(there);
      }
    }
    return seen;
  };
  const auto reliefs_at = [&](int at) {
    std::vector<const Element*> out;
    for (const Element& e : elements_) {
      if (e.kind == "relief" && e.from == at && e.to != at && test.there(e) &&
          !reach(at).count(e.to)) {
        out.push_back(&e);
      }
    }
    return out;
  };
  bool relief = false;
  for (const auto& [at, p] : tight.pressure) relief = relief || !reliefs_at(at).empty();
  bool plugs_relief = false;
  for (const Element& e : elements_) {
    plugs_relief = plugs_relief || (e.kind == "relief" && e.component == test.removed);
  }
  if (proposal.pressure && (plugs_relief || !relief) && !has_step("hand_pump_relief")) {
    fault(Kind::last_relief, test.removed);
  }
  const auto same_volume = [&](int a, int b) { return reach(a).count(b) && reach(b).count(a); };
  std::set<int> checked;
  std::map<int, bool> has_limit;
  const auto limited = [&](int at) {
    if (has_limit.count(at)) return has_limit[at];
    bool is = false;
    for (const int there : reach(at)) {
      if (limits_.count(there)) is = true;
      for (const Element* e : reliefs_at(there)) is = is || e->setting;
    }
    return has_limit[at] = is;
  };
  std::map<int, std::vector<const Element*>> reliefs;
  for (const std::set<int>& leaking : leaks(test, tight)) {
    const State state = rest(test, leaking);
    if (state.unknown_area && proposal.pressure) fault(Kind::unknown, "area");
    std::set<int> known;
    for (const auto& [at, p] : state.pressure) {
      if (limited(at)) known.insert(at);
    }
    for (bool more = true; more;) {
      more = false;
      const std::set<int> now = known;
      for (const int at : now) {
        for (const int there : onward[at]) {
          if (state.pressure.count(there) && known.insert(there).second) more = true;
        }
      }
    }
    for (const auto& [at, p] : state.pressure) {
      if (checked.insert(at).second && !proposal.verified.empty()) {
        bool named = false;
        for (const auto& [volume, index] : volume_) {
          const int there = gallery_[static_cast<std::size_t>(index)];
          named = named ||
                  (proposal.verified.count(volume) != 0 && (there == at || same_volume(there, at)));
        }
        if (!named) fault(Kind::not_verified, label(at));
      }
      if (!proposal.pressure) continue;
      if (!known.count(at)) fault(Kind::unknown, label(at));
      const double stands = p * *proposal.pressure;
      const auto limits = limits_.find(at);
      if (limits != limits_.end()) {
        for (const Limit& limit : limits->second) {
          if (stands > limit.stands * kSlack) {
            fault(Kind::above_rating, label(at) + ": " + limit.what, stands, limit.stands);
          }
        }
      }
      if (!reliefs.count(at)) reliefs[at] = reliefs_at(at);
      for (const Element* e : reliefs[at]) {
        if (!e->setting) {
          fault(Kind::unknown, e->component);
          continue;
        }
        double lifts = stands;
        const auto pilot = state.pressure.find(e->pilot);
        if (e->ratio && pilot != state.pressure.end()) {
          lifts += *e->ratio * pilot->second * *proposal.pressure;
        }
        if (lifts > 0.8 * *e->setting * kSlack) {
          fault(Kind::above_relief, label(at) + ": " + e->component, lifts, 0.8 * *e->setting);
        }
      }
    }
  }
  // A load-holding valve beside what is opened, with a piston behind it.
  std::set<int> openings = {test.source};
  for (const Line& line : lines_) {
    if (test.lines_off.count(line.id)) openings.insert({line.a, line.b});
  }
  openings.erase(node("tank"));
  openings.erase(node("outside"));
  for (const Element& e : elements_) {
    if (!e.load_holding || e.from == node("tank")) continue;
    const bool beside = openings.count(e.from) || openings.count(e.to) ||
                        (!test.removed.empty() && e.component == test.removed);
    const bool piston = std::any_of(pistons_.begin(), pistons_.end(), [&](const Piston& one) {
      return std::any_of(one.chambers.begin(), one.chambers.end(),
                         [&](const Chamber& chamber) { return chamber.node == e.from; });
    });
    if (beside && piston && !has_step("release/" + e.component)) fault(Kind::trapped, e.component);
  }
  return found;
}

}  // namespace balance
