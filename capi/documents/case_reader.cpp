#include "capi/documents/case_reader.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

#include "capi/documents/fields.h"

namespace faultodds::documents {
namespace {

using diagnosis::Case;
using diagnosis::Evidence;
using diagnosis::Focus;
using diagnosis::Model;
using reading::Dimension;
using reading::Reading;

// Number of insertions, deletions and replacements from one word to the other (Levenshtein).
std::size_t spelling_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row[b.size()];
}

Fields case_fields(const Json& document, const Place& place) {
  Fields fields(
      document, place, "a case document",
      {"format", "circuit", "id", "title", "asset", "observations", "setup_done", "focus", "note"});
  fields.check_format("faultodds-case/1");
  return fields;
}

// A number of hours, or a quantity of time.
double hours(const Json& value, const Place& place) {
  if (value.is_number()) return number_of(value, place, 0, 1e7);
  if (!value.is_string()) {
    refuse(place, place.name() + " is " + shown(value) +
                      "; expected hours: a number, or a string such as \"12000 h\"");
  }
  return hours_of(value, place);
}

Reading read_reading(const Json& value, const Place& place) {
  const Fields fields(value, place, "a reading",
                      {"leak_rate", "pressure_drop", "time", "volume", "bulk_modulus",
                       "supply_flow", "distance", "speed", "flow", "rated_flow", "below",
                       "pressure", "exponent", "temperature_start", "temperature_end"});
  Reading reading;
  reading.leak_rate = fields.quantity("leak_rate", Dimension::flow, Sign::not_negative);
  reading.pressure_drop = fields.quantity("pressure_drop", Dimension::pressure, Sign::not_negative);
  reading.time = fields.quantity("time", Dimension::time);
  reading.volume = fields.quantity("volume", Dimension::volume);
  reading.bulk_modulus = fields.quantity("bulk_modulus", Dimension::pressure);
  reading.supply_flow = fields.quantity("supply_flow", Dimension::flow, Sign::not_negative);
  reading.distance = fields.quantity("distance", Dimension::length, Sign::not_negative);
  reading.speed = fields.quantity("speed", Dimension::speed, Sign::not_negative);
  reading.flow = fields.quantity("flow", Dimension::flow, Sign::not_negative);
  reading.rated_flow = fields.quantity("rated_flow", Dimension::flow);
  reading.below = fields.quantity("below", Dimension::flow);
  reading.pressure = fields.quantity("pressure", Dimension::pressure);
  reading.exponent = fields.number("exponent", 0.1, 1);
  if (fields.has("temperature_start") != fields.has("temperature_end")) {
    refuse(place,
           "only one of temperature_start and temperature_end is given; expected both or neither");
  }
  if (fields.has("temperature_start")) {
    const auto start = fields.quantity("temperature_start", Dimension::temperature, Sign::any);
    const auto end = fields.quantity("temperature_end", Dimension::temperature, Sign::any);
    reading.temperature_change = *end - *start;
  }
  return reading;
}

}  // namespace

std::string closest(std::string_view name, const std::vector<std::string>& names) {
  constexpr std::size_t kShown = 3;
  std::vector<std::pair<std::size_t, std::size_t>> ranked;  // distance, index
  const std::string_view head = name.substr(0, 100);
  ranked.reserve(names.size());
  for (std::size_t i = 0; i < names.size(); ++i) {
    ranked.emplace_back(spelling_distance(head, std::string_view(names[i]).substr(0, 100)), i);
  }
  const std::size_t count = std::min(kShown, ranked.size());
  std::partial_sort(ranked.begin(), ranked.begin() + static_cast<std::ptrdiff_t>(count),
                    ranked.end());
  std::string list;
  for (std::size_t i = 0; i < count; ++i) {
    list += (i == 0 ? "" : ", ") + names[ranked[i].second];
  }
  return list;
}

std::string closest_observation(std::string_view id, const Model& model) {
  std::vector<std::string> names;
  for (const auto& observation : model.analysis().observations) names.push_back(observation.id);
  return closest(id, names);
}

std::string closest_setup(std::string_view id, const Model& model) {
  std::vector<std::string> names;
  for (const auto& step : model.analysis().setup_steps) names.push_back(step.id);
  return closest(id, names);
}

Asset read_asset(const Json& case_document) {
  const Place place;
  const Fields fields = case_fields(case_document, place);
  Asset asset;
  const Json* value = fields.find("asset");
  if (value == nullptr) return asset;
  const Place here = fields.at("asset");
  const Fields inner(*value, here, "asset", {"id", "class", "meter_hours", "component_hours"});
  asset.id = inner.text("id", "");
  asset.asset_class = inner.text("class", "");
  if (const Json* meter = inner.find("meter_hours")) {
    asset.meter_hours = hours(*meter, inner.at("meter_hours"));
  }
  if (const Json* by_component = inner.find("component_hours")) {
    const Place at = inner.at("component_hours");
    for (const auto& [component, item] : object_of(*by_component, at, "hours by component")) {
      asset.component_hours[component] = hours(item, at.key(component));
    }
  }
  return asset;
}

