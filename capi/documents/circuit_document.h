// A circuit document as its author wrote it, and the circuit that it stands for: variants with
// their bases (circuit_variant.h) and assemblies (circuit_assemblies.h) are written out, and
// whatever is said of the result is said of the author's document. Every circuit enters by it.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "capi/documents/circuit_origins.h"
#include "capi/documents/document.h"
#include "core/error.h"

namespace faultodds::documents {

class CircuitDocument {
 public:
  // Throws Error as parse_json does, and where it cannot be written out.
  explicit CircuitDocument(std::string_view text) : CircuitDocument(read_document(text)) {}
  explicit CircuitDocument(Document authored);

  // Components, connections, fittings and functions, and no assembly or base.
  const Json& json() const { return written_ ? *written_ : authored_; }

  // Where in the author's document stands what is at `pointer` of json().
  Origin origin(const std::string& pointer) const;
  // What is said of json(), of the author's document: with its place, and the part of an assembly.
  Error of_author(const Error& error) const;
  template <typename Do>
  auto said_of_author(Do call) const {
    try {
      return call();
    } catch (const Error& error) {
      throw of_author(error);
    }
  }

 private:
  const Document authored_;
  Origins of_variant_, of_assemblies_;
  std::optional<Document> written_;
};

}  // namespace faultodds::documents
