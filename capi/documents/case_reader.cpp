#include "capi/documents/case_reader.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

#include "capi/documents/fields.h"
#include "capi/documents/shapes.h"
#include "capi/documents/wording.h"
#include "core/circuit/names.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/said.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using diagnosis::Case;
using diagnosis::Evidence;
using diagnosis::Focus;
using diagnosis::Model;
using reading::Dimension;
using reading::Reading;

Fields case_fields(const Json& document, const Place& place) {
  Fields fields(document, place, shape("case"));
  fields.check_format("faultodds-case/1");
  return fields;
}

// A number of hours, or a quantity of time.
double hours(const Json& value, const Place& place) {
  if (value.is_number()) return number_of(value, place, 0, 1e7);
  if (!value.is_string()) {
    refuse(place, place.name() + " is " + shown(value) +
                      "; expected hours: a number, or a string such as `12000 h`");
  }
  return hours_of(value, place);
}

constexpr std::size_t kMostPoints = 1000;

// Calls `take(time, value)` with each point of a course.
template <typename Take>
void read_course(const Fields& fields, std::string_view key, std::string_view of,
                 Dimension dimension, Take take) {
  const Json* given = fields.find(key);
  if (given == nullptr) return;
  const Place here = fields.at(key);
  const auto& list = list_of(*given, here, "points read");
  if (list.size() < 2 || list.size() > kMostPoints) {
    refuse(here, here.name() + " has " + std::to_string(list.size()) + " points; expected 2 to " +
                     std::to_string(kMostPoints));
  }
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Place at = here.item(i);
    const Fields point(list[i], at, "a point read", {"time", of});
    take(quantity_of(point.need("time"), point.at("time"), Dimension::time, Sign::not_negative),
         quantity_of(point.need(of), point.at(of), dimension, Sign::not_negative));
  }
}

Reading read_reading(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("reading"));
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
  read_course(fields, "pressures", "pressure", Dimension::pressure, [&](double time, double at) {
    reading.pressures.push_back({time, at});
  });
  read_course(fields, "distances", "distance", Dimension::length, [&](double time, double at) {
    reading.distances.push_back({time, at});
  });
  reading.line_stiffness = fields.quantity("line_stiffness", Dimension::pressure);
  reading.gas_volume = fields.quantity("gas_volume", Dimension::volume);
  reading.gas_pressure = fields.quantity("gas_pressure", Dimension::pressure, Sign::not_negative);
  reading.strokes_per_minute = fields.number("strokes_per_minute", 0, 1000);
  reading.stroke_volume = fields.quantity("stroke_volume", Dimension::volume);
  reading.back_pressure = fields.quantity("back_pressure", Dimension::pressure, Sign::not_negative);
  reading.revolutions_per_minute = fields.number("revolutions_per_minute", 1, 1e5);
  reading.displacement = fields.quantity("displacement", Dimension::displacement);
  reading.oil_temperature = fields.quantity("oil_temperature", Dimension::temperature);
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

double amount(const Fields& fields, std::string_view key, double otherwise, double most = 1e12) {
  return fields.number(key, 0, most).value_or(otherwise);
}

diagnosis::Economics read_economics(const Json& value, const Place& place, const Model& model) {
  const Fields fields(value, place, shape("economics"));
  diagnosis::Economics e;
  e.currency = fields.text("currency", e.currency);
  if (e.currency.size() != 3 || !std::all_of(e.currency.begin(), e.currency.end(),
                                             [](char c) { return c >= 'A' && c <= 'Z'; })) {
    refuse(fields.at("currency"), "`currency` is " + in_backticks(e.currency) +
                                      "; expected an ISO 4217 code of three capital letters, such "
                                      "as EUR");
  }
  e.labour_per_hour = amount(fields, "labour_per_hour", e.labour_per_hour);
  e.downtime_per_hour = amount(fields, "downtime_per_hour", e.downtime_per_hour);
  e.downtime_hours_per_day = amount(fields, "downtime_hours_per_day", e.downtime_hours_per_day, 24);
  e.come_back = fields.number("come_back", 0, 1e12);
  e.second_visit = amount(fields, "second_visit", e.second_visit);
  e.per_part = fields.number("per_part", 0, 1e12);
  e.part_cost = amount(fields, "part_cost", e.part_cost);
  e.repair_minutes = fields.minutes("repair_minutes").value_or(e.repair_minutes);
  e.lead_days = amount(fields, "lead_days", e.lead_days, 1e6);
  e.bad_new_part = amount(fields, "bad_new_part", e.bad_new_part, 1);
  e.worn_fails = amount(fields, "worn_fails", e.worn_fails, 1);
  e.second_fault_target = amount(fields, "second_fault_target", e.second_fault_target, 1);
  const Json* by_component = fields.find("components");
  if (by_component == nullptr) return e;
  const Place here = fields.at("components");
  for (const auto& [id, item] : object_of(*by_component, here, "costs by component")) {
    const Place at = here.key(id);
    find_component(id, at, model);
    const Fields own(item, at, shape("component_cost"));
    diagnosis::ReplacementCost& cost = e.components[id];
    cost.part = own.number("part_cost", 0, 1e12);
    cost.minutes = own.minutes("minutes");
    cost.lead_days = own.number("lead_days", 0, 1e6);
  }
  return e;
}

