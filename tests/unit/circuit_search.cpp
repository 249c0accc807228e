// The searches against plain enumeration of simple paths, on random meshes of elements.
#include <catch2/catch.hpp>
#include <functional>
#include <random>

#include "core/circuit/hydraulic_graph.h"
#include "core/circuit/leak_paths.h"
#include "core/circuit/structure.h"
#include "tests/unit/circuit_builder.h"

using namespace circuit_test;
using namespace faultodds::circuit;

namespace {

constexpr std::size_t kVolumes = 7;  // tank, outside, port and inner volumes

struct Edge {
  std::size_t from, to;
  bool passes_forward, passes_back;
  std::set<std::size_t> modes;
};

struct Mesh {
  Description description;
  std::vector<Edge> edges;
};

std::string volume_name(std::size_t v) {
  if (v == 0) return "tank";
  if (v == 1) return "outside";
  return v == 2 ? "port" : "v" + std::to_string(v);
}

Mesh random_mesh(std::mt19937& random) {
  const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random() % n); };
  ComponentType of_type;
  of_type.name = "mesh";
  of_type.ports = {"port"};
  for (std::size_t v = 3; v < kVolumes; ++v) of_type.volumes.push_back(volume_name(v));
  const std::size_t mode_count = 2 + below(6);
  for (std::size_t m = 0; m < mode_count; ++m) {
    of_type.failure_modes.push_back(leaks("m" + std::to_string(m), {}));
  }
  Mesh mesh;
  const std::size_t element_count = 5 + below(9);
  for (std::size_t e = 0; e < element_count; ++e) {
    const std::size_t from = below(kVolumes);
    const std::size_t to = (from + 1 + below(kVolumes - 1)) % kVolumes;
    const std::string name = "e" + std::to_string(e);
    Edge edge{from, to, false, false, {}};
    const std::size_t kind = below(10);
    if (kind < 1) {
      of_type.elements.push_back(passage(name, volume_name(from), volume_name(to)));
      edge.passes_forward = edge.passes_back = true;
    } else if (kind < 2) {
      of_type.elements.push_back(seal(name, volume_name(from), volume_name(to), {"neutral"}));
      edge.passes_forward = edge.passes_back = true;
    } else if (kind < 4) {
      of_type.elements.push_back(check(name, volume_name(from), volume_name(to)));
      edge.passes_forward = true;
    } else if (kind < 6) {
      of_type.elements.push_back(relief(name, volume_name(from), volume_name(to)));
    } else {
      of_type.elements.push_back(seal(name, volume_name(from), volume_name(to), {"away"}));
    }
    for (std::size_t n = below(3); n > 0; --n) {
      const std::size_t mode = below(mode_count);
      if (edge.modes.insert(mode).second) of_type.failure_modes[mode].leaks.push_back(name);
    }
    mesh.edges.push_back(edge);
  }
  mesh.description.id = "mesh";
  mesh.description.types = {of_type};
  mesh.description.components = {component("c", "mesh")};
  return mesh;
}

// Calls `found` with the edges of every simple path from `from` to one of `sinks`, which end it.
void simple_paths(
    const Mesh& mesh, std::size_t from, const std::set<std::size_t>& sinks,
    const std::function<void(const std::vector<std::pair<std::size_t, bool>>&)>& found) {
  std::vector<std::pair<std::size_t, bool>> path;  // edge, forward
  std::set<std::size_t> visited;
  const std::function<void(std::size_t)> walk = [&](std::size_t here) {
    if (sinks.count(here) == 1) {
      found(path);
      return;
    }
    if (here <= 1) return;  // nothing comes out of a reservoir
    visited.insert(here);
    for (std::size_t e = 0; e < mesh.edges.size(); ++e) {
      for (const bool forward : {true, false}) {
        const Edge& edge = mesh.edges[e];
        if ((forward ? edge.from : edge.to) != here) continue;
        const std::size_t next = forward ? edge.to : edge.from;
        if (visited.count(next) == 1) continue;
        path.emplace_back(e, forward);
        walk(next);
        path.pop_back();
      }
    }
    visited.erase(here);
  };
  walk(from);
}

bool passes(const Mesh& mesh, const std::pair<std::size_t, bool>& step) {
  const Edge& edge = mesh.edges[step.first];
  return step.second ? edge.passes_forward : edge.passes_back;
}

}  // namespace

