#include "core/circuit/structure.h"

#include <algorithm>
#include <boost/pending/disjoint_sets.hpp>
#include <cmath>
#include <numbers>
#include <set>
#include <string_view>
#include <tuple>
#include <unordered_set>

#include "core/circuit/names.h"
#include "core/circuit/type_check.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

using TypeTable = std::unordered_map<std::string, std::pair<const ComponentType*, std::string>>;

constexpr std::size_t kItemsBetweenStops = 256;

std::vector<std::string> component_ids(const Description& description) {
  std::vector<std::string> ids;
  for (const Component& component : description.components) ids.push_back(component.id);
  return ids;
}

void check_new_id(const std::string& id, const std::string& kind, const std::string& pointer,
                  std::set<std::string>* taken) {
  check_length(id, kind + " id", pointer);
  if (!is_id(id)) {
    refuse(kind + " id " + quoted(id) + ": an identifier of [A-Za-z0-9_.-]+ was expected", pointer);
  }
  if (!taken->insert(id).second) {
    refuse(kind + " id " + quoted(id) + " is used twice; ids must differ", pointer);
  }
}

// The circuit's own types override the shipped ones by name.
TypeTable collect_types(const Description& description, const std::vector<ComponentType>& catalogue,
                        const Limits& limits) {
  TypeTable table;
  for (const ComponentType& type : catalogue) {
    table[type.name] = {&type, type.pointer.empty() ? at("/types", type.name) : type.pointer};
  }
  std::set<std::string> own;
  for (const ComponentType& type : description.types) {
    const std::string pointer = type.pointer.empty() ? at("/types", type.name) : type.pointer;
    if (!own.insert(type.name).second) {
      refuse("type " + quoted(type.name) + " is described twice; names must differ", pointer);
    }
    check_type(type, pointer, limits);
    table[type.name] = {&type, pointer};
  }
  return table;
}

void check_quantity(const std::optional<double>& value, const char* name, bool zero_allowed,
                    const std::string& component_pointer) {
  if (!value) return;
  if (!std::isfinite(*value) || *value < 0 || (*value == 0 && !zero_allowed)) {
    refuse(std::string(name) + " is " + fixed_text(*value) + " in SI units; " +
               (zero_allowed ? "zero or more" : "more than zero") + " was expected",
           at(component_pointer, name));
  }
}

void check_load(const Component& component, const ComponentType& type, const std::string& here) {
  if (!component.load) return;
  const Load& load = *component.load;
  const std::string pointer = at(here, "load");
  if (!is_actuator(type)) {
    refuse("load: component " + quoted(component.id) + " is no actuator (its type " +
               quoted(type.name) + " has no directions)",
           pointer);
  }
  if (load.force.has_value() == load.pressure.has_value()) {
    refuse("load of " + quoted(component.id) + ": one of force and pressure was expected", pointer);
  }
  check_quantity(load.force, "force", false, pointer);
  check_quantity(load.pressure, "pressure", false, pointer);
  const auto turned = std::find_if(type.areas.begin(), type.areas.end(), [](const auto& rule) {
    return rule.second == AreaRule::displacement;
  });
  if (load.force && turned != type.areas.end()) {
    refuse("load: " + quoted(component.id) + " turns; a pressure was expected, not a force",
           at(pointer, "force"));
  }
  if (!std::isfinite(load.spread) || load.spread <= 0) {
    refuse("spread of the load is " + fixed_text(load.spread) + "; more than zero was expected",
           at(pointer, "spread"));
  }
  std::vector<std::string> directions;
  for (const ComponentType::Direction& one : type.directions) directions.push_back(one.name);
  if (!load.direction.empty() && find_name(directions, load.direction) == directions.size()) {
    refuse("load: direction " + quoted(load.direction) + " is none of type " + quoted(type.name) +
               expected(load.direction, directions, "directions"),
           at(pointer, "direction"));
  }
}

