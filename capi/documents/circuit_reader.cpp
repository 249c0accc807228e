#include "capi/documents/circuit_reader.h"

#include <limits>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "capi/documents/fields.h"
#include "capi/documents/shapes.h"
#include "capi/documents/size_reader.h"
#include "core/circuit/kinds.h"
#include "core/stop.h"
#include "core/unit_factors.h"

namespace faultodds::documents {
namespace {

using circuit::AreaRule;
using circuit::Component;
using circuit::ComponentType;
using circuit::Condition;
using circuit::Connection;
using circuit::Description;
using circuit::Element;
using circuit::ElementKind;
using circuit::FailureModeType;
using circuit::Fitting;
using circuit::Function;
using circuit::ObservationKind;
using circuit::OutcomeModel;
using circuit::Shows;
using circuit::Use;
using circuit::WrittenObservation;
using reading::Dimension;

constexpr double kLeastRatio = 1e-3, kLeastFactor = 1e-9;  // as schemas.json has them

// Reads every item of the list `key`, if there is one, with `read(value, place)`.
template <typename Read>
auto each(const Fields& fields, std::string_view key, std::string_view of_what, Read read) {
  std::vector<decltype(read(std::declval<const Json&>(), std::declval<const Place&>()))> items;
  const Json* member = fields.find(key);
  if (member == nullptr) return items;
  const Place place = fields.at(key);
  const auto& list = list_of(*member, place, of_what);
  items.reserve(list.size());
  for (std::size_t i = 0; i < list.size(); ++i) {
    check_stop();
    const Place here = place.item(i);
    items.push_back(read(list[i], here));
  }
  return items;
}

// Calls `read(name, value, place)` for every member of the object `key`, if there is one.
template <typename Read>
void each_member(const Fields& fields, std::string_view key, std::string_view what, Read read) {
  const Json* member = fields.find(key);
  if (member == nullptr) return;
  const Place place = fields.at(key);
  for (const auto& [name, value] : object_of(*member, place, what)) {
    check_stop();
    const Place here = place.key(name);
    read(name, value, here);
  }
}

Element read_element(const std::string& name, const Json& value, const Place& place) {
  const Fields fields(value, place, shape("element"));
  Element element;
  element.name = name;
  const std::string kind = fields.text("kind");
  if (kind == "seal") {
    element.kind = ElementKind::seal;
  } else if (kind == "check") {
    element.kind = ElementKind::check;
  } else if (kind == "relief") {
    element.kind = ElementKind::relief;
  } else if (kind == "passage") {
    element.kind = ElementKind::passage;
  } else {
    refuse(fields.at("kind"), "`kind` is " + shown(fields.need("kind")) +
                                  "; expected one of seal, check, relief, passage");
  }
  element.from = fields.text("from");
  element.to = fields.text("to");
  element.open_in = fields.texts("open_in");
  if (fields.has("pilot")) element.pilot = fields.text("pilot");
  return element;
}

FailureModeType read_failure_mode(const std::string& name, const Json& value, const Place& place,
                                  const std::vector<std::string>& ports) {
  const Fields fields(value, place, shape("failure_mode"));
  FailureModeType mode;
  mode.name = name;
  mode.code = fields.text("code", "");
  mode.title = fields.text("title", name);
  if (const Json* leaks = fields.find("leaks")) {
    mode.leaks = one_or_more_of(*leaks, fields.at("leaks"));
  }
  if (const Json* restricts = fields.find("restricts")) {
    mode.restricts = one_or_more_of(*restricts, fields.at("restricts"));
  }
  if (const Json* weakens = fields.find("weakens")) {
    if (!weakens->is_boolean()) {
      mode.weakens = one_or_more_of(*weakens, fields.at("weakens"));
    } else if (weakens->get<bool>()) {
      mode.weakens = ports;
    }
  }
  mode.prior = grades_of(fields.need("prior"), fields.at("prior"));
  if (const Json* sizes = fields.find("sizes")) {
    mode.size = read_sizes(*sizes, fields.at("sizes"), nullptr);
  }
  return mode;
}

void read_areas(const Fields& fields, std::map<std::string, AreaRule>& areas) {
  each_member(fields, "areas", "a rule for each volume",
              [&](const std::string& volume, const Json& value, const Place& place) {
                const std::string rule = text_of(value, place);
                if (rule == "bore") {
                  areas[volume] = AreaRule::bore;
                } else if (rule == "annulus") {
                  areas[volume] = AreaRule::annulus;
                } else if (rule == "displacement") {
                  areas[volume] = AreaRule::displacement;
                } else {
                  refuse(place, place.name() + " is " + shown(value) +
                                    "; expected one of bore, annulus, displacement");
                }
              });
}

// The pressure that each volume named stands.
std::map<std::string, double> read_rated(const Fields& fields) {
  std::map<std::string, double> rated;
  each_member(fields, "rated", "a pressure for each volume",
              [&](const std::string& volume, const Json& item, const Place& here) {
                rated[volume] = quantity_of(item, here, Dimension::pressure);
              });
  return rated;
}

std::optional<Use> read_use(const Fields& fields) {
  if (!fields.has("use")) return std::nullopt;
  const std::string use = fields.text("use");
  if (use == "work") return Use::work;
  if (use == "brake") return Use::brake;
  if (use == "steering") return Use::steering;
  refuse(fields.at("use"),
         "`use` is " + shown(fields.need("use")) + "; expected one of work, brake, steering");
}

ComponentType read_type(const std::string& name, const Json& value, const Place& place) {
  check_id(name, place);
  const Fields fields(value, place, shape("type"));
  ComponentType type;
  type.name = name;
  type.pointer = place.pointer();
  type.title = fields.text("title", name);
  fields.text("note", "");
  const Place ports_place = fields.at("ports");
  const auto& ports = list_of(fields.need("ports"), ports_place, "port names");
  for (std::size_t i = 0; i < ports.size(); ++i) {
    type.ports.push_back(text_of(ports[i], ports_place.item(i)));
  }
  type.volumes = each(fields, "volumes", "volume names",
                      [](const Json& item, const Place& here) { return text_of(item, here); });
  type.cartridge = fields.flag("cartridge", false);
  type.flow_test = fields.flag("flow_test", false);
  type.hold = fields.flag("hold", false);
  type.stores_gas = fields.flag("stores_gas", false);
  type.rated = read_rated(fields);
  type.reduces = fields.texts("reduces");
  each_member(fields, "elements", "elements by name",
              [&](const std::string& key, const Json& item, const Place& here) {
                type.elements.push_back(read_element(key, item, here));
              });
  each_member(fields, "failure_modes", "failure modes by name",
              [&](const std::string& key, const Json& item, const Place& here) {
                type.failure_modes.push_back(read_failure_mode(key, item, here, type.ports));
              });
  if (const Json* actuator = fields.find("actuator")) {
    const Place here = fields.at("actuator");
    const Fields inner(*actuator, here, shape("actuator"));
    inner.need("directions");
    each_member(inner, "directions", "[contracting volume, expanding volume] by direction",
                [&](const std::string& key, const Json& item, const Place& at) {
                  const std::vector<std::string> pair = texts_of(item, at);
                  if (pair.size() != 2) {
                    refuse(at, at.name() + " is " + shown(item) +
                                   "; expected [contracting volume, expanding volume]");
                  }
                  type.directions.push_back({key, pair[0], pair[1]});
                });
    read_areas(inner, type.areas);
  }
  read_areas(fields, type.areas);
  type.parameters = fields.texts("parameters");
  return type;
}

std::vector<ComponentType> read_types(const Fields& document) {
  std::vector<ComponentType> types;
  each_member(document, "types", "component types by name",
              [&](const std::string& name, const Json& value, const Place& place) {
                types.push_back(read_type(name, value, place));
              });
  return types;
}

// The sizes that types give their failure modes, the circuit's own types before the shipped ones.
class SizesOfTypes {
 public:
  SizesOfTypes(const std::vector<ComponentType>& own, const std::vector<ComponentType>& shipped) {
    for (const std::vector<ComponentType>* types : {&own, &shipped}) {
      for (const ComponentType& type : *types) {
        const auto [entry, is_new] = by_type_.try_emplace(type.name);
        if (!is_new) continue;
        for (const FailureModeType& mode : type.failure_modes) {
          if (mode.size) entry->second.emplace(mode.name, &*mode.size);
        }
      }
    }
  }
  const circuit::ModeSize* find(const std::string& type, const std::string& mode) const {
    const auto of_type = by_type_.find(type);
    if (of_type == by_type_.end()) return nullptr;
    const auto found = of_type->second.find(mode);
    return found == of_type->second.end() ? nullptr : found->second;
  }