Evidence read_evidence(const Json& entry, const Place& place, const Model& model) {
  const Fields fields(entry, place, "an observation made",
                      {"observation", "outcome", "reading", "likelihood", "at", "note"});
  Evidence evidence;
  evidence.pointer = place.pointer();
  const std::string id = fields.text("observation");
  const auto index = model.find_observation(id);
  if (!index) {
    refuse(fields.at("observation"),
           "unknown observation \"" + printable(id) +
               "\"; expected one that this circuit can show, the closest: " +
               closest_observation(id, model),
           Code::invalid_case);
  }
  evidence.observation = *index;
  const int given =
      int{fields.has("outcome")} + int{fields.has("reading")} + int{fields.has("likelihood")};
  if (given != 1) {
    refuse(place, "the observation of \"" + printable(id) + "\" has " + std::to_string(given) +
                      " of outcome, reading, likelihood; expected exactly one");
  }
  const circuit::Observation& observation = model.analysis().observations[*index];
  if (const Json* outcome = fields.find("outcome")) {
    const std::string name = text_of(*outcome, fields.at("outcome"));
    const auto& names = observation.outcomes;
    const auto found = std::find(names.begin(), names.end(), name);
    if (found == names.end()) {
      std::string list;
      for (const std::string& known : names) list += (list.empty() ? "" : ", ") + known;
      refuse(fields.at("outcome"),
             "unknown outcome \"" + printable(name) + "\" of " + observation.id +
                 "; expected one of " + list,
             Code::invalid_case);
    }
    evidence.outcome = static_cast<std::uint32_t>(found - names.begin());
  }
  if (const Json* reading = fields.find("reading")) {
    evidence.reading = read_reading(*reading, fields.at("reading"));
  }
  if (const Json* likelihood = fields.find("likelihood")) {
    const Place here = fields.at("likelihood");
    const auto values = numbers_of(*likelihood, here, 3, 0, std::numeric_limits<double>::max());
    if (values[0] == 0 && values[1] == 0 && values[2] == 0) {
      refuse(here, "likelihood is [0, 0, 0]; expected at least one number above 0",
             Code::invalid_case);
    }
    evidence.likelihood = {values[0], values[1], values[2]};
  }
  fields.text("at", "");
  fields.text("note", "");
  return evidence;
}

Case read_case(const Json& case_document, const Model& model) {
  const Place place;
  const Fields fields = case_fields(case_document, place);
  const circuit::Analysis& analysis = model.analysis();
  Case result;
  if (fields.has("circuit")) {
    const std::string circuit = fields.text("circuit");
    if (circuit != analysis.id) {
      refuse(fields.at("circuit"),
             "circuit is \"" + printable(circuit) + "\"; expected \"" + analysis.id +
                 "\", the circuit this case is assessed against",
             Code::invalid_case);
    }
  }
  for (const char* key : {"id", "title", "note"}) fields.text(key, "");
  result.component_hours = read_asset(case_document).component_hours;
  std::set<std::string_view> components;
  for (const auto& component : analysis.components) components.insert(component.id);
  for (const auto& [component, value] : result.component_hours) {
    if (components.count(component) == 0) {
      const std::vector<std::string> names(components.begin(), components.end());
      refuse(place.key("asset").key("component_hours").key(component),
             "unknown component \"" + printable(component) +
                 "\"; expected one of this circuit, the closest: " + closest(component, names),
             Code::invalid_case);
    }
  }
  if (const Json* observations = fields.find("observations")) {
    const Place here = fields.at("observations");
    const auto& list = list_of(*observations, here, "observations made");
    for (std::size_t i = 0; i < list.size(); ++i) {
      const Place at = here.item(i);
      result.evidence.push_back(read_evidence(list[i], at, model));
    }
  }
  result.setup_done = fields.texts("setup_done");
  for (std::size_t i = 0; i < result.setup_done.size(); ++i) {
    const std::string& step = result.setup_done[i];
    if (!model.find_setup(step)) {
      refuse(fields.at("setup_done").item(i),
             "unknown setup step \"" + printable(step) +
                 "\"; expected one of this circuit, the closest: " + closest_setup(step, model),
             Code::invalid_case);
    }
  }
  if (const Json* focus = fields.find("focus")) {
    const std::string name = text_of(*focus, fields.at("focus"));
    if (name == "complaint") {
      result.focus = Focus::complaint;
    } else if (name == "circuit") {
      result.focus = Focus::circuit;
    } else {
      refuse(fields.at("focus"),
             "focus is " + shown(*focus) + "; expected one of complaint, circuit");
    }
  }
  return result;
}

}  // namespace faultodds::documents
