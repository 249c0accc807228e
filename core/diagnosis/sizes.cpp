#include "core/diagnosis/sizes.h"

#include <algorithm>
#include <array>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numbers>
#include <string>

#include "core/circuit/kinds.h"
#include "core/error.h"
#include "core/math_policy.h"
#include "core/stop.h"

namespace faultodds::diagnosis {
namespace {

using circuit::EffectLimits;
using circuit::FailureMode;
using circuit::GradeDistribution;
using circuit::ModeSet;
using circuit::ModeSize;
using circuit::ModeState;
using circuit::ShownFrom;
using circuit::SizeLaw;
using reading::kBlunder;
using reading::kWhole;

constexpr double kTail = 0.01;      // of a grade's sizes, beyond either end of the outermost states
constexpr double kBandTail = 0.05;  // of the sound ones, where no band is cut
constexpr double kHeaviest = 0.4;   // of the sound ones, in one band
constexpr double kLeastSide = 0.05;  // of a class's mass, on each side of a limit it is cut at

double upper_tail(double z) { return 0.5 * std::erfc(z / std::numbers::sqrt2); }

// Phi(to) - Phi(from), without loss in the upper tail.
double normal_mass(double from, double to) {
  return from > 0 ? upper_tail(from) - upper_tail(to) : upper_tail(-to) - upper_tail(-from);
}

class LogNormal {
 public:
  explicit LogNormal(const ModeSize::OfGrade& of) : mean_(std::log(of.median)), sigma_(of.spread) {}
  double mass(double low, double high) const { return normal_mass(z(low), z(high)); }
  double quantile(double p) const {
    const double z = -std::numbers::sqrt2 * boost::math::erfc_inv(2 * p, MathPolicy());
    return std::exp(mean_ + sigma_ * z);
  }

 private:
  double z(double size) const { return (std::log(size) - mean_) / sigma_; }  // of 0: -infinity
  double mean_, sigma_;
};

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Adjacent intervals of size, `mass(low, high)` in each; the first reaches down to 0 and the last
// up without end, as far as mass goes.
template <typename Mass>
class Partition {
 public:
  Partition(double low, double high, Mass mass) : ends_{low, high}, mass_(std::move(mass)) {}

  std::size_t count() const { return ends_.size() - 1; }
  double low(std::size_t i) const { return ends_[i]; }
  double high(std::size_t i) const { return ends_[i + 1]; }
  double outer_low(std::size_t i) const { return i == 0 ? 0 : ends_[i]; }
  double outer_high(std::size_t i) const { return i + 1 == count() ? kInfinity : ends_[i + 1]; }
  double mass(std::size_t i) const { return mass_(outer_low(i), outer_high(i)); }

  // The most even cut of interval i at one of `at` that leaves more than `least` of its mass on
  // each side; 0 if there is none.
  double best_cut(std::size_t i, const std::vector<double>& at, double least) const {
    double best = 0, even = least * mass(i);
    for (const double cut : at) {
      if (cut <= low(i) || cut >= high(i)) continue;
      const double side = std::min(mass_(outer_low(i), cut), mass_(cut, outer_high(i)));
      if (side > even) {
        even = side;
        best = cut;
      }
    }
    return best;
  }

  // Cuts the heaviest intervals that can be until there are `most`.
  void cut_at(const std::vector<double>& at, double least, std::size_t most) {
    while (count() < most) {
      double heaviest = 0, cut = 0;
      for (std::size_t i = 0; i < count(); ++i) {
        const double candidate = best_cut(i, at, least);
        if (candidate > 0 && mass(i) > heaviest) {
          heaviest = mass(i);
          cut = candidate;
        }
      }
      if (cut == 0) return;
      insert(cut);
    }
  }

  std::size_t heaviest() const {
    std::size_t found = 0;
    for (std::size_t i = 1; i < count(); ++i) {
      if (mass(i) > mass(found)) found = i;
    }
    return found;
  }

  void insert(double end) { ends_.insert(std::upper_bound(ends_.begin(), ends_.end(), end), end); }

