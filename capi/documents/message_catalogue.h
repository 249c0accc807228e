// Words by id and language: the message catalogues of capi/words, in the part of ICU MessageFormat
// that they use ({name}; {name, plural, =0 {...} one {...} other {...}} with # for the number; ''
// for an apostrophe). The same files are the web element's, which has a whole MessageFormat; a test
// holds the one to the other. It knows no circuit (wording.h).
#pragma once

#include <initializer_list>
#include <map>
#include <string>
#include <string_view>
#include <utility>

namespace faultodds::documents {

// What stands for a name: words, or a number that chooses a plural.
struct MessageWord {
  MessageWord(std::string_view name_, std::string words_) : name(name_), words(std::move(words_)) {}
  MessageWord(std::string_view name_, const char* words_) : name(name_), words(words_) {}
  MessageWord(std::string_view name_, long number_)
      : name(name_), words(std::to_string(number_)), number(number_) {}

  std::string_view name;
  std::string words;
  long number = -1;
};

class MessageCatalogue {
 public:
  // "de", or "de-AT". Throws Error(invalid_case) naming those there are.
  static const MessageCatalogue& in(std::string_view language);
  static bool knows(std::string_view language);

  // A catalogue of one's own, for tests.
  MessageCatalogue(std::string language, std::map<std::string, std::string, std::less<>> messages);

  const std::string& language() const { return language_; }
  bool right_to_left() const { return language_ == "ar"; }
  bool has(std::string_view id) const { return messages_.find(id) != messages_.end(); }

  // An id that is not there stands for itself. What a message names and nobody gives is left out.
  template <typename Words>
  std::string say(std::string_view id, const Words& words) const {
    return put(id, words.begin(), words.end());
  }
  std::string say(std::string_view id, std::initializer_list<MessageWord> words = {}) const {
    return put(id, words.begin(), words.end());
  }

  // "12,5" where the language has a comma.
  std::string number(double value, int decimals) const;
  std::string with_its_point(std::string digits) const;

 private:
  template <typename At>
  std::string put(std::string_view id, At first, At last) const {
    return put(id, first == last ? nullptr : &*first, static_cast<std::size_t>(last - first));
  }
  std::string put(std::string_view id, const MessageWord* words, std::size_t count) const;

  std::string language_;
  std::map<std::string, std::string, std::less<>> messages_;
};

}  // namespace faultodds::documents