 private:
  using ByMode = std::unordered_map<std::string_view, const circuit::ModeSize*>;
  std::unordered_map<std::string_view, ByMode> by_type_;
};

Component read_component(const Json& value, const Place& place, const SizesOfTypes& types) {
  const Fields fields(value, place, shape("component"));
  Component component;
  component.id = fields.id("id");
  component.type = fields.text("type");
  for (const char* key : {"parameters", "parts"}) {
    if (fields.has(key)) {
      refuse(fields.at(key), in_backticks(key) + " is given for a part of type " +
                                 in_backticks(component.type) +
                                 "; expected it where the type is one of `assemblies`");
    }
  }
  component.title = fields.text("title", component.id);
  each_member(fields, "priors", "[sound, worn, failed] by failure mode",
              [&](const std::string& mode, const Json& item, const Place& here) {
                component.priors[mode] = grades_of(item, here);
              });
  component.bore = fields.quantity("bore", Dimension::length);
  component.rod = fields.quantity("rod", Dimension::length);
  each_member(fields, "areas", "an area for each volume",
              [&](const std::string& volume, const Json& item, const Place& here) {
                component.areas[volume] = quantity_of(item, here, Dimension::area);
              });
  component.setting = fields.quantity("setting", Dimension::pressure);
  component.ratio = fields.number("ratio", kLeastRatio, 1000);
  component.rating = fields.quantity("rating", Dimension::pressure);
  component.rated = read_rated(fields);
  component.use = read_use(fields);
  component.displacement = fields.quantity("displacement", Dimension::displacement);
  component.rated_flow = fields.quantity("rated_flow", Dimension::flow);
  component.volume = fields.quantity("volume", Dimension::volume);
  component.minutes = fields.minutes("minutes");
  component.part_cost = fields.number("part_cost", 0, 1e12);
  component.lead_days = fields.number("lead_days", 0, 1e6);
  each_member(fields, "sizes", "how large, by failure mode",
              [&](const std::string& mode, const Json& item, const Place& here) {
                component.sizes[mode] = read_sizes(item, here, types.find(component.type, mode));
              });
  if (const Json* load = fields.find("load")) component.load = read_load(*load, fields.at("load"));
  return component;
}

Connection read_connection(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("connection"));
  Connection connection;
  connection.from = fields.text("from");
  connection.to = fields.text("to");
  if (fields.has("line")) connection.line = fields.id("line");
  for (const char* key : {"rating", "use"}) {
    if (fields.has(key) && connection.line.empty()) {
      refuse(fields.at(key),
             "`" + std::string(key) +
                 "` is given for a gallery; expected it on connections with a `line` only");
    }
  }
  connection.rating = fields.quantity("rating", Dimension::pressure);
  connection.use = read_use(fields);
  return connection;
}

Fitting read_fitting(const std::string& port, const Json& value, const Place& place) {
  const Fields fields(value, place, shape("fitting"));
  Fitting fitting;
  fitting.port = port;
  fitting.standard = fields.text("standard", "");
  fitting.size = fields.text("size", "");
  fitting.rating = fields.quantity("rating", Dimension::pressure);
  fitting.plug = fields.flag("plug", false);
  return fitting;
}

Function read_function(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("function"));
  Function function;
  function.id = fields.id("id");
  function.title = fields.text("title", function.id);
  function.actuator = fields.text("actuator");
  function.direction = fields.text("direction");
  function.source = fields.text("source");
  function.working_pressure = fields.quantity("working_pressure", Dimension::pressure);
  each_member(fields, "positions", "a position for each valve",
              [&](const std::string& valve, const Json& item, const Place& here) {
                function.positions[valve] = text_of(item, here);
              });
  return function;
}

