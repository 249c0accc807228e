#include "bindings/http/members.h"

#include <cstddef>
#include <nlohmann/json.hpp>
#include <unordered_set>

namespace faultodds_http {
namespace {

class Cutter {
 public:
  explicit Cutter(std::string_view text) : text_(text) {}

  std::vector<Member> cut() {
    std::vector<Member> out;
    std::unordered_set<std::string> names;
    space();
    expect('{', "an object, which begins with {");
    space();
    if (peek() == '}') {
      ++at_;
    } else {
      while (true) {
        space();
        Member member{string_value(string()), {}};
        space();
        if (peek() != ':') fail("a colon after " + faultodds_http::quoted(member.name));
        ++at_;
        space();
        member.text = value();
        if (!names.insert(member.name).second) {
          throw NotAnObject("the name " + faultodds_http::quoted(member.name) + " appears twice");
        }
        out.push_back(std::move(member));
        space();
        if (peek() == '}') break;
        expect(',', "a comma or }");
      }
      ++at_;
    }
    space();
    if (at_ != text_.size()) fail("nothing after the object");
    return out;
  }

 private:
  char peek() const { return at_ < text_.size() ? text_[at_] : '\0'; }

  [[noreturn]] void fail(const std::string& expected) const {
    throw NotAnObject("at byte " + std::to_string(at_) + " of " + std::to_string(text_.size()) +
                      ": expected " + expected);
  }

  void expect(char c, const std::string& expected) {
    if (at_ >= text_.size() || text_[at_] != c) fail(expected);
    ++at_;
  }

  void space() {
    while (at_ < text_.size() &&
           (text_[at_] == ' ' || text_[at_] == '\t' || text_[at_] == '\n' || text_[at_] == '\r')) {
      ++at_;
    }
  }

  // A string with its quotes.
  std::string_view string() {
    const std::size_t begin = at_;
    expect('"', "a string");
    while (at_ < text_.size() && text_[at_] != '"') at_ += text_[at_] == '\\' ? 2 : 1;
    if (at_ >= text_.size()) {
      at_ = text_.size();
      fail("the end of a string");
    }
    ++at_;
    return text_.substr(begin, at_ - begin);
  }

  // Up to the comma or brace of this object; brackets inside are counted, not matched by kind.
  std::string_view value() {
    const std::size_t begin = at_;
    std::size_t depth = 0;
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (depth == 0 && (c == ',' || c == '}' || c == ']')) break;
      if (c == '"') {
        string();
        continue;
      }
      if (c == '{' || c == '[') ++depth;
      if (c == '}' || c == ']') --depth;
      ++at_;
    }
    std::size_t end = at_;
    while (end > begin && (text_[end - 1] == ' ' || text_[end - 1] == '\t' ||
                           text_[end - 1] == '\n' || text_[end - 1] == '\r')) {
      --end;
    }
    if (end == begin) fail("a value");
    return text_.substr(begin, end - begin);
  }

  std::string_view text_;
  std::size_t at_ = 0;
};

}  // namespace

std::string quoted(const std::string& text) {
  constexpr std::size_t kMost = 200;
  const auto begins_character = [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  };
  std::size_t characters = 0, end = text.size();
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (!begins_character(text[i])) continue;
    if (characters == kMost) end = i;
    ++characters;
  }
  if (end == text.size()) return '"' + text + '"';
  return '"' + text.substr(0, end) + "...\" (of " + std::to_string(characters) + " characters)";
}

std::vector<Member> members_of(std::string_view text) { return Cutter(text).cut(); }

std::string string_value(std::string_view text) {
  if (text.empty() || text.front() != '"') throw NotAnObject("expected a string");
  const auto parsed = nlohmann::json::parse(text.begin(), text.end(), nullptr, false);
  if (!parsed.is_string()) throw NotAnObject("a string is not well formed");
  return parsed.get<std::string>();
}

}  // namespace faultodds_http
