// Empirical Bayes: what classes of machines have in common and how far each is drawn towards it.
// The spread between classes is fitted by maximum marginal likelihood (NUREG/CR-6823 section 8.2);
// each class's estimate is then a conjugate update. Intervals carry the uncertainty of the fitted
// spread to first order (Kass & Steffey 1989). No regression on properties of the classes.
#pragma once

#include <string>
#include <vector>

#include "priors/distributions.h"

namespace faultodds::priors {

// Events of one class in its exposure; for probabilities, failures in its demands.
struct ClassCounts {
  std::string name;
  double events = 0;
  double exposure = 0;
};

struct PooledClass {
  std::string name;
  double events = 0, exposure = 0;
  double raw = 0;        // events / exposure; 0 without exposure
  double mean = 0;       // after pooling, the spread taken as fitted
  double shrinkage = 0;  // 0: stands by itself, 1: takes the common value
  Interval interval;     // at the level asked for, uncertainty of the spread included
};

struct PooledRates {
  Gamma between;                 // spread of the rates of classes
  double log_likelihood = 0;     // marginal, at the maximum
  bool no_spread_found = false;  // classes differ no more than chance: one common rate
  std::vector<PooledClass> classes;
};

struct PooledProbabilities {
  Beta between;
  double log_likelihood = 0;
  bool no_spread_found = false;
  std::vector<PooledClass> classes;
};

// Logarithm of the probability of all counts given the spread between classes.
double log_marginal_likelihood(const std::vector<ClassCounts>& classes, const Gamma& between);
double log_marginal_likelihood(const std::vector<ClassCounts>& classes, const Beta& between);

// Two classes or more, with at least one event in all (and, for probabilities, one without).
// Throws Error(invalid_argument) that names the class at fault.
PooledRates pool_rates(const std::vector<ClassCounts>& classes, double level = credible_level);
PooledProbabilities pool_probabilities(const std::vector<ClassCounts>& classes,
                                       double level = credible_level);

}  // namespace faultodds::priors