void read_advice_wishes(const Json& value, const Place& place, Case& into) {
  if (value.is_boolean()) return;
  const Fields fields(value, place, shape("advice"));
  into.visit_minutes = fields.minutes("visit");
  if (const auto steps = fields.number("steps", 1, 2)) {
    if (*steps != 1 && *steps != 2) {
      refuse(fields.at("steps"),
             "`steps` is " + shown(*fields.find("steps")) + "; expected 1 or 2");
    }
    into.look_further = *steps == 2;
  }
}

std::uint32_t find_observation(const Fields& fields, std::string_view key, const Model& model) {
  const std::string id = fields.text(key);
  if (const auto found = model.find_observation(id)) return *found;
  refuse(fields.at(key), "unknown observation " + in_backticks(id) + known_observations(id, model),
         Code::invalid_case);
}

diagnosis::NotPossible read_reason(const Fields& fields, std::string_view key, const Model& model) {
  diagnosis::NotPossible one;
  one.observation = find_observation(fields, key, model);
  one.reason = fields.text("reason");
  if (one.reason.empty()) {
    refuse(fields.at("reason"), "`reason` is empty; expected why the test cannot be made");
  }
  return one;
}

void read_list_of_not_possible(const Json& value, const Place& place, const Model& model,
                               Case& into) {
  const auto& list = list_of(value, place, "tests that cannot be made");
  for (std::size_t i = 0; i < list.size(); ++i) {
    check_stop();
    const Place at = place.item(i);
    const Fields fields(list[i], at, shape("not_possible"));
    diagnosis::NotPossible one = read_reason(fields, "observation", model);
    if (!into.can_make(one.observation)) {
      refuse(fields.at("observation"),
             "observation " + in_backticks(model.analysis().observations[one.observation].id) +
                 " is listed twice; expected it once",
             Code::invalid_case);
    }
    into.not_possible.push_back(std::move(one));
  }
}

std::vector<diagnosis::FittingAtHand> read_fittings(const Json& value, const Place& place) {
  std::vector<diagnosis::FittingAtHand> fittings;
  const auto& list = list_of(value, place, "fittings at hand");
  for (std::size_t i = 0; i < list.size(); ++i) {
    check_stop();
    const Place at = place.item(i);
    const Fields fields(list[i], at, shape("fitting_at_hand"));
    diagnosis::FittingAtHand one{fields.text("what"), fields.text("standard", ""),
                                 fields.text("size", "")};
    static const std::vector<std::string> kKnown{"adapter", "plug", "cavity plug", "flow meter"};
    if (std::find(kKnown.begin(), kKnown.end(), one.what) == kKnown.end()) {
      refuse(fields.at("what"), "`what` is " + in_backticks(one.what) +
                                    "; expected adapter, plug, cavity plug or flow meter");
    }
    fittings.push_back(std::move(one));
  }
  return fittings;
}

// Components, by id, or all of a type.
std::vector<std::string> read_parts(const Json& value, const Place& place, const Model& model) {
  std::vector<std::string> parts = texts_of(value, place);
  std::vector<std::string> known;
  for (const auto& component : model.analysis().components) {
    known.push_back(component.id);
    known.push_back(component.type);
  }
  std::sort(known.begin(), known.end());
  known.erase(std::unique(known.begin(), known.end()), known.end());
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (std::binary_search(known.begin(), known.end(), parts[i])) continue;
    refuse(place.item(i),
           "unknown part " + in_backticks(parts[i]) +
               circuit::expected(parts[i], known, "components and types of this circuit"),
           Code::invalid_case);
  }
  return parts;
}