Shows read_shows(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("shows"));
  Shows shows;
  fields.need("modes");
  shows.modes = fields.texts("modes");
  shows.probability = fields.number("probability", 0, 1).value_or(1);
  return shows;
}

WrittenObservation read_observation(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("observation"));
  WrittenObservation observation;
  observation.id = fields.id("id", "/");
  observation.title = fields.text("title", "");
  if (const Json* kind = fields.find("kind")) {
    observation.kind = observation_kind_of(*kind, fields.at("kind"));
  }
  observation.model = read_outcome_model(
      fields, observation.kind == ObservationKind::flow || observation.id.starts_with("flow/"));
  observation.shows = each(fields, "shows", "sets of failure modes", read_shows);
  observation.energised = fields.flag("energised");
  observation.opens_line = fields.flag("opens_line");
  observation.minutes = fields.minutes("minutes");
  observation.people = fields.people("people");
  observation.reference_pressure = fields.quantity("reference_pressure", Dimension::pressure);
  observation.setup = fields.texts("setup");
  observation.cautions = fields.texts("cautions");
  return observation;
}

Condition read_condition(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("condition"));
  Condition condition;
  condition.id = fields.id("id");
  condition.title = fields.text("title", condition.id);
  condition.probability = number_of(fields.need("probability"), fields.at("probability"), 0, 1);
  fields.need("raises");
  each_member(fields, "raises", "an odds factor for each mode pattern",
              [&](const std::string& pattern, const Json& item, const Place& here) {
                condition.raises.push_back({pattern, number_of(item, here, kLeastFactor, 1e9)});
              });
  return condition;
}

