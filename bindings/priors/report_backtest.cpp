#include <algorithm>
#include <cmath>
#include <functional>

#include "bindings/priors/drawing.h"
#include "bindings/priors/report_parts.h"
#include "capi/documents/html_text.h"

namespace faultodds_priors {
namespace {

using namespace faultodds::priors;
using faultodds::documents::escape_html;

constexpr double kLeft = 60, kTop = 16, kRight = 600, kBottom = 260;

std::string axes(const Scale& x, const Scale& y, const std::string& below) {
  std::string body;
  for (const double at : x.ticks()) {
    body += line(x(at), kTop, x(at), kBottom, kAxisStyle);
    body += label(x(at), kBottom + 16, number(at), "middle");
  }
  for (const double at : y.ticks()) {
    body += line(kLeft, y(at), kRight, y(at), kAxisStyle);
    body += label(kLeft - 6, y(at) + 4, number(at), "end");
  }
  return body + label((kLeft + kRight) / 2, kBottom + 34, below, "middle");
}

// Share of the faults that are isolated after so many tests, or minutes; a replay that ends without
// isolating never is.
using Spent = std::function<double(const Replay&)>;

Places isolated_by(const Backtest& replayed, const Spent& spent, const Scale& x, const Scale& y) {
  std::vector<double> at;
  std::size_t causes = 0;
  for (const Replay& job : replayed.jobs) {
    if (!job.cause_found) continue;
    ++causes;
    if (job.isolated) at.push_back(spent(job));
  }
  std::sort(at.begin(), at.end());
  Places places{{x(0), y(0)}};
  double share = 0;
  for (std::size_t i = 0; i < at.size(); ++i) {
    if (i + 1 < at.size() && at[i + 1] == at[i]) continue;
    places.emplace_back(x(at[i]), y(share));
    share = static_cast<double>(i + 1) / static_cast<double>(causes);
    places.emplace_back(x(at[i]), y(share));
  }
  places.emplace_back(kRight, y(share));
  return places;
}

std::string isolation_plot(const Backtest* present, const Backtest& offered, const Spent& spent,
                           const Spent& recorded, const std::string& below) {
  double most = 1;
  for (const Replay& job : offered.jobs) {
    if (job.isolated) most = std::max({most, spent(job), recorded(job)});
  }
  const Scale x = Scale::even(0, most, kLeft, kRight), y = Scale::even(0, 1, kBottom, kTop);
  std::string body = axes(x, y, below);
  body += curve(isolated_by(offered, recorded, x, y), kDashed);
  if (present != nullptr) body += curve(isolated_by(*present, spent, x, y), kBeforeLine);
  body += curve(isolated_by(offered, spent, x, y), kAfterLine);
  return svg(kRight + 30, kBottom + 42, "Share of the faults isolated", body);
}

// How far the pack offered is ahead by its log score, job after job: a line that goes on falling.
std::string score_plot(const Backtest& present, const Backtest& offered) {
  double sum = 0, lowest = 0, highest = 0;
  std::vector<double> sums{0};
  for (std::size_t i = 0; i < std::min(present.jobs.size(), offered.jobs.size()); ++i) {
    sum += offered.jobs[i].log_score - present.jobs[i].log_score;
    lowest = std::min(lowest, sum);
    highest = std::max(highest, sum);
    sums.push_back(sum);
  }
  const Scale x = Scale::even(0, static_cast<double>(sums.size() - 1), kLeft, kRight);
  const Scale y = Scale::even(lowest, std::max(highest, lowest + 1e-6), kBottom, kTop);
  Places places;
  const std::size_t every = sums.size() / 600 + 1;
  for (std::size_t i = 0; i < sums.size(); ++i) {
    if (i % every != 0 && i + 1 != sums.size()) continue;
    places.emplace_back(x(static_cast<double>(i)), y(sums[i]));
  }
  return svg(kRight + 30, kBottom + 42, "Log score, offered less present, added up",
             axes(x, y, "jobs replayed, in order of time") +
                 line(kLeft, y(0), kRight, y(0), kBeforeLine) + curve(places, kAfterLine));
}

std::string calibration_plot(const Backtest* present, const Backtest& offered) {
  constexpr double size = 300, left = 60;
  const Scale x = Scale::even(0, 1, left, left + size), y = Scale::even(0, 1, kTop + size, kTop);
  std::string body = line(x(0), y(0), x(1), y(1), kAxisStyle);
  for (const double p : {0.0, 0.25, 0.5, 0.75, 1.0}) {
    body += label(left - 6, y(p) + 4, number(p), "end");
    body += label(x(p), kTop + size + 16, number(p), "middle");
  }
  const auto add = [&](const Backtest& replayed, const char* style, const char* colour) {
    for (const CalibrationBin& bin : replayed.calibration) {
      const double at = x(bin.predicted);
      body += line(at, y(bin.interval.lower), at, y(bin.interval.upper), style);
      body += dot(at, y(bin.found), 3.5, colour);
    }
  };
  if (present != nullptr) add(*present, "stroke=\"#8a8a8a\"", kBeforeColour);
  add(offered, "stroke=\"#0057a8\"", kAfterColour);
  return svg(left + size + 30, kTop + size + 30,
             "Share found not sound against the odds given, 90 % intervals", body);
}

std::string scores(const char* name, const Backtest& b) {
  return "<tr><td>" + std::string(name) + "</td><td>" + number(b.log_score) + "</td><td>" +
         number(b.brier) + "</td><td>" + number(b.rank) + "</td><td>" + number(b.tests) +
         "</td><td>" + number(b.minutes) + "</td><td>" + number(100 * b.isolated, 3) +
         " %</td></tr>\n";
}

}  // namespace

std::string backtest_part(const Backtest* present, const Backtest& offered,
                          const Comparison* comparison) {
  std::string part = "<h2>Backtest</h2><p>" + std::to_string(offered.jobs.size()) +
                     " jobs replayed, " + std::to_string(offered.left_out) + " left out.";
  if (comparison != nullptr) {
    part += " Verdict: " + escape_html(comparison->because) +
            ". Log score, offered less present: " + number(comparison->log_score.mean) + " (" +
            number(comparison->log_score.interval.lower) + " to " +
            number(comparison->log_score.interval.upper) + "); below 0 the pack offered is better.";
  }
  part +=
      "</p>\n<table><tr><th>pack</th><th>log score</th><th>Brier score</th><th>mean rank of the "
      "cause</th><th>tests</th><th>minutes</th><th>isolated</th></tr>\n";
  if (present != nullptr) part += scores("present", *present);
  part += scores("offered", offered) +
          "<tr><td>recorded order</td><td>-</td><td>-</td><td>-</td><td>" +
          number(offered.tests_recorded) + "</td><td>" + number(offered.minutes_recorded) +
          "</td><td>-</td></tr></table>\n";
  part +=
      "<h3>Faults isolated</h3><p>The pack offered (blue), the present one (grey), and the order "
      "in "
      "which the tests were made (dashed).</p>\n";
  part += isolation_plot(
      present, offered, [](const Replay& job) { return static_cast<double>(job.tests); },
      [](const Replay& job) { return static_cast<double>(job.tests_recorded); }, "tests");
  part += isolation_plot(
      present, offered, [](const Replay& job) { return job.minutes; },
      [](const Replay& job) { return job.minutes_recorded; }, "minutes");
  if (present != nullptr) {
    part +=
        "<h3>Log score in order of time</h3><p>Offered less present, added up: where it falls, the "
        "pack offered gives better odds.</p>\n" +
        score_plot(*present, offered);
  }
  return part + "<h3>Calibration</h3>\n" + calibration_plot(present, offered);
}

}  // namespace faultodds_priors
