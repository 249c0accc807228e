#include "capi/documents/json_schema.h"

#include <set>
#include <vector>

#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "core/circuit/names.h"
#include "core/circuit/observation_kinds.h"
#include "core/error.h"
#include "core/reading/units.h"

namespace faultodds::documents {
namespace {

using reading::Dimension;

constexpr std::string_view kRef = "#/$defs/";

Dimension dimension_of(const std::string& name) {
  static const std::vector<std::pair<const char*, Dimension>> names = {
      {"pressure", Dimension::pressure},
      {"flow", Dimension::flow},
      {"length", Dimension::length},
      {"area", Dimension::area},
      {"volume", Dimension::volume},
      {"displacement", Dimension::displacement},
      {"time", Dimension::time},
      {"speed", Dimension::speed},
      {"temperature", Dimension::temperature},
      {"force", Dimension::force},
      {"share", Dimension::share}};
  for (const auto& [known, dimension] : names) {
    if (name == known) return dimension;
  }
  throw Error(Code::internal, "no dimension " + name + " inside the library");
}

// A string of a number and a unit, by the units that reading takes.
Json quantity(const std::string& name) {
  std::string units;
  for (const std::string& unit : reading::unit_names(dimension_of(name))) {
    units += (units.empty() ? "" : "|") + unit;
  }
  return {{"type", "string"},
          {"description",
           name + ": a number and a unit, " + reading::accepted_units(dimension_of(name))},
          {"pattern",
           "^\\s*[+-]?([0-9]+\\.?[0-9]*|\\.[0-9]+)([eE][+-]?[0-9]+)?\\s*(" + units + ")\\s*$"}};
}

Json observation_kinds() {
  Json names = Json::array();
  for (const circuit::KindDefaults& one : circuit::kObservationKinds) names.push_back(one.name);
  return {{"enum", std::move(names)}};
}

// An object of an assembly: the keys of `like`, and values in which parameters may stand.
Json with_parameters(const Json& defs, const Json& like) {
  Json properties = {{"each", {{"$ref", std::string(kRef) + "each"}}}};
  for (const auto& [key, value] : defs[like["$keys_of"].get<std::string>()]["properties"].items()) {
    properties[key] = Json::object();
  }
  return {{"type", "object"},
          {"properties", std::move(properties)},
          {"required", like["required"]},
          {"additionalProperties", false}};
}

// With quantities and parameters spelled out; notes which objects it refers to.
Json spelled_out(const Json& defs, const Json& schema, std::set<std::string>* referred) {
  if (schema.is_object()) {
    if (schema.contains("$quantity")) return quantity(schema["$quantity"].get<std::string>());
    if (schema.contains("$observation_kind")) return observation_kinds();
    if (schema.contains("$keys_of")) {
      return spelled_out(defs, with_parameters(defs, schema), referred);
    }
    Json out = Json::object();
    for (const auto& [key, value] : schema.items()) {
      if (key == "$ref") referred->insert(value.get<std::string>().substr(kRef.size()));
      out[key] = spelled_out(defs, value, referred);
    }
    return out;
  }
  if (schema.is_array()) {
    Json out = Json::array();
    for (const Json& value : schema) out.push_back(spelled_out(defs, value, referred));
    return out;
  }
  return schema;
}

}  // namespace

std::string json_schema(std::string_view format) {
  const Document given = read_document(kSchemas), answered = read_document(kAnswers);
  Json roots = static_cast<const Json&>(given)["roots"];
  Json described = static_cast<const Json&>(given)["$defs"];
  roots.update(static_cast<const Json&>(answered)["roots"]);
  described.update(static_cast<const Json&>(answered)["$defs"]);
  const std::string name(format);
  if (!roots.contains(name)) {
    std::vector<std::string> known;
    for (const auto& [root, object] : roots.items()) known.push_back(root);
    throw Error(Code::invalid_argument, "there is no schema of " + circuit::quoted(format) +
                                            circuit::expected(format, known, "formats"));
  }
  std::set<std::string> wanted, done;
  Json out = {{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", name}};
  const std::string root = roots[name].get<std::string>();
  const Json whole = spelled_out(described, described[root], &wanted);
  for (const auto& [key, value] : whole.items()) out[key] = value;
  Json defs = Json::object();
  while (wanted.size() > done.size()) {
    for (const std::string& one : std::set<std::string>(wanted)) {
      if (!done.insert(one).second) continue;
      defs[one] = spelled_out(described, described[one], &wanted);
    }
  }
  out["$defs"] = std::move(defs);
  return out.dump(2);
}

}  // namespace faultodds::documents
