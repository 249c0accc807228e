#include "core/quoted_text.h"

#include <algorithm>

namespace faultodds {
namespace {

constexpr std::string_view kReplacement = "\xEF\xBF\xBD";

// Length of the valid UTF-8 sequence at the head of `text`, 0 if there is none (RFC 3629).
std::size_t utf8_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const auto continues = [&](std::size_t i) { return i < text.size() && (byte(i) & 0xC0) == 0x80; };
  const unsigned lead = byte(0);
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return continues(1) ? 2 : 0;
  if (lead >= 0xE0 && lead <= 0xEF) {
    if (!continues(1) || !continues(2)) return 0;
    if (lead == 0xE0 && byte(1) < 0xA0) return 0;
    if (lead == 0xED && byte(1) > 0x9F) return 0;
    return 3;
  }
  if (lead >= 0xF0 && lead <= 0xF4) {
    if (!continues(1) || !continues(2) || !continues(3)) return 0;
    if (lead == 0xF0 && byte(1) < 0x90) return 0;
    if (lead == 0xF4 && byte(1) > 0x8F) return 0;
    return 4;
  }
  return 0;
}

// Takes the next character off `text`; what is no character counts as one for each byte.
std::string_view next_character(std::string_view& text) {
  const std::size_t length = utf8_length(text);
  const std::string_view character = length == 0 ? kReplacement : text.substr(0, length);
  text.remove_prefix(std::max<std::size_t>(length, 1));
  return character;
}

}  // namespace

std::string valid_utf8(std::string_view text) {
  std::string result;
  result.reserve(text.size());
  while (!text.empty()) result += next_character(text);
  return result;
}

std::string printable(std::string_view text) {
  std::string result;
  for (std::size_t count = 0; !text.empty(); ++count) {
    if (count == kMostQuoted) return result + "...";
    const std::string_view character = next_character(text);
    const auto first = static_cast<unsigned char>(character[0]);
    if (first < 0x20 || first == 0x7F) {
      result += '?';
    } else {
      result += character;
    }
  }
  return result;
}

std::string quoted_between(std::string_view text, char mark) {
  std::string result = mark + printable(text) + mark;
  std::size_t characters = 0;
  if (text.size() > kMostQuoted) {
    for (std::string_view rest = text; !rest.empty(); ++characters) next_character(rest);
  }
  if (characters > kMostQuoted) result += " (of " + std::to_string(characters) + " characters)";
  return result;
}

}  // namespace faultodds
