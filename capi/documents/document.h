// Owns a JSON value and takes it apart without memory. The destructor of the JSON library's own
// type asks for some to avoid recursion, cannot fail, and so ends the process where there is none.
// Whatever is parsed inside the library is held by this; depth is bounded by JsonLimits.
#pragma once

#include <string_view>
#include <utility>

#include "capi/documents/json.h"

namespace faultodds::documents {

// Leaves nothing in `value` whose destructor asks for memory.
void take_apart(Json& value) noexcept;

class Document {
 public:
  explicit Document(Json&& root) noexcept : root_(std::move(root)) {}
  Document(Document&& other) noexcept : root_(std::move(other.root_)) {}
  Document& operator=(Document&&) = delete;
  ~Document() { take_apart(root_); }

  operator const Json&() const { return root_; }
  Json release() { return std::move(root_); }  // who takes it takes it apart

 private:
  Json root_;
};

// As parse_json.
inline Document read_document(std::string_view text, const JsonLimits& limits = {}) {
  return Document(parse_json(text, limits));
}

}  // namespace faultodds::documents