// The rates of leak_rates.median in mL/min, or as shares of rated flow for plain numbers.
std::array<double, 3> read_medians(const Json& value, const Place& place, bool flow_shares) {
  const auto& list = list_of(value, place, "leak rates");
  if (list.size() != 3) {
    refuse(place, place.name() + " is " + shown(value) + "; expected a list of 3, one per grade");
  }
  std::array<double, 3> medians{};
  for (std::size_t i = 0; i < 3; ++i) {
    const Place here = place.item(i);
    if (flow_shares && list[i].is_number()) {
      medians[i] = number_of(list[i], here, 1e-9, 1);
    } else {
      medians[i] = quantity_of(list[i], here, Dimension::flow) * kMlPerMinute;
    }
  }
  return medians;
}

}  // namespace

ObservationKind observation_kind_of(const Json& value, const Place& place) {
  const auto name_of = [](const circuit::KindDefaults& one) { return std::string(one.name); };
  return one_named(value, place, circuit::kObservationKinds, name_of).kind;
}

OutcomeModel read_outcome_model(const Fields& fields, bool flow_shares) {
  OutcomeModel model;
  model.outcomes = each(fields, "outcomes", "outcome names",
                        [](const Json& item, const Place& here) { return id_of(item, here); });
  if (fields.has("outcomes") && model.outcomes.size() < 2) {
    refuse(fields.at("outcomes"), "`outcomes` is " + shown(fields.need("outcomes")) +
                                      "; expected two or more, the normal one first");
  }
  if (const Json* matrix = fields.find("matrix")) {
    const Place place = fields.at("matrix");
    const auto& rows = list_of(*matrix, place, "rows");
    if (rows.size() != 3) {
      refuse(place, "`matrix` is " + shown(*matrix) +
                        "; expected 3 rows, P(outcome | grade) for grades 0, 1, 2");
    }
    std::size_t width = model.outcomes.size();
    for (std::size_t i = 0; i < 3; ++i) {
      model.matrix.push_back(distribution_of(rows[i], place.item(i), width));
      width = model.matrix.front().size();
    }
  }
  if (const Json* background = fields.find("background")) {
    model.background = grades_of(*background, fields.at("background"));
  }
  if (const Json* rates = fields.find("leak_rates")) {
    const Place place = fields.at("leak_rates");
    const Fields inner(*rates, place, shape("leak_rates"));
    if (const Json* median = inner.find("median")) {
      model.leak_median = read_medians(*median, inner.at("median"), flow_shares);
    }
    if (const Json* sigma = inner.find("sigma")) {
      const auto values = numbers_of(*sigma, inner.at("sigma"), 3, 0.01, 100);
      model.leak_sigma = {values[0], values[1], values[2]};
    }
  }
  return model;
}

Description read_circuit(const Json& document, const std::vector<ComponentType>& catalogue) {
  const Place place;
  const Fields fields(document, place, shape("circuit"));
  fields.check_format("faultodds-circuit/1");
  if (fields.has("overrides")) {
    refuse(fields.at("overrides"), "`overrides` is given without `extends`; expected both");
  }
  Description description;
  description.id = fields.id("id");
  description.title = fields.text("title", description.id);
  description.types = read_types(fields);
  fields.need("components");
  const SizesOfTypes types(description.types, catalogue);
  description.components =
      each(fields, "components", "components",
           [&](const Json& item, const Place& here) { return read_component(item, here, types); });
  description.connections = each(fields, "connections", "connections", read_connection);
  each_member(fields, "fittings", "a fitting for each port",
              [&](const std::string& port, const Json& value, const Place& here) {
                description.fittings.push_back(read_fitting(port, value, here));
              });
  description.functions = each(fields, "functions", "functions", read_function);
  description.observations = each(fields, "observations", "observations", read_observation);
  description.conditions = each(fields, "conditions", "conditions", read_condition);
  each_member(fields, "times", "minutes by step",
              [&](const std::string& step, const Json& value, const Place& here) {
                description.times[step] = minutes_of(value, here);
              });
  description.allow_hold = fields.texts("allow_hold");
  description.drift_limit = fields.quantity("drift_limit", Dimension::speed);
  const std::string effects = fields.text("effects", "solved");
  if (effects != "solved" && effects != "grades") {
    refuse(fields.at("effects"),
           "`effects` is " + in_backticks(effects) + "; expected one of solved, grades");
  }
  description.by_grades = effects == "grades";
  return description;
}

Description read_circuit(const CircuitDocument& document,
                         const std::vector<ComponentType>& catalogue) {
  return document.said_of_author([&] { return read_circuit(document.json(), catalogue); });
}

std::vector<ComponentType> read_catalogue(const Json& document) {
  const Place place;
  const Fields fields(document, place, "a catalogue",
                      {"format", "id", "title", "note", "provenance", "types"});
  fields.need("types");
  return read_types(fields);
}

}  // namespace faultodds::documents