void check_component(const Component& component, const ComponentType& type,
                     const std::string& here) {
  std::vector<std::string> mode_names;
  if (!component.priors.empty() || !component.sizes.empty()) {
    for (const FailureModeType& mode : type.failure_modes) mode_names.push_back(mode.name);
  }
  const std::unordered_set<std::string_view> has_mode(mode_names.begin(), mode_names.end());
  for (const auto& [mode, prior] : component.priors) {
    const std::string pointer = at(at(here, "priors"), mode);
    if (has_mode.count(mode) == 0) {
      refuse("priors names " + quoted(mode) + ", which is no failure mode of type " +
                 quoted(type.name) + expected(mode, mode_names, "failure modes"),
             pointer);
    }
    check_distribution(prior, "prior of " + quoted(component.id + "." + mode), pointer);
  }
  for (const auto& [mode, size] : component.sizes) {
    const std::string pointer = at(at(here, "sizes"), mode);
    if (has_mode.count(mode) == 0) {
      refuse("sizes names " + quoted(mode) + ", which is no failure mode of type " +
                 quoted(type.name) + expected(mode, mode_names, "failure modes"),
             pointer);
    }
    check_size(size, quoted(component.id + "." + mode), pointer);
  }
  check_load(component, type, here);
  check_quantity(component.bore, "bore", false, here);
  check_quantity(component.rod, "rod", false, here);
  check_quantity(component.setting, "setting", false, here);
  check_quantity(component.ratio, "ratio", false, here);
  check_quantity(component.rating, "rating", false, here);
  check_quantity(component.displacement, "displacement", false, here);
  check_quantity(component.rated_flow, "rated_flow", false, here);
  check_quantity(component.volume, "volume", false, here);
  check_quantity(component.minutes, "minutes", true, here);
  check_quantity(component.part_cost, "part_cost", true, here);
  check_quantity(component.lead_days, "lead_days", true, here);
  if (component.bore && component.rod && *component.rod >= *component.bore) {
    refuse("rod is " + fixed_text(*component.rod) + " m; less than the bore, " +
               fixed_text(*component.bore) + " m, was expected",
           at(here, "rod"));
  }
  std::vector<std::string> volumes;
  if (!component.areas.empty()) volumes = volumes_of(type);
  check_rated(component.rated, type, here);
  for (const auto& [volume, area] : component.areas) {
    const std::string pointer = at(at(here, "areas"), volume);
    if (!is_actuator(type)) {
      refuse("areas: component " + quoted(component.id) + " is no actuator (its type " +
                 quoted(type.name) + " has no directions)",
             at(here, "areas"));
    }
    if (find_name(volumes, volume) == volumes.size()) {
      refuse("areas names " + quoted(volume) + ", which is no volume of type " + quoted(type.name) +
                 expected(volume, volumes, "volumes"),
             pointer);
    }
    if (!std::isfinite(area) || area <= 0) {
      refuse("area of " + quoted(volume) + " is " + fixed_text(area) +
                 " m2; more than zero was expected",
             pointer);
    }
  }
  // A type that lists parameters takes no others.
  if (type.parameters.empty()) return;
  const std::array<std::pair<const char*, bool>, 6> given = {
      {{"bore", component.bore.has_value()},
       {"rod", component.rod.has_value()},
       {"setting", component.setting.has_value()},
       {"ratio", component.ratio.has_value()},
       {"displacement", component.displacement.has_value()},
       {"rated_flow", component.rated_flow.has_value()}}};
  for (const auto& [name, present] : given) {
    if (present && find_name(type.parameters, name) == type.parameters.size()) {
      refuse(std::string(name) + " is no parameter of type " + quoted(type.name) +
                 expected(name, type.parameters, "parameters"),
             at(here, name));
    }
  }
}

