#include "capi/documents/closing.h"

#include <algorithm>
#include <charconv>
#include <optional>
#include <set>
#include <tuple>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/fields.h"
#include "capi/documents/json_text.h"
#include "core/circuit/names.h"
#include "core/diagnosis/evidence.h"
#include "core/reading/units.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using circuit::Analysis;
using diagnosis::Evidence;
using priors::Date;

constexpr double kMillilitresPerMinute = 1e-6 / 60;  // m3/s
constexpr double kMost = 1e9;                        // of a quantity, a cost

Date date_of(const std::string& text, const Place& place) {
  int part[3] = {0, 0, 0};
  const char* at = text.data();
  const char* const end = at + text.size();
  bool good = text.size() == 10 && text[4] == '-' && text[7] == '-';
  for (int i = 0; good && i < 3; ++i) {
    const auto [next, error] = std::from_chars(at, end, part[i]);
    good = error == std::errc() && (next == end || *next == '-') && part[i] > 0;
    at = next == end ? end : next + 1;
  }
  const auto date = good ? priors::make_date(part[0], part[1], part[2]) : std::nullopt;
  if (!date) {
    refuse(place,
           place.name() + " is " + in_backticks(text) + "; expected a day such as `2026-03-31`");
  }
  return *date;
}

// The modes of a component stand together.
std::vector<std::uint32_t> modes_of(std::uint32_t component, const Analysis& analysis) {
  const auto& all = analysis.modes;
  auto at = std::lower_bound(all.begin(), all.end(), component,
                             [](const circuit::FailureMode& mode, std::uint32_t index) {
                               return mode.component_index < index;
                             });
  std::vector<std::uint32_t> modes;
  for (; at != all.end() && at->component_index == component; ++at) {
    modes.push_back(static_cast<std::uint32_t>(at - all.begin()));
  }
  return modes;
}

// `{component, mode, grade}`; without `mode` it was not sound, no more is known.
priors::Finding read_finding(const Fields& fields, std::uint32_t component,
                             const Analysis& analysis) {
  priors::Finding finding;
  finding.modes = modes_of(component, analysis);
  if (finding.modes.empty()) {
    refuse(fields.at("component"),
           "component " + in_backticks(analysis.components[component].id) +
               " has no failure modes; expected one that has",
           Code::invalid_case);
  }
  if (fields.has("mode")) {
    const std::string name = fields.text("mode");
    std::vector<std::string> names;
    for (std::uint32_t m : finding.modes) names.push_back(analysis.modes[m].name);
    const auto at = std::find(names.begin(), names.end(), name);
    if (at == names.end()) {
      refuse(fields.at("mode"),
             "unknown failure mode " + in_backticks(name) +
                 circuit::expected(name, names, "failure modes"),
             Code::invalid_case);
    }
    finding.modes = {finding.modes[static_cast<std::size_t>(at - names.begin())]};
  }
  if (fields.has("grade")) {
    const std::string grade = fields.text("grade");
    if (grade != "worn" && grade != "failed") {
      refuse(fields.at("grade"),
             "`grade` is " + in_backticks(grade) + "; expected `worn` or `failed`");
    }
    finding.grade = grade == "worn" ? 1 : 2;
  }
  return finding;
}

void read_found(const Json& list, const Place& place, const diagnosis::Model& model,
                std::set<std::uint32_t>& opened, priors::Job& job) {
  const Analysis& analysis = model.analysis();
  std::set<std::uint32_t> bad;
  const auto& items = list_of(list, place, "what was found");
  for (std::size_t i = 0; i < items.size(); ++i) {
    check_stop();
    const Place here = place.item(i);
    const Fields fields(items[i], here, "a finding", {"component", "mode", "grade"});
    const std::uint32_t component =
        find_component(fields.text("component"), fields.at("component"), model);
    priors::Finding finding = read_finding(fields, component, analysis);
    for (std::uint32_t m : finding.modes) {
      if (!bad.insert(m).second) {
        refuse(here, "failure mode " + in_backticks(analysis.modes[m].id) +
                         " was found before in this list; expected each once");
      }
    }
    opened.insert(component);
    job.findings.push_back(std::move(finding));
  }
  for (std::uint32_t component : opened) {
    for (std::uint32_t m : modes_of(component, analysis)) {
      if (bad.count(m) == 0) job.sound.push_back(m);
    }
  }
  std::sort(job.findings.begin(), job.findings.end());
}

