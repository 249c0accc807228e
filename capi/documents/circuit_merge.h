// Writes JSON values as text: as they stand, with the parameters of an assembly put in, and one
// with changes to it laid over (RFC 7396: what an object says replaces, null takes out). Text,
// because a tree of values that memory ends in the middle of cannot be taken apart (document.h).
// What the values mean is for its callers.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <unordered_set>
#include <vector>

#include "capi/documents/circuit_origins.h"
#include "capi/documents/json.h"
#include "capi/documents/json_text.h"

namespace faultodds::documents {

// What stands for a `{name}`.
struct ParameterValue {
  std::string json, text;  // as a value, and within a text
  std::string origin;      // pointer to where it is given
};

// The parameters that a text may name: those of an assembly, and the number that an entry counts.
struct Parameters {
  std::map<std::string, ParameterValue, std::less<>> values;
  const Parameters* around = nullptr;

  const ParameterValue* find(std::string_view name) const;
  std::vector<std::string> names() const;
};

// One value and where its author wrote it. `parameters`: null where texts are taken as they stand.
struct Layer {
  const Json* value = nullptr;
  std::string pointer;
  const Parameters* parameters = nullptr;
};

// A text with `{name}`, `{name+1}` and `{name-1}` put in. Throws Error(invalid_document).
std::string filled(std::string_view text, const Parameters* parameters, const std::string& pointer);
// The same of a scalar, as what stands for a parameter in turn.
ParameterValue value_of(const Json& scalar, const Parameters* parameters,
                        const std::string& pointer);

class Merge {
 public:
  explicit Merge(Origins* origins) : origins_(*origins) {}
  JsonText& text() { return text_; }
  Origins& origins() { return origins_; }

  // Writes the first layer with the others laid over it, in their order. `at`: where it is written.
  // What does not come from the first layer is noted in the origins.
  void write(const std::vector<Layer>& layers, const std::string& at);
  // The members of the objects `layers` but for those of `without`.
  void write_members(const std::vector<Layer>& layers, const std::string& at,
                     const std::unordered_set<std::string_view>& without);

  // Counts what is kept beside what is written: names, titles, values.
  void keep(std::size_t bytes) { kept_ += bytes; }
  // Throws Error(limit_exceeded) at `pointer` where what was written or is kept so far is too much.
  void check_size(const std::string& pointer) const;

 private:
  void write_alone(const Layer& layer, const std::string& at);

  JsonText text_;
  Origins& origins_;
  std::size_t kept_ = 0;
};

}  // namespace faultodds::documents
