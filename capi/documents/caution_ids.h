// Which caution is which: `general/1` to `general/6`, `hold/2` and so on for those that the library
// adds, in the order of core/circuit/cautions.h, and `own/1` onwards for those that the circuit's
// document brings. Message catalogues (bindings/words) have the former under `caution.<id>`.
#pragma once

#include <map>
#include <string>
#include <string_view>

#include "core/circuit/analysis.h"

namespace faultodds::documents {

class CautionIds {
 public:
  explicit CautionIds(const circuit::Analysis& analysis);

  // Of a caution of an observation of the circuit.
  std::string of(const std::string& text) const { return ids_.at(text); }
  static bool is_general(std::string_view id) { return id.substr(0, 8) == "general/"; }
  const std::map<std::string, std::string>& all() const { return ids_; }

 private:
  std::map<std::string, std::string> ids_;
};

}  // namespace faultodds::documents
