// A list of parts in the order in which oil meets them to a circuit document that joins them as
// such parts are joined. A beginning for its author: it holds no value that the list does not give,
// and says so through the check (circuit_check.h), not here.
#pragma once

#include <string>
#include <string_view>

namespace faultodds::documents {

// "faultodds-parts/1" to "faultodds-circuit/1", laid out for reading. Throws Error.
std::string new_circuit(std::string_view parts);

}  // namespace faultodds::documents
