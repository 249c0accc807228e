#include "core/hydraulics/shown_from.h"

#include <algorithm>
#include <array>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "core/circuit/kinds.h"
#include "core/error.h"
#include "core/hydraulics/effect.h"
#include "core/hydraulics/supply.h"
#include "core/math_policy.h"
#include "core/reading/trapped_oil.h"
#include "core/stop.h"
#include "core/unit_factors.h"

namespace faultodds::hydraulics {
namespace {

using circuit::EffectLimits;
using circuit::ModeSet;
using circuit::ModeSize;
using circuit::Observation;
using circuit::ObservationKind;
using circuit::ShownFrom;
using circuit::SizeLaw;
using circuit::Structure;

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr std::size_t kAll = std::numeric_limits<std::size_t>::max();
constexpr double kHandPump = 150;  // mL/min at the test pressure
constexpr double kHoldResolution = 0.2;
constexpr double kPumpAndHose = 150;                 // mL, of hand pump, hose and gauge
constexpr double kStiffness = 10'000;                // bar
constexpr double kDriftLimit = 4, kTurnLimit = 0.5;  // mm/min, rev/min
constexpr double kDriftResolution = 0.1;             // of the limit
constexpr double kShareResolution = 3;               // percent
constexpr double kLoadShare = 0.6, kMostLoad = 0.9;  // of the lowest relief
constexpr double kLoadPressure = 100;                // bar, where no relief is in reach
constexpr double kWorkingPressure = 150;             // bar, where nothing says it
// Outside: a film from 20 drops a minute, drips from 200; a drop is 0.05 mL. A relief is warm by 20
// W that stay in it, hot by 100. All working judgement.
constexpr double kFilm = 1, kDrips = 10, kParkedPressure = 20;  // mL/min, bar
constexpr double kWarm = 20, kHot = 100;                        // W
// What pushes oil past a spool in neutral, bar, and how a load dips: 1 mm at the rod in the two
// seconds that a lever takes to open its valve is a centimetre at a boom's tip. Working judgement.
constexpr double kPush = 50, kDip = 30;  // bar, mm/min
// Of the pump's power, what makes oil warm and hot; of its flow, what lacks until it is heard; of
// the pressure, what is short. Percent, working judgement.
constexpr std::array<double, 2> kHeat = {5, 20}, kStarved = {5, 25}, kShort = {10, 60};
constexpr double kOneSigma = 0.8;  // of what several sound parts take together
constexpr double kTail = 1.645;    // 5 %
constexpr int kLoadClasses = 6;
constexpr double kSameLevel = 1.3;  // thresholds of levels that count as one

// Sizes at which effects are solved, mL/min. Between two of them the size at which one passes a
// limit is sought until it is known to `kAccuracy` of itself.
constexpr double kSmallest = 0.1, kStep = 3;
constexpr int kSizes = 13;
// Every part that is joined takes part in what each set of each observation shows, so that parts on
// one gallery cost the square of their number. The equations of thresholds that pilots move are
// dense, and cost the cube: they count one for `kDense` of it, several times what they take on a
// machine of eighty sections, since no machine has as many.
constexpr std::size_t kMostSolvedElements = 8'000'000, kDense = 100;
constexpr double kAccuracy = 0.005, kFaintest = 1e-6;  // the latter of a limit
constexpr std::uintmax_t kMostRefinements = 20;

// V / K P / q is the time that a flow which stayed would take to empty a volume. To half of P it is
// ln 2 of that through a gap and 2 - sqrt(2) through a seat (dP/dt = -K / V q(P), q as P and as its
// root); between them, within 9 % of either.
constexpr double kToHalf = 0.637;

double bar(const std::optional<double>& pascal) { return *pascal / kPascalPerBar; }

// From which size an effect passes `limit`, given its values at ascending sizes: sought between two
// of them, in logarithms.
template <typename Effect>
double passes(const Effect& effect, const std::vector<double>& at_sizes, double limit) {
  const auto above =
      std::find_if(at_sizes.begin(), at_sizes.end(), [&](double one) { return one > limit; });
  if (above == at_sizes.end()) return kNever;
  if (above == at_sizes.begin()) return kSmallest;
  const auto over = [&](double one) { return std::log(std::max(one / limit, kFaintest)); };
  const double low = over(*(above - 1));
  const double high =
      std::log(kSmallest) + static_cast<double>(above - at_sizes.begin()) * std::log(kStep);
  if (low == 0) return std::exp(high - std::log(kStep));
  std::uintmax_t steps = kMostRefinements;
  const auto between = boost::math::tools::toms748_solve(
      [&](double size) { return over(effect(std::exp(size))); }, high - std::log(kStep), high, low,
      over(*above), [](double one, double other) { return std::abs(one - other) < kAccuracy; },
      steps, MathPolicy());
  return std::exp((between.first + between.second) / 2);
}

// Levels of nearly the same thresholds are one, at the mean of their logarithms.
std::vector<ShownFrom> merged(const std::vector<ShownFrom>& levels) {
  std::vector<ShownFrom> out;
  const auto alike = [](double a, double b) {
    return a == b ||
           (std::isfinite(a) && std::isfinite(b) && std::max(a, b) <= kSameLevel * std::min(a, b));
  };
  ShownFrom first;
  for (const ShownFrom& level : levels) {
    if (!out.empty() && alike(first.size[0], level.size[0]) &&
        alike(first.size[1], level.size[1])) {
      ShownFrom& into = out.back();
      const double weight = into.weight + level.weight;
      for (std::size_t t = 0; t < 2; ++t) {
        if (!std::isfinite(into.size[t])) continue;
        into.size[t] = std::exp(
            (into.weight * std::log(into.size[t]) + level.weight * std::log(level.size[t])) /
            weight);
      }
      into.weight = weight;
      continue;
    }
    first = level;
    out.push_back(level);
  }
  return out;
}

bool never(const std::vector<ShownFrom>& levels) {
  return std::all_of(levels.begin(), levels.end(),
                     [](const ShownFrom& level) { return !std::isfinite(level.size[0]); });
}

class Sizing {
 public:
  explicit Sizing(Structure& structure)
      : structure_(structure), graph_(structure), leaks_(leaks_of(structure)) {
    for (circuit::Index m = 0; m < structure.modes.size(); ++m) {
      const auto c = static_cast<circuit::Index>(structure.modes[m].component_index);
      const ModeSize& size = structure.modes[m].size;
      pump_flow_.push_back(size.law == SizeLaw::loss
                               ? rated_flow(structure.description->components[c])
                               : std::nullopt);
    }
  }

