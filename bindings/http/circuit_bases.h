// Variants of circuits: the library takes a base inside the document that extends it, people and
// systems name it. Puts the document of that name in its place, byte for byte, and its bases in
// theirs. Where the documents are is for the caller: a directory, a store.
#pragma once

#include <functional>
#include <optional>
#include <set>
#include <string>
#include <string_view>

namespace faultodds_http {

// The name in `extends`; none where the document has none, has a document there, or is no object:
// what else is wrong with it is for the library to say.
std::optional<std::string> base_named(std::string_view circuit);

struct CircuitBases {
  std::string text;             // with every base in its place
  std::set<std::string> names;  // of the bases
  std::string problem;          // why not; empty where there is none
  std::string pointer;          // where, into `circuit`
};

// `find` gives the text of a name, nothing where there is none.
CircuitBases with_bases(
    std::string_view circuit,
    const std::function<std::optional<std::string>(const std::string& name)>& find);

}  // namespace faultodds_http
