#include "capi/documents/new_circuit.h"

#include <algorithm>
#include <map>
#include <set>
#include <vector>

#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/document.h"
#include "capi/documents/fields.h"
#include "capi/documents/shapes.h"
#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/names.h"
#include "core/circuit/structure.h"
#include "core/circuit/type_check.h"

namespace faultodds::documents {
namespace {

using circuit::ComponentType;
using circuit::Element;
using circuit::ElementKind;
using circuit::find_name;

struct Part {
  std::string id;
  const ComponentType* type = nullptr;
  bool has(const char* port) const { return find_name(type->ports, port) < type->ports.size(); }
  std::string port(const std::string& name) const { return id + "." + name; }
};

// What a list joins, in its order.
class Assembly {
 public:
  explicit Assembly(std::vector<Part> parts) : parts_(std::move(parts)) {}

  void run() {
    const std::size_t count = parts_.size();
    std::size_t pump = 0;
    while (pump < count && !is_pump(parts_[pump])) ++pump;
    tank_ = std::find_if(parts_.begin(), parts_.end(),
                         [](const Part& one) { return one.type->name == "tank"; });
    const bool has_tank = tank_ != parts_.end();
    if (pump < count) {
      std::string from = has_tank ? tank_->port("suction") : "tank";
      for (std::size_t i = 0; i < pump; ++i) {
        if (parts_[i].type->name == "tank" || parts_[i].type->ports.size() != 2) continue;
        from = series(from, parts_[i]);
      }
      join(from, parts_[pump].port("in"));
      supply_ = parts_[pump].port("out");
    }
    returned_ = has_tank ? tank_->port("return") : "tank";
    for (std::size_t i = pump + 1; i < count; ++i) {  // in the return: the last is nearest the tank
      if (parts_[i].type->name != "return_filter") continue;
      join(parts_[i].port("out"), returned_);
      returned_ = parts_[i].port("in");
    }
    std::size_t i = pump < count ? pump + 1 : 0;
    while (i < count) i = place(i);
    if (!chain_.empty()) join(chain_, returned_);
    if (supply_.empty()) supply_ = returned_;
  }

  const Json& connections() const { return connections_; }
  struct Drive {
    std::string actuator, valve;
    std::vector<std::string> load_holding;
  };
  const std::vector<Drive>& drives() const { return drives_; }
  const std::string& supply() const { return supply_; }

 private:
  static bool is_pump(const Part& part) {
    return part.type->flow_test && part.type->directions.empty();
  }
  static bool is_section(const Part& part) {
    return part.has("p") && part.has("t") && part.has("a") && part.has("b");
  }

  void join(const std::string& from, const std::string& to, const std::string& line = {}) {
    if (from.empty() || to.empty()) return;
    Json one = {{"from", from}, {"to", to}};
    if (!line.empty()) one["line"] = line;
    connections_.push_back(std::move(one));
  }
  // Through a part with two ports; what it leads on to.
  std::string series(const std::string& from, const Part& part, const std::string& line = {}) {
    join(from, part.port(part.type->ports[0]), line);
    return part.port(part.type->ports[1]);
  }

  // One part, or a valve with all that follows it to its actuator; the number of the next.
  std::size_t place(std::size_t i) {
    const Part& part = parts_[i];
    const ComponentType& type = *part.type;
    if (is_section(part)) return place_section(i);
    if (type.name == "tank" || type.name == "return_filter") return i + 1;
    const bool relief = std::any_of(type.elements.begin(), type.elements.end(),
                                    [](const Element& e) { return e.kind == ElementKind::relief; });
    if (type.stores_gas) {
      join(supply_, part.port(type.ports[0]), "line_to_" + part.id);
    } else if (relief && part.has("in") && part.has("out")) {
      join(supply_, part.port("in"));
      join(part.port("out"), returned_);
    } else if (type.ports.size() == 2 && type.directions.empty()) {
      supply_ = series(supply_, part);
    }
    return i + 1;
  }

  std::size_t place_section(std::size_t i) {
    const Part& section = parts_[i];
    std::string feed = supply_;
    if (section.has("in") &&
        section.has("out")) {  // open centre: the gallery goes from one to the next
      join(chain_.empty() ? supply_ : chain_, section.port("in"));
      chain_ = section.port("out");
    }
    join(section.port("t"), returned_);
    std::string ends[2] = {section.port("a"), section.port("b")};
    const std::string work[2] = {ends[0], ends[1]};
    std::size_t hoses = 0, reliefs = 0, makeups = 0;
    Drive drive;
    drive.valve = section.id;
    std::vector<std::pair<const Part*, std::size_t>> piloted;
    std::size_t next = i + 1;
    bool fed = false;
    for (; next < parts_.size(); ++next) {
      const Part& part = parts_[next];
      const ComponentType& type = *part.type;
      if (is_section(part) || is_pump(part)) break;
      if (type.name == "tank" || type.name == "return_filter") continue;
      if (!type.directions.empty()) {
        for (std::size_t side = 0; side < 2; ++side) {
          join(ends[side], part.port(type.ports[side]), "line_" + part.id + "_" + type.ports[side]);
        }
        drive.actuator = part.id;
        ++next;
        break;
      }
      if (type.name == "load_check") {
        join(feed, part.port("in"));
        join(part.port("out"), section.port("p"));
        fed = true;
      } else if (part.has("pilot") && part.has("valve") && part.has("load")) {
        const std::size_t side = std::min<std::size_t>(piloted.size(), 1);
        join(ends[side], part.port("valve"), "line_" + part.id);
        ends[side] = part.port("load");
        piloted.emplace_back(&part, side);
        drive.load_holding.push_back(part.id);
      } else if (part.has("port_side")) {
        std::size_t& taken = type.name == "makeup_check" ? makeups : reliefs;
        const std::size_t side = std::min<std::size_t>(taken++, 1);
        join(work[side], part.port("port_side"));
        join(part.port("tank_side"), returned_);
      } else if (type.name == "port_relief") {
        join(work[std::min<std::size_t>(reliefs++, 1)], part.port("in"));
        join(part.port("out"), returned_);
      } else if (type.ports.size() == 2) {
        const std::size_t side = hoses++ % 2;
        ends[side] = series(ends[side], part, "line_" + part.id);
      }
    }
    if (!fed) join(feed, section.port("p"));
    for (const auto& [part, side] : piloted) join(part->port("pilot"), work[1 - side]);
    if (!drive.actuator.empty()) drives_.push_back(std::move(drive));
    return next;
  }

