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

WrittenCircuit::WrittenCircuit(const Json& authored) {
  const auto now = [&]() -> const Json& { return json_ ? *json_ : authored; };
  if (has(now(), "extends")) {
    const std::string text = write_variant(now(), &of_variant_);
    json_.emplace(read_written(text));
  }
  if (has(now(), "assemblies")) {
    std::string text;
    try {
      text = write_assemblies(now(), &of_assemblies_);
    } catch (const Error& error) {
      throw Error(error.code(), error.what(), of_variant_.of(error.pointer()).pointer);
    }
    json_.emplace(read_written(text));
  }
}

Origin WrittenCircuit::origin(const std::string& pointer) const {
  Origin out = of_assemblies_.of(pointer);
  out.pointer = of_variant_.of(out.pointer).pointer;
  return out;
}

Error WrittenCircuit::of_author(const Error& error) const {
  const Origin from = origin(error.pointer());
  return Error(error.code(), with_part(error.what(), from.part), from.pointer);
}

std::string with_part(std::string message, const std::string& part) {
  if (!part.empty() && message.find(part) == std::string::npos) message += " (in `" + part + "`)";
  return message;
}

}  // namespace faultodds::documents