 private:
  std::vector<double> ends_;
  Mass mass_;
};

struct Mixture {  // of worn and failed
  std::array<double, 2> weight{};
  std::array<LogNormal, 2> of;
  double operator()(double low, double high) const {
    return weight[0] * of[0].mass(low, high) + weight[1] * of[1].mass(low, high);
  }
};

Mixture not_sound(const ModeSize& size, const GradeDistribution& prior) {
  const double total = prior[1] + prior[2];
  const double worn = total > 0 ? prior[1] / total : 0.5;
  return {{worn, 1 - worn}, {LogNormal(size.of_grade[1]), LogNormal(size.of_grade[2])}};
}

std::vector<ModeState> bands(const ModeSize& size, const std::vector<double>& limits) {
  const ModeSize::OfGrade& sound = size.of_grade[0];
  if (sound.median == 0) return {{0, 1, 0, 0}};
  const LogNormal sizes(sound);
  Partition parts(sizes.quantile(kTail), sizes.quantile(1 - kTail),
                  [&](double low, double high) { return sizes.mass(low, high); });
  if (!limits.empty() && sizes.quantile(1 - kBandTail) > limits.front() / 2) {
    std::vector<double> cuts;
    for (const double limit : merged_limits(limits)) {
      if (limit > sizes.quantile(kBandTail) && limit < sizes.quantile(1 - kBandTail)) {
        cuts.push_back(limit);
      }
    }
    parts.cut_at(cuts, 0, kMostBands);
    while (parts.count() < kMostBands) {
      const std::size_t heaviest = parts.heaviest();
      if (parts.mass(heaviest) <= kHeaviest) break;
      const double below = sizes.mass(0, parts.outer_low(heaviest));
      parts.insert(sizes.quantile(below + parts.mass(heaviest) / 2));
    }
  }
  std::vector<ModeState> out;
  for (std::size_t i = 0; i < parts.count(); ++i) {
    out.push_back({0, parts.mass(i), parts.low(i), parts.high(i)});
  }
  return out;
}

void check(const ModeSize& size) {
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const ModeSize::OfGrade& of = size.of_grade[grade];
    const bool none = grade == 0 && of.median == 0;
    if (!(std::isfinite(of.median) && of.spread > 0 && std::isfinite(of.spread)) ||
        !(of.median > 0 || none) || (size.law == SizeLaw::loss && of.median > kWhole)) {
      throw Error(Code::internal, "a failure mode in a solved set has no sizes");
    }
  }
}

}  // namespace

std::vector<double> merged_limits(const std::vector<double>& ascending) {
  std::vector<double> out;
  for (std::size_t i = 0; i < ascending.size();) {
    double logarithms = 0;
    std::size_t end = i;
    for (; end < ascending.size() && ascending[end] < 2 * ascending[i]; ++end) {
      logarithms += std::log(ascending[end]);
    }
    out.push_back(end == i + 1 ? ascending[i]
                               : std::exp(logarithms / static_cast<double>(end - i)));
    i = end;
  }
  return out;
}

std::vector<ModeState> mode_states(const ModeSize& size, const GradeDistribution& prior,
                                   const std::vector<double>& limits) {
  check(size);
  std::vector<ModeState> out = bands(size, limits);
  const Mixture mixture = not_sound(size, prior);
  double low = mixture.of[0].quantile(kTail), high = mixture.of[0].quantile(1 - kTail);
  low = std::min(low, mixture.of[1].quantile(kTail));
  high = std::max(high, mixture.of[1].quantile(1 - kTail));
  if (size.law == SizeLaw::loss) high = std::min(high, kWhole);
  Partition parts(low, high, mixture);
  parts.cut_at(merged_limits(limits), kLeastSide, kMostBandsAndClasses - out.size());
  for (const std::uint8_t grade : {std::uint8_t{1}, std::uint8_t{2}}) {
    for (std::size_t i = 0; i < parts.count(); ++i) {
      out.push_back({grade, mixture.of[grade - 1U].mass(parts.outer_low(i), parts.outer_high(i)),
                     parts.low(i), parts.high(i)});
    }
  }
  return out;
}

std::vector<double> unsplit_limits(const ModeSize& size, const GradeDistribution& prior,
                                   const std::vector<double>& limits,
                                   const std::vector<ModeState>& states) {
  std::vector<const ModeState*> classes;
  for (const ModeState& state : states) {
    if (state.grade == 1) classes.push_back(&state);
  }
  if (classes.empty()) return {};
  Partition parts(classes.front()->low, classes.back()->high, not_sound(size, prior));
  for (std::size_t i = 1; i < classes.size(); ++i) parts.insert(classes[i]->low);
  std::vector<double> out;
  for (const double limit : merged_limits(limits)) {
    for (std::size_t i = 0; i < parts.count(); ++i) {
      if (parts.best_cut(i, {limit}, kLeastSide) > 0) out.push_back(limit);
    }
  }
  return out;
}