  void size(Observation& observation) const {
    if (observation.written) return;
    switch (observation.kind) {
      case ObservationKind::static_hold:
        return size_hold(observation);
      case ObservationKind::drift:
        return size_drift(observation);
      case ObservationKind::delivery:
        return size_delivery(observation);
      case ObservationKind::flow:
        return size_flow(observation);
      case ObservationKind::look:
        return size_by_flow(observation, kFilm, kDrips, kParkedPressure);
      case ObservationKind::temperature:
        return size_by_flow(observation, kWarm * kMlPerMinute / (kWorkingPressure * kPascalPerBar),
                            kHot * kMlPerMinute / (kWorkingPressure * kPascalPerBar),
                            kWorkingPressure);
      case ObservationKind::symptom:
        return size_reported(observation);
      case ObservationKind::test:
        return;
    }
  }

 private:
  // What turns a size in mL/min of the set's leaks into the unit of its modes; nothing where they
  // are of two units.
  std::optional<double> unit_of(const std::vector<std::uint32_t>& modes) const {
    double unit = 1;
    for (std::uint32_t m : modes) {
      if (structure_.modes[m].size.law != SizeLaw::loss) continue;
      if (modes.size() > 1 || !pump_flow_[m]) return std::nullopt;
      unit = 100 / *pump_flow_[m];
    }
    return unit;
  }

  // From which sizes the set passes the limits, in the unit of its modes; nothing where they are of
  // two.
  std::optional<std::array<double, 2>> solved(EffectOfSets& solve,
                                              const std::vector<std::uint32_t>& set,
                                              const EffectLimits& limits) const {
    const auto unit = unit_of(set);
    if (!unit) return std::nullopt;
    const std::vector<FlowElement>& elements = solve.circuit().elements;
    const auto piloted = static_cast<std::size_t>(
        std::count_if(elements.begin(), elements.end(),
                      [](const FlowElement& one) { return one.pilot != kNowhere; }));
    solved_elements_ += elements.size() + piloted * piloted * piloted / kDense;
    if (solved_elements_ > kMostSolvedElements) {
      throw Error(Code::limit_exceeded,
                  "flow through more than " + std::to_string(kMostSolvedElements) +
                      " leaks, checks and reliefs would be solved, over all failure modes of all "
                      "observations; expected a smaller circuit, or `effects`: `grades`",
                  "/effects");
    }
    const std::optional<double> without = solve.shown(set, 0);
    const auto effect = [&](double size) { return solve.effect(set, size, without).value_or(0); };
    std::vector<double> at_sizes;
    for (int i = 0; i < kSizes; ++i) {
      const double one = effect(kSmallest * std::pow(kStep, i));
      at_sizes.push_back(at_sizes.empty() ? one : std::max(one, at_sizes.back()));
    }
    return std::array{*unit * passes(effect, at_sizes, limits.first),
                      *unit * passes(effect, at_sizes, limits.second)};
  }

