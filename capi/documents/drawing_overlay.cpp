#include "capi/documents/drawing_overlay.h"

#include <algorithm>

#include "capi/documents/circuit_explain.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using circuit::Index;
using circuit::kNone;
using circuit::Structure;

constexpr double kConcerns = 0.02;          // of a suspect that is drawn
constexpr std::size_t kMostDrawnSets = 12;  // whose ways are drawn
constexpr std::size_t kMostOfTest = 6;

// The component that an observation's id names after its first slash, by itself or with a port.
Index named_in(const Structure& structure, const std::string& id) {
  const std::size_t slash = id.find('/');
  if (slash == std::string::npos) return kNone;
  const std::string name = id.substr(slash + 1, id.find('/', slash + 1) - slash - 1);
  const auto& known = structure.component_index;
  auto found = known.find(name);
  if (found == known.end()) found = known.find(name.substr(0, name.rfind('.')));
  return found == known.end() ? kNone : found->second;
}

class Concerned {
 public:
  Concerned(const circuit::HydraulicGraph& graph, const circuit::Analysis& analysis,
            const Overlay& overlay)
      : graph_(graph),
        structure_(graph.structure()),
        analysis_(analysis),
        overlay_(overlay),
        kept_(structure_.type.size(), false) {}

  std::vector<bool> find() {
    for (const auto& [component, probability] : overlay_.suspects) {
      const auto found = structure_.component_index.find(component);
      if (probability >= kConcerns && found != structure_.component_index.end()) {
        kept_[found->second] = true;
      }
    }
    if (overlay_.suspects.empty()) return std::move(kept_);  // no complaint
    look(overlay_.complaint, kMostDrawnSets);
    look(overlay_.test, kMostOfTest);
    for (Index c = 0; c < kept_.size(); ++c) {
      if (structure_.type[c]->name == "tank") kept_[c] = false;
    }
    return std::move(kept_);
  }

 private:
  double weight(const circuit::ModeSet& set) const {
    double least = 1;
    for (const std::uint32_t mode : set.modes) {
      const auto found = overlay_.suspects.find(analysis_.modes[mode].component);
      least = std::min(least, found == overlay_.suspects.end() ? 0 : found->second);
    }
    return least;
  }

  // Of an observation: what it is of, and the ways of its sets that are suspected most.
  void look(const std::string& id, std::size_t most) {
    const auto of = std::find_if(analysis_.observations.begin(), analysis_.observations.end(),
                                 [&](const auto& one) { return one.id == id; });
    if (of == analysis_.observations.end()) return;
    keep(named_in(structure_, id));
    for (std::size_t f = 0; f < structure_.functions.size(); ++f) {
      if (id != "delivery/" + structure_.description->functions[f].id) continue;
      const circuit::PlacedFunction& function = structure_.functions[f];
      keep(function.actuator);
      keep_volume(function.source);
      for (const auto& [valve, position] : function.positions) keep(valve);
    }
    std::vector<std::pair<double, const circuit::ModeSet*>> sets;
    for (const circuit::ModeSet& set : of->sets) {
      if (const double w = weight(set); w >= kConcerns) sets.emplace_back(-w, &set);
    }
    std::stable_sort(sets.begin(), sets.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    if (sets.size() > most) sets.resize(most);
    for (const auto& [w, set] : sets) {
      check_stop();
      for (const authoring::WayStep& step : way_of_set(graph_, *of, set->modes)) {
        if (step.element != kNone) {
          keep(structure_.elements[step.element].component);
        } else if (step.line != kNone) {
          for (const circuit::LineEnd& end : structure_.lines[step.line].ends) keep(end.component);
        }
      }
    }
  }
  void keep(Index component) {
    if (component != kNone) kept_[component] = true;
  }
  void keep_volume(Index volume) {
    if (volume != kNone) keep(structure_.volume_component[volume]);
  }

  const circuit::HydraulicGraph& graph_;
  const Structure& structure_;
  const circuit::Analysis& analysis_;
  const Overlay& overlay_;
  std::vector<bool> kept_;
};

}  // namespace

Overlay overlay_of(const Words& words, const diagnosis::Assessment& assessment) {
  const circuit::Analysis& analysis = words.analysis();
  Overlay overlay;
  if (!assessment.causes.empty()) {
    const diagnosis::CauseAssessment& of = assessment.causes.front();
    overlay.complaint = analysis.observations[of.observation].id;
    for (const diagnosis::Cause& cause : of.causes) {
      for (const std::uint32_t c : cause.components) {
        double& sum = overlay.suspects[analysis.components[c].id];
        sum = std::min(1.0, sum + cause.probability);
      }
    }
    if (!of.causes.empty()) {
      for (const std::uint32_t c : of.causes.front().components) {
        overlay.modes.push_back(analysis.components[c].id);
      }
    }
  }
  if (!assessment.tests.empty()) {
    const circuit::Observation& test = analysis.observations[assessment.tests.front().observation];
    overlay.test = test.id;
    overlay.test_title = words.observation(test);
    overlay.cautions = words.cautions(test.cautions);
  }
  return overlay;
}

std::vector<bool> concerned_parts(const circuit::HydraulicGraph& graph,
                                  const circuit::Analysis& analysis, const Overlay& overlay) {
  return Concerned(graph, analysis, overlay).find();
}

}  // namespace faultodds::documents
