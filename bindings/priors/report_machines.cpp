#include <algorithm>
#include <cmath>

#include "bindings/priors/drawing.h"
#include "bindings/priors/report_parts.h"
#include "capi/documents/html_text.h"
#include "priors/recurrence.h"

namespace faultodds_priors {
namespace {

using namespace faultodds::priors;
using faultodds::documents::escape_html;

constexpr double kSignificant = 0.05;

std::string plural(std::size_t count, const char* one) {
  return std::to_string(count) + " " + one + (count == 1 ? "" : "s");
}

std::size_t faults_of(const ClassHistory& history) {
  std::size_t faults = 0;
  for (const Watched& machine : history.machines) faults += machine.events.size();
  return faults;
}

// Faults per machine by t under the power law: as many in all as there were.
double power_law(const std::vector<Watched>& machines, const Trend& trend, double t) {
  double all = 0;
  for (const Watched& machine : machines) all += std::pow(machine.to - machine.from, trend.shape);
  return static_cast<double>(trend.events) / all * std::pow(t, trend.shape);
}

std::string plot_of(const ClassHistory& history, const std::optional<Trend>& trend) {
  constexpr double left = 60, right = 600, top = 16, bottom = 260;
  const std::vector<MeanCumulativePoint> points = mean_cumulative(history.machines);
  double days = 0, highest = 0;
  for (const Watched& machine : history.machines) days = std::max(days, machine.to);
  for (const MeanCumulativePoint& point : points) {
    // The last few machines under watch say little, and their interval would dwarf the rest.
    if (point.at_risk >= 3 || highest == 0) highest = std::max(highest, point.interval.upper);
    highest = std::max(highest, 1.2 * point.mean);
  }
  const Scale x = Scale::even(0, days, left, right), y = Scale::even(0, highest, bottom, top);
  std::string body;
  Places lower, upper, mean;
  mean.emplace_back(x(0), y(0));
  double low = 0, high = 0, before = 0;
  const auto step_to = [&](double at, double to_low, double to_high, double to_mean) {
    lower.emplace_back(x(at), y(low));
    lower.emplace_back(x(at), y(to_low));
    upper.emplace_back(x(at), y(high));
    upper.emplace_back(x(at), y(to_high));
    mean.emplace_back(x(at), y(before));
    mean.emplace_back(x(at), y(to_mean));
    low = to_low;
    high = to_high;
    before = to_mean;
  };
  // At most some hundreds of steps, however many days there are.
  const std::size_t every = points.size() / 400 + 1;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (i % every != 0 && i + 1 != points.size()) continue;
    step_to(points[i].at, points[i].interval.lower, points[i].interval.upper, points[i].mean);
  }
  step_to(days, low, high, before);
  body += area(lower, upper);
  for (const double at : x.ticks()) {
    body += line(x(at), top, x(at), bottom, kAxisStyle);
    body += label(x(at), bottom + 16, number(at), "middle");
  }
  for (const double at : y.ticks()) {
    body += line(left, y(at), right, y(at), kAxisStyle);
    body += label(left - 6, y(at) + 4, number(at), "end");
  }
  body += curve(mean, kAfterLine);
  if (trend) {
    Places law;
    for (int i = 0; i <= 60; ++i) {
      const double at = days * i / 60;
      law.emplace_back(x(at), y(power_law(history.machines, *trend, at)));
    }
    body += curve(law, kDashed);
  }
  body += label((left + right) / 2, bottom + 34, "days since a machine came under watch", "middle");
  return svg(right + 30, bottom + 42, "Mean cumulative function: faults per machine", body);
}

std::string trend_in_words(const Trend& trend) {
  const bool laplace = trend.laplace_p < kSignificant, handbook = trend.handbook_p < kSignificant;
  std::string words = laplace && handbook   ? (trend.laplace > 0 ? "<b>Faults come faster</b>"
                                                                 : "<b>Faults come more slowly</b>")
                      : laplace || handbook ? "The tests of trend do not agree"
                                            : "No trend can be told";
  words += ": Laplace " + number(trend.laplace, 3) + ", p " + number(trend.laplace_p, 2) +
           "; Military Handbook " + number(trend.handbook, 4) + " of " +
           std::to_string(2 * trend.events) + " degrees, p " + number(trend.handbook_p, 2) +
           ". Power law (Crow-AMSAA, dashed): shape " + number(trend.shape, 3) + " (" +
           number(trend.shape_interval.lower, 3) + " to " + number(trend.shape_interval.upper, 3) +
           "), Cramer-von Mises " + number(trend.cramer_von_mises, 3) + ", p " +
           number(trend.fit_p, 2);
  return words + (trend.fit_p < kSignificant ? ": it does not fit." : ": it fits.");
}

std::string class_part(const ClassHistory& history) {
  const std::size_t faults = faults_of(history);
  std::string part =
      "<h3>" +
      (history.asset_class.empty() ? "Without an asset class" : escape_html(history.asset_class)) +
      "</h3><p>" + plural(history.machines.size(), "machine") + ", " + plural(faults, "fault") +
      ".";
  if (history.without_days > 0) {
    part += " Of " + plural(history.without_days, "machine") +
            " no exposure says when it was under watch: taken as from the first to the last day of "
            "the orders.";
  }
  if (history.outside > 0) {
    part += " " + plural(history.outside, "fault") + " outside the days under watch left out.";
  }
  if (faults == 0) return part + "</p>\n";
  std::optional<Trend> trend;
  if (faults >= 3) trend = trend_of(history.machines);
  part += trend ? " " + trend_in_words(*trend) : " Too few faults for a test of trend.";
  return part + "</p>\n" + plot_of(history, trend);
}

}  // namespace

std::string machines_part(const RecordsSeen& records) {
  constexpr std::size_t most = 40;
  std::string part = "<h2>Faults per machine, by asset class</h2>\n";
  std::vector<ClassHistory> classes = records.histories.classes();
  std::stable_sort(classes.begin(), classes.end(),
                   [](const auto& a, const auto& b) { return faults_of(a) > faults_of(b); });
  if (classes.empty()) return part + "<p>No order names a machine (asset).</p>\n";
  if (!records.histories.any_days()) {
    part +=
        "<p class=\"warn\">No exposure says which machines were under watch (asset, from, to): "
        "those "
        "that never failed are not among these, so that the curves lie too high.</p>\n";
  }
  if (records.histories.without_asset() > 0) {
    part += "<p>" + std::to_string(records.histories.without_asset()) +
            " orders with a fault name no machine and are left out.</p>\n";
  }
  if (records.histories.too_many() > 0) {
    part += "<p>" + std::to_string(records.histories.too_many()) +
            " further faults were too many to keep and are left out.</p>\n";
  }
  for (std::size_t i = 0; i < classes.size() && i < most; ++i) part += class_part(classes[i]);
  if (classes.size() > most) {
    part += "<p>" + std::to_string(classes.size() - most) +
            " classes with fewer faults left out.</p>\n";
  }
  return part;
}

}  // namespace faultodds_priors
