// What refers to components by name: connections, which make galleries and lines, fittings, and
// functions.
#include <boost/pending/disjoint_sets.hpp>
#include <set>
#include <string_view>
#include <tuple>
#include <unordered_set>

#include "core/circuit/names.h"
#include "core/circuit/placement.h"
#include "core/circuit/type_check.h"
#include "core/error.h"
#include "core/stop.h"

namespace faultodds::circuit {
namespace {

constexpr std::size_t kItemsBetweenStops = 256;

std::vector<std::string> component_ids(const Description& description) {
  std::vector<std::string> ids;
  for (const Component& component : description.components) ids.push_back(component.id);
  return ids;
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

}  // namespace

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
  }
}

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

}  // namespace faultodds::circuit
