// How far two words are apart by slips of the keyboard, and which word of a list was meant. It
// knows no language; which words there are is the caller's to say.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace faultodds::wording {

// Letters left out, put in, exchanged, or two neighbours swapped (optimal string alignment: B. J.
// Oommen and R. K. S. Loke 1997, from memory), no more than `limit`; limit + 1: further apart.
std::size_t slips(std::string_view a, std::string_view b, std::size_t limit);

// The one word of `words`, which are in order, that `word` was meant for; -1 where none is near or
// two are as near. One slip in words of five letters or more, two in those of eight or more; the
// first letter is right (common practice, no source).
std::ptrdiff_t meant(std::string_view word, const std::vector<std::string>& words);

}  // namespace faultodds::wording