std::vector<std::uint32_t> read_order(const Json& value, const Place& place, const Model& model,
                                      const Case& so_far) {
  std::vector<std::uint32_t> order;
  const std::vector<std::string> ids = texts_of(value, place);
  for (std::size_t i = 0; i < ids.size(); ++i) {
    const Place at = place.item(i);
    const auto found = model.find_observation(ids[i]);
    if (!found) {
      refuse(at, "unknown observation " + in_backticks(ids[i]) + known_observations(ids[i], model),
             Code::invalid_case);
    }
    if (std::find(order.begin(), order.end(), *found) != order.end()) {
      refuse(at, "observation " + in_backticks(ids[i]) + " is listed twice; expected it once",
             Code::invalid_case);
    }
    const auto& withheld = model.analysis().observations[*found].withheld;
    if (withheld) {
      refuse(at,
             in_backticks(ids[i]) + " may not be made as this circuit stands (" +
                 Words(model).reason(*withheld) + "); expected a test that may be proposed",
             Code::invalid_case);
    }
    if (!so_far.can_make(*found)) {
      refuse(at,
             in_backticks(ids[i]) +
                 " is among the tests that cannot be made (`not_possible`); "
                 "expected one that can",
             Code::invalid_case);
    }
    order.push_back(*found);
  }
  return order;
}

// After `not_possible` and the observations.
diagnosis::Work read_work(const Json& value, const Place& place, const Model& model,
                          const Case& so_far) {
  const Fields fields(value, place, shape("work"));
  diagnosis::Work work;
  if (const Json* at_hand = fields.find("at_hand")) {
    const Place here = fields.at("at_hand");
    const Fields inner(*at_hand, here, shape("at_hand"));
    if (const Json* parts = inner.find("parts")) {
      work.parts = read_parts(*parts, inner.at("parts"), model);
    }
    if (const Json* fittings = inner.find("fittings")) {
      work.fittings = read_fittings(*fittings, inner.at("fittings"));
    }
  }
  if (fields.has("fetch") && !work.fittings) {
    refuse(fields.at("fetch"),
           "`fetch` is given without `at_hand.fittings`; expected the fittings that are there");
  }
  work.fetch_minutes = fields.minutes("fetch").value_or(0);
  work.block_load_minutes = fields.minutes("block_load");
  work.people = fields.people("people");
  work.second_person_minutes = fields.minutes("second_person");
  if (work.second_person_minutes && work.people != 1) {
    refuse(fields.at("second_person"),
           "`second_person` is given without `people`: 1; expected it where one is alone");
  }
  work.ready_within_minutes = fields.minutes("ready_within");
  if (const Json* order = fields.find("order")) {
    work.order = read_order(*order, fields.at("order"), model, so_far);
  }
  return work;
}

// A step of the circuit's, or one that the case's `work` brings with it.
bool is_step(const std::string& id, const Model& model, const diagnosis::Work& work) {
  return model.find_setup(id) || (id == diagnosis::kFetch && work.fittings) ||
         (id == diagnosis::kSecondPerson && work.second_person_minutes) ||
         (id == diagnosis::kBlockLoad && work.block_load_minutes);
}

}  // namespace

bool wants_all(const Json& case_document) {
  const Place place;
  const Fields fields = case_fields(case_document, place);
  const Json* detail = fields.find("detail");
  if (detail == nullptr) return false;
  const std::string wanted = text_of(*detail, fields.at("detail"));
  if (wanted != "full" && wanted != "screen") {
    refuse(fields.at("detail"), "`detail` is " + shown(*detail) + "; expected `screen` or `full`",
           Code::invalid_case);
  }
  return wanted == "full";
}

std::string language_of(const Json& case_document) {
  const Place place;
  const Fields fields = case_fields(case_document, place);
  const Json* language = fields.find("language");
  if (language == nullptr) return "en";
  std::string wanted = text_of(*language, fields.at("language"));
  if (!MessageCatalogue::knows(wanted)) {
    refuse(fields.at("language"),
           "`language` is " + shown(*language) + "; expected `en`, `de`, `es`, `fr` or `ar`",
           Code::invalid_case);
  }
  return wanted;
}

