#include "capi/documents/shapes.h"

#include <map>

#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "core/error.h"

namespace faultodds::documents {
namespace {

std::map<std::string, Shape, std::less<>> read_shapes() {
  const Document document = read_document(kSchemas);
  const Json& schemas = document;
  std::map<std::string, Shape, std::less<>> shapes;
  for (const auto& [name, one] : schemas["$defs"].items()) {
    if (!one.contains("properties")) continue;
    Shape& shape = shapes[name];
    shape.what = one["description"].get<std::string>();
    for (const auto& [key, value] : one["properties"].items()) shape.keys.push_back(key);
  }
  return shapes;
}

}  // namespace

const Shape& shape(std::string_view name) {
  static const std::map<std::string, Shape, std::less<>> shapes = read_shapes();
  const auto found = shapes.find(name);
  if (found == shapes.end()) {
    throw Error(Code::internal, "no shape " + std::string(name) + " inside the library");
  }
  return found->second;
}

}  // namespace faultodds::documents