  std::vector<Part> parts_;
  std::vector<Part>::iterator tank_;
  Json connections_ = Json::array();
  std::string supply_, returned_, chain_;
  std::vector<Drive> drives_;
};

// The positions in which the valve, and what holds the load, let the actuator go that way.
Json functions_of(const circuit::Structure& structure, const Assembly& assembly) {
  const circuit::HydraulicGraph graph(structure);
  circuit::StepBudget budget(circuit::Limits{}.path_steps);
  circuit::Passages passages(graph, &budget);
  const auto vertex = [&](const std::string& component, const std::string& port) {
    return structure
        .gallery[circuit::volume_of(structure, structure.component_index.at(component), port)];
  };
  const std::size_t dot = assembly.supply().rfind('.');
  Json functions = Json::array();
  if (dot == std::string::npos) return functions;
  const circuit::Index source =
      vertex(assembly.supply().substr(0, dot), assembly.supply().substr(dot + 1));
  for (const Assembly::Drive& drive : assembly.drives()) {
    const circuit::Index valve = structure.component_index.at(drive.valve);
    const circuit::Index actuator = structure.component_index.at(drive.actuator);
    for (const ComponentType::Direction& direction : structure.type[actuator]->directions) {
      const circuit::Index expanding = vertex(drive.actuator, direction.expanding);
      const circuit::Index contracting = vertex(drive.actuator, direction.contracting);
      for (const std::string& position : circuit::positions_of(*structure.type[valve])) {
        circuit::Configuration commanded;
        commanded.positions[valve] = position;
        if (!passages.reaches(source, expanding, commanded)) continue;
        Json positions = {{drive.valve, position}};
        for (const std::string& held : drive.load_holding) {
          if (passages.reaches(contracting, structure.tank(), commanded)) break;
          const circuit::Index lock = structure.component_index.at(held);
          for (const std::string& open : circuit::positions_of(*structure.type[lock])) {
            if (open == "neutral") continue;
            commanded.positions[lock] = open;
            if (passages.reaches(contracting, structure.tank(), commanded)) {
              positions[held] = open;
              break;
            }
            commanded.positions.erase(lock);
          }
        }
        functions.push_back({{"id", direction.name + "_" + drive.actuator},
                             {"title", structure.component_title(actuator) + ", " + direction.name},
                             {"actuator", drive.actuator},
                             {"direction", direction.name},
                             {"positions", std::move(positions)},
                             {"source", assembly.supply()}});
        break;
      }
    }
  }
  return functions;
}

}  // namespace

std::string new_circuit(std::string_view text) {
  const Document list = read_document(text);
  const Place place;
  const Fields fields(list, place, shape("parts"));
  fields.check_format("faultodds-parts/1");
  Json document = {{"format", "faultodds-circuit/1"}, {"id", fields.id("id")}};
  document["title"] = fields.text("title", fields.id("id"));
  const Place parts_place = fields.at("parts");
  document["components"] = list_of(fields.need("parts"), parts_place, "parts");

  // The parts are read as components are, and refused as they are.
  const std::vector<ComponentType> catalogue = shipped_catalogue();
  const auto resolved = [&](const circuit::Description& description) {
    try {
      return circuit::resolve(description, catalogue, {});
    } catch (const Error& error) {
      std::string pointer = error.pointer();
      if (pointer.starts_with("/components")) pointer.replace(0, 11, "/parts");
      throw Error(error.code(), error.what(), pointer);
    }
  };
  const circuit::Description alone = read_circuit(document, catalogue);
  const circuit::Structure structure = resolved(alone);
  std::vector<Part> parts;
  for (std::size_t i = 0; i < alone.components.size(); ++i) {
    parts.push_back({alone.components[i].id, structure.type[i]});
  }
  Assembly assembly(std::move(parts));
  assembly.run();
  document["connections"] = assembly.connections();
  const circuit::Description joined = read_circuit(document, catalogue);
  document["functions"] = functions_of(resolved(joined), assembly);
  return document.dump(2) + "\n";
}

}  // namespace faultodds::documents