double exceeds(const ModeSize& size, const ModeState& state, double least) {
  if (least <= state.low) return 1;
  if (least >= state.high) return 0;
  if (state.grade == 0) {
    const LogNormal sizes(size.of_grade[0]);
    return sizes.mass(least, state.high) / sizes.mass(state.low, state.high);
  }
  return std::log(state.high / least) / std::log(state.high / state.low);
}

circuit::SetLink set_link(const std::vector<ShownFrom>& shown_from,
                          const std::vector<const FailureMode*>& modes) {
  circuit::SetLink link;
  std::vector<std::vector<std::vector<double>>> levels;  // of each level and mode: two rows
  for (const ShownFrom& level : shown_from) {
    if (level.weight == 0) continue;
    std::vector<std::vector<double>> rows;
    std::array<bool, 2> never{};
    for (const FailureMode* mode : modes) {
      std::vector<double>& row = rows.emplace_back();
      for (std::size_t t = 0; t < 2; ++t) {
        bool none = true;
        for (const ModeState& state : mode->states) {
          row.push_back(exceeds(mode->size, state, level.size[t]));
          none = none && row.back() == 0;
        }
        never[t] = never[t] || none;
      }
    }
    // Where one mode is never large enough the set is not, whatever the others are.
    for (std::size_t t = 0; t < 2; ++t) {
      if (!never[t]) continue;
      for (std::vector<double>& row : rows) {
        const auto half = static_cast<std::ptrdiff_t>(row.size() / 2);
        const auto from = t == 0 ? row.begin() : row.begin() + half;
        std::fill(from, from + half, 0.0);
      }
    }
    const auto same = std::find(levels.begin(), levels.end(), rows);
    if (same != levels.end()) {
      link.weight[static_cast<std::size_t>(same - levels.begin())] += level.weight;
    } else {
      link.weight.push_back(level.weight);
      levels.push_back(std::move(rows));
    }
  }
  link.exceeds.resize(modes.size());
  for (const auto& rows : levels) {
    for (std::size_t i = 0; i < modes.size(); ++i) {
      link.exceeds[i].insert(link.exceeds[i].end(), rows[i].begin(), rows[i].end());
    }
  }
  return link;
}

namespace {

// As limits_of_modes, of the observations that are reported, or of the others.
std::vector<std::vector<double>> limits_in(const circuit::Analysis& analysis, bool reported) {
  std::vector<std::vector<double>> out(analysis.modes.size());
  struct Smallest {
    std::size_t modes = 0;  // of the set; 0: none yet
    std::array<double, 2> size{};
  };
  std::vector<Smallest> smallest(analysis.modes.size());
  std::vector<std::uint32_t> touched;
  for (const circuit::Observation& observation : analysis.observations) {
    check_stop();
    if (observation.withheld || circuit::is_reported(observation) != reported) continue;
    for (const ModeSet& set : observation.sets) {
      if (set.shown_from.empty()) continue;
      double total = 0, below = 0;
      for (const ShownFrom& level : set.shown_from) total += level.weight;
      const auto median = std::find_if(
          set.shown_from.begin(), set.shown_from.end() - 1,
          [&](const ShownFrom& level) { return (below += level.weight) >= total / 2; });
      for (const std::uint32_t mode : set.modes) {
        Smallest& known = smallest[mode];
        if (known.modes == 0) touched.push_back(mode);
        if (known.modes == 0 || set.modes.size() < known.modes) {
          known = {set.modes.size(), median->size};
        } else if (set.modes.size() == known.modes) {
          for (std::size_t t = 0; t < 2; ++t) {
            known.size[t] = std::min(known.size[t], median->size[t]);
          }
        }
      }
    }
    for (const std::uint32_t mode : touched) {
      for (const double size : smallest[mode].size) {
        if (size > 0 && std::isfinite(size)) out[mode].push_back(size);
      }
      smallest[mode] = {};
    }
    touched.clear();
  }
  for (std::vector<double>& limits : out) std::sort(limits.begin(), limits.end());
  return out;
}

}  // namespace

