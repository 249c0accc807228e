#include "capi/documents/message_catalogue.h"

#include <algorithm>
#include <array>

#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/quoted_text.h"

namespace faultodds::documents {
namespace {

struct Shipped {
  const char* language;
  std::string_view text;
};

const std::array<Shipped, 5>& shipped() {
  static const std::array<Shipped, 5> all{{{"en", kMessagesEn},
                                           {"de", kMessagesDe},
                                           {"es", kMessagesEs},
                                           {"fr", kMessagesFr},
                                           {"ar", kMessagesAr}}};
  return all;
}

// "de" of "de-AT".
std::string language_of(std::string_view tag) {
  std::string language(tag.substr(0, tag.find('-')));
  for (char& c : language) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return language;
}

const Shipped* find(std::string_view tag) {
  const std::string language = language_of(tag);
  for (const Shipped& one : shipped()) {
    if (language == one.language) return &one;
  }
  return nullptr;
}

MessageCatalogue read(const Shipped& one) {
  std::map<std::string, std::string, std::less<>> messages;
  const Json document = Json::parse(one.text);
  for (const auto& [id, text] : document.items()) messages.emplace(id, text.get<std::string>());
  return {one.language, std::move(messages)};
}

// Which plural a whole number takes, as Unicode CLDR has it.
std::string_view plural_of(std::string_view language, long n) {
  if (language == "ar") {
    if (n == 0) return "zero";
    if (n == 1) return "one";
    if (n == 2) return "two";
    if (n % 100 >= 3 && n % 100 <= 10) return "few";
    return n % 100 >= 11 ? "many" : "other";
  }
  if (language == "fr") return n < 2 ? "one" : "other";
  return n == 1 ? "one" : "other";
}

// Of a text whose `at` is behind a brace: that behind the one that closes it.
std::size_t behind(std::string_view text, std::size_t at) {
  for (int open = 1; at < text.size(); ++at) {
    if (text[at] == '{') ++open;
    if (text[at] == '}' && --open == 0) return at + 1;
  }
  return text.size();
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  return text;
}

// The branch of a plural: "=0 {...} one {...} other {...}".
std::string_view branch(std::string_view branches, std::string_view language, long n) {
  const std::string exact = "=" + std::to_string(n);
  const std::string_view category = plural_of(language, n);
  std::string_view chosen;
  for (int rank = 0; !branches.empty();) {
    const std::size_t brace = branches.find('{');
    if (brace == std::string_view::npos) break;
    const std::string_view name = trimmed(branches.substr(0, brace));
    const std::size_t end = behind(branches, brace + 1);
    const int worth = name == exact ? 3 : name == category ? 2 : name == "other" ? 1 : 0;
    if (worth > rank) {
      rank = worth;
      chosen = branches.substr(brace + 1, end - brace - 2);
    }
    branches.remove_prefix(end);
  }
  return chosen;
}

struct Filler {
  std::string_view language;
  const MessageWord* words;
  std::size_t count;

  const MessageWord* find(std::string_view name) const {
    const auto end = words + count;
    const auto at = std::find_if(words, end, [&](const auto& one) { return one.name == name; });
    return at == end ? nullptr : at;
  }

  // `number`: what # stands for; none outside a plural.
  void fill(std::string_view text, const std::string* number, std::string& out) const {
    for (std::size_t at = 0; at < text.size(); ++at) {
      const char c = text[at];
      if (c == '\'' && at + 1 < text.size() && text[at + 1] == '\'') {
        out += c;
        ++at;
      } else if (c == '#' && number != nullptr) {
        out += *number;
      } else if (c == '{') {
        const std::size_t end = behind(text, at + 1);
        place(text.substr(at + 1, end - at - 2), out);
        at = end - 1;
      } else {
        out += c;
      }
    }
  }

  void place(std::string_view inside, std::string& out) const {
    const std::size_t comma = inside.find(',');
    const MessageWord* word = find(trimmed(inside.substr(0, comma)));
    if (word == nullptr) return;
    if (comma == std::string_view::npos) {
      out += word->words;
      return;
    }
    const std::size_t kind = inside.find(',', comma + 1);
    if (kind == std::string_view::npos) return;
    fill(branch(inside.substr(kind + 1), language, word->number), &word->words, out);
  }
};

}  // namespace

bool MessageCatalogue::knows(std::string_view language) { return find(language) != nullptr; }

const MessageCatalogue& MessageCatalogue::in(std::string_view language) {
  static const std::map<std::string, MessageCatalogue> all = [] {
    std::map<std::string, MessageCatalogue> read_all;
    for (const Shipped& one : shipped()) read_all.emplace(one.language, read(one));
    return read_all;
  }();
  const auto found = all.find(language_of(language));
  if (found != all.end()) return found->second;
  throw Error(Code::invalid_case, "there are no messages in the language " +
                                      in_backticks(language) +
                                      "; expected `en`, `de`, `es`, `fr` or `ar`");
}

MessageCatalogue::MessageCatalogue(std::string language,
                                   std::map<std::string, std::string, std::less<>> messages)
    : language_(std::move(language)), messages_(std::move(messages)) {}

std::string MessageCatalogue::put(std::string_view id, const MessageWord* words,
                                  std::size_t count) const {
  const auto found = messages_.find(id);
  if (found == messages_.end()) return std::string(id);
  std::string out;
  Filler{language_, words, count}.fill(found->second, nullptr, out);
  return out;
}

std::string MessageCatalogue::with_its_point(std::string digits) const {
  if (language_ == "de" || language_ == "es" || language_ == "fr") {
    std::replace(digits.begin(), digits.end(), '.', ',');
  }
  return digits;
}

std::string MessageCatalogue::number(double value, int decimals) const {
  return with_its_point(fixed_text(value, decimals));
}

}  // namespace faultodds::documents
