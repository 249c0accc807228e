#include "capi/documents/circuit_explain.h"
#include "capi/documents/assessment_writer.h"

#include <algorithm>
#include <cmath>
#include <memory>

#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/document.h"
#include "capi/documents/json_text.h"
#include "capi/documents/wording.h"
#include "core/circuit/kinds.h"
#include "core/circuit/names.h"
#include "core/circuit/order.h"
#include "core/circuit/structure.h"
#include "core/error.h"
#include "core/hydraulics/effect.h"
#include "core/hydraulics/shown_from.h"
#include "core/reading/units.h"
#include "core/unit_factors.h"

namespace faultodds::documents {
namespace {

using authoring::WayStep;
using circuit::Index;
using circuit::kNone;
using circuit::Observation;
using circuit::ObservationKind;
using circuit::Structure;
using hydraulics::EffectOfSets;
using hydraulics::Situation;

constexpr std::size_t kMostSets = 200;

const Observation& find_observation(const circuit::Analysis& analysis, std::string_view id) {
  std::vector<std::string> ids;
  for (const Observation& one : analysis.observations) {
    if (one.id == id) return one;
    ids.push_back(one.id);
  }
  for (const circuit::Absent& absent : analysis.absent) {
    if (absent.id != id) continue;
    std::string way;
    for (const std::string& element : absent.way)
      way += (way.empty() ? "" : ", ") + circuit::quoted(element);
    const bool open = absent.why == circuit::Absent::Why::open;
    throw Error(Code::invalid_case,
                "there is no " + circuit::quoted(id) + ": " +
                    (open ? "oil flows there with nothing leaking" +
                                (way.empty() ? std::string() : ", through " + way)
                     : absent.why == circuit::Absent::Why::nothing_shows
                         ? std::string("no failure mode shows there")
                         : std::string("the load drives the other way")));
  }
  throw Error(Code::invalid_case, "observation " + circuit::quoted(id) + " is not known" +
                                      circuit::expected(id, ids, "observations"));
}

// The function of a delivery; the number of functions if there is none.
std::size_t function_of(const Structure& structure, const Observation& observation) {
  const auto& functions = structure.description->functions;
  std::size_t f = 0;
  while (f < functions.size() && observation.id != "delivery/" + functions[f].id) ++f;
  return f;
}

// The volume where a step begins or ends, by the part or line that it goes through.
std::string end_name(const Structure& structure, const WayStep& step, bool begin) {
  if (step.element != kNone) {
    const circuit::PlacedElement& one = structure.elements[step.element];
    return structure.volume_name(begin == step.forward ? one.from : one.to);
  }
  const circuit::Line& line = structure.lines[step.line];
  const bool forward = structure.gallery[line.ends[0].volume] == step.from;
  return structure.volume_name(line.ends[begin == forward ? 0 : 1].volume);
}

// What a mode does that is on no leak path.
std::string effect_text(const Structure& structure, Index mode) {
  const circuit::FailureMode& one = structure.modes[mode];
  const auto c = static_cast<Index>(one.component_index);
  const circuit::FailureModeType& type =
      structure.type[c]->failure_modes[mode - structure.first_mode[c]];
  if (!type.weakens.empty()) return "delivers less";
  if (!type.restricts.empty()) return "chokes the way";
  return "leaks";
}

std::string way_text(const Structure& structure, const std::vector<WayStep>& way) {
  std::string text;
  std::string last;
  for (const WayStep& step : way) {
    if (step.element == kNone) continue;
    const circuit::PlacedElement& one = structure.elements[step.element];
    const std::string title = structure.component_title(one.component);
    if (step.blocked) {
      text += (text.empty() ? "past " : ", past ") + title;
    } else if (title != last) {
      text += (text.empty() ? "through " : ", through ") + title;
    }
    last = title;
  }
  return text;
}

double rounded(double value) {
  if (value == 0 || !std::isfinite(value)) return value;
  const double scale = std::pow(10, 3 - std::floor(std::log10(std::abs(value))));
  return std::round(value * scale) / scale;
}

class Explanation {
 public:
  Explanation(std::string_view text, std::string_view id, std::optional<std::string_view> size)
      : catalogue_(shipped_catalogue()),
        document_(text),
        written_(read_circuit(document_, catalogue_)),
        analysis_(document_.said_of_author(
            [&] { return circuit::analyse_in_order(written_, catalogue_); })),
        description_(circuit::in_order(written_)),
        observation_(find_observation(analysis_, id)),
        structure_(circuit::resolve(description_, catalogue_, {})),
        graph_(structure_) {
    hydraulics::set_mode_sizes(structure_);
    if (size) {
      size_ = reading::parse_quantity(*size, reading::Dimension::flow) * kMlPerMinute;
      if (!(*size_ > 0)) throw Error(Code::invalid_document, "size is not above zero");
    }
    solve_ = solve();
  }

