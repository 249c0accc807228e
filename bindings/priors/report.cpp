#include "bindings/priors/report.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <utility>
#include <vector>

#include "capi/documents/html_text.h"
#include "priors/estimators.h"

namespace faultodds_priors {
namespace {

using namespace faultodds::priors;
using faultodds::documents::escape_html;

std::string number(double value, int digits = 4) {
  char text[40];
  std::snprintf(text, sizeof text, "%.*g", digits, value);
  return text;
}

std::string fixed(double value) {
  char text[40];
  std::snprintf(text, sizeof text, "%.1f", value);
  return text;
}

std::string name_of(const PackKey& key) {
  std::string name = key.type + "." + key.mode;
  if (!key.asset_class.empty()) name += " [" + key.asset_class + "]";
  return escape_html(name);
}

std::string line(double x1, double y1, double x2, double y2, const char* style) {
  return "<line x1=\"" + fixed(x1) + "\" y1=\"" + fixed(y1) + "\" x2=\"" + fixed(x2) + "\" y2=\"" +
         fixed(y2) + "\" " + style + "/>";
}

std::string dot(double x, double y, double r, const char* colour) {
  return "<circle cx=\"" + fixed(x) + "\" cy=\"" + fixed(y) + "\" r=\"" + fixed(r) + "\" fill=\"" +
         colour + "\"/>";
}

std::string label(double x, double y, const std::string& text, const char* anchor = "start") {
  return "<text x=\"" + fixed(x) + "\" y=\"" + fixed(y) + "\" text-anchor=\"" + anchor + "\">" +
         text + "</text>";
}

std::string svg(double width, double height, const std::string& title, const std::string& body) {
  return "<svg role=\"img\" viewBox=\"0 0 " + fixed(width) + " " + fixed(height) + "\" width=\"" +
         fixed(width) + "\"><title>" + title + "</title>" + body + "</svg>\n";
}

constexpr const char* before_colour = "#999999";
constexpr const char* after_colour = "#0057a8";
constexpr const char* axis_style = "stroke=\"#cccccc\"";

// A mode's estimate over all classes stands beside those of its classes.
bool has_classes(const PriorPack& pack, const PackKey& key) {
  return std::any_of(pack.estimates.begin(), pack.estimates.end(), [&](const auto& entry) {
    return entry.first.type == key.type && entry.first.mode == key.mode &&
           !entry.first.asset_class.empty();
  });
}

// Probability on a logarithmic axis from 0.0001 to 1.
double across(double p, double left, double width) {
  const double log_p = std::log10(std::clamp(p, 1e-4, 1.0));
  return left + width * (log_p + 4) / 4;
}

std::string interval_plot(const ReportInput& input) {
  constexpr double left = 340, width = 460, row = 20;
  std::string body;
  double y = 30;
  for (int power = -4; power <= 0; ++power) {
    const double x = across(std::pow(10.0, power), left, width);
    body +=
        line(x, 20, x, 30 + row * static_cast<double>(input.after->estimates.size()), axis_style);
    body += label(x, 14, number(std::pow(10.0, power)), "middle");
  }
  const auto bar = [&](const Estimate& e, double at, const char* colour) {
    body += line(across(e.not_sound_interval.lower, left, width), at,
                 across(e.not_sound_interval.upper, left, width), at,
                 colour == before_colour ? "stroke=\"#999999\" stroke-width=\"2\""
                                         : "stroke=\"#0057a8\" stroke-width=\"2\"");
    body += dot(across(e.not_sound, left, width), at, 3.5, colour);
  };
  for (const auto& [key, e] : input.after->estimates) {
    body += label(0, y + 9, name_of(key));
    if (input.before != nullptr) {
      const auto old_entry = input.before->estimates.find(key);
      if (old_entry != input.before->estimates.end()) bar(old_entry->second, y + 2, before_colour);
    }
    bar(e, y + 8, after_colour);
    y += row;
  }
  return svg(left + width + 20, y + 10, "Probability of not being sound, 90 % intervals", body);
}

// Shares of what was found not sound, the commonest first.
std::string pareto_plot(const PriorPack& pack) {
  constexpr double left = 340, width = 460, row = 20;
  constexpr std::size_t most = 30;
  std::map<std::string, double> found;
  double total = 0;
  for (const auto& [key, e] : pack.estimates) {
    const double count = e.counts[1] + e.counts[2];
    if (!(count > 0) || (key.asset_class.empty() && has_classes(pack, key))) continue;
    found[escape_html(key.type + "." + key.mode)] += count;
    total += count;
  }
  if (!(total > 0)) return "<p>No fault was found in any record.</p>\n";
  std::vector<std::pair<std::string, double>> modes(found.begin(), found.end());
  std::stable_sort(modes.begin(), modes.end(),
                   [](const auto& a, const auto& b) { return a.second > b.second; });
  const std::size_t left_out = modes.size() > most ? modes.size() - most : 0;
  modes.resize(modes.size() - left_out);
  std::string body;
  double y = 10, so_far = 0;
  for (const auto& [name, count] : modes) {
    const Interval interval = estimate_probability(count, total).interval;
    so_far += count;
    const auto x_of = [&](double share) { return left + width * share; };
    body += label(0, y + 9, name + ", " + number(count, 3));
    body += label(x_of(interval.upper) + 6, y + 9, number(100 * so_far / total, 3) + " % so far");
    body +=
        line(x_of(0), y + 5, x_of(count / total), y + 5, "stroke=\"#0057a8\" stroke-width=\"8\"");
    body += line(x_of(interval.lower), y + 5, x_of(interval.upper), y + 5, "stroke=\"#222222\"");
    y += row;
  }
  for (int i = 0; i <= 4; ++i) {
    body = line(left + width * i / 4, 4, left + width * i / 4, y, axis_style) +
           label(left + width * i / 4, y + 14, number(25.0 * i) + " %", "middle") + body;
  }
  return svg(
      left + width + 30, y + 24,
      "Shares of the faults found, 90 % intervals" +
          (left_out == 0 ? std::string() : ", " + std::to_string(left_out) + " rarer left out"),
      body);
}

std::string shrinkage_plot(const PriorPack& pack) {
  constexpr double left = 340, width = 460, row = 20;
  std::string body;
  double y = 30;
  for (const auto& [key, e] : pack.estimates) {
    if (key.asset_class.empty() || !(e.jobs() > 0)) continue;
    const double raw = (e.counts[1] + e.counts[2]) / e.jobs();
    body += label(0, y + 8, name_of(key) + ", drawn " + number(100 * e.shrinkage, 2) + " %");
    body += line(across(raw, left, width), y + 4, across(e.not_sound, left, width), y + 4,
                 "stroke=\"#0057a8\"");
    body += dot(across(raw, left, width), y + 4, 3, before_colour);
    body += dot(across(e.not_sound, left, width), y + 4, 3.5, after_colour);
    y += row;
  }
  if (y <= 30) return "<p>No asset class has records of its own.</p>\n";
  for (int power = -4; power <= 0; ++power) {
    const double x = across(std::pow(10.0, power), left, width);
    body = line(x, 20, x, y, axis_style) + label(x, 14, number(std::pow(10.0, power)), "middle") +
           body;
  }
  return svg(left + width + 20, y + 10, "From each class's own share to its pooled value", body);
}

std::string wear_out_plot(const PackKey& key, const WearOutEstimate& wear_out,
                          const Statistics& statistics) {
  constexpr double left = 50, top = 20, width = 520, height = 220;
  std::vector<Life> lives;
  for (const auto& [of, type] : statistics.types) {
    if (of.type != key.type || (!key.asset_class.empty() && of.asset_class != key.asset_class)) {
      continue;
    }
    const auto mode = type.modes.find(key.mode);
    if (mode != type.modes.end()) {
      for (const Life& life : mode->second.lives()) {
        if (life.lower == life.upper || std::isinf(life.upper)) lives.push_back(life);
      }
    }
    for (const auto& [hours, count] : type.running.items()) {
      lives.push_back(Life::sound_at(hours, static_cast<double>(count)));
    }
  }
  const std::vector<SurvivalPoint> points = kaplan_meier(lives);
  const double longest = points.empty() ? wear_out.weibull.quantile(0.9) : points.back().hours;
  const auto x_of = [&](double hours) { return left + width * hours / longest; };
  const auto y_of = [&](double p) { return top + height * (1 - p); };
  std::string body;
  for (int i = 0; i <= 4; ++i) {
    body += line(left, y_of(i / 4.0), left + width, y_of(i / 4.0), axis_style);
    body += label(left - 6, y_of(i / 4.0) + 4, number(i / 4.0), "end");
    body += label(x_of(longest * i / 4), top + height + 16, number(longest * i / 4, 3) + " h",
                  "middle");
  }
  // At most some hundreds of marks, however many records there are.
  const std::size_t every = points.size() / 300 + 1;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!(points[i].failed > 0) || i % every != 0) continue;
    body += line(x_of(points[i].hours), y_of(1 - points[i].interval.lower), x_of(points[i].hours),
                 y_of(1 - points[i].interval.upper), "stroke=\"#bbbbbb\"");
    body += dot(x_of(points[i].hours), y_of(1 - points[i].survival), 2, before_colour);
  }
  std::string path = "<path fill=\"none\" stroke=\"#0057a8\" stroke-width=\"2\" d=\"";
  for (int i = 0; i <= 100; ++i) {
    const double hours = longest * i / 100;
    path +=
        (i == 0 ? "M" : "L") + fixed(x_of(hours)) + " " + fixed(y_of(wear_out.weibull.cdf(hours)));
  }
  body += path + "\"/>";
  return "<h3>" + name_of(key) + "</h3><p>shape " + number(wear_out.weibull.shape) + " (" +
         number(wear_out.shape_interval.lower) + " to " + number(wear_out.shape_interval.upper) +
         "), scale " + number(wear_out.weibull.scale) + " h (" +
         number(wear_out.scale_interval.lower) + " to " + number(wear_out.scale_interval.upper) +
         "), " + number(wear_out.failures, 9) + " not sound of " + number(wear_out.lives, 9) +
         " lives. Points: exact and still sound lives only.</p>" +
         svg(left + width + 40, top + height + 30, "Share no longer sound by hours", body);
}

