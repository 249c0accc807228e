#include "priors/work_order_rows.h"

#include <map>
#include <set>
#include <vector>

#include "core/reading/units.h"
#include "priors/csv.h"

namespace faultodds::priors {
namespace {

// `id=outcome`, `id=40 mL/min`, or nothing.
std::string named(const diagnosis::Evidence& evidence, const circuit::Analysis& circuit) {
  const circuit::Observation& observation = circuit.observations[evidence.observation];
  if (evidence.outcome) return observation.id + "=" + observation.outcomes[*evidence.outcome];
  if (evidence.reading && evidence.reading->leak_rate) {
    return observation.id + "=" + reading::format_leak_rate(*evidence.reading->leak_rate);
  }
  return "";
}

struct Row {
  std::string finding, grade;
};

}  // namespace

std::string work_order_header() {
  return "work_order,line,opened,closed,asset,asset_class,circuit,component,position,finding,"
         "grade,hours,minutes,complaint,tests\r\n";
}

std::string work_order_rows(const Job& job, const circuit::Analysis& circuit,
                            std::string_view asset_class, std::string_view asset) {
  std::string complaint, tests;
  std::set<std::string> said;
  for (const diagnosis::Evidence& e : job.evidence) {
    std::string text = named(e, circuit);
    if (text.empty()) continue;
    // The job has once what was said once: what was seen at another time, or again, has to say so.
    if (!said.insert(text).second) text += " again";
    if (job.complaint == e.observation && complaint.empty()) {
      complaint = text;
    } else {
      tests += (tests.empty() ? "" : "; ") + text;
    }
  }
  std::map<std::size_t, std::vector<Row>> rows;  // by component
  for (std::uint32_t m : job.sound) rows[circuit.modes[m].component_index];
  static const char* const grades[] = {"sound", "worn", "failed"};
  for (const Finding& finding : job.findings) {
    const circuit::FailureMode& mode = circuit.modes[finding.modes[0]];
    rows[mode.component_index].push_back(
        {finding.modes.size() > 1 ? "UNK" : mode.name,
         finding.grade ? grades[static_cast<std::size_t>(*finding.grade)] : ""});
  }
  std::string text;
  int line = 0;
  for (auto& [index, found] : rows) {
    if (found.empty()) found.push_back({"none", ""});
    const circuit::Component& component = circuit.components[index];
    const auto hours = job.component_hours.find(component.id);
    for (const Row& row : found) {
      const std::string fields[] = {
          csv_field(job.id),
          std::to_string(++line),
          job.opened ? to_string(*job.opened) : "",
          to_string(job.closed),
          csv_field(asset),
          csv_field(asset_class),
          csv_field(circuit.id),
          csv_field(component.type),
          csv_field(component.id),
          row.finding,
          row.grade,
          hours == job.component_hours.end() ? "" : reading::format_number(hours->second, 9),
          job.minutes ? reading::format_number(*job.minutes, 9) : "",
          csv_field(complaint),
          csv_field(tests)};
      for (const std::string& field : fields) {
        if (&field != fields) text += ',';
        text += field;
      }
      text += "\r\n";
    }
  }
  return text;
}

}  // namespace faultodds::priors