void place_components(const std::vector<ComponentType>& catalogue, const Limits& limits,
                      Structure* out) {
  const Description& description = *out->description;
  const TypeTable types = collect_types(description, catalogue, limits);
  if (description.components.size() > limits.components) {
    throw Error(Code::limit_exceeded,
                "components: " + std::to_string(description.components.size()) +
                    " are listed; at most " + std::to_string(limits.components) + " are taken",
                "/components");
  }
  std::set<std::string> ids;
  std::set<const ComponentType*> checked;
  out->volume_component = {kNone, kNone};
  for (std::size_t i = 0; i < description.components.size(); ++i) {
    const Component& component = description.components[i];
    const std::string here = at("/components", i);
    const auto index = static_cast<Index>(i);
    check_new_id(component.id, "component", at(here, "id"), &ids);
    const auto found = types.find(component.type);
    if (found == types.end()) {
      std::set<std::string> names;
      for (const auto& [name, type] : types) names.insert(name);
      refuse("type " + quoted(component.type) + " of component " + quoted(component.id) +
                 " is not known" + expected(component.type, {names.begin(), names.end()}, "types"),
             at(here, "type"));
    }
    const ComponentType& type = *found->second.first;
    if (checked.insert(&type).second) check_type(type, found->second.second, limits);
    check_stop();
    check_component(component, type, here);

    out->component_index[component.id] = index;
    out->type.push_back(&type);
    out->first_volume.push_back(static_cast<Index>(out->volume_component.size()));
    const std::size_t volumes =
        out->volume_component.size() + type.ports.size() + type.volumes.size();
    if (volumes > limits.volumes) {
      throw Error(Code::limit_exceeded,
                  "components have more than " + std::to_string(limits.volumes) +
                      " ports and inner volumes",
                  here);
    }
    out->volume_component.resize(volumes, index);
    out->first_mode.push_back(static_cast<Index>(out->modes.size()));
    if (out->modes.size() + type.failure_modes.size() > limits.modes) {
      throw Error(Code::limit_exceeded,
                  "components have more than " + std::to_string(limits.modes) + " failure modes",
                  here);
    }
    for (const FailureModeType& mode_type : type.failure_modes) {
      FailureMode mode;
      mode.id = component.id + "." + mode_type.name;
      mode.type_mode = type.name + "." + mode_type.name;
      mode.component = component.id;
      mode.type = type.name;
      mode.name = mode_type.name;
      mode.code = mode_type.code;
      mode.title = mode_type.title;
      if (mode.title.empty()) {
        mode.title = mode_type.name;
        for (char& c : mode.title) c = c == '_' ? ' ' : c;
      }
      mode.component_index = i;
      mode.prior = mode_type.prior;
      const auto own = component.priors.find(mode_type.name);
      if (own != component.priors.end()) {
        mode.prior = own->second;
        mode.prior_is_own = true;
      }
      out->modes.push_back(std::move(mode));
    }
  }
  out->first_volume.push_back(static_cast<Index>(out->volume_component.size()));
  out->first_mode.push_back(static_cast<Index>(out->modes.size()));
}

// The elements of a type, by number: what every component of it has.
struct TypeElements {
  struct Ends {
    Index from, to;  // reservoirs, or volumes of the type counted from kFirstOwn
    Index pilot;     // kNone: it has none
  };
  static constexpr Index kFirstOwn = kOutside + 1;
  std::vector<Ends> ends;
  std::vector<std::vector<std::size_t>> leaking, restricting;  // of each mode: elements
  std::size_t effects = 0;                                     // of all modes

  explicit TypeElements(const ComponentType& type) {
    std::unordered_map<std::string_view, Index> volume = {{"tank", kTank}, {"outside", kOutside}};
    for (const std::vector<std::string>* names : {&type.ports, &type.volumes}) {
      for (const std::string& name : *names) {
        volume.emplace(name, static_cast<Index>(volume.size()));
      }
    }
    std::unordered_map<std::string_view, std::size_t> number;
    for (const Element& element : type.elements) {
      number.emplace(element.name, ends.size());
      ends.push_back({volume.at(element.from), volume.at(element.to),
                      element.pilot.empty() ? kNone : volume.at(element.pilot)});
    }
    const auto numbers = [&](const std::vector<std::string>& names) {
      std::vector<std::size_t> out;
      for (const std::string& name : names) out.push_back(number.at(name));
      std::sort(out.begin(), out.end());
      out.erase(std::unique(out.begin(), out.end()), out.end());
      effects += out.size();
      return out;
    };
    for (const FailureModeType& mode : type.failure_modes) {
      leaking.push_back(numbers(mode.leaks));
      restricting.push_back(numbers(mode.restricts));
    }
  }
};

