// Text from outside made fit to be quoted in a message: valid UTF-8 and of a readable length.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace faultodds::documents {

// `text` with every byte that is not part of valid UTF-8 replaced by U+FFFD and, when longer than
// `most` bytes, cut between characters and ended with "...".
std::string printable(std::string_view text, std::size_t most = 80);

// The same between backticks.
inline std::string in_backticks(std::string_view text) { return '`' + printable(text) + '`'; }

}  // namespace faultodds::documents
