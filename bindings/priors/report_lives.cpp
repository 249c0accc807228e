#include <algorithm>
#include <cmath>

#include "bindings/priors/drawing.h"
#include "bindings/priors/report_parts.h"
#include "core/error.h"
#include "priors/life_plot.h"

namespace faultodds_priors {
namespace {

using namespace faultodds::priors;

std::vector<Life> lives_of(const PackKey& key, const Statistics& statistics) {
  std::vector<Life> lives;
  for (const auto& [of, type] : statistics.types) {
    if (of.type != key.type || (!key.asset_class.empty() && of.asset_class != key.asset_class)) {
      continue;
    }
    const auto mode = type.modes.find(key.mode);
    if (mode != type.modes.end()) {
      const std::vector<Life> found = mode->second.lives();
      lives.insert(lives.end(), found.begin(), found.end());
    }
    for (const auto& [hours, count] : type.running.items()) {
      lives.push_back(Life::sound_at(hours, static_cast<double>(count)));
    }
  }
  return lives;
}

// The line of greatest likelihood, where the lives have one.
std::optional<WeibullFit> line_through(const std::vector<Life>& lives) {
  try {
    return fit_weibull(lives);
  } catch (const faultodds::Error& error) {
    if (error.code() != faultodds::Code::invalid_argument) throw;
    return std::nullopt;
  }
}

// On Weibull paper a probability stands at ln(-ln(1 - p)), and lives of one Weibull on a line.
double paper(double probability) { return std::log(-std::log1p(-probability)); }

struct Paper {
  Scale hours, probability;
  double left, right, top, bottom;

