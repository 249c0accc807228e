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

// What a document stands for, and where each part of that stands in it.
class WrittenCircuit {
 public:
  // Throws Error(invalid_document, limit_exceeded) where `authored` cannot be written out.
  explicit WrittenCircuit(const Json& authored);

  // Components, connections, fittings and functions, and no assembly or base; none where that is
  // `authored` itself.
  const std::optional<Document>& json() const { return json_; }
  std::optional<Document>& json() { return json_; }
  Origin origin(const std::string& pointer) const;
  // What is said of json(), of the author's document: with its place, and the part of an assembly.
  Error of_author(const Error& error) const;

 private:
  Origins of_variant_, of_assemblies_;
  std::optional<Document> json_;
};

// `message`, and of which part of an assembly where it does not say so itself.
std::string with_part(std::string message, const std::string& part);

class CircuitDocument {
 public:
  // Throws Error as parse_json does, and where it cannot be written out.
  explicit CircuitDocument(std::string_view text)
      : authored_(read_document(text)), written_(authored_) {}

  const Json& json() const { return written_.json() ? *written_.json() : authored_; }
  // The same as text.
  std::string json_text() const { return json().dump(2) + "\n"; }

  Error of_author(const Error& error) const { return written_.of_author(error); }
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
  const WrittenCircuit written_;
};

}  // namespace faultodds::documents
