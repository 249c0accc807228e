#include "bindings/priors/report.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>
#include <vector>

#include "bindings/priors/drawing.h"
#include "bindings/priors/report_parts.h"
#include "capi/documents/html_text.h"
#include "priors/estimators.h"

namespace faultodds_priors {
namespace {

using namespace faultodds::priors;
using faultodds::documents::escape_html;

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

// What was believed before: by the other pack, or where it says nothing by this one's judgement.
std::pair<double, Interval> before_of(const PriorPack* before, const PackKey& key,
                                      const Estimate& after) {
  if (before != nullptr) {
    const auto entry = before->estimates.find(key);
    if (entry != before->estimates.end()) {
      return {entry->second.not_sound, entry->second.not_sound_interval};
    }
  }
  const Beta sound = after.prior.marginal(0);
  return {1 - sound.mean(), Beta{sound.beta, sound.alpha}.interval()};
}

std::string interval_plot(const ReportInput& input) {
  constexpr double left = 340, width = 460, row = 20;
  std::string body;
  double y = 30;
  std::size_t left_out = 0;
  const auto bar = [&](const std::pair<double, Interval>& not_sound, double at, const char* style,
                       const char* colour) {
    body += line(across(not_sound.second.lower, left, width), at,
                 across(not_sound.second.upper, left, width), at, style);
    body += dot(across(not_sound.first, left, width), at, 3.5, colour);
  };
  for (const auto& [key, e] : input.after->estimates) {
    const auto before = before_of(input.before, key, e);
    if (!(e.jobs() > 0) && before.first == e.not_sound) {
      ++left_out;
      continue;
    }
    body += label(0, y + 9, name_of(key));
    bar(before, y + 2, kBeforeLine, kBeforeColour);
    bar({e.not_sound, e.not_sound_interval}, y + 8, kAfterLine, kAfterColour);
    y += row;
  }
  if (y <= 30) return "<p>No mode has moved.</p>\n";
  for (int power = -4; power <= 0; ++power) {
    const double x = across(std::pow(10.0, power), left, width);
    body = line(x, 20, x, y, kAxisStyle) + label(x, 14, number(std::pow(10.0, power)), "middle") +
           body;
  }
  return svg(left + width + 20, y + 10, "Probability of not being sound, 90 % intervals", body) +
         "<p>" + std::to_string(left_out) +
         " entries that no record says anything of are left out. What stands at the left edge is "
         "0.0001 or less.</p>\n";
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
    body = line(left + width * i / 4, 4, left + width * i / 4, y, kAxisStyle) +
           label(left + width * i / 4, y + 14, number(25.0 * i) + " %", "middle") + body;
  }
  return svg(
      left + width + 30, y + 24,
      "Shares of the faults found, 90 % intervals" +
          (left_out == 0 ? std::string() : ", " + std::to_string(left_out) + " rarer left out"),
      body);
}

std::string shrinkage_plot(const PriorPack& pack) {
  constexpr double left = 400, width = 400, row = 20;
  std::string body;
  double y = 30;
  for (const auto& [key, e] : pack.estimates) {
    if (key.asset_class.empty() || !(e.jobs() > 0)) continue;
    const double raw = (e.counts[1] + e.counts[2]) / e.jobs();
    body += label(0, y + 8, name_of(key) + ", drawn " + number(100 * e.shrinkage, 3) + " %");
    body += line(across(raw, left, width), y + 4, across(e.not_sound, left, width), y + 4,
                 "stroke=\"#0057a8\"");
    body += dot(across(raw, left, width), y + 4, 3, kBeforeColour);
    body += dot(across(e.not_sound, left, width), y + 4, 3.5, kAfterColour);
    y += row;
  }
  if (y <= 30) return "<p>No asset class has records of its own.</p>\n";
  for (int power = -4; power <= 0; ++power) {
    const double x = across(std::pow(10.0, power), left, width);
    body = line(x, 20, x, y, kAxisStyle) + label(x, 14, number(std::pow(10.0, power)), "middle") +
           body;
  }
  return svg(left + width + 20, y + 10, "From each class's own share to its pooled value", body);
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
            (change.before && change.after
                 ? fixed(change.decibans) + " db</td><td>" + number(100 * change.sure, 3) + " %"
                 : "-</td><td>-") +
            "</td></tr>\n";
  }
  return "<table><tr><th>failure mode</th><th>before</th><th>after</th><th>jobs added</th>"
         "<th>change of odds</th><th>how sure</th></tr>\n" +
         rows + "</table>\n";
}

std::string section(const char* id, const std::string& part) {
  return "<section id=\"" + std::string(id) + "\">\n" + part + "</section>\n";
}

std::string sources_part(const PriorPack& pack) {
  std::string part =
      "<h2>Records</h2><table><tr><th>source</th><th>rows used</th><th>rows rejected</th>"
      "<th>why</th><th>orders closed</th></tr>\n";
  for (const Source& source : pack.sources) {
    std::string reasons;
    for (const auto& [reason, rows] : source.rejected) {
      reasons += (reasons.empty() ? "" : ", ") + reason + " " + std::to_string(rows);
    }
    part += "<tr><td>" + escape_html(source.id + " " + source.title) + "</td><td>" +
            std::to_string(source.rows_used) + "</td><td>" + std::to_string(source.rows_rejected) +
            "</td><td>" + escape_html(reasons) + "</td><td>" +
            (source.first ? to_string(*source.first) : "") + " to " +
            (source.last ? to_string(*source.last) : "") + "</td></tr>\n";
  }
  return part + "</table>\n";
}

}  // namespace

std::string name_of(const PackKey& key) {
  std::string name = key.type + "." + key.mode;
  if (!key.asset_class.empty()) name += " [" + key.asset_class + "]";
  return escape_html(name);
}

std::string write_report(const ReportInput& input) {
  const PriorPack& pack = *input.after;
  std::string page =
      "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
      "style-src 'unsafe-inline'\"><meta name=\"viewport\" "
      "content=\"width=device-width\"><title>Prior pack " +
      escape_html(pack.id) +
      "</title><style>body{font:14px/1.4 sans-serif;margin:2em auto;padding:0 1em;max-width:60em}"
      "svg{max-width:100%;height:auto}svg text{font:11px sans-serif}"
      "table{border-collapse:collapse}td,th{border:1px solid #ccc;padding:.2em .5em;"
      "text-align:left;vertical-align:top}.warn{border-left:4px solid #b34700;padding-left:.6em}"
      "h2{border-bottom:1px solid "
      "#ccc;margin-top:1.6em}section{overflow-x:auto}</style></head><body><main>\n<h1>" +
      escape_html(pack.title.empty() ? pack.id : pack.title) + "</h1>\n";
  page += section("fails", "<h2>What fails most</h2>\n" + pareto_plot(pack));
  page +=
      section("posterior", "<h2>Prior (grey) and posterior (blue)</h2>\n" + interval_plot(input));
  page += section("lives", lives_part(pack));
  if (input.records != nullptr) page += section("machines", machines_part(*input.records));
  if (input.offered != nullptr) {
    page += section("backtest", backtest_part(input.present, *input.offered, input.comparison));
  }
  page += section("shrinkage", "<h2>Shrinkage between asset classes</h2>\n" + shrinkage_plot(pack));
  page += section("quality", quality_part(pack, input.records));
  if (input.before != nullptr) {
    page += section("changed", "<h2>What changed</h2>\n" + change_table(input));
  }
  page += section("records", sources_part(pack)) + "</main>";
  return page + "</body></html>\n";
}

}  // namespace faultodds_priors