std::string calibration_plot(const Backtest& backtest) {
  constexpr double left = 50, top = 20, size = 300;
  std::string body = line(left, top + size, left + size, top, axis_style);
  for (int i = 0; i <= 4; ++i) {
    const double p = i / 4.0;
    body += label(left - 6, top + size * (1 - p) + 4, number(p), "end");
    body += label(left + size * p, top + size + 16, number(p), "middle");
  }
  for (const CalibrationBin& bin : backtest.calibration) {
    const double x = left + size * bin.predicted;
    body += line(x, top + size * (1 - bin.interval.lower), x, top + size * (1 - bin.interval.upper),
                 "stroke=\"#0057a8\"");
    body += dot(x, top + size * (1 - bin.found), 3.5, after_colour);
  }
  return svg(left + size + 30, top + size + 30, "Share found not sound against the odds given",
             body);
}

std::string change_table(const ReportInput& input) {
  std::string rows;
  for (const Change& change : difference(*input.before, *input.after)) {
    rows += "<tr><td>" + name_of(change.key) + "</td><td>" +
            (change.before ? number(*change.before) : "-") + "</td><td>" +
            (change.after ? number(*change.after) + " (" + number(change.after_interval.lower) +
                                " to " + number(change.after_interval.upper) + ")"
                          : "-") +
            "</td><td>" + number(change.jobs_after - change.jobs_before, 9) + "</td><td>" +
            fixed(change.decibans) + " db</td><td>" + number(100 * change.sure, 3) +
            " %</td></tr>\n";
  }
  return "<table><tr><th>failure mode</th><th>before</th><th>after</th><th>jobs added</th>"
         "<th>change of odds</th><th>how sure</th></tr>\n" +
         rows + "</table>\n";
}

}  // namespace

