#include "bindings/http/fingerprint.h"

#include <array>
#include <cstdint>
#include <cstdio>

namespace faultodds_http {

std::string fingerprint(std::string_view text) {
  std::uint64_t hash = 14695981039346656037u;  // FNV-1a
  for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211u;
  std::array<char, 48> buffer{};
  std::snprintf(buffer.data(), buffer.size(), "%zx-%016llx", text.size(),
                static_cast<unsigned long long>(hash));
  return buffer.data();
}

}  // namespace faultodds_http