void place_elements(const Limits& limits, Structure* out) {
  std::unordered_map<const ComponentType*, TypeElements> by_type;
  std::size_t placed = 0;
  for (std::size_t i = 0; i < out->type.size(); ++i) {
    check_stop();
    const ComponentType& type = *out->type[i];
    const TypeElements& of_type = by_type.try_emplace(&type, type).first->second;
    placed += of_type.ends.size() + of_type.effects;
    if (placed > limits.elements) {
      throw Error(Code::limit_exceeded,
                  "components have more than " + std::to_string(limits.elements) +
                      " elements and effects of failure modes on them",
                  at("/components", i));
    }
    const std::size_t first = out->elements.size();
    out->first_element.push_back(static_cast<Index>(first));
    const auto volume = [&](Index end) {
      return end < TypeElements::kFirstOwn ? end
                                           : out->first_volume[i] + end - TypeElements::kFirstOwn;
    };
    for (std::size_t e = 0; e < of_type.ends.size(); ++e) {
      PlacedElement one;
      one.element = &type.elements[e];
      one.component = static_cast<Index>(i);
      one.from = volume(of_type.ends[e].from);
      one.to = volume(of_type.ends[e].to);
      if (of_type.ends[e].pilot != kNone) one.pilot = volume(of_type.ends[e].pilot);
      out->elements.push_back(std::move(one));
    }
    for (std::size_t m = 0; m < type.failure_modes.size(); ++m) {
      const Index mode = out->first_mode[i] + static_cast<Index>(m);
      for (const std::size_t e : of_type.leaking[m]) {
        out->elements[first + e].leaking.push_back(mode);
      }
      for (const std::size_t e : of_type.restricting[m]) {
        out->elements[first + e].restricting.push_back(mode);
      }
    }
  }
  out->first_element.push_back(static_cast<Index>(out->elements.size()));
}

struct PortName {
  Index component = kNone;  // kNone when no component has that id
  std::string port;
};

// `component.port`, split at the last dot (names of ports have none).
PortName split_port(const Structure& structure, const std::string& text) {
  PortName out;
  const std::size_t dot = text.rfind('.');
  if (dot == std::string::npos) return out;
  const auto found = structure.component_index.find(text.substr(0, dot));
  if (found == structure.component_index.end()) return out;
  out.component = found->second;
  out.port = text.substr(dot + 1);
  return out;
}

// The volume of a port named in `field`. Throws unless it is one.
Index port_volume(const Structure& structure, const std::string& text, const std::string& field,
                  const std::string& pointer) {
  const PortName name = split_port(structure, text);
  if (name.component == kNone) {
    const std::size_t dot = text.rfind('.');
    if (dot == std::string::npos) {
      refuse(field + " " + quoted(text) + ": `component.port` was expected" +
                 expected(text, component_ids(*structure.description), "components"),
             pointer);
    }
    refuse(field + " " + quoted(text) + ": no component has the id " + quoted(text.substr(0, dot)) +
               expected(text.substr(0, dot), component_ids(*structure.description), "components"),
           pointer);
  }
  const ComponentType& type = *structure.type[name.component];
  const std::size_t port = find_name(type.ports, name.port);
  if (port == type.ports.size()) {
    refuse(field + " " + quoted(text) + ": type " + quoted(type.name) + " of component " +
               quoted(structure.description->components[name.component].id) + " has no port " +
               quoted(name.port) + expected(name.port, type.ports, "ports"),
           pointer);
  }
  return structure.first_volume[name.component] + static_cast<Index>(port);
}

