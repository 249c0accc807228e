#include "priors/csv.h"

#include <algorithm>
#include <bit>
#include <cctype>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>

#include "core/error.h"

#if defined(__SSE2__)
#include <emmintrin.h>
#endif

namespace faultodds::priors {
namespace {

constexpr std::size_t chunk_bytes = std::size_t{256} << 10;
constexpr std::size_t block_bytes = 64;
constexpr std::size_t nowhere = static_cast<std::size_t>(-1);

struct Masks {
  std::uint64_t special = 0;  // delimiter, quote, \n, \r
  std::uint64_t odd = 0;      // control characters but \t \n \r, and bytes above 0x7f
};

#if defined(__SSE2__)
Masks masks_of(const char* block, char delimiter) {
  const __m128i delimiters = _mm_set1_epi8(delimiter), quotes = _mm_set1_epi8('"');
  const __m128i feeds = _mm_set1_epi8('\n'), returns = _mm_set1_epi8('\r');
  const __m128i tabs = _mm_set1_epi8('\t'), spaces = _mm_set1_epi8(' ');
  Masks masks;
  for (std::size_t i = 0; i < 4; ++i) {
    const __m128i bytes = _mm_loadu_si128(reinterpret_cast<const __m128i*>(block + 16 * i));
    const __m128i ends = _mm_or_si128(_mm_cmpeq_epi8(bytes, feeds), _mm_cmpeq_epi8(bytes, returns));
    const __m128i special = _mm_or_si128(
        ends, _mm_or_si128(_mm_cmpeq_epi8(bytes, delimiters), _mm_cmpeq_epi8(bytes, quotes)));
    // Signed comparison: bytes above 0x7f are negative.
    const __m128i low = _mm_cmplt_epi8(bytes, spaces);
    const __m128i odd = _mm_andnot_si128(_mm_or_si128(ends, _mm_cmpeq_epi8(bytes, tabs)), low);
    const auto bits = [&](__m128i of) {
      return static_cast<std::uint64_t>(static_cast<std::uint32_t>(_mm_movemask_epi8(of)))
             << (16 * i);
    };
    masks.special |= bits(special);
    masks.odd |= bits(odd);
  }
  return masks;
}
#else
Masks masks_of(const char* block, char delimiter) {
  Masks masks;
  for (std::size_t i = 0; i < block_bytes; ++i) {
    const char c = block[i];
    const auto byte = static_cast<unsigned char>(c);
    const std::uint64_t bit = std::uint64_t{1} << i;
    if (c == delimiter || c == '"' || c == '\n' || c == '\r') masks.special |= bit;
    if ((byte < 0x20 && c != '\t' && c != '\n' && c != '\r') || byte >= 0x80) masks.odd |= bit;
  }
  return masks;
}
#endif

// Bits `from` and above.
std::uint64_t bits_from(std::size_t from) { return ~std::uint64_t{0} << from; }
// Bits below `to`, which may be 64.
std::uint64_t bits_below(std::size_t to) {
  return to >= block_bytes ? ~std::uint64_t{0} : ~(~std::uint64_t{0} << to);
}

bool is_line_end(char c) { return c == '\n' || c == '\r'; }

}  // namespace

namespace {

std::FILE* open_to_read(const std::string& path) {
#ifdef _WIN32  // whose fopen takes a path to be in the code page of the system, not in UTF-8
  return _wfopen(std::filesystem::path(std::u8string(path.begin(), path.end())).c_str(), L"rb");
#else
  return std::fopen(path.c_str(), "rb");
#endif
}

}  // namespace

ByteSource file_source(const std::string& path) {
  std::shared_ptr<std::FILE> file(open_to_read(path), [](std::FILE* open) {
    if (open != nullptr) std::fclose(open);
  });
  if (!file) {
    throw Error(Code::invalid_argument, "file " + path + " cannot be opened (" +
                                            std::strerror(errno) + "); expected a readable file");
  }
  std::setvbuf(file.get(), nullptr, _IONBF, 0);  // the reader has its own buffer
  return [file, path](char* into, std::size_t room) {
    const std::size_t got = std::fread(into, 1, room, file.get());
    if (got == 0 && std::ferror(file.get()) != 0) {
      throw Error(Code::invalid_argument, "file " + path + " cannot be read to its end");
    }
    return got;
  };
}

ByteSource text_source(std::string_view text) {
  return [text](char* into, std::size_t room) mutable {
    const std::size_t size = std::min(room, text.size());
    std::copy_n(text.data(), size, into);
    text.remove_prefix(size);
    return size;
  };
}

CsvReader::CsvReader(ByteSource source, char delimiter, const CsvLimits& limits)
    : source_(std::move(source)), limits_(limits), delimiter_(delimiter) {
  if (delimiter == '"' || is_line_end(delimiter) || delimiter == 0 ||
      static_cast<unsigned char>(delimiter) >= 0x80) {
    throw Error(Code::invalid_argument,
                "delimiter is byte " + std::to_string(static_cast<unsigned char>(delimiter)) +
                    "; expected one ASCII character other than a quote or a line end");
  }
  buffer_.resize(limits_.row_bytes + chunk_bytes + block_bytes);
  while (end_ < 3 && refill()) {
  }
  const std::string_view first(buffer_.data(), end_);
  if (first.starts_with("\xEF\xBB\xBF")) {
    begin_ = 3;
  } else if (first.starts_with("\xFF\xFE") || first.starts_with("\xFE\xFF")) {
    throw Error(Code::invalid_argument,
                "the file begins with a UTF-16 byte order mark; expected UTF-8");
  }
}

// Moves what is unread to the front and reads on. False when there is no more.
bool CsvReader::refill() {
  if (ended_) return false;
  if (begin_ > 0) {
    std::memmove(buffer_.data(), buffer_.data() + begin_, end_ - begin_);
    base_ += begin_;
    end_ -= begin_;
    begin_ = 0;
  }
  seek_needed_ = true;
  const std::size_t room = std::min(buffer_.size() - block_bytes - end_, chunk_bytes);
  const std::size_t got = source_(buffer_.data() + end_, room);
  end_ += got;
  ended_ = got == 0;
  return got > 0;
}

void CsvReader::load(std::size_t block) {
  block_ = block;
  const Masks masks = masks_of(buffer_.data() + block, delimiter_);
  const std::uint64_t valid = bits_below(end_ - block);
  special_ = masks.special & valid;
  odd_ = masks.odd & valid;
}

void CsvReader::seek(std::size_t position) {
  seek_needed_ = false;
  if (position >= end_) {
    block_ = position - position % block_bytes;
    special_ = odd_ = 0;
    return;
  }
  load(position - position % block_bytes);
  special_ &= bits_from(position % block_bytes);
}

inline std::size_t CsvReader::next_special() {
  while (special_ == 0) {
    if (block_ + block_bytes >= end_) return nowhere;
    const std::size_t skip = begin_ > block_ ? begin_ - block_ : 0;
    if (skip < block_bytes) odd_before_ |= (odd_ & bits_from(skip)) != 0;
    load(block_ + block_bytes);
  }
  const auto bit = static_cast<std::size_t>(std::countr_zero(special_));
  special_ &= special_ - 1;
  return block_ + bit;
}

inline void CsvReader::add_field(CsvRow& row, std::size_t from, std::size_t to) {
  if (row.fields.size() >= limits_.fields) {
    row.fault = RowFault::too_many_fields;
    return;
  }
  row.fields.emplace_back(buffer_.data() + from, to - from);
}

void CsvReader::add_quoted_field(CsvRow& row, std::size_t from, std::size_t to, bool doubled) {
  if (!doubled) {
    add_field(row, from, to);
    return;
  }
  if (row.fields.size() >= limits_.fields) {
    row.fault = RowFault::too_many_fields;
    return;
  }
  // Reserved for a whole row, so that earlier fields of it stay where they are.
  if (undoubled_.capacity() < limits_.row_bytes) undoubled_.reserve(limits_.row_bytes);
  const std::size_t start = undoubled_.size();
  for (std::size_t i = from; i < to; ++i) {
    undoubled_ += buffer_[i];
    if (buffer_[i] == '"') ++i;
  }
  row.fields.emplace_back(undoubled_.data() + start, undoubled_.size() - start);
}

// The row ends before `end` and the next one begins at `next`.
void CsvReader::finish(CsvRow& row, std::size_t end, std::size_t next) {
  row.raw = {buffer_.data() + begin_, end - begin_};
  const std::size_t skip = begin_ > block_ ? begin_ - block_ : 0;
  std::uint64_t odd = odd_;
  if (skip > 0) odd &= skip < block_bytes ? bits_from(skip) : 0;
  if (end <= block_) {
    odd = 0;
  } else {
    odd &= bits_below(end - block_);
  }
  if ((odd_before_ || odd != 0) && row.fault == RowFault::none) {
    if (!is_utf8(row.raw)) {
      row.fault = RowFault::not_utf8;
    } else if (std::any_of(row.raw.begin(), row.raw.end(), [](char c) {
                 const auto byte = static_cast<unsigned char>(c);
                 return (byte < 0x20 && c != '\t' && !is_line_end(c));
               })) {
      row.fault = RowFault::control_character;
    }
  }
  begin_ = next;
}

// A quoted field whose text begins at `from`. `lines` counts those that end in it.
CsvReader::Parsed CsvReader::parse_quoted(CsvRow& row, std::size_t from, std::uint64_t& lines) {
  bool doubled = false;
  for (;;) {
    const std::size_t at = next_special();
    if (at == nowhere) return ended_ ? Parsed::quote_not_closed : Parsed::need_more;
    const bool last = at + 1 == end_;
    if (last && !ended_) return Parsed::need_more;
    const char after = last ? '\n' : buffer_[at + 1];
    const char found = buffer_[at];
    if (found == '\n' || (found == '\r' && after != '\n')) ++lines;
    if (found != '"') continue;
    if (after == delimiter_ || is_line_end(after)) {
      add_quoted_field(row, from, at, doubled);
      return Parsed::complete;
    }
    if (after != '"') return Parsed::text_after_quote;
    doubled = true;
    next_special();
  }
}

CsvReader::Parsed CsvReader::parse(CsvRow& row) {
  row.fields.clear();
  row.fault = RowFault::none;
  undoubled_.clear();
  odd_before_ = false;
  if (seek_needed_) seek(begin_);
  std::size_t field = begin_;
  std::uint64_t lines = 0;
  bool added = false;  // the present field is in already: it was quoted
  for (;;) {
    const std::size_t at = next_special();
    if (at == nowhere) {
      if (!ended_) return Parsed::need_more;
      // The last row, without a line end.
      if (!added) add_field(row, field, end_);
      finish(row, end_, end_);
      line_ += lines;
      return Parsed::complete;
    }
    const char c = buffer_[at];
    if (c == delimiter_) {
      if (!added) add_field(row, field, at);
      added = false;
      field = at + 1;
    } else if (c == '"') {
      if (at != field || added) continue;  // text
      const Parsed quoted = parse_quoted(row, field + 1, lines);
      if (quoted != Parsed::complete) return quoted;
      added = true;
    } else {  // a line end
      std::size_t next = at + 1;
      if (c == '\r') {
        if (next == end_ && !ended_) return Parsed::need_more;
        if (next < end_ && buffer_[next] == '\n') {
          next_special();
          ++next;
        }
      }
      line_ += lines + 1;
      if (at == begin_) {
        begin_ = next;
        ++blank_lines_;
        return Parsed::blank;
      }
      if (!added) add_field(row, field, at);
      finish(row, at, next);
      return Parsed::complete;
    }
  }
}

// The first physical line of the row is given up; reading goes on with the next.
void CsvReader::give_up_line(CsvRow& row, RowFault fault) {
  row.fields.clear();
  row.fault = fault;
  std::size_t at = begin_;
  for (;;) {
    while (at < end_ && !is_line_end(buffer_[at])) ++at;
    const bool cut = at == end_ || (buffer_[at] == '\r' && at + 1 == end_);
    if (!cut || ended_) break;
    if (end_ - begin_ > limits_.row_bytes) {
      skip_long_row(row, fault);
      return;
    }
    const std::size_t seen = at - begin_;
    refill();
    at = begin_ + seen;
  }
  row.raw = {buffer_.data() + begin_, at - begin_};
  if (at < end_) {
    ++line_;
    at += buffer_[at] == '\r' && at + 1 < end_ && buffer_[at + 1] == '\n' ? 2 : 1;
  }
  begin_ = at;
  seek_needed_ = true;
}

void CsvReader::skip_long_row(CsvRow& row, RowFault fault) {
  row.fields.clear();
  row.fault = fault;
  kept_raw_.assign(buffer_.data() + begin_, std::min<std::size_t>(end_ - begin_, 4096));
  row.raw = kept_raw_;
  for (;;) {
    const char* first = buffer_.data() + begin_;
    const auto* feed = static_cast<const char*>(std::memchr(first, '\n', end_ - begin_));
    const std::size_t before =
        feed != nullptr ? static_cast<std::size_t>(feed - first) : end_ - begin_;
    const auto* lone = static_cast<const char*>(std::memchr(first, '\r', before));
    if (lone != nullptr) {
      begin_ += static_cast<std::size_t>(lone - first) + 1;
      // A line feed that follows belongs to this line end.
      if (begin_ == end_) refill();
      if (begin_ < end_ && buffer_[begin_] == '\n') ++begin_;
      break;
    }
    if (feed != nullptr) {
      begin_ += before + 1;
      break;
    }
    begin_ = end_;
    if (!refill()) break;
  }
  ++line_;
  seek_needed_ = true;
}

bool CsvReader::next(CsvRow& row) {
  for (;;) {
    if (begin_ == end_ && !refill()) return false;
    row.line = line_;
    row.offset = base_ + begin_;
    switch (parse(row)) {
      case Parsed::complete:
        if (row.raw.size() > limits_.row_bytes) {
          row.fault = RowFault::row_too_long;
          row.fields.clear();
          row.raw = row.raw.substr(0, 4096);
        }
        return true;
      case Parsed::blank:
        continue;
      case Parsed::text_after_quote:
        give_up_line(row, RowFault::text_after_quote);
        return true;
      case Parsed::quote_not_closed:
        give_up_line(row, RowFault::quote_not_closed);
        return true;
      case Parsed::need_more:
        if (end_ - begin_ > limits_.row_bytes) {
          const std::string_view held(buffer_.data() + begin_, end_ - begin_);
          if (held.find_first_of("\r\n") != std::string_view::npos) {
            give_up_line(row, RowFault::quote_not_closed);
          } else {
            skip_long_row(row, RowFault::row_too_long);
          }
          return true;
        }
        refill();
        seek_needed_ = true;
        continue;
    }
  }
}

bool is_utf8(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  for (std::size_t i = 0; i < text.size();) {
    const unsigned char lead = byte(i);
    if (lead < 0x80) {
      ++i;
      continue;
    }
    std::size_t more = 0;
    unsigned char low = 0x80, high = 0xBF;  // of the first continuation byte
    if (lead >= 0xC2 && lead <= 0xDF) {
      more = 1;
    } else if (lead >= 0xE0 && lead <= 0xEF) {
      more = 2;
      if (lead == 0xE0) low = 0xA0;   // no overlong forms
      if (lead == 0xED) high = 0x9F;  // no surrogates
    } else if (lead >= 0xF0 && lead <= 0xF4) {
      more = 3;
      if (lead == 0xF0) low = 0x90;
      if (lead == 0xF4) high = 0x8F;  // nothing above U+10FFFF
    } else {
      return false;
    }
    if (i + more >= text.size()) return false;
    for (std::size_t k = 1; k <= more; ++k) {
      if (byte(i + k) < low || byte(i + k) > high) return false;
      low = 0x80;
      high = 0xBF;
    }
    i += more + 1;
  }
  return true;
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

std::string csv_field(std::string_view text) {
  const auto plain_number = [&] {
    bool digit = false;
    for (std::size_t i = text.front() == '-' || text.front() == '+' ? 1 : 0; i < text.size(); ++i) {
      if (text[i] >= '0' && text[i] <= '9') {
        digit = true;
      } else if (text[i] != '.') {
        return false;
      }
    }
    return digit;
  };
  std::string field;
  if (!text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string_view::npos &&
      !plain_number()) {
    field += '\'';
  }
  field += text;
  if (field.find_first_of(",;\"\r\n\t") == std::string::npos) return field;
  std::string quoted = "\"";
  for (char c : field) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  quoted += '"';
  return quoted;
}

}  // namespace faultodds::priors