  std::string write() {
    out_.begin_object()
        .member("format", "faultodds-explanation/1")
        .member("observation", observation_.id)
        .member("title", Words(analysis_).observation(observation_))
        .member("kind", circuit::kind_name(observation_.kind));
    if (!observation_.cautions.empty()) {
      out_.list("cautions", Words(analysis_).cautions(observation_.cautions));
    }
    if (load_) out_.member("load", reading::format_pressure(*load_ * 1e5));
    if (observation_.test_pressure) {
      out_.member("test_pressure", reading::format_pressure(*observation_.test_pressure));
    }
    if (observation_.limits) {
      out_.key("shows_from")
          .begin_object()
          .member("unit", unit_of(observation_.limits->unit))
          .member("first", rounded(observation_.limits->first))
          .member("second", rounded(observation_.limits->second))
          .end_object();
    }
    out_.key("sets").begin_list();
    for (std::size_t i = 0; i < std::min(observation_.sets.size(), kMostSets); ++i) {
      write_set(observation_.sets[i]);
    }
    out_.end_list();
    if (observation_.sets.size() > kMostSets) {
      out_.member("left_out", static_cast<std::uint64_t>(observation_.sets.size() - kMostSets));
    }
    out_.end_object();
    return out_.take();
  }

 private:
  std::unique_ptr<EffectOfSets> solve() {
    const double at = observation_.test_pressure.value_or(
        observation_.reference_pressure.value_or(hydraulics::kReferencePressure * 1e5));
    auto situation = hydraulics::situation_of(structure_, observation_, at / 1e5);
    if (!situation || description_.by_grades) return nullptr;
    try {
      leaks_ = hydraulics::leaks_of(structure_);
      auto solved = std::make_unique<EffectOfSets>(graph_, *situation, leaks_);
      if (situation->actuator != kNone) {
        load_ = hydraulics::held_load(description_.components[situation->actuator], *solved).median;
        solved->set_load(*load_);
      }
      return solved;
    } catch (const Error& error) {
      if (error.code() != Code::invalid_circuit) throw;
      return nullptr;  // no areas: it goes by grades
    }
  }

  void write_set(const circuit::ModeSet& set) {
    std::string sentence;
    out_.begin_object().key("modes").begin_list();
    for (std::size_t i = 0; i < set.modes.size(); ++i) {
      const circuit::FailureMode& mode = analysis_.modes[set.modes[i]];
      out_.value(mode.id);
      sentence += (i == 0                      ? ""
                   : i + 1 == set.modes.size() ? " and "
                                               : ", ") +
                  description_.components[mode.component_index].display_title() + ": " + mode.title;
    }
    out_.end_list();
    const std::vector<WayStep> way = way_of_set(graph_, observation_, set.modes);
    if (!way.empty()) {
      sentence += ". Oil goes from " + end_name(structure_, way.front(), true) + " " +
                  way_text(structure_, way) + " to " + end_name(structure_, way.back(), false) +
                  ".";
    } else if (observation_.written) {
      sentence += ", as the circuit document says.";
    } else {
      sentence += set.modes.size() == 1 ? ": it " + effect_text(structure_, set.modes[0]) + "."
                                        : ": together they show here.";
    }
    if (set.modes.size() > 1 && !way.empty()) sentence += " All of them must leak.";
    out_.member("sentence", sentence);
    if (set.probability < 1) out_.member("probability", set.probability);
    const bool solved = solve_ != nullptr && write_figures(set.modes);
    if (!way.empty()) write_way(way, set.modes, solved);
    out_.end_object();
  }