void read_sound(const Json& list, const Place& place, const diagnosis::Model& model,
                std::set<std::uint32_t>& opened, priors::Job& job) {
  const Analysis& analysis = model.analysis();
  const std::vector<std::string> ids = texts_of(list, place);
  for (std::size_t i = 0; i < ids.size(); ++i) {
    check_stop();
    const Place here = place.item(i);
    const std::uint32_t component = find_component(ids[i], here, model);
    if (!opened.insert(component).second) {
      refuse(here, "component " + in_backticks(ids[i]) +
                       " was found before, faulty or sound; expected each once");
    }
    for (std::uint32_t m : modes_of(component, analysis)) job.sound.push_back(m);
  }
}

std::vector<PartUsed> read_parts_used(const Json& list, const Place& place,
                                      const diagnosis::Model& model) {
  std::vector<PartUsed> parts;
  const auto& items = list_of(list, place, "parts used");
  for (std::size_t i = 0; i < items.size(); ++i) {
    check_stop();
    const Place here = place.item(i);
    const Fields fields(items[i], here, "a part used", {"component", "part", "quantity", "cost"});
    PartUsed part;
    part.component = find_component(fields.text("component"), fields.at("component"), model);
    part.part = fields.text("part", "");
    part.quantity = fields.number("quantity", 0, kMost).value_or(1);
    part.cost = fields.number("cost", 0, kMost);
    parts.push_back(std::move(part));
  }
  return parts;
}

// Evidence as a record can hold it: an outcome, or a reading as its leak rate. A reading under its
// detection limit and a flow reading become the outcome that their likeliest grade shows most.
std::optional<Evidence> recorded(const Evidence& seen, const circuit::Observation& observation) {
  Evidence record;
  record.observation = seen.observation;
  record.outcome = seen.outcome;
  if (seen.outcome) return record;
  if (!seen.reading) return std::nullopt;
  const reading::Setting setting = diagnosis::setting_of(observation);
  const reading::LeakRate rate = reading::leak_rate(*seen.reading, setting);
  if (!rate.censored && !setting.flow_test) {
    record.reading.emplace();
    record.reading->leak_rate = rate.value * kMillilitresPerMinute;
    return record;
  }
  double scale = 0;
  Messages warnings;  // said where the case was assessed
  const auto likelihood = diagnosis::likelihood_of(observation, *seen.reading, &scale, &warnings);
  const auto grade = std::max_element(likelihood.begin(), likelihood.end()) - likelihood.begin();
  const std::vector<double>& row = observation.matrix[static_cast<std::size_t>(grade)];
  record.outcome =
      static_cast<std::uint32_t>(std::max_element(row.begin(), row.end()) - row.begin());
  return record;
}

// What was seen of the machine as it came in, the first abnormal symptom as the complaint.
void take_evidence(diagnosis::Case the_case, const diagnosis::Model& model, priors::Job& job) {
  the_case.repairs.clear();
  std::erase_if(the_case.evidence, [](const Evidence& e) { return e.repairs_before > 0; });
  const std::vector<std::uint32_t> complaints = diagnosis::read_case(model, the_case).complaint;
  check_stop();
  for (const Evidence& seen : the_case.evidence) {
    auto record = recorded(seen, model.analysis().observations[seen.observation]);
    if (!record) continue;
    if (!job.complaint &&
        std::find(complaints.begin(), complaints.end(), seen.observation) != complaints.end()) {
      job.complaint = seen.observation;
    }
    job.evidence.push_back(std::move(*record));
  }
  job.component_hours = the_case.component_hours;
}

// With `again` where the job has the same before it: it was seen more than once.
void write_seen(JsonText& out, const Evidence& seen, bool again, const Analysis& analysis) {
  const circuit::Observation& observation = analysis.observations[seen.observation];
  out.begin_object().member("observation", observation.id);
  if (seen.outcome) {
    out.member("outcome", observation.outcomes[*seen.outcome]);
  } else {
    out.member("leak_rate", reading::format_leak_rate(*seen.reading->leak_rate));
  }
  if (again) out.member("again", true);
  out.end_object();
}

}  // namespace

