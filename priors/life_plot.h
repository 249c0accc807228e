// What a Weibull plot of lives is drawn from: where each failure is plotted, whatever the lives are
// censored by, the band around a fitted line, and how well the line fits. The fit itself is
// wear_out.h's; nothing here is used for estimates.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "priors/wear_out.h"

namespace faultodds::priors {

struct PlotPoint {
  double hours = 0;
  double failed = 0;
  double probability = 0;  // of having failed by `hours`, where it is plotted
  double last = 0;         // that of the last where several failed at once
};

enum class Ranks {
  // Failures and lives still sound: median ranks (i - 0.3) / (n + 0.4) (A. Benard and E. C.
  // Bos-Levenbach 1953) of order numbers adjusted for what is still sound (L. G. Johnson 1964):
  // each failure adds (n + 1 - the number before) / (1 + lives at its age and beyond).
  median,
  // Some came under watch late: half way up the steps of the Kaplan-Meier curve (W. Q. Meeker and
  // L. A. Escobar, Statistical Methods for Reliability Data, 1998, 6.4).
  kaplan_meier,
  // Some failed between two ages, or before one: the distribution that makes the lives likeliest,
  // plotted half way up the steps at a known age, at the end of an interval else (not at 1, which
  // has no place on the paper).
  turnbull,
};

struct LifePlot {
  Ranks ranks = Ranks::median;
  std::vector<PlotPoint> points;  // ascending hours; failures after the last known age are left out
};

// Throws Error(invalid_argument) where a life is impossible.
LifePlot life_plot(const std::vector<Life>& lives);

// Where lives end, by nonparametric maximum likelihood: probability within (lower, upper], or at
// lower == upper. B. W. Turnbull 1976, by expectation-maximisation with its ghosts for late entry;
// ends where no probability moves by more than 1e-9, or after 20,000 steps.
struct Mass {
  double lower = 0, upper = 0;
  double probability = 0;
};
std::vector<Mass> turnbull(const std::vector<Life>& lives);

// Of F(hours): normal on shape (ln hours - ln scale) by the curvature (W. Nelson, Applied Life Data
// Analysis, 1982, 8.5; Fisher's information as observed).
Interval weibull_band(const WeibullFit& fit, double hours, double level = credible_level);

struct GoodnessOfFit {
  // Anderson and Darling's statistic adjusted for censoring by the plotted ranks (R. B. D'Agostino
  // and M. A. Stephens, Goodness-of-Fit Techniques, 1986, 4.2, with median ranks for the empirical
  // distribution, as the trade's programs do).
  double anderson_darling = 0;
  // Share of samples from the fitted line, each fitted itself, that are further off. Lives end
  // their watch in them at ages drawn from those at which it ended here (Kaplan-Meier). None beyond
  // 1,000 lives.
  std::optional<double> p;
};

// None unless all lives are failures and lives still sound, none of them late, 3 failures at least.
std::optional<GoodnessOfFit> goodness_of_fit(const std::vector<Life>& lives, const WeibullFit& fit);

}  // namespace faultodds::priors
