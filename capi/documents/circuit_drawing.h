// A circuit as a drawing: symbols after ISO 1219-1, laid out in layers. With an assessment its
// suspects are shaded, the leak path of the first is drawn and the port of the next test marked.
#pragma once

#include <string>
#include <string_view>

namespace faultodds::documents {

// SVG. `answer` is an assessment of this circuit, or empty. Throws Error.
std::string circuit_drawing(std::string_view circuit, std::string_view answer);

}  // namespace faultodds::documents
