// One record of a work order as findings and evidence on a circuit. Learning from jobs is
// learning.cpp's.
#include <algorithm>
#include <set>

#include "core/diagnosis/said.h"
#include "core/error.h"
#include "core/quoted_text.h"
#include "core/reading/reading.h"
#include "core/reading/units.h"
#include "priors/learning.h"

namespace faultodds::priors {

namespace {

std::string_view next_part(std::string_view& text, char separator) {
  const std::size_t at = text.find(separator);
  std::string_view part = text.substr(0, at);
  text = at == std::string_view::npos ? std::string_view() : text.substr(at + 1);
  while (!part.empty() && part.front() == ' ') part.remove_prefix(1);
  while (!part.empty() && part.back() == ' ') part.remove_suffix(1);
  return part;
}

diagnosis::Evidence observed(std::string_view text, const circuit::Analysis& circuit,
                             const Job& job) {
  const std::size_t at = text.find('=');
  std::string_view id = text.substr(0, at);
  while (!id.empty() && id.back() == ' ') id.remove_suffix(1);
  std::string_view value = at == std::string_view::npos ? "" : text.substr(at + 1);
  while (!value.empty() && value.front() == ' ') value.remove_prefix(1);
  diagnosis::Evidence evidence;
  evidence.again = take_again(value);
  const auto found = std::find_if(circuit.observations.begin(), circuit.observations.end(),
                                  [&](const circuit::Observation& o) { return o.id == id; });
  if (found == circuit.observations.end()) {
    refuse_job(job, "observation '" + printable(id) + "' is not one of circuit " + circuit.id);
  }
  evidence.observation = static_cast<std::uint32_t>(found - circuit.observations.begin());
  if (value.empty()) return evidence;
  const auto outcome = std::find(found->outcomes.begin(), found->outcomes.end(), value);
  if (outcome != found->outcomes.end()) {
    evidence.outcome = static_cast<std::uint32_t>(outcome - found->outcomes.begin());
    return evidence;
  }
  try {
    reading::Reading taken;
    taken.leak_rate = reading::parse_quantity(value, reading::Dimension::flow);
    evidence.reading = taken;
  } catch (const Error&) {
    std::string expected;
    for (const std::string& name : found->outcomes) {
      expected += (expected.empty() ? "" : ", ") + name;
    }
    refuse_job(job, "outcome '" + printable(value) + "' of '" + printable(id) + "' is not one of " +
                        expected + ", nor a leak rate like 40 mL/min");
  }
  return evidence;
}

}  // namespace

void refuse_job(const Job& job, const std::string& message) {
  throw Error(Code::invalid_case, "work order " + job.id + ": " + message);
}

Job job_of(const WorkOrder& order, const Vocabulary& vocabulary, const circuit::Analysis& circuit,
           std::uint32_t circuit_index, std::string_view component) {
  if (component.empty()) component = order.position;
  Job job;
  job.id = std::string(order.id);
  job.asset = std::string(order.asset);
  job.site = std::string(order.site.empty() ? order.asset_class : order.site);
  job.circuit = circuit_index;
  job.opened = order.opened;
  job.closed = order.closed;
  job.minutes = order.minutes;
  job.orders = order.orders;
  diagnosis::Case seen;
  diagnosis::Said said;
  if (!order.complaint.empty()) {
    diagnosis::Evidence complaint = observed(order.complaint, circuit, job);
    job.complaint = complaint.observation;
    const circuit::Observation& symptom = circuit.observations[complaint.observation];
    if (!complaint.outcome && !complaint.reading) {
      // Only that it was not normal.
      std::array<double, 3> abnormal{};
      for (std::size_t s = 0; s < 3; ++s) {
        for (std::size_t b = 0; b < 3; ++b) {
          for (std::size_t k = 1; k < symptom.outcomes.size(); ++k) {
            abnormal[s] += symptom.background[b] * symptom.matrix[std::max(s, b)][k];
          }
        }
      }
      complaint.likelihood = abnormal;
    }
    said.add(seen, std::move(complaint));
  }
  std::string_view tests = order.tests;
  while (!tests.empty()) {
    const std::string_view test = next_part(tests, ';');
    if (test.empty()) continue;
    diagnosis::Evidence evidence = observed(test, circuit, job);
    if (!evidence.outcome && !evidence.reading) {
      refuse_job(job, "test '" + printable(test) + "' has no outcome");
    }
    said.add(seen, std::move(evidence));
  }
  job.evidence = std::move(seen.evidence);
  for (const auto& [observation, times] : seen.said_before) job.said_before += times;
  const Vocabulary::Type& type = vocabulary.types.at(order.type);
  const auto is_candidate = [&](const circuit::FailureMode& mode) {
    return std::any_of(order.modes.begin(), order.modes.end(),
                       [&](std::uint32_t m) { return type.modes[m].name == mode.name; });
  };
  Finding finding;
  finding.grade = order.grade;
  finding.confirmed = order.confirmed;
  std::set<std::string> components;
  for (std::uint32_t m = 0; m < circuit.modes.size(); ++m) {
    const circuit::FailureMode& mode = circuit.modes[m];
    if (mode.type != type.name || (!component.empty() && mode.component != component)) continue;
    components.insert(mode.component);
    if (is_candidate(mode)) {
      finding.modes.push_back(m);
    } else if (!component.empty()) {
      job.sound.push_back(m);
    }
  }
  if (components.empty()) {
    refuse_job(job, "component '" +
                        printable(component.empty() ? std::string_view(type.name) : component) +
                        "' is not one of circuit " + circuit.id);
  }
  if (!finding.modes.empty()) job.findings.push_back(std::move(finding));
  if (order.hours && !component.empty()) {
    job.component_hours[std::string(component)] = *order.hours;
  }
  return job;
}

void add_row(Job& job, const Job& row) {
  job.findings.insert(job.findings.end(), row.findings.begin(), row.findings.end());
  // Said in two rows, it is one fault.
  std::sort(job.findings.begin(), job.findings.end());
  const auto same = [](const Finding& a, const Finding& b) {
    return a == b && a.modes.size() == 1;
  };
  job.findings.erase(std::unique(job.findings.begin(), job.findings.end(), same),
                     job.findings.end());
  job.sound.insert(job.sound.end(), row.sound.begin(), row.sound.end());
  // Two rows may find different modes of one component: what one found bad the other did not find
  // sound.
  std::set<std::uint32_t> bad;
  for (const Finding& finding : job.findings)
    bad.insert(finding.modes.begin(), finding.modes.end());
  std::set<std::uint32_t> sound;
  for (std::uint32_t mode : job.sound) {
    if (!bad.contains(mode)) sound.insert(mode);
  }
  job.sound.assign(sound.begin(), sound.end());
  job.component_hours.insert(row.component_hours.begin(), row.component_hours.end());
}

}  // namespace faultodds::priors
