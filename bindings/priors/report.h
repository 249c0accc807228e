// One self-contained HTML page on a learned pack: what fails most, prior before and after with
// intervals, shrinkage, wear-out curves with Kaplan-Meier points, calibration, where the records
// came from. Plots are SVG; there are no scripts and nothing is fetched. Every text from records or
// documents is escaped.
#pragma once

#include <optional>
#include <string>

#include "priors/backtest.h"
#include "priors/pack.h"

namespace faultodds_priors {

struct ReportInput {
  const faultodds::priors::PriorPack* before = nullptr;  // may be null
  const faultodds::priors::PriorPack* after = nullptr;
  const faultodds::priors::Backtest* backtest = nullptr;  // of the pack after; may be null
  const faultodds::priors::Comparison* comparison = nullptr;
};

std::string write_report(const ReportInput& input);

}  // namespace faultodds_priors
