#include "core/wording/lexicon.h"

#include <algorithm>
#include <iterator>
#include <set>

#include "core/error.h"
#include "core/quoted_text.h"
#include "core/wording/spelling.h"

namespace faultodds::wording {
namespace {

constexpr std::size_t kShortestPart = 3;      // letters of a part of a compound
constexpr std::size_t kShortestStem = 6;      // bytes behind a beginning
constexpr std::size_t kShortestCompound = 7;  // letters
constexpr std::size_t kLongestCompound = 60;
constexpr std::size_t kFarthestDenied = 4;  // words after a denial that it reaches

[[noreturn]] void refuse(const std::string& message) {
  throw Error(Code::invalid_argument, message);
}

bool has_word(const std::vector<std::string>& sorted, std::string_view word) {
  return std::binary_search(sorted.begin(), sorted.end(), word, std::less<>());
}

void add_folded(const std::vector<std::string>& from, std::vector<std::string>& to) {
  for (const std::string& text : from) {
    for (const Token& token : tokens_of(text)) to.push_back(token.word);
  }
}

void put_in_order(std::vector<std::string>& words) {
  std::sort(words.begin(), words.end());
  words.erase(std::unique(words.begin(), words.end()), words.end());
}

}  // namespace

Lexicon::Lexicon(std::vector<Concept> concepts, const std::vector<Language>& languages)
    : concepts_(std::move(concepts)) {
  for (const Language& language : languages) {
    for (const std::string& ending : language.endings) language_.endings.push_back(fold(ending));
    for (const std::string& one : language.beginnings) language_.beginnings.push_back(fold(one));
    for (const std::string& link : language.links) language_.links.push_back(fold(link));
    add_folded(language.denials, language_.denials);
    add_folded(language.denials_after, language_.denials_after);
    add_folded(language.denial_ends, language_.denial_ends);
    add_folded(language.breaks, language_.breaks);
    add_folded(language.ignored, language_.ignored);
  }
  language_.links.push_back("");
  for (auto* words :
       {&language_.endings, &language_.links, &language_.denials, &language_.denials_after,
        &language_.denial_ends, &language_.breaks, &language_.ignored}) {
    put_in_order(*words);
  }
  for (std::uint32_t i = 0; i < concepts_.size(); ++i) {
    for (const std::string& phrase : concepts_[i].phrases) {
      const std::vector<Token> tokens = tokens_of(phrase);
      if (tokens.empty()) {
        refuse("concept " + in_quotes(concepts_[i].id) + " has the phrase " + in_quotes(phrase) +
               "; expected a word at least");
      }
      const auto [at, added] = phrases_.emplace(key_of(tokens), i);
      if (!added && at->second != i) {
        refuse("phrase " + in_quotes(phrase) + " stands for " +
               in_quotes(concepts_[at->second].id) + " and for " + in_quotes(concepts_[i].id) +
               "; expected one concept");
      }
      longest_ = std::max(longest_, tokens.size());
      for (const Token& token : tokens) vocabulary_.push_back(token.word);
    }
  }
  put_in_order(vocabulary_);
  everything_ = vocabulary_;
  for (const auto* words : {&language_.denials, &language_.denials_after, &language_.denial_ends,
                            &language_.breaks, &language_.ignored}) {
    everything_.insert(everything_.end(), words->begin(), words->end());
  }
  put_in_order(everything_);
}

std::ptrdiff_t Lexicon::index_of(std::string_view id) const {
  for (std::size_t i = 0; i < concepts_.size(); ++i) {
    if (concepts_[i].id == id) return static_cast<std::ptrdiff_t>(i);
  }
  return -1;
}

// The word with an ending taken off, if there is such a word; else empty.
std::string Lexicon::without_ending(const std::string& word) const {
  for (const std::string& ending : language_.endings) {
    if (ending.empty() || word.size() < ending.size() + kShortestPart || !word.ends_with(ending)) {
      continue;
    }
    std::string stem = word.substr(0, word.size() - ending.size());
    if (has_word(everything_, stem)) return stem;
  }
  return {};
}

// The word with what is written together with it taken off, if that leaves a word; else empty.
std::string Lexicon::without_beginning(const std::string& word) const {
  for (const std::string& one : language_.beginnings) {
    if (word.size() < one.size() + kShortestStem || !word.starts_with(one)) continue;
    std::string stem = word.substr(one.size());
    if (!has_word(everything_, stem)) stem = without_ending(stem);
    if (!stem.empty()) return stem;
  }
  return {};
}

// As it is, without an ending or a beginning, as a compound of known words, or what was meant.
Lexicon::Known Lexicon::known(const std::string& word) const {
  if (has_word(everything_, word)) return {{word}, false};
  std::string stem = without_ending(word);
  if (stem.empty()) stem = without_beginning(word);
  if (!stem.empty()) return {{std::move(stem)}, false};
  if (word.size() >= kShortestCompound && word.size() <= kLongestCompound) {
    // The longest last part first: it is what the compound is.
    for (std::size_t cut = kShortestPart; cut + kShortestPart <= word.size(); ++cut) {
      std::string last = word.substr(cut);
      if (!has_word(vocabulary_, last)) last = without_ending(last);
      if (last.empty() || !has_word(vocabulary_, last)) continue;
      for (const std::string& link : language_.links) {
        const std::string_view front = std::string_view(word).substr(0, cut);
        if (!front.ends_with(link) || front.size() < link.size() + kShortestPart) continue;
        const std::string first(front.substr(0, front.size() - link.size()));
        if (has_word(vocabulary_, first)) return {{first, last}, false};
        if (first.size() < kShortestCompound) continue;
        Known rest = known(first);
        if (rest.words.size() > 1 && !rest.corrected) {
          rest.words.push_back(last);
          return rest;
        }
      }
    }
  }
  const std::ptrdiff_t at = meant(word, vocabulary_);
  if (at >= 0) return {{vocabulary_[static_cast<std::size_t>(at)]}, true};
  return {{word}, false};
}

Line Lexicon::read(std::string_view text) const {
  Line line;
  const std::vector<bool> corrected = add_words(text, line);
  add_mentions(corrected, line);
  for (std::size_t i = 0; i < line.words.size(); ++i) {
    if (!line.words[i].mentioned) deny_around(i, line);
  }
  return line;
}

// Of each word, whether it was corrected.
std::vector<bool> Lexicon::add_words(std::string_view text, Line& line) const {
  std::vector<bool> corrected;
  std::string broken_by;
  bool group = false;
  for (const Token& token : tokens_of(text)) {
    const Known meant_by = known(token.word);
    for (std::size_t part = 0; part < meant_by.words.size(); ++part) {
      Word word{token, false, {}, false, false};
      word.token.word = meant_by.words[part];
      word.token.after_stop = token.after_stop && part == 0;
      word.starts_group = group || word.token.after_stop;
      word.broken_by = std::move(broken_by);
      broken_by.clear();
      group = false;
      if (has_word(language_.breaks, word.token.word)) {
        word.ignored = true;
        group = true;
        broken_by = word.token.word;
      } else {
        word.ignored = has_word(language_.ignored, word.token.word) ||
                       has_word(language_.denials, word.token.word) ||
                       has_word(language_.denials_after, word.token.word) ||
                       has_word(language_.denial_ends, word.token.word);
      }
      line.words.push_back(std::move(word));
      corrected.push_back(meant_by.corrected);
    }
  }
  return corrected;
}

void Lexicon::add_mentions(const std::vector<bool>& corrected, Line& line) const {
  for (std::size_t i = 0; i < line.words.size();) {
    const std::size_t taken = add_mention_at(i, corrected, line);
    for (std::size_t k = i; k < i + taken; ++k) {
      line.words[k].mentioned = true;
      line.words[k].ignored = false;
      // A break inside of a phrase breaks nothing.
      if (k + 1 < line.words.size() && line.words[k + 1].broken_by == line.words[k].token.word) {
        line.words[k + 1].broken_by.clear();
        line.words[k + 1].starts_group = line.words[k + 1].token.after_stop;
      }
    }
    i += std::max<std::size_t>(taken, 1);
  }
}

// The longest phrase that begins with word `i`: how many words it has, 0 if there is none.
std::size_t Lexicon::add_mention_at(std::size_t i, const std::vector<bool>& corrected,
                                    Line& line) const {
  std::size_t taken = 0;
  std::string key;
  for (std::size_t n = 0; n < longest_ && i + n < line.words.size(); ++n) {
    if (n > 0 && line.words[i + n].token.after_stop) break;
    if (n > 0) key += ' ';
    key += line.words[i + n].token.word;
    auto found = phrases_.find(key);
    if (found == phrases_.end()) {
      // Of a plural that is a word elsewhere too.
      const std::string& last = line.words[i + n].token.word;
      const std::string stem = without_ending(last);
      if (stem.empty()) continue;
      found = phrases_.find(key.substr(0, key.size() - last.size()) + stem);
      if (found == phrases_.end()) continue;
    }
    if (taken > 0) line.mentions.pop_back();
    taken = n + 1;
    bool slip = false;
    for (std::size_t k = i; k <= i + n; ++k) slip = slip || corrected[k];
    line.mentions.push_back({found->second, i, i + n, false, slip});
  }
  return taken;
}

// What word `i` denies, behind it and before it.
void Lexicon::deny_around(std::size_t i, Line& line) const {
  const Word& word = line.words[i];
  // "No 3" is a number.
  const bool counts = i + 1 < line.words.size() && line.words[i + 1].token.word[0] >= '0' &&
                      line.words[i + 1].token.word[0] <= '9';
  if (has_word(language_.denials, word.token.word) && !counts) {
    for (Mention& mention : line.mentions) {
      if (mention.first <= i || mention.first > i + kFarthestDenied) continue;
      bool ended = false;
      for (std::size_t k = i + 1; k <= mention.first; ++k) {
        ended = ended || line.words[k].starts_group ||
                has_word(language_.denial_ends, line.words[k].token.word);
      }
      if (!ended) mention.denied = true;
    }
  }
  if (has_word(language_.denials_after, word.token.word)) {
    for (auto at = line.mentions.rbegin(); at != line.mentions.rend(); ++at) {
      if (at->last >= i) continue;
      if (at->last + 1 == i && !word.starts_group) at->denied = true;
      break;
    }
  }
}

double likeness(const Line& a, const Line& b) {
  const auto said = [](const Line& line) {
    std::set<std::string> words;
    for (const Word& word : line.words) {
      if (!word.ignored && (word.token.word[0] < '0' || word.token.word[0] > '9')) {
        words.insert(word.token.word);
      }
    }
    return words;
  };
  const std::set<std::string> first = said(a), second = said(b);
  std::vector<std::string> both;
  std::set_intersection(first.begin(), first.end(), second.begin(), second.end(),
                        std::back_inserter(both));
  const std::size_t all = first.size() + second.size() - both.size();
  return all == 0 ? 1 : static_cast<double>(both.size()) / static_cast<double>(all);
}

}  // namespace faultodds::wording
