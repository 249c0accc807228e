// A line of text, as people type it, taken apart into words that can be compared: small letters, no
// accents, abbreviations written in one way (L/H, R.H. and l.h. are lh and rh; WON'T is wont). It
// knows no language and no trade, and corrects nothing (spelling.h); what words mean is the
// lexicon's (lexicon.h).
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace faultodds::wording {

// Small letters without accents of Latin script, and Arabic letters without vowel signs, forms of
// alef and yeh as one; what is no letter or digit of either stays as it is. As German is typed
// without umlauts: ae, oe, ue, ss.
std::string fold(std::string_view text);

struct Token {
  std::string word;              // folded; letters only or digits only, or one of @ &
  std::size_t from = 0, to = 0;  // where it stands in the text, in bytes
  bool after_stop = false;       // punctuation that parts clauses stands before it: , ; : - ( > ~ .
};

std::vector<Token> tokens_of(std::string_view text);

// The words in order, parted by blanks: two lines with the same key say the same.
std::string key_of(const std::vector<Token>& tokens);

}  // namespace faultodds::wording