bool wants_advice(const Json& case_document) {
  const Place place;
  const Fields fields = case_fields(case_document, place);
  const Json* advice = fields.find("advice");
  return advice == nullptr || !advice->is_boolean() || flag_of(*advice, fields.at("advice"));
}

std::optional<diagnosis::Repair> read_repair(const Json& entry, const Place& place,
                                             const Model& model) {
  if (!entry.is_object() || !entry.contains("repaired")) return std::nullopt;
  const Fields fields(entry, place, shape("repair"));
  diagnosis::Repair repair;
  repair.pointer = place.pointer();
  const Place here = fields.at("repaired");
  repair.components = fields.texts("repaired");
  std::map<std::string_view, std::size_t> times;
  for (const std::string& id : repair.components) ++times[id];
  for (std::size_t i = 0; i < repair.components.size(); ++i) {
    const std::string& id = repair.components[i];
    find_component(id, here.item(i), model);
    if (times[id] > 1) {
      refuse(here.item(i), "component " + in_backticks(id) + " is listed twice; expected it once",
             Code::invalid_case);
    }
  }
  fields.text("at", "");
  fields.text("note", "");
  return repair;
}

std::optional<diagnosis::NotPossible> read_not_possible(const Json& entry, const Place& place,
                                                        const Model& model) {
  if (!entry.is_object() || !entry.contains("not_possible")) return std::nullopt;
  const Fields fields(entry, place, "a test that cannot be made",
                      {"not_possible", "reason", "at", "note"});
  fields.text("at", "");
  fields.text("note", "");
  return read_reason(fields, "not_possible", model);
}

void add_not_possible(Case& to, diagnosis::NotPossible one) {
  std::erase_if(to.not_possible, [&](const diagnosis::NotPossible& before) {
    return before.observation == one.observation;
  });
  to.not_possible.push_back(std::move(one));
}

std::uint32_t find_component(std::string_view id, const Place& place, const Model& model) {
  if (const auto found = model.find_component(id)) return *found;
  std::vector<std::string> names;
  for (const auto& component : model.analysis().components) names.push_back(component.id);
  refuse(place,
         "unknown component " + in_backticks(id) + circuit::expected(id, names, "components"),
         Code::invalid_case);
}

std::string known_observations(std::string_view id, const Model& model) {
  std::vector<std::string> names;
  for (const auto& observation : model.analysis().observations) names.push_back(observation.id);
  return circuit::expected(id, names, "observations");
}

std::string known_setup(std::string_view id, const Model& model) {
  std::vector<std::string> names;
  for (const auto& step : model.analysis().setup_steps) names.push_back(step.id);
  return circuit::expected(id, names, "setup steps");
}

Asset read_asset(const Json& case_document) {
  const Place place;
  const Fields fields = case_fields(case_document, place);
  Asset asset;
  const Json* value = fields.find("asset");
  if (value == nullptr) return asset;
  const Place here = fields.at("asset");
  const Fields inner(*value, here, shape("asset"));
  asset.id = inner.text("id", "");
  asset.asset_class = inner.text("class", "");
  if (const Json* meter = inner.find("meter_hours")) {
    asset.meter_hours = hours(*meter, inner.at("meter_hours"));
  }
  const auto read = [&](const char* key, std::map<std::string, double>& into) {
    const Json* by_component = inner.find(key);
    if (by_component == nullptr) return;
    const Place at = inner.at(key);
    for (const auto& [component, item] : object_of(*by_component, at, "hours by component")) {
      into[component] = hours(item, at.key(component));
    }
  };
  read("component_hours", asset.component_hours);
  read("sound_at", asset.sound_at);
  return asset;
}

