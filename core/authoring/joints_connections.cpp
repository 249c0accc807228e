// What is joined to what: connections said twice, parts and ports joined to nothing, elements whose
// two sides are one gallery.
#include <algorithm>
#include <map>

#include "core/authoring/joint_checks.h"
#include "core/circuit/names.h"
#include "core/circuit/type_check.h"

namespace faultodds::authoring {
namespace {

using circuit::at;
using circuit::kOutside;
using circuit::PlacedElement;
using circuit::quoted;

void join_at(const Joints& joints, Index vertex, const std::vector<std::vector<Index>>& at_vertex,
             std::vector<bool>* seen, std::vector<Index>* left) {
  if (vertex == joints.structure.tank() || vertex == joints.structure.outside()) return;
  for (const Index part : at_vertex[vertex]) {
    if ((*seen)[part]) continue;
    (*seen)[part] = true;
    left->push_back(part);
  }
}

bool reaches_tank(const Joints& joints, const std::vector<Index>& parts) {
  for (const Index part : parts) {
    for (Index v = joints.structure.first_volume[part]; v < joints.structure.first_volume[part + 1];
         ++v) {
      if (joints.structure.gallery[v] == joints.structure.tank()) return true;
    }
  }
  return false;
}

}  // namespace

// Connections said twice, or that lead outside.
void check_connections(Joints& joints) {
  const auto& connections = joints.structure.description->connections;
  std::map<std::pair<std::string, std::string>, std::size_t> seen;
  for (std::size_t i = 0; i < connections.size(); ++i) {
    const std::string here = at("/connections", i);
    const auto& [from, to] = std::pair(connections[i].from, connections[i].to);
    const auto [first, is_new] = seen.try_emplace(std::minmax(from, to), i);
    if (!is_new) {
      joints
          .add("joined_twice", here, quoted(from) + " and " + quoted(to) + " are joined twice",
               "one connection between two ports",
               "a line copied and not changed: another port was probably meant")
          .also = {at("/connections", first->second)};
    }
    if (from == "outside" || to == "outside") {
      joints.add("open_to_outside", at(here, from == "outside" ? "from" : "to"),
                 "a port is joined to the outside, where oil is lost", "`tank`, or a port",
                 "`tank` was probably meant");
    }
  }
}

// Parts that no way, whatever blocks it, joins to the most of the circuit.
void check_islands(Joints& joints) {
  const std::size_t count = joints.structure.type.size();
  std::vector<Index> group(joints.structure.vertex_count, kNone);
  std::vector<std::vector<Index>> parts;
  std::vector<std::vector<Index>> at_vertex(joints.structure.vertex_count);
  for (Index v = kOutside + 1; v < joints.structure.volume_component.size(); ++v) {
    at_vertex[joints.structure.gallery[v]].push_back(joints.structure.volume_component[v]);
  }
  std::vector<bool> seen(count, false);
  for (Index c = 0; c < count; ++c) {
    if (seen[c] || joints.structure.first_volume[c] == joints.structure.first_volume[c + 1])
      continue;
    parts.emplace_back();
    std::vector<Index> left = {c};
    seen[c] = true;
    while (!left.empty()) {
      const Index part = left.back();
      left.pop_back();
      parts.back().push_back(part);
      for (Index v = joints.structure.first_volume[part];
           v < joints.structure.first_volume[part + 1]; ++v) {
        join_at(joints, joints.structure.gallery[v], at_vertex, &seen, &left);
        for (const Index line : joints.structure.lines_at[v]) {
          for (const circuit::LineEnd& end : joints.structure.lines[line].ends) {
            join_at(joints, joints.structure.gallery[end.volume], at_vertex, &seen, &left);
          }
        }
      }
    }
  }
  std::stable_sort(parts.begin(), parts.end(),
                   [](const auto& a, const auto& b) { return a.size() > b.size(); });
  for (std::size_t g = 1; g < parts.size(); ++g) {
    const Index c = parts[g].front();
    const bool has_tank = std::any_of(parts[g].begin(), parts[g].end(), [&](Index part) {
      return joints.structure.type[part]->name == "tank" || joints.is_pump(part);
    });
    // A circuit whose suction and returns end in `tank` falls apart there, and rightly so.
    if (has_tank && parts[g].size() > 2) continue;
    if (reaches_tank(joints, parts[g]) && parts[g].size() > 2) continue;
    std::string names;
    for (std::size_t i = 0; i < std::min<std::size_t>(parts[g].size(), 4); ++i) {
      names += (i == 0 ? "" : ", ") + quoted(joints.id(parts[g][i]));
    }
    joints.add(
        "joined_to_nothing", joints.structure.component_pointer(c),
        names + (parts[g].size() > 1 ? " are" : " is") + " joined to nothing else of the circuit",
        "a connection to each port", "a connection is missing, or names another part");
    for (const Index part : parts[g]) joints.lonely.insert(part);
  }
}

// Ports that no connection names.
void check_ports(Joints& joints, Index c) {
  if (joints.lonely.count(c) != 0 && joints.structure.type[c]->ports.size() > 1) return;
  for (const std::string& name : joints.structure.type[c]->ports) {
    if (!joints.unjoined(c, name)) continue;
    const Index volume = circuit::volume_of(joints.structure, c, name);
    const auto fitting = joints.structure.fitting.find(volume);
    if (fitting != joints.structure.fitting.end() && fitting->second->plug) continue;
    joints
        .add("unjoined_port", joints.structure.component_pointer(c),
             "port " + quoted(joints.id(c) + "." + name) + " (" + joints.title(c) +
                 ") is joined to nothing",
             "a connection that names it, or a fitting with `plug: true`",
             "a connection is missing, or names another port or part")
        .value = joints.id(c) + "." + name;
  }
}

// Elements both of whose sides are one gallery.
void check_bridged(Joints& joints, Index c) {
  for (Index e = joints.structure.first_element[c]; e < joints.structure.first_element[c + 1];
       ++e) {
    const PlacedElement& one = joints.structure.elements[e];
    if (one.from <= kOutside || one.to <= kOutside) continue;
    if (joints.structure.gallery[one.from] != joints.structure.gallery[one.to]) continue;
    if (joints.structure.gallery[one.from] == joints.structure.tank() &&
        circuit::is_actuator(*joints.structure.type[c])) {
      continue;
    }
    joints.add_at_ports(
        "both_sides_joined", c, {one.element->from, one.element->to},
        "both sides of " + quoted(joints.id(c) + "." + one.element->name) +
            " are one gallery: it separates nothing",
        quoted(one.element->from) + " and " + quoted(one.element->to) + " in different galleries",
        "a connection names the wrong port, or one is too many");
    return;
  }
}

}  // namespace faultodds::authoring
