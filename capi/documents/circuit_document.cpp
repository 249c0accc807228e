#include "capi/documents/circuit_document.h"

#include "capi/documents/circuit_assemblies.h"
#include "capi/documents/circuit_variant.h"

namespace faultodds::documents {
namespace {

bool has(const Json& document, const char* key) {
  return document.is_object() && document.contains(key);
}

// What was written out is refused as too large only.
Document read_written(const std::string& text) {
  try {
    return read_document(text);
  } catch (const Error& error) {
    if (error.code() != Code::invalid_json) throw;
    throw Error(Code::limit_exceeded,
                std::string("the circuit is too large when it is written out: ") + error.what());
  }
}

}  // namespace

CircuitDocument::CircuitDocument(Document authored) : authored_(std::move(authored)) {
  if (has(json(), "extends")) {
    const std::string text = write_variant(json(), &of_variant_);
    written_.emplace(read_written(text));
  }
  if (has(json(), "assemblies")) {
    std::string text;
    try {
      text = write_assemblies(json(), &of_assemblies_);
    } catch (const Error& error) {
      throw Error(error.code(), error.what(), of_variant_.of(error.pointer()).pointer);
    }
    written_.emplace(read_written(text));
  }
}

Origin CircuitDocument::origin(const std::string& pointer) const {
  Origin out = of_assemblies_.of(pointer);
  out.pointer = of_variant_.of(out.pointer).pointer;
  return out;
}

Error CircuitDocument::of_author(const Error& error) const {
  const Origin from = origin(error.pointer());
  std::string message = error.what();
  if (!from.part.empty() && message.find(from.part) == std::string::npos) {
    message += " (in `" + from.part + "`)";
  }
  return Error(error.code(), std::move(message), from.pointer);
}

}  // namespace faultodds::documents
