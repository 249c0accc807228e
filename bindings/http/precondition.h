// What must hold for a write (RFC 9110, section 13).
#pragma once

#include <optional>
#include <string>

namespace faultodds_http {

struct Precondition {
  std::optional<std::string> if_match;  // an ETag or *
  bool if_none_match_any = false;       // If-None-Match: *
};

}  // namespace faultodds_http
