// The objects of the documents as schemas.json describes them: the one list of their keys, which
// the readers refuse others by and the JSON Schemas are made of (json_schema.h). What the values
// mean is for the readers.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace faultodds::documents {

struct Shape {
  std::string what;               // "a component", for messages
  std::vector<std::string> keys;  // in the order in which they are described
};

// Of an object of schemas.json, such as "component". Throws Error(internal) where there is none.
const Shape& shape(std::string_view name);

}  // namespace faultodds::documents
