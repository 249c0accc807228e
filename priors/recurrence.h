// Failures that come again: how many a machine has had by an age, and whether they come ever faster
// or ever slower. Mean cumulative function with intervals, Laplace's and the Military Handbook's
// test of trend, the power law (Crow-AMSAA) and how well it fits. What a machine's failures and its
// time under watch are is made of records in machine_histories.h; lives of parts are wear_out.h's.
#pragma once

#include <cstddef>
#include <vector>

#include "priors/distributions.h"

namespace faultodds::priors {

// One machine: under watch after `from` up to `to`, in any one unit, with its failures in between.
struct Watched {
  double from = 0, to = 0;
  std::vector<double> events;
  bool operator==(const Watched&) const = default;
};

struct MeanCumulativePoint {
  double at = 0;
  double at_risk = 0, events = 0;  // machines under watch then, and failures then
  double mean = 0;                 // failures per machine up to and with `at`
  double variance = 0;             // of that mean
  Interval interval;               // on the logarithm: mean * exp(+-z sqrt(variance) / mean)
};

// W. Nelson, Recurrent Events Data Analysis, 2003: the sum of failures over machines under watch,
//   M(t) = sum over t_i <= t of d_i / r_i,
// whatever process they come from. Its variance holds for machines that differ in rate (J. Lawless
// and C. Nadeau 1995; W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data,
// 1998, 16.2):
//   V(t) = sum over machines j of (sum over t_i <= t, j under watch, of (d_ij - d_i / r_i) /
//   r_i)^2.
// Empty where nothing failed. Throws Error(invalid_argument) where `to` is not after `from` or a
// failure is not after `from` and up to `to`.
std::vector<MeanCumulativePoint> mean_cumulative(const std::vector<Watched>& machines,
                                                 double level = credible_level);

// Both tests take each machine's number of failures as given, so that machines may differ in rate:
// without trend they lie anywhere between `from` and `to` alike (H. Ascher and H. Feingold,
// Repairable Systems Reliability, 1984, ch. 5; J. T. Kvaloy and B. H. Lindqvist 1998).
struct Trend {
  std::size_t events = 0, machines = 0;  // machines: with a failure
  // P.-S. Laplace: (sum t - sum (from + to) / 2) / sqrt(sum (to - from)^2 / 12) over all failures,
  // standard normal; above 0 they come faster.
  double laplace = 0, laplace_p = 1;
  // MIL-HDBK-189C: 2 sum ln((to - from) / (t - from)), chi-squared with 2 degrees for each failure;
  // few where they come faster.
  double handbook = 0, handbook_p = 1;
  // Power law: failures by t grow as (t - from)^shape; above 1 they come faster. L. H. Crow 1974:
  // shape = events / sum ln((to - from) / (t - from)), and 2 events true / estimated is chi-squared
  // with 2 events degrees, given each machine's number of failures.
  double shape = 1;
  Interval shape_interval;  // 90 %
  // Cramer-von Mises (MIL-HDBK-189C): 1 / 12 M + sum ((i - 0.5) / M - z_i)^2 over the failures in
  // order of z = ((t - from) / (to - from))^s, s = (M - 1) / M shape. Large where the power law
  // does not fit; p from 4,999 samples of M uniform numbers, of 500 at most.
  double cramer_von_mises = 0, fit_p = 1;
};

// p two-sided. Throws as mean_cumulative, and where fewer than 3 failures are there.
Trend trend_of(const std::vector<Watched>& machines);

}  // namespace faultodds::priors