Evidence read_evidence(const Json& entry, const Place& place, const Model& model) {
  const Fields fields(entry, place, shape("evidence"));
  check_stop();
  Evidence evidence;
  evidence.pointer = place.pointer();
  evidence.observation = find_observation(fields, "observation", model);
  const std::string& id = model.analysis().observations[evidence.observation].id;
  const int given =
      int{fields.has("outcome")} + int{fields.has("reading")} + int{fields.has("likelihood")};
  if (given != 1) {
    refuse(place, "the observation of " + in_backticks(id) + " has " + std::to_string(given) +
                      " of outcome, reading, likelihood; expected exactly one");
  }
  const circuit::Observation& observation = model.analysis().observations[evidence.observation];
  if (const Json* outcome = fields.find("outcome")) {
    const std::string name = text_of(*outcome, fields.at("outcome"));
    const auto& names = observation.outcomes;
    const auto found = std::find(names.begin(), names.end(), name);
    if (found == names.end()) {
      std::string list;
      for (const std::string& known : names) list += (list.empty() ? "" : ", ") + known;
      refuse(fields.at("outcome"),
             "unknown outcome " + in_backticks(name) + " of `" + observation.id + "`" +
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
      refuse(here, "`likelihood` is [0, 0, 0]; expected at least one number above 0",
             Code::invalid_case);
    }
    evidence.likelihood = {values[0], values[1], values[2]};
  }
  evidence.at = fields.text("at", "");
  evidence.again = fields.flag("again", false);
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
             "`circuit` is " + in_backticks(circuit) + "; expected `" + analysis.id +
                 "`, the circuit this case is assessed against",
             Code::invalid_case);
    }
  }
  for (const char* key : {"id", "title", "note"}) fields.text(key, "");
  Asset asset = read_asset(case_document);
  const Place asset_place = place.key("asset");
  const Place hours_place = asset_place.key("component_hours");
  const Place sound_place = asset_place.key("sound_at");
  for (const auto& [component, value] : asset.component_hours) {
    find_component(component, hours_place.key(component), model);
  }
  for (const auto& [component, value] : asset.sound_at) {
    find_component(component, sound_place.key(component), model);
  }
  result.component_hours = std::move(asset.component_hours);
  result.sound_at = std::move(asset.sound_at);
  result.meter_hours = asset.meter_hours;
  if (const Json* not_possible = fields.find("not_possible")) {
    read_list_of_not_possible(*not_possible, fields.at("not_possible"), model, result);
  }
  if (const Json* observations = fields.find("observations")) {
    const Place here = fields.at("observations");
    const auto& list = list_of(*observations, here, "observations made");
    diagnosis::Said said;
    for (std::size_t i = 0; i < list.size(); ++i) {
      const Place at = here.item(i);
      if (auto repair = read_repair(list[i], at, model)) {
        result.repairs.push_back(std::move(*repair));
        continue;
      }
      if (auto one = read_not_possible(list[i], at, model)) {
        add_not_possible(result, std::move(*one));
        continue;
      }
      Evidence entry = read_evidence(list[i], at, model);
      entry.repairs_before = static_cast<std::uint32_t>(result.repairs.size());
      said.add(result, std::move(entry));
    }
  }
  if (const Json* work = fields.find("work")) {
    result.work = read_work(*work, fields.at("work"), model, result);
  }
  result.setup_done = fields.texts("setup_done");
  for (std::size_t i = 0; i < result.setup_done.size(); ++i) {
    const std::string& step = result.setup_done[i];
    if (!is_step(step, model, result.work)) {
      refuse(fields.at("setup_done").item(i),
             "unknown setup step " + in_backticks(step) + known_setup(step, model),
             Code::invalid_case);
    }
  }
  if (const Json* economics = fields.find("economics")) {
    result.economics = read_economics(*economics, fields.at("economics"), model);
  }
  if (const Json* advice = fields.find("advice")) {
    read_advice_wishes(*advice, fields.at("advice"), result);
  }
  if (const Json* focus = fields.find("focus")) {
    const std::string name = text_of(*focus, fields.at("focus"));
    if (name == "complaint") {
      result.focus = Focus::complaint;
    } else if (name == "circuit") {
      result.focus = Focus::circuit;
    } else {
      const auto observation = model.find_observation(name);
      const bool made = observation && std::any_of(result.evidence.begin(), result.evidence.end(),
                                                   [&](const Evidence& e) {
                                                     return e.observation == *observation;
                                                   });
      if (!made) {
        refuse(fields.at("focus"), "`focus` is " + shown(*focus) +
                                       "; expected complaint, circuit, or the id of an "
                                       "observation of this case");
      }
      result.focus = Focus::observation;
      result.focus_observation = *observation;
    }
  }
  return result;
}

}  // namespace faultodds::documents
