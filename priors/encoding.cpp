#include "priors/encoding.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <memory>
#include <optional>

namespace faultodds::priors {

ByteSource after(std::string already_read, ByteSource source) {
  auto held = std::make_shared<std::string>(std::move(already_read));
  return [held, at = std::size_t{0}, source = std::move(source)](char* into,
                                                                 std::size_t room) mutable {
    if (at < held->size()) {
      const std::size_t size = std::min(room, held->size() - at);
      std::copy_n(held->data() + at, size, into);
      at += size;
      if (at == held->size()) held->clear(), at = 0;
      return size;
    }
    return source(into, room);
  };
}

std::string beginning_of(ByteSource& source, std::size_t most) {
  std::string text(most, '\0');
  std::size_t size = 0;
  while (size < most) {
    const std::size_t got = source(text.data() + size, most - size);
    if (got == 0) break;
    size += got;
  }
  text.resize(size);
  return text;
}

Encoding encoding_of(std::string_view beginning) {
  if (beginning.starts_with("\xFF\xFE")) return Encoding::utf_16_le;
  if (beginning.starts_with("\xFE\xFF")) return Encoding::utf_16_be;
  if (beginning.starts_with("\xEF\xBB\xBF")) return Encoding::utf_8;
  // Latin letters in UTF-16 have a zero in every other byte; a text has none.
  std::size_t even = 0, odd = 0;
  for (std::size_t i = 0; i < beginning.size(); ++i) {
    if (beginning[i] == '\0') ++(i % 2 == 0 ? even : odd);
  }
  if (odd > beginning.size() / 4 && even < odd / 8) return Encoding::utf_16_le;
  if (even > beginning.size() / 4 && odd < even / 8) return Encoding::utf_16_be;
  // Rows that are not UTF-8 among many that are stay what they are: faults of their own. A file in
  // Windows-1252 has no letter beyond ASCII that is UTF-8.
  std::size_t good = 0, bad = 0;
  for (std::size_t i = 0; i < beginning.size();) {
    if (static_cast<unsigned char>(beginning[i]) < 0x80) {
      ++i;
      continue;
    }
    std::size_t length = 2;
    while (length <= 4 && !is_utf8(beginning.substr(i, length))) ++length;
    if (length <= 4) {
      ++good;
      i += length;
    } else {
      if (i + 4 < beginning.size()) ++bad;  // else cut off where the beginning ends
      ++i;
    }
  }
  return bad > good ? Encoding::windows_1252 : Encoding::utf_8;
}

namespace {

void append_utf_8(std::string& to, std::uint32_t code) {
  const auto byte = [&](std::uint32_t value) { to += static_cast<char>(value); };
  if (code < 0x80) {
    byte(code);
  } else if (code < 0x800) {
    byte(0xC0 | (code >> 6));
    byte(0x80 | (code & 0x3F));
  } else if (code < 0x10000) {
    byte(0xE0 | (code >> 12));
    byte(0x80 | ((code >> 6) & 0x3F));
    byte(0x80 | (code & 0x3F));
  } else {
    byte(0xF0 | (code >> 18));
    byte(0x80 | ((code >> 12) & 0x3F));
    byte(0x80 | ((code >> 6) & 0x3F));
    byte(0x80 | (code & 0x3F));
  }
}

constexpr std::uint32_t kUnreadable = 0xFFFD;

// Bytes 0x80 to 0x9F; the others are those of Unicode (The Unicode Consortium, CP1252.TXT, from
// memory).
constexpr std::array<std::uint16_t, 32> kWindows = {
    0x20AC, 0xFFFD, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
    0x2039, 0x0152, 0xFFFD, 0x017D, 0xFFFD, 0xFFFD, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
    0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0xFFFD, 0x017E, 0x0178};

class Decoder {
 public:
  explicit Decoder(Encoding encoding) : encoding_(encoding) {}

  void decode(std::string_view bytes, std::string& to) {
    for (const char c : bytes) {
      const auto byte = static_cast<unsigned char>(c);
      if (encoding_ == Encoding::windows_1252) {
        append_utf_8(to, byte >= 0x80 && byte < 0xA0 ? kWindows[byte - 0x80u] : byte);
        continue;
      }
      if (!half_) {
        half_ = byte;
        continue;
      }
      const std::uint32_t unit = encoding_ == Encoding::utf_16_le
                                     ? static_cast<std::uint32_t>(byte << 8) | *half_
                                     : static_cast<std::uint32_t>(*half_ << 8) | byte;
      half_.reset();
      take(unit, to);
    }
  }

  void end(std::string& to) {
    if (high_ != 0 || half_) append_utf_8(to, kUnreadable);
    high_ = 0;
    half_.reset();
  }

 private:
  void take(std::uint32_t unit, std::string& to) {
    if (unit >= 0xDC00 && unit < 0xE000 && high_ != 0) {
      append_utf_8(to, 0x10000 + ((high_ - 0xD800) << 10) + (unit - 0xDC00));
      high_ = 0;
      return;
    }
    if (high_ != 0) append_utf_8(to, kUnreadable);
    high_ = 0;
    if (unit >= 0xD800 && unit < 0xDC00) {
      high_ = unit;
    } else {
      append_utf_8(to, unit >= 0xDC00 && unit < 0xE000 ? kUnreadable : unit);
    }
  }

  Encoding encoding_;
  std::optional<unsigned char> half_;
  std::uint32_t high_ = 0;
};

}  // namespace

ByteSource as_utf_8(ByteSource source, Encoding encoding) {
  if (encoding == Encoding::utf_8) return source;
  struct State {
    ByteSource source;
    Decoder decoder;
    std::string decoded;
    std::size_t at = 0;
    bool ended = false;
  };
  auto state = std::make_shared<State>(State{std::move(source), Decoder(encoding), {}});
  return [state](char* into, std::size_t room) {
    char bytes[16384];
    while (state->at == state->decoded.size() && !state->ended) {
      state->decoded.clear();
      state->at = 0;
      const std::size_t got = state->source(bytes, sizeof bytes);
      if (got == 0) {
        state->ended = true;
        state->decoder.end(state->decoded);
      } else {
        state->decoder.decode({bytes, got}, state->decoded);
      }
    }
    const std::size_t size = std::min(room, state->decoded.size() - state->at);
    std::copy_n(state->decoded.data() + state->at, size, into);
    state->at += size;
    return size;
  };
}

}  // namespace faultodds::priors