std::string write_report(const ReportInput& input) {
  const PriorPack& pack = *input.after;
  std::string page =
      "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
      "style-src 'unsafe-inline'\"><title>Prior pack " +
      escape_html(pack.id) +
      "</title><style>body{font:14px sans-serif;margin:2em;max-width:60em}svg text{font:11px "
      "sans-serif}table{border-collapse:collapse}td,th{border:1px solid #ccc;padding:.2em .5em;"
      "text-align:left}</style></head><body>\n<h1>" +
      escape_html(pack.title.empty() ? pack.id : pack.title) + "</h1>\n";
  page +=
      "<h2>Records</h2><table><tr><th>source</th><th>rows used</th><th>rows rejected</th>"
      "<th>why</th><th>orders closed</th></tr>\n";
  for (const Source& source : pack.sources) {
    std::string reasons;
    for (const auto& [reason, rows] : source.rejected) {
      reasons += (reasons.empty() ? "" : ", ") + reason + " " + std::to_string(rows);
    }
    page += "<tr><td>" + escape_html(source.id + " " + source.title) + "</td><td>" +
            std::to_string(source.rows_used) + "</td><td>" + std::to_string(source.rows_rejected) +
            "</td><td>" + escape_html(reasons) + "</td><td>" +
            (source.first ? to_string(*source.first) : "") + " to " +
            (source.last ? to_string(*source.last) : "") + "</td></tr>\n";
  }
  page += "</table>\n";
  if (input.before != nullptr) page += "<h2>What changed</h2>\n" + change_table(input);
  page += "<h2>What fails most</h2>\n" + pareto_plot(pack);
  page += "<h2>Before (grey) and after (blue)</h2>\n" + interval_plot(input);
  page += "<h2>Shrinkage between asset classes</h2>\n" + shrinkage_plot(pack);
  page += "<h2>Wear-out</h2>\n";
  std::size_t curves = 0;
  for (const auto& [key, e] : pack.estimates) {
    if (e.wear_out && ++curves <= 60) page += wear_out_plot(key, *e.wear_out, pack.statistics);
  }
  if (curves == 0) page += "<p>No mode has enough failures with hours.</p>\n";
  if (input.backtest != nullptr) {
    const Backtest& b = *input.backtest;
    page += "<h2>Backtest</h2><p>" + std::to_string(b.jobs.size()) + " jobs replayed, " +
            std::to_string(b.left_out) + " left out. Log score " + number(b.log_score) +
            ", Brier score " + number(b.brier) + ", mean rank of the cause " + number(b.rank) +
            ", tests " + number(b.tests) + " (recorded order " + number(b.tests_recorded) +
            "), minutes " + number(b.minutes) + " (" + number(b.minutes_recorded) + ").</p>\n" +
            calibration_plot(b);
    if (input.comparison != nullptr) {
      page += "<p>Verdict: " + escape_html(input.comparison->because) + ".</p>\n";
    }
  }
  return page + "</body></html>\n";
}

}  // namespace faultodds_priors
