#include "capi/documents/pack_reader.h"

#include <set>
#include <string>
#include <tuple>
#include <utility>

#include "capi/documents/circuit_reader.h"
#include "capi/documents/fields.h"
#include "capi/documents/shapes.h"
#include "capi/documents/size_reader.h"
#include "core/stop.h"

namespace faultodds::documents {
namespace {

using diagnosis::Pack;
using diagnosis::PackOutcomes;
using diagnosis::PackPrior;
using diagnosis::PackSize;
using diagnosis::WearOut;

WearOut read_wear_out(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("wear_out"));
  WearOut wear_out;
  wear_out.shape = number_of(fields.need("shape"), fields.at("shape"), 0.01, 100);
  const Place scale = fields.at("scale");
  wear_out.scale_hours = quantity_of(fields.need("scale"), scale, reading::Dimension::time) / 3600;
  wear_out.failed_share = fields.number("failed_share", 0, 1).value_or(wear_out.failed_share);
  return wear_out;
}

// What a person needs to judge an entry; none of it is computed with.
void check_background_of_entry(const Fields& fields) {
  if (const Json* posterior = fields.find("posterior")) {
    object_of(*posterior, fields.at("posterior"), "a distribution and its parameters");
  }
  if (const Json* counts = fields.find("counts")) {
    const Place place = fields.at("counts");
    if (counts->is_array()) {
      numbers_of(*counts, place, 0, 0, 1e15);
    } else {
      for (const auto& [name, count] : object_of(*counts, place, "counts by name")) {
        number_of(count, place.key(name), 0, 1e15);
      }
    }
  }
  if (const Json* exposure = fields.find("exposure")) {
    const Place place = fields.at("exposure");
    if (exposure->is_number()) {
      number_of(*exposure, place, 0, 1e15);  // demands
    } else {
      hours_of(*exposure, place);
    }
  }
  if (const Json* interval = fields.find("interval")) {
    const Place place = fields.at("interval");
    if (interval->is_object()) {
      for (const auto& [name, bounds] : interval->get_ref<const Json::object_t&>()) {
        numbers_of(bounds, place.key(name), 2, 0, 1e15);
      }
    } else {
      numbers_of(*interval, place, 2, 0, 1e15);
    }
  }
  for (const char* key : {"method", "source", "date", "note"}) fields.text(key, "");
}

PackPrior read_prior(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("pack_mode"));
  PackPrior prior;
  prior.type = fields.id("type");
  prior.mode = fields.id("mode");
  prior.asset_class = fields.text("asset_class", "");
  if (const Json* grades = fields.find("grades")) {
    prior.grades = grades_of(*grades, fields.at("grades"));
  }
  if (const Json* wear_out = fields.find("wear_out")) {
    prior.wear_out = read_wear_out(*wear_out, fields.at("wear_out"));
  }
  if (!prior.grades && !prior.wear_out) {
    refuse(place, "the entry for " + in_backticks(prior.type + "." + prior.mode) +
                      " has neither `grades` nor `wear_out`; expected one of them or both");
  }
  check_background_of_entry(fields);
  return prior;
}

PackOutcomes read_outcomes(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("pack_outcomes"));
  PackOutcomes entry;
  if (fields.has("observation") == fields.has("kind")) {
    refuse(place, "an entry of outcomes has " +
                      std::string(fields.has("kind") ? "both `observation` and `kind`"
                                                     : "neither `observation` nor `kind`") +
                      "; expected exactly one of them");
  }
  if (fields.has("observation")) entry.observation = fields.id("observation", "/");
  if (const Json* kind = fields.find("kind")) {
    entry.kind = observation_kind_of(*kind, fields.at("kind"));
  }
  entry.model = read_outcome_model(fields, entry.kind == circuit::ObservationKind::flow ||
                                               entry.observation.starts_with("flow/"));
  for (const char* key : {"method", "source", "date", "note"}) fields.text(key, "");
  return entry;
}

PackSize read_pack_size(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("pack_size"));
  PackSize entry;
  entry.type = fields.id("type");
  entry.mode = fields.id("mode");
  entry.size = read_sizes(fields.need("sizes"), fields.at("sizes"), nullptr);
  for (const char* key : {"method", "source", "date", "note"}) fields.text(key, "");
  return entry;
}

}  // namespace

Pack read_pack(const Json& document) {
  const Place place;
  const Fields fields(document, place, shape("priors"));
  fields.check_format("faultodds-priors/1");
  Pack pack;
  pack.id = fields.id("id");
  pack.title = fields.text("title", pack.id);
  for (const char* key : {"version", "date", "source", "provenance"}) fields.text(key, "");
  const std::string pack_class = fields.text("asset_class", "");
  const Place modes_place = fields.at("modes");
  std::set<std::tuple<std::string, std::string, std::string>> seen;
  if (const Json* modes = fields.find("modes")) {
    const auto& list = list_of(*modes, modes_place, "entries by type and mode");
    for (std::size_t i = 0; i < list.size(); ++i) {
      check_stop();
      const Place here = modes_place.item(i);
      PackPrior prior = read_prior(list[i], here);
      if (prior.asset_class.empty()) prior.asset_class = pack_class;
      if (!seen.emplace(prior.type, prior.mode, prior.asset_class).second) {
        refuse(here,
               "a second entry for " + in_backticks(prior.type + "." + prior.mode) +
                   (prior.asset_class.empty()
                        ? ""
                        : " and asset class " + in_backticks(prior.asset_class)) +
                   "; expected one",
               Code::invalid_priors);
      }
      pack.priors.push_back(std::move(prior));
    }
  }
  const Place outcomes_place = fields.at("outcomes");
  if (const Json* outcomes = fields.find("outcomes")) {
    const auto& list = list_of(*outcomes, outcomes_place, "outcome statistics");
    for (std::size_t i = 0; i < list.size(); ++i) {
      check_stop();
      const Place here = outcomes_place.item(i);
      pack.outcomes.push_back(read_outcomes(list[i], here));
    }
  }
  if (const Json* sizes = fields.find("sizes")) {
    const Place sizes_place = fields.at("sizes");
    const auto& list = list_of(*sizes, sizes_place, "sizes by type and mode");
    std::set<std::pair<std::string, std::string>> sized;
    for (std::size_t i = 0; i < list.size(); ++i) {
      check_stop();
      const Place here = sizes_place.item(i);
      PackSize entry = read_pack_size(list[i], here);
      if (!sized.emplace(entry.type, entry.mode).second) {
        refuse(
            here,
            "a second entry for " + in_backticks(entry.type + "." + entry.mode) + "; expected one",
            Code::invalid_priors);
      }
      pack.sizes.push_back(std::move(entry));
    }
  }
  return pack;
}

}  // namespace faultodds::documents