TEST_CASE("Leak sets agree with enumeration of all simple paths", "[circuit]") {
  std::mt19937 random(20240);
  int open = 0;
  int with_pairs = 0;
  for (int round = 0; round < 1500; ++round) {
    const Mesh mesh = random_mesh(random);
    const Structure structure = resolve(mesh.description, {}, {});
    const HydraulicGraph graph(structure);
    StepBudget budget(1000000);
    LeakSearch search(graph, {}, &budget);
    const LeakSets answer = search.search(structure.gallery[2],
                                          {structure.tank(), structure.outside()}, {}, "the mesh");

    bool open_by_design = false;
    std::set<std::set<std::size_t>> expanded;
    simple_paths(mesh, 2, {0, 1}, [&](const auto& path) {
      std::set<std::set<std::size_t>> sets = {{}};
      int barriers = 0;
      for (const auto& step : path) {
        if (passes(mesh, step)) continue;
        ++barriers;
        std::set<std::set<std::size_t>> longer;
        for (const auto& set : sets) {
          for (const std::size_t mode : mesh.edges[step.first].modes) {
            auto with = set;
            with.insert(mode);
            longer.insert(with);
          }
        }
        sets = longer;
      }
      if (barriers == 0) open_by_design = true;
      if (barriers <= 4) expanded.insert(sets.begin(), sets.end());
    });

    CAPTURE(round);
    REQUIRE(answer.open == open_by_design);
    if (open_by_design) {
      ++open;
      continue;
    }
    std::set<std::set<std::size_t>> minimal_sets;
    for (const auto& set : expanded) {
      const bool contains_another =
          std::any_of(expanded.begin(), expanded.end(), [&](const auto& other) {
            return other != set &&
                   std::includes(set.begin(), set.end(), other.begin(), other.end());
          });
      if (!contains_another) minimal_sets.insert(set);
      if (!contains_another && set.size() > 1) ++with_pairs;
    }
    std::set<std::set<std::size_t>> got;
    for (const auto& set : answer.sets) got.insert({set.begin(), set.end()});
    REQUIRE(got == minimal_sets);
    REQUIRE(got.size() == answer.sets.size());
  }
  CHECK(open > 50);  // the meshes are no trivial ones
  CHECK(with_pairs > 150);
}

TEST_CASE("Series elements agree with what all simple free paths have in common", "[circuit]") {
  std::mt19937 random(77);
  int in_series = 0;
  for (int round = 0; round < 3000; ++round) {
    Mesh mesh = random_mesh(random);
    // Mostly free passages, so that there are ways to choose from.
    for (std::size_t e = 0; e < mesh.edges.size(); ++e) {
      if (random() % 3 == 0) continue;
      mesh.description.types[0].elements[e].kind = ElementKind::passage;
      mesh.description.types[0].elements[e].open_in.clear();
      mesh.edges[e].passes_forward = mesh.edges[e].passes_back = true;
    }
    const Structure structure = resolve(mesh.description, {}, {});
    const HydraulicGraph graph(structure);
    StepBudget budget(1000000);
    Passages passages(graph, &budget);
    for (const std::size_t goal : {std::size_t{0}, kVolumes - 1}) {
      std::optional<std::set<Index>> common;
      simple_paths(mesh, 2, {goal}, [&](const auto& path) {
        std::set<Index> elements;
        for (const auto& step : path) {
          if (!passes(mesh, step)) return;
          elements.insert(static_cast<Index>(step.first));
        }
        if (!common) {
          common = elements;
          return;
        }
        std::set<Index> both;
        std::set_intersection(common->begin(), common->end(), elements.begin(), elements.end(),
                              std::inserter(both, both.end()));
        common = both;
      });
      const Index target = structure.gallery[goal];
      const std::vector<Index> answer = passages.series_elements(structure.gallery[2], target, {});
      CAPTURE(round, goal);
      REQUIRE(std::set<Index>(answer.begin(), answer.end()) == common.value_or(std::set<Index>{}));
      REQUIRE(passages.reaches(structure.gallery[2], target, {}) == common.has_value());
      if (common && !common->empty()) ++in_series;
    }
  }
  CHECK(in_series > 300);
}