Index end_volume(const Structure& structure, const std::string& text, const std::string& field,
                 const std::string& pointer) {
  if (text == "tank") return kTank;
  if (text == "outside") return kOutside;
  return port_volume(structure, text, field, pointer);
}

// Galleries join volumes for good; a line joins them while its joints are closed.
void place_connections(const Limits& limits, Structure* out) {
  const std::size_t volume_count = out->volume_component.size();
  std::vector<Index> rank(volume_count, 0);
  std::vector<Index> parent(volume_count, 0);
  boost::disjoint_sets<Index*, Index*> joined(rank.data(), parent.data());
  for (std::size_t v = 0; v < volume_count; ++v) joined.make_set(static_cast<Index>(v));

  out->lines_at.resize(volume_count);
  std::set<std::string> line_ids;
  const std::vector<Connection>& connections = out->description->connections;
  for (std::size_t i = 0; i < connections.size(); ++i) {
    if (i % kItemsBetweenStops == 0) check_stop();
    const Connection& connection = connections[i];
    const std::string here = at("/connections", i);
    const Index from = end_volume(*out, connection.from, "from", at(here, "from"));
    const Index to = end_volume(*out, connection.to, "to", at(here, "to"));
    if (from == to) {
      refuse("to " + quoted(connection.to) + " is the same port as from; another was expected",
             at(here, "to"));
    }
    if (from <= kOutside && to <= kOutside) {
      refuse("connection joins the reservoirs tank and outside; a port was expected at one end",
             at(here, "to"));
    }
    if (connection.line.empty()) {
      joined.union_set(from, to);
      continue;
    }
    check_new_id(connection.line, "line", at(here, "line"), &line_ids);
    const auto index = static_cast<Index>(out->lines.size());
    out->line_index[connection.line] = index;
    out->lines.push_back(
        {connection.line,
         {LineEnd{from, out->volume_component[from]}, LineEnd{to, out->volume_component[to]}},
         connection.rating,
         connection.use});
    for (const auto& [volume, name, key] :
         {std::tuple(from, &connection.from, "from"), std::tuple(to, &connection.to, "to")}) {
      out->lines_at[volume].push_back(index);
      if (volume > kOutside && out->lines_at[volume].size() > limits.lines_at_port) {
        throw Error(Code::limit_exceeded,
                    "more than " + std::to_string(limits.lines_at_port) + " lines end at port " +
                        quoted(*name),
                    at(here, key));
      }
    }
  }

  out->gallery.assign(volume_count, kNone);
  std::vector<Index> vertex_of_root(volume_count, kNone);
  for (std::size_t v = 0; v < volume_count; ++v) {
    const Index root = joined.find_set(static_cast<Index>(v));
    if (vertex_of_root[root] == kNone) vertex_of_root[root] = out->vertex_count++;
    out->gallery[v] = vertex_of_root[root];
  }
  if (out->tank() == out->outside()) {
    refuse("connections join tank and outside through galleries; they are different reservoirs",
           "/connections");
  }
}

void place_fittings(Structure* out) {
  for (const Fitting& fitting : out->description->fittings) {
    const std::string here = at("/fittings", fitting.port);
    const auto component = out->component_index.find(fitting.port);
    const Fitting** slot = nullptr;
    if (component != out->component_index.end() && out->type[component->second]->cartridge) {
      slot = &out->cavity[component->second];
    } else {
      slot = &out->fitting[port_volume(*out, fitting.port, "fittings", here)];
    }
    if (*slot != nullptr) {
      refuse("fittings names " + quoted(fitting.port) + " twice; one fitting per port was expected",
             here);
    }
    *slot = &fitting;
    if (fitting.rating && !(std::isfinite(*fitting.rating) && *fitting.rating > 0)) {
      refuse("rating is " + fixed_text(*fitting.rating) + " Pa; more than zero was expected",
             at(here, "rating"));
    }
  }
}

