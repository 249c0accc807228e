// What words of a trade mean: phrases of one or more words that stand for a concept, in one
// language or several, found in a line whatever their endings, slips and compounds, with whether
// they are denied
// ("no leak", "not leaking"). It knows no trade: concepts and their kinds are the caller's. What
// follows from a line (which finding, which symptom) is not decided here.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "core/wording/tokens.h"

namespace faultodds::wording {

struct Concept {
  std::string id, kind;
  std::vector<std::string> phrases;
};

// What a language brings besides the words of the trade.
struct Language {
  std::vector<std::string> endings;        // that make no other word: s, es
  std::vector<std::string> links;          // between the parts of a compound: "", s, n
  std::vector<std::string> denials;        // no, not, without: what follows is denied
  std::vector<std::string> denials_after;  // words that deny what stands before them: nicht
  std::vector<std::string> denial_ends;    // but: what follows is not denied any more
  std::vector<std::string> breaks;         // on, at, of: a new group of words begins
  std::vector<std::string> ignored;        // the, a, is
  std::vector<std::string> elisions{};     // l, d: with an apostrophe, words of their own
  std::vector<std::string> beginnings{};   // written together with a word: Arabic al, wa, bi
};

// A concept found in a line.
struct Mention {
  std::uint32_t concept_index = 0;
  std::size_t first = 0, last = 0;  // words, from 0, both included
  bool denied = false;
  bool corrected = false;  // of a slip of the keyboard
};

// A word of a line as it was understood.
struct Word {
  Token token;
  bool starts_group = false;  // after a break or punctuation
  std::string broken_by;      // the break before it, if that is why
  bool ignored = false;       // breaks, denials, and words that say nothing
  bool mentioned = false;     // part of a mention
};

struct Line {
  std::vector<Word> words;
  std::vector<Mention> mentions;  // in order; they do not overlap
};

class Lexicon {
 public:
  // Several languages are read at once. Throws Error(invalid_argument) where one phrase stands for
  // two concepts or is empty.
  Lexicon(std::vector<Concept> concepts, const std::vector<Language>& languages);

  Line read(std::string_view text) const;

  const std::vector<Concept>& concepts() const { return concepts_; }
  std::ptrdiff_t index_of(std::string_view id) const;  // -1: none

 private:
  struct Known {
    std::vector<std::string> words;  // one; two for a compound
    bool corrected = false;
  };
  Known known(const std::string& word) const;
  std::string without_ending(const std::string& word) const;
  std::string without_beginning(const std::string& word) const;
  // The steps of read().
  std::vector<bool> add_words(std::string_view text, Line& line) const;
  void add_mentions(const std::vector<bool>& corrected, Line& line) const;
  std::size_t add_mention_at(std::size_t i, const std::vector<bool>& corrected, Line& line) const;
  void deny_around(std::size_t i, Line& line) const;

  std::vector<Concept> concepts_;
  std::map<std::string, std::uint32_t, std::less<>> phrases_;  // words parted by blanks
  std::vector<std::string> vocabulary_;                        // single words of phrases, in order
  std::vector<std::string> everything_;                        // and those of the languages
  std::size_t longest_ = 1;                                    // words of a phrase
  Language language_;                                          // all of them together
};

// How alike two lines are, 0 to 1: words and concepts in common over those of both (P. Jaccard
// 1901, from memory). Digits do not count.
double likeness(const Line& a, const Line& b);

}  // namespace faultodds::wording