Closing read_closing(const Json& closing, const Json& case_document,
                     const diagnosis::Model& model) {
  Closing result;
  try {
    const Asset asset = read_asset(case_document);
    result.asset = asset.id;
    result.asset_class = asset.asset_class;
    diagnosis::Case the_case = read_case(case_document, model);
    result.not_possible = the_case.not_possible;
    take_evidence(std::move(the_case), model, result.job);
  } catch (const Error& error) {
    throw Error(error.code(), error.what(), "/case" + error.pointer());
  }
  const Place place;
  const Fields fields(
      closing, place, "a closing document",
      {"format", "work_order", "opened", "closed", "found", "sound", "parts", "minutes", "note"});
  fields.check_format("faultodds-closing/1");
  priors::Job& job = result.job;
  job.id = fields.text("work_order");
  if (job.id.empty()) {
    refuse(fields.at("work_order"), "`work_order` is empty; expected the order's number or name");
  }
  job.closed = date_of(fields.text("closed"), fields.at("closed"));
  if (fields.has("opened")) {
    job.opened = date_of(fields.text("opened"), fields.at("opened"));
    if (*job.opened > job.closed) {
      refuse(fields.at("opened"), "`opened` is after `closed`; expected a day before it, or it");
    }
  }
  std::set<std::uint32_t> opened;
  if (const Json* found = fields.find("found")) {
    read_found(*found, fields.at("found"), model, opened, job);
  }
  if (const Json* sound = fields.find("sound")) {
    read_sound(*sound, fields.at("sound"), model, opened, job);
  }
  std::sort(job.sound.begin(), job.sound.end());
  if (const Json* parts = fields.find("parts")) {
    result.parts = read_parts_used(*parts, fields.at("parts"), model);
  }
  job.minutes = fields.minutes("minutes");
  result.note = fields.text("note", "");
  return result;
}

std::string write_record(const Closing& closing, const diagnosis::Model& model) {
  const Analysis& analysis = model.analysis();
  const priors::Job& job = closing.job;
  JsonText out;
  out.begin_object().member("format", "faultodds-record/1").member("work_order", job.id);
  if (job.opened) out.member("opened", priors::to_string(*job.opened));
  out.member("closed", priors::to_string(job.closed))
      .member("circuit", analysis.id)
      .member("asset", closing.asset)
      .member("asset_class", closing.asset_class)
      .key("complaint");
  const auto is_complaint = [&](const Evidence& seen) { return job.complaint == seen.observation; };
  const auto complaint = std::find_if(job.evidence.begin(), job.evidence.end(), is_complaint);
  if (complaint == job.evidence.end()) {
    out.null();
  } else {
    write_seen(out, *complaint, false, analysis);
  }
  out.key("tests").begin_list();
  std::set<std::tuple<std::uint32_t, std::optional<std::uint32_t>, std::optional<double>>> said;
  const auto is_new = [&](const Evidence& seen) {
    return said
        .emplace(seen.observation, seen.outcome,
                 seen.reading ? seen.reading->leak_rate : std::nullopt)
        .second;
  };
  if (complaint != job.evidence.end()) is_new(*complaint);
  for (auto seen = job.evidence.begin(); seen != job.evidence.end(); ++seen) {
    if (seen != complaint) write_seen(out, *seen, !is_new(*seen), analysis);
  }
  out.end_list();
  write_not_possible(out, analysis, closing.not_possible);
  out.key("found").begin_list();
  for (const priors::Finding& finding : job.findings) {
    const circuit::FailureMode& mode = analysis.modes[finding.modes[0]];
    out.begin_object().member("component", mode.component).member("type", mode.type);
    if (finding.modes.size() == 1) {
      out.member("mode", mode.name).member("code", mode.code).member("title", mode.title);
    }
    if (finding.grade) out.member("grade", *finding.grade == 1 ? "worn" : "failed");
    out.end_object();
  }
  out.end_list().key("sound").begin_list();
  for (const std::uint32_t m : job.sound) out.value(analysis.modes[m].id);
  out.end_list().key("parts").begin_list();
  for (const PartUsed& part : closing.parts) {
    const circuit::Component& component = analysis.components[part.component];
    out.begin_object()
        .member("component", component.id)
        .member("type", component.type)
        .member("part", part.part)
        .member("quantity", part.quantity);
    if (part.cost) out.member("cost", *part.cost);
    out.end_object();
  }
  out.end_list();
  if (job.minutes) out.member("minutes", *job.minutes);
  out.member("note", closing.note).end_object();
  return out.take();
}

}  // namespace faultodds::documents
