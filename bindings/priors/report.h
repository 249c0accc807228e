// One self-contained HTML page on a learned pack and its records: what fails most, prior and
// posterior with intervals, shrinkage, Weibull plots, faults per machine and their trend, the
// backtest and its calibration, how good the records are. Plots are SVG; there are no scripts and
// nothing is fetched. Every text from records or documents is escaped.
#pragma once

#include <string>

#include "bindings/priors/records_seen.h"
#include "priors/backtest.h"
#include "priors/pack.h"

namespace faultodds_priors {

struct ReportInput {
  const faultodds::priors::PriorPack* after = nullptr;
  // Any of these may be null.
  const faultodds::priors::PriorPack* before = nullptr;
  const RecordsSeen* records = nullptr;
  const faultodds::priors::Backtest* present = nullptr;  // of the pack before
  const faultodds::priors::Backtest* offered = nullptr;  // of the pack after
  const faultodds::priors::Comparison* comparison = nullptr;
};

std::string write_report(const ReportInput& input);

}  // namespace faultodds_priors
