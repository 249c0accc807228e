#include "bindings/priors/drawing.h"
#include "bindings/priors/report_parts.h"
#include "capi/documents/html_text.h"

namespace faultodds_priors {
namespace {

using namespace faultodds::priors;
using faultodds::documents::escape_html;

struct Totals {
  double sound = 0, not_sound = 0, ungraded = 0, ambiguous = 0, with_hours = 0, between = 0;
  double running = 0, hours = 0, in_service = 0;
};

Totals totals_of(const Statistics& statistics) {
  Totals totals;
  for (const auto& [key, type] : statistics.types) {
    for (const auto& [name, mode] : type.modes) {
      std::uint64_t between = 0;
      for (const auto& [hours, count] : mode.between) between += count;
      totals.sound += static_cast<double>(mode.sound);
      totals.not_sound += static_cast<double>(mode.worn + mode.failed + mode.ungraded);
      totals.ungraded += static_cast<double>(mode.ungraded);
      totals.between += static_cast<double>(between);
      totals.with_hours +=
          static_cast<double>(mode.failed_at.total() + mode.worn_before.total() + between);
    }
    for (const auto& [candidates, counts] : type.ambiguous) {
      totals.ambiguous += static_cast<double>(counts.worn + counts.failed + counts.ungraded);
      totals.ungraded += static_cast<double>(counts.ungraded);
    }
    totals.running += static_cast<double>(type.running.total());
    totals.in_service += static_cast<double>(type.in_service);
    totals.hours += static_cast<double>(type.centihours) / 100;
  }
  return totals;
}

std::string row(const std::string& what, const std::string& share, const std::string& for_what) {
  return "<tr><td>" + what + "</td><td>" + share + "</td><td>" + for_what + "</td></tr>\n";
}

std::string share_of(double part, double whole) {
  if (!(whole > 0)) return "-";
  return number(part, 9) + " of " + number(whole, 9) + ", " + number(100 * part / whole, 3) + " %";
}

std::string pack_rows(const Totals& totals) {
  const double findings = totals.not_sound + totals.ambiguous;
  return row("Findings with the hours of the part", share_of(totals.with_hours, totals.not_sound),
             "wear-out") +
         row("Findings with the hours when last seen sound",
             share_of(totals.between, totals.not_sound), "wear-out, sharper") +
         row("Findings with a grade, worn or failed",
             share_of(findings - totals.ungraded, findings), "how bad it is when it is found") +
         row("Findings of one mode", share_of(totals.not_sound, findings),
             "the others are shared out by what else is known") +
         row("Modes found sound for each found not sound",
             findings > 0 ? number(totals.sound / findings, 3) : "-",
             "how likely a fault is at all; 0 tells nothing of it") +
         row("Parts in service", number(totals.in_service, 9), "exposure") +
         row("Hours run by them", number(totals.hours, 9), "rates per hour") +
         row("Parts whose age is known", number(totals.running, 9),
             "wear-out: what has not failed yet");
}

std::string records_rows(const RecordsSeen& seen) {
  const double findings = static_cast<double>(seen.findings);
  const double rows = static_cast<double>(seen.orders.used);
  const auto share = [](std::uint64_t part, double whole) {
    return share_of(static_cast<double>(part), whole);
  };
  const auto confirmed = seen.orders.confirmed_share();
  return row("Rows used", share(seen.orders.used, static_cast<double>(seen.orders.rows)), "all") +
         row("Findings with the machine", share(seen.with_asset, findings),
             "faults per machine, the verdict of a backtest") +
         row("Findings that somebody looked at",
             confirmed ? number(100 * *confirmed, 3) + " % of those of which it is recorded"
                       : "not recorded",
             "what is booked as proposed proves the proposals right") +
         row("Rows with a complaint", share(seen.with_complaint, rows),
             "backtest, learning through the circuit") +
         row("Rows with tests", share(seen.with_tests, rows), "likewise");
}

std::string refusals(const RecordsSeen& seen) {
  if (seen.rejected.empty()) return "<p>No row was refused.</p>\n";
  std::string table =
      "<h3>Rows refused</h3><table><tr><th>why</th><th>rows</th><th>for example</th></tr>\n";
  for (const auto& [reason, examples] : seen.rejected) {
    std::uint64_t rows = seen.orders.rejected[static_cast<std::size_t>(reason)];
    if (seen.exposure) rows += seen.exposure->rejected[static_cast<std::size_t>(reason)];
    std::string shown;
    for (const std::string& example : examples) {
      shown += (shown.empty() ? "" : "<br>") + escape_html(example);
    }
    table += row(name_of(reason), std::to_string(rows), shown);
  }
  return table + "</table>\n";
}

}  // namespace

std::string quality_part(const PriorPack& pack, const RecordsSeen* records) {
  std::string part =
      "<h2>Quality of the records</h2>\n<table><tr><th>what learning needs</th><th>there is</th>"
      "<th>what for</th></tr>\n";
  if (records != nullptr) part += records_rows(*records);
  part += pack_rows(totals_of(pack.statistics)) + "</table>\n";
  if (records != nullptr) part += refusals(*records);
  return part;
}

}  // namespace faultodds_priors
