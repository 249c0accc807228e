// A short name for a text, equal for equal texts. It tells revisions and repeated requests apart;
// it is no defence against somebody who makes two texts of one name on purpose.
#pragma once

#include <string>
#include <string_view>

namespace faultodds_http {

std::string fingerprint(std::string_view text);  // [0-9a-f-]+

}  // namespace faultodds_http