  void size_hold(Observation& observation) const {
    const std::optional<double> pressure =
        observation.test_pressure ? observation.test_pressure : observation.reference_pressure;
    const double at = pressure ? bar(pressure) : kReferencePressure;
    const auto situation = situation_of(structure_, observation, at);
    if (!situation) return;
    EffectOfSets solve(graph_, *situation, leaks_);
    const std::optional<double> sound = solve.shown();
    if (!sound) return;
    EffectLimits limits;
    limits.unit = EffectLimits::Unit::ml_per_min;
    limits.second = kHandPump;
    limits.resolution = kHoldResolution;
    double least_worn = kHandPump;
    for (const ModeSet& set : observation.sets) {
      for (std::uint32_t m : set.modes) {
        const ModeSize& size = structure_.modes[m].size;
        if (size.law == SizeLaw::loss) continue;
        const double least = size.of_grade[1].median * std::exp(-kTail * size.of_grade[1].spread);
        least_worn = std::min(
            least_worn, least * flow_of_one(size.law == SizeLaw::laminar, at, kShopViscosity));
      }
    }
    const double most_sound = std::max(kHoldResolution, *sound * std::exp(kTail * kOneSigma));
    const double volume = kPumpAndHose + observation.volume.value_or(0) * 1e6;
    // mL that leave as the pressure falls to nothing at the slope that it begins with. Gas charged
    // to half the pressure gives half its volume by that slope: a leak that shows in seconds
    // without it shows in as much less as there is more to lose, and people do not wait longer.
    const double oil = volume / kStiffness * at;
    const double lost = oil + observation.gas_volume * 1e6 * reading::kChargeShare;
    limits.first = std::clamp(std::sqrt(most_sound * least_worn) * lost / oil, 5 * kHoldResolution,
                              kHandPump / 3);
    limits.seconds = 60 * kToHalf * lost / limits.first;
    std::vector<std::vector<ShownFrom>> shown;
    for (const ModeSet& set : observation.sets) {
      auto& levels = shown.emplace_back();
      if (const auto sizes = solved(solve, set.modes, limits)) levels.push_back({1, *sizes});
    }
    apply(observation, limits, std::move(shown));
  }