  // False where there is nothing to say.
  bool write_figures(const std::vector<Index>& modes) {
    double size = size_.value_or(0);
    if (!size_) {
      for (const Index mode : modes) {
        const circuit::ModeSize& of = structure_.modes[mode].size;
        if (of.law == circuit::SizeLaw::loss) return false;
        const double failed = of.of_grade[2].median;
        size = size == 0 ? failed : std::min(size, failed);
      }
    }
    const std::optional<double> without = solve_->shown(modes, 0);
    const std::optional<double> shown = solve_->shown(modes, size);
    if (!shown || !without) return false;
    const std::string unit = observation_.limits ? unit_of(observation_.limits->unit)
                             : observation_.kind == ObservationKind::drift ? "mm/min"
                                                                           : "mL/min";
    out_.member("size", reading::format_number(size) + " mL/min")
        .member("shown", reading::format_number(*shown) + " " + unit)
        .member("without", reading::format_number(*without) + " " + unit);
    return true;
  }

  void write_way(const std::vector<WayStep>& way, const std::vector<Index>& modes, bool solved) {
    out_.key("way").begin_list();
    for (const WayStep& step : way) {
      out_.begin_object()
          .member("from", end_name(structure_, step, true))
          .member("to", end_name(structure_, step, false));
      if (step.element == kNone) {
        out_.member("line", structure_.lines[step.line].id);
      } else {
        const circuit::PlacedElement& placed = structure_.elements[step.element];
        out_.member("component", description_.components[placed.component].id)
            .member("title", structure_.component_title(placed.component))
            .member("element", placed.element->name)
            .member("leaks", step.blocked);
        if (solved && step.blocked) {
          for (const Index mode : placed.leaking) {
            if (std::find(modes.begin(), modes.end(), mode) == modes.end()) continue;
            if (const auto flow = solve_->flow_past(mode)) {
              out_.member("flow", reading::format_number(std::abs(*flow)) + " mL/min");
              break;
            }
          }
        }
      }
      if (solved) {
        const auto pressure = solve_->pressure_at(step.from), after = solve_->pressure_at(step.to);
        const auto text = [](double bar) {
          return reading::format_number(std::max(0.0, bar)) + " bar";
        };
        if (pressure) out_.member("pressure", text(*pressure));
        if (after) out_.member("pressure_after", text(*after));
      }
      out_.end_object();
    }
    out_.end_list();
  }

  JsonText out_;
  const std::vector<circuit::ComponentType> catalogue_;
  const CircuitDocument document_;
  const circuit::Description written_;
  const circuit::Analysis analysis_;
  const circuit::Description description_;  // in order, as the analysis is
  const Observation& observation_;
  Structure structure_;
  const circuit::HydraulicGraph graph_;
  std::vector<hydraulics::Leak> leaks_;
  std::unique_ptr<EffectOfSets> solve_;
  std::optional<double> size_, load_;
};

}  // namespace

std::vector<WayStep> way_of_set(const circuit::HydraulicGraph& graph,
                                const Observation& observation, const std::vector<Index>& modes) {
  const Structure& structure = graph.structure();
  if (observation.written) return {};
  const std::vector<Index> away = {structure.tank(), structure.outside()};
  if (observation.kind == ObservationKind::delivery) {
    const std::size_t f = function_of(structure, observation);
    if (f == structure.functions.size()) return {};
    const circuit::PlacedFunction& function = structure.functions[f];
    circuit::Configuration commanded;
    commanded.positions = function.positions;
    std::vector<Index> sinks = away;
    sinks.push_back(structure.gallery[function.contracting]);
    return authoring::least_blocked_way(graph, structure.gallery[function.source], sinks, commanded,
                                        &modes);
  }
  const auto situation = hydraulics::situation_of(structure, observation, 100);
  if (!situation) return {};
  if (situation->actuator == kNone) {
    std::vector<Index> sinks = away;
    for (const Index open : situation->open) sinks.push_back(structure.gallery[open]);
    return authoring::least_blocked_way(graph, structure.gallery[situation->pressed], sinks,
                                        situation->configuration, &modes);
  }
  const auto side = [&](const std::string& name) {
    return structure.gallery[circuit::volume_of(structure, situation->actuator, name)];
  };
  const Index from = side(situation->direction->contracting);
  auto way = authoring::least_blocked_way(graph, from, away, situation->configuration, &modes);
  if (!way.empty()) return way;
  return authoring::least_blocked_way(graph, from, {side(situation->direction->expanding)},
                                      situation->configuration, &modes);
}

std::string explain_observation(std::string_view circuit, std::string_view observation,
                                std::optional<std::string_view> size) {
  return Explanation(circuit, observation, size).write();
}

}  // namespace faultodds::documents
