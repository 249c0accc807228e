// Where in its author's document stands what is at a place of a circuit document that was written
// out of it (circuit_variant.h, circuit_assemblies.h). Only what does not stand at the same place
// is kept: whole entries of lists, and members that came from elsewhere.
#pragma once

#include <memory>
#include <string>
#include <unordered_map>

namespace faultodds::documents {

struct Origin {
  std::string pointer;  // RFC 6901
  std::string part;     // the part of an assembly that it is of, by its full id; mostly empty
};

class Origins {
 public:
  void add(std::string written, std::string pointer, std::string part = {}) {
    bytes_ += written.size() + pointer.size() + part.size();
    by_pointer_.insert_or_assign(std::move(written), Origin{std::move(pointer), std::move(part)});
  }
  // Of what is kept, its base's left out.
  std::size_t bytes() const { return bytes_; }
  // What is below "/extends" was itself written out of a document, which has these origins.
  void set_base(Origins base) { base_ = std::make_unique<const Origins>(std::move(base)); }

  // By the nearest place above it that is known; the pointer itself where none is.
  Origin of(const std::string& pointer) const;

 private:
  std::unordered_map<std::string, Origin> by_pointer_;
  std::unique_ptr<const Origins> base_;
  std::size_t bytes_ = 0;
};

}  // namespace faultodds::documents
