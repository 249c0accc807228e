#include "capi/documents/printable.h"

#include <algorithm>

namespace faultodds::documents {
namespace {

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

}  // namespace

std::string printable(std::string_view text, std::size_t most) {
  std::string result;
  while (!text.empty()) {
    const std::size_t length = utf8_length(text);
    const std::string_view piece = length == 0 ? "\xEF\xBF\xBD" : text.substr(0, length);
    if (result.size() + piece.size() > most) return result + "...";
    result += piece;
    text.remove_prefix(std::max<std::size_t>(length, 1));
  }
  return result;
}

}  // namespace faultodds::documents
