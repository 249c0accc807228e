#include "capi/documents/circuit_origins.h"

#include <string_view>

namespace faultodds::documents {

Origin Origins::of(const std::string& pointer) const {
  constexpr std::string_view kBase = "/extends";
  Origin out{pointer, {}};
  for (std::size_t end = pointer.size(); end != 0 && end != std::string::npos;
       end = pointer.rfind('/', end - 1)) {
    const auto found = by_pointer_.find(pointer.substr(0, end));
    if (found == by_pointer_.end()) continue;
    out = {found->second.pointer + pointer.substr(end), found->second.part};
    break;
  }
  const bool below = out.pointer == kBase || out.pointer.starts_with(std::string(kBase) + "/");
  if (base_ == nullptr || !below) return out;
  Origin in_base = base_->of(out.pointer.substr(kBase.size()));
  if (!in_base.part.empty()) out.part = std::move(in_base.part);
  out.pointer = std::string(kBase) + in_base.pointer;
  return out;
}

}  // namespace faultodds::documents
