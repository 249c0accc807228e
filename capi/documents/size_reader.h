// How large failure modes are and what load an actuator holds, as circuit documents state them:
//   sizes: {law, sound: {median, spread}, worn: {...}, failed: {...}, source}
//   load: {force | pressure, spread, direction}
// A median is a flow at 100 bar and 46 mm2/s, or of a `loss` a share of the flow ("12 %"). `sound`
// of a spool may be its dimensions instead of a median: {diameter, clearance, overlap}, lengths,
// the clearance radial. `spread` is the sigma of the logarithm. Whether the grades fit each other
// is checked by circuit::analyse.
#pragma once

#include <string>

#include "capi/documents/fields.h"
#include "capi/documents/json.h"
#include "capi/documents/place.h"
#include "core/circuit/description.h"

namespace faultodds::documents {

// What is not said is as in `otherwise`, which may be null, and where that is null or of another
// law, as circuit::default_size has it. Throws Error(invalid_document).
circuit::ModeSize read_sizes(const Json& value, const Place& place,
                             const circuit::ModeSize* otherwise);

// `law`: "laminar", "orifice" or "loss".
circuit::SizeLaw law_of(const Fields& fields);
std::string law_name(circuit::SizeLaw law);

circuit::Load read_load(const Json& value, const Place& place);

}  // namespace faultodds::documents
