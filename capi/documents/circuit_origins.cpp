#include "capi/documents/circuit_origins.h"

#include <string_view>

namespace faultodds::documents {

Origin Origins::of(const std::string& pointer) const {
  constexpr std::string_view kBase = "/extends";
  Origin out{pointer, {}};
  bool known = false;
  for (std::size_t end = pointer.size(); end != 0 && end != std::string::npos;
       end = pointer.rfind('/', end - 1)) {
    const auto found = by_pointer_.find(pointer.substr(0, end));
    if (found == by_pointer_.end()) continue;
    if (!known) out.pointer = found->second.pointer + pointer.substr(end);
    known = true;
    out.part = found->second.part;
    if (!out.part.empty()) break;
  }
  const bool below = out.pointer == kBase || out.pointer.starts_with(std::string(kBase) + "/");
  if (base_ == nullptr || !below) return out;
  Origin in_base = base_->of(out.pointer.substr(kBase.size()));
  if (!in_base.part.empty()) out.part = std::move(in_base.part);
  out.pointer = std::string(kBase) + in_base.pointer;
  return out;
}

}  // namespace faultodds::documents