std::vector<std::vector<double>> limits_of_modes(const circuit::Analysis& analysis) {
  std::vector<std::vector<double>> out = limits_in(analysis, false);
  std::vector<std::vector<double>> reported = limits_in(analysis, true);
  for (std::size_t m = 0; m < out.size(); ++m) {
    if (out[m].empty()) out[m] = std::move(reported[m]);
  }
  return out;
}

reading::EffectScale scale_of(const EffectLimits& limits) {
  using From = EffectLimits::Unit;
  using To = reading::EffectUnit;
  const To unit = limits.unit == From::ml_per_min    ? To::ml_per_min
                  : limits.unit == From::mm_per_min  ? To::mm_per_min
                  : limits.unit == From::rev_per_min ? To::rev_per_min
                                                     : To::percent;
  return {unit, limits.first, limits.second, limits.floor, limits.resolution};
}

std::vector<double> outcome_probabilities(const EffectLimits& limits, double low, double high) {
  const bool share = limits.unit == EffectLimits::Unit::percent;
  const double resolution =
      share && limits.resolution == 0 ? reading::kShareError : limits.resolution;
  const auto above = [&](double limit) {
    const auto reads_more = [&](double logarithm) {
      const double shown = std::exp(logarithm) + limits.floor;
      const double error = std::hypot(share ? 0 : reading::kRelativeError * shown, resolution);
      return upper_tail((limit - shown) / error);
    };
    // From one side of the limit to the other the integrand may be steep.
    const double from = std::log(low), to = std::log(high);
    const double steep = limit > limits.floor ? std::log(limit - limits.floor) : from;
    const double middle = std::clamp(steep, from, to);
    using Quadrature = boost::math::quadrature::gauss_kronrod<double, 31, MathPolicy>;
    double sum = 0;
    if (middle > from) sum += Quadrature::integrate(reads_more, from, middle, 12, 1e-12);
    if (middle < to) sum += Quadrature::integrate(reads_more, middle, to, 12, 1e-12);
    return sum / (to - from);
  };
  const double first = above(limits.first), second = std::min(first, above(limits.second));
  std::vector<double> out = {1 - first, first - second, second};
  for (double& p : out) p = (1 - kBlunder) * p + kBlunder * (1 - p) / 2;
  return out;
}

std::vector<std::vector<double>> outcome_matrix(const EffectLimits& limits) {
  const std::array<double, 4> ends = reading::class_ends(scale_of(limits));
  if (!(limits.first > 0 && limits.second > limits.first && ends[3] > limits.second &&
        limits.floor >= 0 && limits.resolution >= 0 && std::isfinite(ends[3]))) {
    throw Error(Code::internal, "the limits of an observation do not part its outcomes");
  }
  std::vector<std::vector<double>> rows;
  for (std::size_t s = 0; s < 3; ++s) {
    rows.push_back(outcome_probabilities(limits, ends[s], ends[s + 1]));
  }
  return rows;
}

void size_up(circuit::Analysis& analysis) {
  std::vector<bool> solved(analysis.modes.size(), false);
  for (const circuit::Observation& observation : analysis.observations) {
    for (const ModeSet& set : observation.sets) {
      if (set.shown_from.empty()) continue;
      for (const std::uint32_t mode : set.modes) solved[mode] = true;
    }
  }
  const std::vector<std::vector<double>> limits = limits_of_modes(analysis);
  for (std::size_t m = 0; m < analysis.modes.size(); ++m) {
    FailureMode& mode = analysis.modes[m];
    mode.states.clear();
    if (solved[m]) mode.states = mode_states(mode.size, mode.prior, limits[m]);
  }
  for (circuit::Observation& observation : analysis.observations) {
    check_stop();
    for (ModeSet& set : observation.sets) {
      set.link = {};
      if (set.shown_from.empty()) continue;
      std::vector<const FailureMode*> modes;
      for (const std::uint32_t mode : set.modes) modes.push_back(&analysis.modes[mode]);
      set.link = set_link(set.shown_from, modes);
    }
    if (!observation.limits || observation.matrix_is_own) continue;
    if (observation.outcomes.size() != 3) {
      throw Error(Code::internal, "'" + observation.id + "' has limits for three outcomes and " +
                                      std::to_string(observation.outcomes.size()) + " of them");
    }
    observation.matrix = outcome_matrix(*observation.limits);
  }
}

}  // namespace faultodds::diagnosis
