#include "priors/life_plot.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

#include "core/error.h"
#include "core/stop.h"
#include "priors/generator.h"

namespace faultodds::priors {
namespace {

bool all_known(const std::vector<Life>& lives) {
  return std::all_of(lives.begin(), lives.end(),
                     [](const Life& life) { return life.exact() || life.right_censored(); });
}

bool any_late(const std::vector<Life>& lives) {
  return std::any_of(lives.begin(), lives.end(), [](const Life& life) { return life.entry > 0; });
}

std::vector<PlotPoint> median_ranks(const std::vector<Life>& lives) {
  std::map<double, std::pair<double, double>> ages;  // failed, still sound
  double total = 0;
  for (const Life& life : lives) {
    auto& [failed, sound] = ages[life.lower];
    (life.right_censored() ? sound : failed) += life.count;
    total += life.count;
  }
  const auto rank = [total](double order) { return (order - 0.3) / (total + 0.4); };
  std::vector<PlotPoint> points;
  double order = 0, at_risk = total;
  for (const auto& [hours, ended] : ages) {
    const auto& [failed, sound] = ended;
    if (failed > 0) {
      // After k of them: n + 1 - order falls by (1 + at risk - k) / (1 + at risk).
      const double to_go = total + 1 - order;
      const double first = order + to_go / (1 + at_risk);
      order += to_go * failed / (1 + at_risk);
      points.push_back(
          {hours, failed, rank(failed > 1 ? (first + order) / 2 : order), rank(order)});
    }
    at_risk -= failed + sound;
  }
  return points;
}

std::vector<PlotPoint> product_limit_ranks(const std::vector<Life>& lives) {
  std::vector<PlotPoint> points;
  double survival = 1;
  for (const SurvivalPoint& point : kaplan_meier(lives)) {
    if (point.failed > 0 && point.hours > 0) {
      points.push_back(
          {point.hours, point.failed, 1 - (survival + point.survival) / 2, 1 - point.survival});
    }
    survival = point.survival;
  }
  return points;
}

std::vector<PlotPoint> turnbull_ranks(const std::vector<Life>& lives) {
  double total = 0;
  for (const Life& life : lives) total += life.count;
  std::vector<PlotPoint> points;
  double before = 0;
  for (const Mass& mass : turnbull(lives)) {
    const double after = before + mass.probability;
    const double plotted = mass.lower == mass.upper ? (before + after) / 2 : after;
    if (mass.probability > 1e-7 && plotted < 1 - 1e-6 && std::isfinite(mass.upper)) {
      points.push_back({mass.upper, mass.probability * total, plotted, after});
    }
    before = after;
  }
  return points;
}

// The ends of lives in order. At one age an exact age begins, then intervals up to it end, then
// those after it begin.
struct End {
  double hours = 0;
  int kind = 0;  // 0: begins, with the age; 1: ends; 2: begins, after the age
  bool operator<(const End& other) const {
    return hours != other.hours ? hours < other.hours : kind < other.kind;
  }
};

End begin_of(const Life& life) { return {life.lower, life.exact() ? 0 : 2}; }
End end_of(const Life& life) { return {life.upper, 1}; }

// The cells that can hold probability, and for each life, and each entry, those that it spans.
struct TurnbullCells {
  std::vector<Mass> masses;
  std::vector<std::pair<std::size_t, std::size_t>> life, after_entry;  // first, one past the last
};

TurnbullCells cells_of(const std::vector<Life>& lives) {
  std::vector<End> ends;
  for (const Life& life : lives) {
    ends.push_back(begin_of(life));
    ends.push_back(end_of(life));
    if (life.entry > 0) ends.push_back({life.entry, 2});
  }
  std::sort(ends.begin(), ends.end());
  TurnbullCells cells;
  std::vector<End> begins;
  for (std::size_t i = 0; i + 1 < ends.size(); ++i) {
    if (ends[i].kind == 1 || ends[i + 1].kind != 1) continue;
    cells.masses.push_back({ends[i].hours, ends[i + 1].hours, 0});
    begins.push_back(ends[i]);
  }
  const auto first_from = [&](const End& begin) {
    return static_cast<std::size_t>(std::lower_bound(begins.begin(), begins.end(), begin) -
                                    begins.begin());
  };
  for (const Life& life : lives) {
    const std::size_t first = first_from(begin_of(life));
    const std::size_t past = first_from({life.upper, 2});
    cells.life.emplace_back(first, std::max(past, first));
    cells.after_entry.emplace_back(life.entry > 0 ? first_from({life.entry, 2}) : 0,
                                   cells.masses.size());
  }
  return cells;
}

// One step of expectation-maximisation on probabilities of cells.
std::vector<double> step(const std::vector<Life>& lives, const TurnbullCells& cells,
                         const std::vector<double>& before) {
  const std::size_t count = before.size();
  std::vector<double> up_to(count + 1, 0);
  for (std::size_t c = 0; c < count; ++c) up_to[c + 1] = up_to[c] + before[c];
  std::vector<double> slope(count + 1, 0);  // weight of a cell, as differences along the cells
  const auto add = [&](std::size_t first, std::size_t past, double weight) {
    slope[first] += weight;
    slope[past] -= weight;
  };
  for (std::size_t i = 0; i < lives.size(); ++i) {
    const auto [first, past] = cells.life[i];
    const double within = up_to[past] - up_to[first];
    if (within > 0) add(first, past, lives[i].count / within);
    const std::size_t entered = cells.after_entry[i].first;
    const double seen = up_to[count] - up_to[entered];
    // For each life seen, those that ended before they would have been.
    if (entered > 0 && seen > 0) add(0, entered, lives[i].count / seen);
  }
  std::vector<double> after(count, 0);
  double weight = 0, total = 0;
  for (std::size_t c = 0; c < count; ++c) {
    weight += slope[c];
    total += after[c] = before[c] * std::max(weight, 0.0);
  }
  for (double& p : after) p /= total;
  return after;
}

double anderson_darling(const std::vector<PlotPoint>& points, const Weibull& line) {
  // Between neighbours F holds the empirical F_n of the one before; beyond the last it ends at
  // 1 - 1e-12.
  double sum = 0, total = 0, z_before = 0, rank_before = 0;
  const auto add = [&](double z) {
    const double log_sound = std::log1p(-z), log_before = std::log1p(-z_before);
    const double logs = rank_before > 0 ? std::log(z) - std::log(z_before) : 0;
    sum += -z - log_sound + z_before + log_before + 2 * rank_before * (log_sound - log_before) +
           rank_before * rank_before * (logs - log_sound + log_before);
  };
  constexpr double almost_one = 1 - 1e-12;
  for (const PlotPoint& point : points) {
    const double z = std::min(line.cdf(point.hours), almost_one);
    add(z);
    z_before = z;
    rank_before = point.last;
    total += point.failed;
  }
  add(almost_one);
  return total * sum;
}

// When watch ended, drawn from the Kaplan-Meier curve of that; beyond its last step: never.
class EndOfWatch {
 public:
  explicit EndOfWatch(const std::vector<Life>& lives) {
    std::vector<Life> turned;
    for (const Life& life : lives) {
      turned.push_back(life.right_censored() ? Life::failed_at(life.lower, life.count)
                                             : Life::sound_at(life.lower, life.count));
    }
    points_ = kaplan_meier(turned);
  }
  double draw(Random& random) const {
    const double u = random.uniform();
    for (const SurvivalPoint& point : points_) {
      if (point.survival <= u) return point.hours;
    }
    return std::numeric_limits<double>::infinity();
  }

