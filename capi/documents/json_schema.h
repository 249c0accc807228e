// JSON Schemas (2020-12): of the documents that are given, made of the shapes that the readers use
// (shapes.h), and of those that are answered (answers.json), which are open to what is added later.
#pragma once

#include <string>
#include <string_view>

namespace faultodds::documents {

// Of a format such as "faultodds-circuit/1". Throws Error(invalid_argument).
std::string json_schema(std::string_view format);

}  // namespace faultodds::documents
