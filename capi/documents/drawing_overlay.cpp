#include "capi/documents/drawing_overlay.h"

#include <algorithm>

#include "capi/documents/circuit_explain.h"
#include "capi/documents/document.h"
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

Overlay overlay_of(std::string_view text) {
  Overlay overlay;
  if (text.empty()) return overlay;
  const Document document = read_document(text);
  const Json& answer = document;
  if (answer.contains("causes") && !answer.at("causes").empty()) {
    const Json& cause = answer.at("causes").at(0);
    if (cause.contains("observation"))
      overlay.complaint = cause.at("observation").get<std::string>();
    for (const Json& share : cause.at("shares")) {
      for (const Json& name : share.at("components")) {
        double& sum = overlay.suspects[name.get<std::string>()];
        sum = std::min(1.0, sum + share.at("probability").get<double>());
      }
    }
    if (!cause.at("shares").empty()) {
      for (const Json& name : cause.at("shares").at(0).at("components")) {
        overlay.modes.push_back(name.get<std::string>());
      }
    }
  }
  if (answer.contains("tests") && !answer.at("tests").empty()) {
    const Json& first = answer.at("tests").at(0);
    overlay.test = first.at("observation").get<std::string>();
    overlay.test_title = first.at("title").get<std::string>();
    for (const Json& caution : first.at("cautions")) {
      overlay.cautions.push_back(caution.get<std::string>());
    }
  }
  return overlay;
}

std::vector<bool> concerned_parts(const circuit::HydraulicGraph& graph,
                                  const circuit::Analysis& analysis, const Overlay& overlay) {
  return Concerned(graph, analysis, overlay).find();
}

}  // namespace faultodds::documents
