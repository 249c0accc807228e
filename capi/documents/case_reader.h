// The case document "faultodds-case/1" to a diagnosis::Case over a compiled model: names become
// indices, quantities become SI. It weighs no evidence; readings that make no sense physically are
// refused by the engine.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "capi/documents/json.h"
#include "capi/documents/place.h"
#include "core/circuit/analysis.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"

namespace faultodds::documents {

// What the case says of the machine; it goes back into the answer.
struct Asset {
  std::string id, asset_class;
  std::optional<double> meter_hours;
  std::map<std::string, double> component_hours, sound_at;
};

// The machine alone, without a model: its class selects the priors the model is compiled with.
// Throws as read_case does.
Asset read_asset(const Json& case_document);

// Throws Error(invalid_document) for shapes and units, Error(invalid_case) for names that the model
// does not know, with a pointer into the case document.
diagnosis::Case read_case(const Json& case_document, const diagnosis::Model& model);

// One entry of the list `observations`.
diagnosis::Evidence read_evidence(const Json& entry, const Place& place,
                                  const diagnosis::Model& model);

// An entry of that list which says that components were replaced: `{repaired: [component, ...]}`.
// Nothing when it has no such key.
std::optional<diagnosis::Repair> read_repair(const Json& entry, const Place& place,
                                             const diagnosis::Model& model);

// Another: a test that cannot be made, `{not_possible: observation, reason}`.
std::optional<diagnosis::NotPossible> read_not_possible(const Json& entry, const Place& place,
                                                        const diagnosis::Model& model);
// Adds it; said again, its reason is the last.
void add_not_possible(diagnosis::Case& to, diagnosis::NotPossible one);

// Whether the case asks for the answer's `advice`; it does unless it says `"advice": false`.
bool wants_advice(const Json& case_document);

// Whether the case asks for the whole answer, `detail: "full"`, and not for what a screen needs,
// `"screen"` or nothing said (screen_writer.h).
bool wants_all(const Json& case_document);

// The language in which people are answered, "en" where nothing is said.
std::string language_of(const Json& case_document);

// Index of a component that some document names. Throws Error(invalid_case) at `place`.
std::uint32_t find_component(std::string_view id, const Place& place,
                             const diagnosis::Model& model);

// For messages on an unknown name: what it may have been meant to be, and what there is.
std::string known_observations(std::string_view id, const diagnosis::Model& model);
std::string known_setup(std::string_view id, const diagnosis::Model& model);

}  // namespace faultodds::documents