// `component.port`, or a component: then the port that one of its modes weakens, else `out`.
Index source_volume(const Structure& structure, const std::string& text,
                    const std::string& pointer) {
  const auto whole = structure.component_index.find(text);
  if (whole == structure.component_index.end()) {
    return port_volume(structure, text, "source", pointer);
  }
  const ComponentType& type = *structure.type[whole->second];
  for (const FailureModeType& mode : type.failure_modes) {
    if (!mode.weakens.empty()) return volume_of(structure, whole->second, mode.weakens.front());
  }
  if (find_name(type.ports, "out") == type.ports.size()) {
    refuse("source " + quoted(text) + ": type " + quoted(type.name) +
               " has no port that a failure mode weakens and none named `out`; " +
               quoted(text + ".port") + " was expected" + expected("out", type.ports, "ports"),
           pointer);
  }
  return volume_of(structure, whole->second, "out");
}

// The positions of a type, found again by name.
class Positions {
 public:
  // Views of the type's own names.
  const std::unordered_set<std::string_view>& of(const ComponentType& type) {
    const auto [found, is_new] = by_type_.try_emplace(&type);
    if (is_new) {
      for (const Element& element : type.elements) {
        found->second.insert(element.open_in.begin(), element.open_in.end());
      }
    }
    return found->second;
  }

 private:
  std::unordered_map<const ComponentType*, std::unordered_set<std::string_view>> by_type_;
};

void place_functions(Structure* out) {
  std::set<std::string> ids;
  Positions positions;
  const std::vector<Function>& functions = out->description->functions;
  for (std::size_t i = 0; i < functions.size(); ++i) {
    check_stop();
    const Function& function = functions[i];
    const std::string here = at("/functions", i);
    check_new_id(function.id, "function", at(here, "id"), &ids);
    PlacedFunction placed;
    const auto actuator = out->component_index.find(function.actuator);
    if (actuator == out->component_index.end() || !is_actuator(*out->type[actuator->second])) {
      std::vector<std::string> actuators;
      for (std::size_t c = 0; c < out->type.size(); ++c) {
        if (is_actuator(*out->type[c])) actuators.push_back(out->description->components[c].id);
      }
      refuse("actuator " + quoted(function.actuator) +
                 (actuator == out->component_index.end()
                      ? " is no component"
                      : " is no actuator: its type has no directions") +
                 expected(function.actuator, actuators, "actuators"),
             at(here, "actuator"));
    }
    placed.actuator = actuator->second;
    std::vector<std::string> directions;
    for (const ComponentType::Direction& direction : out->type[placed.actuator]->directions) {
      directions.push_back(direction.name);
      if (direction.name == function.direction) placed.direction = &direction;
    }
    if (placed.direction == nullptr) {
      refuse("direction " + quoted(function.direction) + " is not known to actuator " +
                 quoted(function.actuator) + expected(function.direction, directions, "directions"),
             at(here, "direction"));
    }
    placed.contracting = volume_of(*out, placed.actuator, placed.direction->contracting);
    placed.expanding = volume_of(*out, placed.actuator, placed.direction->expanding);
    for (const auto& [valve, position] : function.positions) {
      const std::string pointer = at(at(here, "positions"), valve);
      const auto component = out->component_index.find(valve);
      if (component == out->component_index.end()) {
        std::vector<std::string> valves;
        for (std::size_t c = 0; c < out->type.size(); ++c) {
          if (positions_of(*out->type[c]).size() > 1) {
            valves.push_back(out->description->components[c].id);
          }
        }
        refuse("positions names " + quoted(valve) + ", which is no component" +
                   expected(valve, valves, "valves"),
               pointer);
      }
      const ComponentType& type = *out->type[component->second];
      const std::unordered_set<std::string_view>& known = positions.of(type);
      if (known.empty()) {
        refuse("positions names " + quoted(valve) + ", which is no valve: no element of its type " +
                   quoted(type.name) + " has `open_in`",
               pointer);
      }
      if (position != "neutral" && known.count(position) == 0) {
        refuse("position " + quoted(position) + " of valve " + quoted(valve) + " is not known" +
                   expected(position, positions_of(type), "positions"),
               pointer);
      }
      placed.positions[component->second] = position;
    }
    placed.source = source_volume(*out, function.source, at(here, "source"));
    out->functions.push_back(std::move(placed));
  }
}