 private:
  std::vector<SurvivalPoint> points_;
};

std::optional<double> share_further_off(const std::vector<Life>& lives, const Weibull& line,
                                        double statistic) {
  constexpr int samples = 199;
  constexpr std::size_t most_lives = 1000;
  double total = 0;
  for (const Life& life : lives) total += life.count;
  const std::size_t count = static_cast<std::size_t>(total + 0.5);
  if (count > most_lives) return std::nullopt;
  const EndOfWatch end_of_watch(lives);
  Random random(count);
  int further = 1, made = 1;
  for (int i = 0; i < samples; ++i) {
    check_stop();
    std::vector<Life> drawn;
    for (std::size_t j = 0; j < count; ++j) {
      const double life = line.quantile(random.uniform()), end = end_of_watch.draw(random);
      if (!(life > 0) || !(end > 0)) continue;
      drawn.push_back(life <= end ? Life::failed_at(life) : Life::sound_at(end));
    }
    try {
      const WeibullFit fit = fit_weibull(drawn);
      ++made;
      further += anderson_darling(median_ranks(drawn), fit.weibull) >= statistic ? 1 : 0;
    } catch (const Error& error) {  // too few failures among them for a line
      if (error.code() != Code::invalid_argument) throw;
    }
  }
  return static_cast<double>(further) / made;
}

}  // namespace

LifePlot life_plot(const std::vector<Life>& lives) {
  if (!all_known(lives)) return {Ranks::turnbull, turnbull_ranks(lives)};
  if (any_late(lives)) return {Ranks::kaplan_meier, product_limit_ranks(lives)};
  return {Ranks::median, median_ranks(lives)};
}

std::vector<Mass> turnbull(const std::vector<Life>& lives) {
  constexpr int most_steps = 20'000;
  constexpr double still = 1e-9;
  const TurnbullCells cells = cells_of(lives);
  std::vector<double> now(cells.masses.size(), 1.0 / static_cast<double>(cells.masses.size()));
  for (int i = 0; i < most_steps; ++i) {
    check_stop();
    std::vector<double> next = step(lives, cells, now);
    double moved = 0;
    for (std::size_t c = 0; c < now.size(); ++c) {
      moved = std::max(moved, std::abs(next[c] - now[c]));
    }
    now = std::move(next);
    if (moved < still) break;
  }
  std::vector<Mass> masses = cells.masses;
  for (std::size_t c = 0; c < masses.size(); ++c) masses[c].probability = now[c];
  return masses;
}

Interval weibull_band(const WeibullFit& fit, double hours, double level) {
  if (!(hours > 0)) return {0, 0};
  const double shape = fit.weibull.shape;
  const double z = shape * (std::log(hours) - std::log(fit.weibull.scale));
  // By ln shape and ln scale: dz = z d ln shape - shape d ln scale.
  const double variance = z * z * fit.shape_variance - 2 * z * shape * fit.covariance +
                          shape * shape * fit.scale_variance;
  const double half = normal_quantile((1 + level) / 2) * std::sqrt(std::max(variance, 0.0));
  const auto probability = [](double at) { return -std::expm1(-std::exp(at)); };
  return {probability(z - half), probability(z + half)};
}

std::optional<GoodnessOfFit> goodness_of_fit(const std::vector<Life>& lives,
                                             const WeibullFit& fit) {
  if (!all_known(lives) || any_late(lives) || fit.failures < 3) return std::nullopt;
  GoodnessOfFit found;
  found.anderson_darling = anderson_darling(median_ranks(lives), fit.weibull);
  found.p = share_further_off(lives, fit.weibull, found.anderson_darling);
  return found;
}

}  // namespace faultodds::priors