  double x(double at) const { return hours(at); }
  double y(double p) const { return probability(paper(std::clamp(p, 1e-9, 1 - 1e-9))); }
};

Paper paper_for(const std::vector<PlotPoint>& points, const Weibull& believed) {
  double first = believed.quantile(0.05), last = believed.quantile(0.6), least = 0.02, most = 0.6;
  if (!points.empty()) {
    first = points.front().hours;
    last = points.back().hours;
    least = points.front().probability;
    most = points.back().probability;
  }
  least = std::clamp(least / 3, 1e-6, 0.05);
  most = std::clamp(1.5 * most, 0.632, 0.999);
  constexpr double left = 60, right = 600, top = 16, bottom = 300;
  return {Scale::logarithmic(first / 1.6, std::max(last * 1.6, first * 4), left, right),
          Scale::even(paper(least), paper(most), bottom, top),
          left,
          right,
          top,
          bottom};
}

std::string grid(const Paper& on) {
  std::string body;
  for (const double p :
       {1e-6, 1e-5, 1e-4, 0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.632, 0.9, 0.99, 0.999}) {
    const double y = on.y(p);
    if (p != 0.632 && (y <= on.top || y >= on.bottom)) continue;
    body += line(on.left, y, on.right, y, kAxisStyle);
    body += label(on.left - 6, y + 4, number(100 * p, 3) + " %", "end");
  }
  for (const double hours : on.hours.ticks()) {
    body += line(on.x(hours), on.top, on.x(hours), on.bottom, kAxisStyle);
    body += label(on.x(hours), on.bottom + 16, hours_text(hours), "middle");
  }
  return body + label((on.left + on.right) / 2, on.bottom + 34, "hours", "middle");
}

// A Weibull's line, as far as the paper goes.
std::string line_on(const Paper& on, const Weibull& weibull, const char* style) {
  constexpr int steps = 60;
  Places places;
  for (int i = 0; i <= steps; ++i) {
    const double x = on.left + (on.right - on.left) * i / steps;
    const double y = on.y(weibull.cdf(on.hours.value_at(x)));
    if (y > on.top && y < on.bottom) places.emplace_back(x, y);
  }
  return curve(places, style);
}

std::string band_on(const Paper& on, const WeibullFit& fit) {
  constexpr int steps = 60;
  Places lower, upper;
  for (int i = 0; i <= steps; ++i) {
    const double x = on.left + (on.right - on.left) * i / steps;
    const Interval band = weibull_band(fit, on.hours.value_at(x));
    lower.emplace_back(x, on.y(band.lower));
    upper.emplace_back(x, on.y(band.upper));
  }
  return area(lower, upper);
}

std::string drawn(const std::vector<PlotPoint>& points, const std::optional<WeibullFit>& fit,
                  const Weibull& believed) {
  const Paper on = paper_for(points, believed);
  std::string body = (fit ? band_on(on, *fit) : "") + grid(on);
  if (fit) body += line_on(on, fit->weibull, kAfterLine);
  body += line_on(on, believed, kDashed);
  // At most some hundreds of marks, however many records there are.
  const std::size_t every = points.size() / 300 + 1;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (i % every != 0 && i + 1 != points.size()) continue;
    body += dot(on.x(points[i].hours), on.y(points[i].probability), 3, "#222222");
  }
  return svg(on.right + 30, on.bottom + 42, "Weibull plot: share no longer sound by hours", body);
}

const char* ranks_in_words(Ranks ranks) {
  switch (ranks) {
    case Ranks::median:
      return "median ranks, adjusted for lives still sound";
    case Ranks::kaplan_meier:
      return "Kaplan-Meier ranks, as some came under watch late";
    case Ranks::turnbull:
      return "Turnbull's ranks, as some failed between two inspections";
  }
  return "";
}

std::string fit_in_words(const std::vector<Life>& lives, const std::optional<WeibullFit>& fit) {
  if (!fit) return "The lives alone have no line of greatest likelihood.";
  std::string words = "Line: shape " + number(fit->weibull.shape) + ", scale " +
                      hours_text(fit->weibull.scale) +
                      " h, by greatest likelihood of the lives alone, "
                      "90 % band.";
  const auto good = goodness_of_fit(lives, *fit);
  if (!good) return words + " Goodness of fit: told by the eye alone, with lives such as these.";
  words += " Goodness of fit: Anderson-Darling " + number(good->anderson_darling);
  if (!good->p) return words + ", no p for so many lives.";
  return words + ", p " + number(*good->p, 2) +
         (*good->p < 0.05 ? ": <b>a Weibull line does not fit</b>; several causes in one mode?"
                          : ": a Weibull line fits.");
}

std::string plot_of(const PackKey& key, const WearOutEstimate& believed,
                    const Statistics& statistics) {
  const std::vector<Life> lives = lives_of(key, statistics);
  const LifePlot plot = life_plot(lives);
  const std::optional<WeibullFit> fit = line_through(lives);
  return "<h3>" + name_of(key) + "</h3><p>shape " + number(believed.weibull.shape) + " (" +
         number(believed.shape_interval.lower) + " to " + number(believed.shape_interval.upper) +
         "), scale " + hours_text(believed.weibull.scale) + " h (" +
         hours_text(believed.scale_interval.lower) + " to " +
         hours_text(believed.scale_interval.upper) + "), " + number(believed.failures, 9) +
         " not sound of " + number(believed.lives, 9) +
         " lives: what the pack holds, judgement included (dashed). " + fit_in_words(lives, fit) +
         " Points: " + ranks_in_words(plot.ranks) + ".</p>\n" +
         drawn(plot.points, fit, believed.weibull);
}

}  // namespace

std::string lives_part(const PriorPack& pack) {
  constexpr std::size_t most = 60;
  std::string part = "<h2>Weibull plots</h2>\n";
  std::size_t plots = 0, left_out = 0;
  for (const auto& [key, e] : pack.estimates) {
    if (!e.wear_out) continue;
    if (plots == most) {
      ++left_out;
      continue;
    }
    ++plots;
    part += plot_of(key, *e.wear_out, pack.statistics);
  }
  if (plots == 0) part += "<p>No mode has enough failures with hours.</p>\n";
  if (left_out > 0) part += "<p>" + std::to_string(left_out) + " further plots left out.</p>\n";
  return part;
}

}  // namespace faultodds_priors