  void size_drift(Observation& observation) const {
    auto situation = situation_of(structure_, observation, kLoadPressure);
    if (!situation) return;
    const circuit::Component& actuator = structure_.description->components[situation->actuator];
    if (!has_areas(*situation)) return;
    const std::size_t structural = observation.sets.size();
    add_candidates(observation, *situation);
    EffectOfSets solve(graph_, *situation, leaks_);
    const bool turns = solve.turns();
    EffectLimits limits;
    limits.unit = turns ? EffectLimits::Unit::rev_per_min : EffectLimits::Unit::mm_per_min;
    limits.first = turns ? kTurnLimit : kDriftLimit;
    const auto& given = structure_.description->drift_limit;
    if (given && !turns) limits.first = *given * 6e4;
    limits.second = 10 * limits.first;
    limits.resolution = kDriftResolution * limits.first;

    const double spread = actuator.load ? actuator.load->spread : 0.3;
    const auto [median, most] = held_load(actuator, solve);
    std::vector<double> crossings;
    for (const ModeSet& set : observation.sets) {
      if (set.modes.size() > 1) continue;
      const auto found = solve.crossings(set.modes, 1'000, median * std::exp(-2.5 * spread), most);
      crossings.insert(crossings.end(), found.begin(), found.end());
      if (crossings.size() > 4) break;
    }
    const std::vector<LoadLevel> levels =
        load_levels(median, spread, most, std::move(crossings), kLoadClasses);
    std::vector<std::vector<ShownFrom>> shown(observation.sets.size());
    for (const LoadLevel& level : levels) {
      solve.set_load(level.load);
      for (std::size_t j = 0; j < observation.sets.size(); ++j) {
        const auto sizes = solved(solve, observation.sets[j].modes, limits);
        if (sizes) shown[j].push_back({level.weight, *sizes});
      }
    }
    for (auto& one : shown) one = merged(one);
    apply(observation, limits, std::move(shown), structural);
  }

  bool has_areas(const Situation& situation) const {
    const auto known = [&](const std::string& volume) {
      const auto area = circuit::area_of(structure_, situation.actuator, volume);
      return (area && *area > 0) ||
             structure_.description->components[situation.actuator].displacement.has_value();
    };
    return known(situation.direction->contracting) && known(situation.direction->expanding);
  }

  // The modes that leak from one side of the actuator to the other, each alone (it may lift a
  // relief on the closed side) and with what leaks from the contracting side (which counts many
  // times more where both chambers stand together).
  void add_candidates(Observation& observation, const Situation& situation) const {
    const circuit::Index first = structure_.first_mode[situation.actuator],
                         last = structure_.first_mode[situation.actuator + 1];
    std::vector<std::vector<std::uint32_t>> known;
    for (const ModeSet& set : observation.sets) known.push_back(set.modes);
    const auto add = [&](std::vector<std::uint32_t> modes) {
      std::sort(modes.begin(), modes.end());
      if (std::find(known.begin(), known.end(), modes) != known.end()) return;
      known.push_back(modes);
      ModeSet set;
      set.modes = std::move(modes);
      observation.sets.push_back(std::move(set));
    };
    const std::size_t given = observation.sets.size();
    for (circuit::Index seal = first; seal < last; ++seal) {
      bool across = false;
      for (std::size_t j = 0; j < given; ++j) {
        across = across || (known[j].size() > 1 &&
                            std::find(known[j].begin(), known[j].end(), seal) != known[j].end());
      }
      if (!across) continue;
      add({seal});
      for (std::size_t j = 0; j < given; ++j) {
        if (known[j].size() == 1 && known[j][0] != seal) add({known[j][0], seal});
      }
    }
  }

  void size_delivery(Observation& observation) const {
    const circuit::PlacedFunction* function = nullptr;
    const circuit::Function* described = nullptr;
    for (std::size_t f = 0; f < structure_.functions.size(); ++f) {
      described = &structure_.description->functions[f];
      if (observation.id == "delivery/" + described->id) {
        function = &structure_.functions[f];
        break;
      }
    }
    if (function == nullptr) return;
    const double at =
        described->working_pressure ? bar(described->working_pressure) : kWorkingPressure;
    const Supply supply = supply_of(graph_, *function);
    const bool lowered = function->source == function->contracting;  // its load is its flow
    if (supply.flow || lowered) size_share(observation, {10, 60}, supply, at);
  }

  // What operators report (circuit/reported.h). What jerks goes by grades.
  void size_reported(Observation& observation) const {
    const std::size_t slash = observation.id.find('/');
    const std::string family = observation.id.substr(0, slash);
    const std::string of = observation.id.substr(slash + 1);
    if (family == "dip" || family == "moves") return size_movement(observation, family, of);
    if (family == "uneven") {
      for (const circuit::Function& function : structure_.description->functions) {
        if (function.id == of)
          return size_share(observation, {10, 60}, Supply::all(flow_of(function)), kLoadPressure);
      }
      return;
    }
    const auto c = structure_.component_index.find(of);
    if (c == structure_.component_index.end()) return;
    const auto flow = rated_flow(structure_.description->components[c->second]);
    if (family == "hot") size_share(observation, kHeat, Supply::all(flow), kWorkingPressure);
    if (family == "noisy") size_share(observation, kStarved, {}, kWorkingPressure);
    if (family == "no_pressure" && flow) size_no_pressure(observation, *flow, charge_at(c->second));
  }

  // Pressure is short by the share at which a leak takes all of the flow at what is left of it, and
  // stays where flow is lost until hardly any is left.
  void size_no_pressure(Observation& observation, double flow, const Supply& charged) const {
    EffectLimits limits;
    limits.unit = EffectLimits::Unit::percent;
    limits.first = kShort[0];
    limits.second = kShort[1];
    limits.resolution = kShareResolution;
    std::vector<std::vector<ShownFrom>> shown;
    for (const ModeSet& set : observation.sets) {
      auto& levels = shown.emplace_back();
      std::size_t losses = 0, gaps = 0;
      for (std::uint32_t m : set.modes) {
        losses += structure_.modes[m].size.law == SizeLaw::loss;
        gaps += structure_.modes[m].size.law == SizeLaw::laminar;
      }
      if (losses > 0 && losses < set.modes.size()) continue;
      std::array<double, 2> from = kFlowGone;
      for (std::size_t t = 0; t < 2 && losses == 0; ++t) {
        const double left = kWorkingPressure * (1 - kShort[t] / 100);
        from[t] = flow / flow_of_one(gaps == set.modes.size(),
                                     left / static_cast<double>(set.modes.size()), kHotViscosity);
      }
      const bool low = charged.charge && losses == 0 &&
                       std::none_of(set.modes.begin(), set.modes.end(), [&](std::uint32_t m) {
                         return charged.charge->high.count(m) != 0;
                       });
      if (low)
        from =
            sizes_that_lose(structure_, set.modes, {}, charged, kReferencePressure).value_or(from);
      levels.push_back({1, from});
    }
    apply(observation, limits, std::move(shown));
  }

  // The supply of the first function of a pump, for what its loop's charge is.
  Supply charge_at(circuit::Index pump) const {
    for (const circuit::PlacedFunction& function : structure_.functions) {
      if (function.source == function.contracting) continue;
      if (structure_.volume_component[function.source] == pump) return supply_of(graph_, function);
    }
    return {};
  }

  std::optional<double> flow_of(const circuit::Function& function) const {
    const std::string source = function.source.substr(0, function.source.rfind('.'));
    const auto c = structure_.component_index.find(source);
    if (c == structure_.component_index.end()) return std::nullopt;
    return rated_flow(structure_.description->components[c->second]);
  }

  // A load that dips, or an actuator that moves without a command: speed at the rod, or of a motor,
  // by what a leak lets through.
  void size_movement(Observation& observation, const std::string& family,
                     const std::string& of) const {
    const bool dips = family == "dip";
    for (std::size_t f = 0; f < structure_.functions.size(); ++f) {
      const circuit::PlacedFunction& function = structure_.functions[f];
      const circuit::Component& actuator = structure_.description->components[function.actuator];
      const bool same = dips ? structure_.description->functions[f].id == of
                             : actuator.id + "/" + function.direction->name == of;
      if (!same) continue;
      const auto area =
          circuit::area_of(structure_, function.actuator, function.direction->expanding);
      double first = 0;  // mL/min
      if (area) {
        first = *area * 1e3 * (dips ? kDip : kDriftLimit);
      } else if (actuator.displacement) {
        first = *actuator.displacement * 1e6 * kTurnLimit * (dips ? kDip / kDriftLimit : 1);
      } else {
        return;
      }
      const auto& load = actuator.load;
      const double pressure = !dips                    ? kPush
                              : load && load->pressure ? bar(load->pressure)
                                                       : kLoadPressure;
      return size_by_flow(observation, first, 10 * first, pressure);
    }
  }

  void size_flow(Observation& observation) const {
    const std::string id = observation.id.substr(observation.id.find('/') + 1);
    const auto c = structure_.component_index.find(id);
    if (c == structure_.component_index.end()) return;
    size_share(observation, {10, 30},
               Supply::all(rated_flow(structure_.description->components[c->second])),
               kWorkingPressure);
  }

  // Sets that take no such share go by grades.
  void size_share(Observation& observation, const std::array<double, 2>& shares,
                  const Supply& supply, double pressure) const {
    EffectLimits limits;
    limits.unit = EffectLimits::Unit::percent;
    limits.first = shares[0];
    limits.second = shares[1];
    limits.resolution = kShareResolution;
    std::vector<std::vector<ShownFrom>> shown;
    for (const ModeSet& set : observation.sets) {
      auto& levels = shown.emplace_back();
      if (const auto from = sizes_that_lose(structure_, set.modes, shares, supply, pressure)) {
        levels.push_back({1, *from});
      }
    }
    apply(observation, limits, std::move(shown));
  }

  // What each mode lets through at a pressure, mL/min of warm oil.
  void size_by_flow(Observation& observation, double first, double second, double pressure) const {
    EffectLimits limits;
    limits.unit = EffectLimits::Unit::ml_per_min;
    limits.first = first;
    limits.second = second;
    limits.resolution = kHoldResolution * first;
    std::vector<std::vector<ShownFrom>> shown;
    for (const ModeSet& set : observation.sets) {
      const SizeLaw law = structure_.modes[set.modes.front()].size.law;
      auto& levels = shown.emplace_back();
      if (law == SizeLaw::loss) continue;  // by grades
      const double one = flow_of_one(law == SizeLaw::laminar, pressure, kHotViscosity);
      levels.push_back({1, {first / one, second / one}});
    }
    apply(observation, limits, std::move(shown));
  }

  // Sets that never show are left out, unless none would be left. Those that could not be solved
  // (leaks and losses together) go by grades beside the others, but only if they are structural:
  // the first `structural`, all unless said.
  static void apply(Observation& observation, const EffectLimits& limits,
                    std::vector<std::vector<ShownFrom>> shown, std::size_t structural = kAll) {
    structural = std::min(structural, observation.sets.size());
    bool solved = false;
    std::vector<ModeSet> kept;
    for (std::size_t j = 0; j < shown.size(); ++j) {
      ModeSet& set = observation.sets[j];
      if (shown[j].empty() && j < structural) kept.push_back(set);
      if (never(shown[j])) continue;
      // A set that takes a mode more than another shows by itself only where it shows much earlier.
      bool counts = true;
      for (std::size_t i = 0; i < shown.size() && counts && set.modes.size() > 1; ++i) {
        const auto& smaller = observation.sets[i].modes;
        if (i == j || smaller.size() >= set.modes.size() || never(shown[i]) ||
            !std::includes(set.modes.begin(), set.modes.end(), smaller.begin(), smaller.end())) {
          continue;
        }
        counts = earlier(shown[j], shown[i]);
      }
      if (!counts) continue;
      set.shown_from = std::move(shown[j]);
      shown[j] = set.shown_from;
      kept.push_back(set);
      solved = true;
    }
    if (!solved) {
      observation.sets.resize(structural);
      return;
    }
    observation.sets = std::move(kept);
    observation.limits = limits;
  }

  // Whether one shows from less than half the size at which the other does, at some level.
  static bool earlier(const std::vector<ShownFrom>& one, const std::vector<ShownFrom>& other) {
    double least = kNever, least_other = kNever;
    for (const ShownFrom& level : one) least = std::min(least, level.size[0]);
    double share = 0;
    for (const ShownFrom& level : other) {
      least_other = std::min(least_other, level.size[0]);
      if (std::isfinite(level.size[0])) share += level.weight;
    }
    return least < least_other / 2 || share < 0.95;
  }

  Structure& structure_;
  const circuit::HydraulicGraph graph_;
  std::vector<std::optional<double>> pump_flow_;  // by mode: mL/min, of losses
  std::vector<Leak> leaks_;
  mutable std::size_t solved_elements_ = 0;  // once for each set
};

}  // namespace

// A loss is that share of the pump's flow.
std::vector<Leak> leaks_of(const Structure& structure) {
  std::vector<Leak> leaks;
  for (const circuit::FailureMode& mode : structure.modes) {
    if (mode.size.law == SizeLaw::loss) {
      const auto flow = rated_flow(structure.description->components[mode.component_index]);
      leaks.push_back({FlowLaw::laminar, flow ? *flow * 0.02 : 100});
    } else {
      leaks.push_back({mode.size.law == SizeLaw::laminar ? FlowLaw::laminar : FlowLaw::orifice,
                       mode.size.of_grade[0].median});
    }
  }
  return leaks;
}

HeldLoad held_load(const circuit::Component& actuator, const EffectOfSets& solve) {
  const std::optional<double> relief = solve.lowest_relief();
  HeldLoad load;
  load.median = relief ? kLoadShare * *relief : kLoadPressure;
  if (actuator.load) {
    if (actuator.load->pressure) load.median = bar(actuator.load->pressure);
    if (actuator.load->force) load.median = *actuator.load->force / 10 / solve.area();
  }
  load.most = relief ? kMostLoad * *relief : 3 * load.median;
  load.median = std::min(load.median, load.most);
  return load;
}

void add_sizes(Structure& structure, std::vector<Observation>& observations) {
  const Sizing sizing(structure);
  for (Observation& observation : observations) {
    check_stop();
    sizing.size(observation);
  }
}

}  // namespace faultodds::hydraulics