AreaRule rule_of(const ComponentType& type, const std::string& volume) {
  const auto given = type.areas.find(volume);
  if (given != type.areas.end()) return given->second;
  if (volume == "cap") return AreaRule::bore;
  if (volume == "rod") return AreaRule::annulus;
  return AreaRule::displacement;
}

}  // namespace

std::string Structure::volume_name(Index volume) const {
  if (volume == kTank) return "tank";
  if (volume == kOutside) return "outside";
  const Index component = volume_component[volume];
  const ComponentType& its = *type[component];
  const std::size_t number = volume - first_volume[component];
  return description->components[component].id + "." +
         (number < its.ports.size() ? its.ports[number] : its.volumes[number - its.ports.size()]);
}

std::string Structure::component_title(Index component) const {
  return description->components[component].display_title();
}

std::string Structure::component_pointer(Index component) const {
  return at("/components", std::size_t{component});
}

Index volume_of(const Structure& structure, Index component, const std::string& name) {
  if (name == "tank") return kTank;
  if (name == "outside") return kOutside;
  const ComponentType& type = *structure.type[component];
  std::size_t number = find_name(type.ports, name);
  if (number == type.ports.size()) number += find_name(type.volumes, name);
  return structure.first_volume[component] + static_cast<Index>(number);
}

std::optional<double> area_of(const Structure& structure, Index component,
                              const std::string& volume) {
  const Component& one = structure.description->components[component];
  const auto given = one.areas.find(volume);
  if (given != one.areas.end()) return given->second;
  const double quarter_pi = std::numbers::pi / 4;
  switch (rule_of(*structure.type[component], volume)) {
    case AreaRule::bore:
      if (one.bore) return quarter_pi * *one.bore * *one.bore;
      break;
    case AreaRule::annulus:
      if (one.bore && one.rod) return quarter_pi * (*one.bore * *one.bore - *one.rod * *one.rod);
      break;
    case AreaRule::displacement:
      break;
  }
  return std::nullopt;
}

bool expanding_takes_all(const Structure& structure, Index component,
                         const ComponentType::Direction& direction) {
  const std::optional<double> contracting = area_of(structure, component, direction.contracting);
  const std::optional<double> expanding = area_of(structure, component, direction.expanding);
  if (contracting && expanding) return *expanding >= *contracting;
  const Component& one = structure.description->components[component];
  const AreaRule from = rule_of(*structure.type[component], direction.contracting);
  const AreaRule to = rule_of(*structure.type[component], direction.expanding);
  const bool one_given =
      one.areas.contains(direction.contracting) || one.areas.contains(direction.expanding);
  if (!one_given) {
    if (from == to) return true;
    if (from == AreaRule::annulus && to == AreaRule::bore) return true;
    if (from == AreaRule::bore && to == AreaRule::annulus) return false;
  }
  refuse("areas of " + quoted(direction.contracting) + " and " + quoted(direction.expanding) +
             " of actuator " + quoted(one.id) +
             " cannot be compared: areas for both volumes were expected",
         at(structure.component_pointer(component), "areas"));
}

Structure resolve(const Description& description, const std::vector<ComponentType>& catalogue,
                  const Limits& limits) {
  check_length(description.id, "id", "/id");
  if (!is_id(description.id)) {
    refuse("id " + quoted(description.id) + ": an identifier of [A-Za-z0-9_.-]+ was expected",
           "/id");
  }
  Structure out;
  out.description = &description;
  place_components(catalogue, limits, &out);
  place_elements(limits, &out);
  place_connections(limits, &out);
  place_fittings(&out);
  place_functions(&out);
  return out;
}

}  // namespace faultodds::circuit
