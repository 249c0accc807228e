// Where in a document a reader stands: a chain of keys and indices on the stack, turned into an
// RFC 6901 JSON pointer only when there is an error to report. A Place must not outlive its parent.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "core/quoted_text.h"

namespace faultodds::documents {

// One reference token, with `~` and `/` written as RFC 6901 asks.
inline std::string escape_pointer(std::string_view token) {
  std::string escaped;
  escaped.reserve(token.size());
  for (const char c : token) {
    if (c == '~') {
      escaped += "~0";
    } else if (c == '/') {
      escaped += "~1";
    } else {
      escaped += c;
    }
  }
  return escaped;
}

class Place {
 public:
  Place() = default;  // the whole document
  Place key(std::string_view name) const { return Place(this, name, 0, true); }
  Place item(std::size_t index) const { return Place(this, {}, index, false); }

  std::string pointer() const {
    if (parent_ == nullptr) return {};
    return parent_->pointer() + '/' + (keyed_ ? escape_pointer(key_) : std::to_string(index_));
  }

  // How a message names it: "`bore`", or "item 3 of `modes`".
  std::string name() const {
    if (parent_ == nullptr) return "the document";
    if (keyed_) return in_backticks(key_);
    return "item " + std::to_string(index_) + " of " + parent_->name();
  }

 private:
  Place(const Place* parent, std::string_view key, std::size_t index, bool keyed)
      : parent_(parent), key_(key), index_(index), keyed_(keyed) {}

  const Place* parent_ = nullptr;
  std::string_view key_;
  std::size_t index_ = 0;
  bool keyed_ = false;
};

}  // namespace faultodds::documents
