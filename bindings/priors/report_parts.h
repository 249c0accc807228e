// The parts of the report that are of one subject each: lives, machines, the backtest. Each is
// written as HTML with its heading. What is drawn is computed in priors/; report.cpp puts the page
// together.
#pragma once

#include <string>

#include "bindings/priors/records_seen.h"
#include "priors/backtest.h"
#include "priors/pack.h"

namespace faultodds_priors {

// Of a mode in an asset class, escaped.
std::string name_of(const faultodds::priors::PackKey& key);

// Weibull plots of what wears out.
std::string lives_part(const faultodds::priors::PriorPack& pack);

// Mean cumulative functions by asset class, and whether faults come faster.
std::string machines_part(const RecordsSeen& records);

// How often records say what learning needs; `records` may be null.
std::string quality_part(const faultodds::priors::PriorPack& pack, const RecordsSeen* records);

// `present` and `comparison` may be null.
std::string backtest_part(const faultodds::priors::Backtest* present,
                          const faultodds::priors::Backtest& offered,
                          const faultodds::priors::Comparison* comparison);

}  // namespace faultodds_priors
