#include "core/wording/tokens.h"

#include <algorithm>
#include <array>

namespace faultodds::wording {
namespace {

// U+00C0 to U+017F without their accents; empty: no letter.
std::string_view plain(unsigned code) {
  static constexpr std::array<std::string_view, 64> latin_1 = {
      "a", "a", "a", "a", "ae", "a", "ae", "c", "e", "e", "e", "e", "i",  "i", "i",  "i",
      "d", "n", "o", "o", "o",  "o", "oe", "",  "o", "u", "u", "u", "ue", "y", "th", "ss",
      "a", "a", "a", "a", "ae", "a", "ae", "c", "e", "e", "e", "e", "i",  "i", "i",  "i",
      "d", "n", "o", "o", "o",  "o", "oe", "",  "o", "u", "u", "u", "ue", "y", "th", "y"};
  if (code >= 0xC0 && code <= 0xFF) return latin_1[code - 0xC0];
  struct Range {
    unsigned first, last;
    std::string_view letter;
  };
  static constexpr Range extended[] = {
      {0x100, 0x105, "a"}, {0x106, 0x10D, "c"},  {0x10E, 0x111, "d"}, {0x112, 0x11B, "e"},
      {0x11C, 0x123, "g"}, {0x124, 0x127, "h"},  {0x128, 0x131, "i"}, {0x132, 0x133, "ij"},
      {0x134, 0x135, "j"}, {0x136, 0x138, "k"},  {0x139, 0x142, "l"}, {0x143, 0x14B, "n"},
      {0x14C, 0x151, "o"}, {0x152, 0x153, "oe"}, {0x154, 0x159, "r"}, {0x15A, 0x161, "s"},
      {0x162, 0x167, "t"}, {0x168, 0x173, "u"},  {0x174, 0x175, "w"}, {0x176, 0x178, "y"},
      {0x179, 0x17E, "z"}};
  for (const Range& range : extended) {
    if (code >= range.first && code <= range.last) return range.letter;
  }
  return {};
}

// U+0600 to U+06FF as it is typed: without vowel signs, alef and its like as one letter.
struct Arabic {
  bool letter = false, stop = false;
  std::string_view folded;  // of a letter: instead of it, "-" for itself
};

Arabic arabic(unsigned code) {
  if (code == 0x60C || code == 0x61B || code == 0x61F) return {false, true, {}};
  if ((code >= 0x64B && code <= 0x652) || code == 0x640 || code == 0x670) return {true, false, {}};
  switch (code) {
    case 0x622:  // alef with madda, with hamza above or below, wasla
    case 0x623:
    case 0x625:
    case 0x671:
      return {true, false, "\xD8\xA7"};
    case 0x629:  // teh marbuta
      return {true, false, "\xD9\x87"};
    case 0x649:  // alef maksura, yeh with hamza
    case 0x626:
      return {true, false, "\xD9\x8A"};
    case 0x624:  // waw with hamza
      return {true, false, "\xD9\x88"};
    default:
      return {code >= 0x621 && code <= 0x64A, false, "-"};
  }
}

constexpr std::size_t kLongestShortened = 4;  // letters of "cyl.", "hyd.", "assy."

enum class Sort { letter, digit, sign, apostrophe, slash, dot, stop, gap };

struct Piece {
  Sort sort = Sort::gap;
  std::string folded;
  std::size_t from = 0, to = 0;
};

Piece piece_at(std::string_view text, std::size_t at) {
  const auto byte = static_cast<unsigned char>(text[at]);
  Piece piece{Sort::gap, std::string(1, text[at]), at, at + 1};
  if (byte >= 'A' && byte <= 'Z') piece.folded[0] = static_cast<char>(byte - 'A' + 'a');
  if (piece.folded[0] >= 'a' && piece.folded[0] <= 'z') {
    piece.sort = Sort::letter;
  } else if (byte >= '0' && byte <= '9') {
    piece.sort = Sort::digit;
  } else if (byte == '\'' || byte == '`') {
    piece.sort = Sort::apostrophe;
  } else if (byte == '@' || byte == '&') {
    piece.sort = Sort::sign;  // words of their own
  } else if (byte == '/') {
    piece.sort = Sort::slash;
  } else if (byte == '.') {
    piece.sort = Sort::dot;
  } else if (std::string_view(",;:-(>~!?[=*").find(text[at]) != std::string_view::npos) {
    piece.sort = Sort::stop;
  }
  if (byte < 0x80) return piece;
  std::size_t length = byte >= 0xF0 ? 4 : byte >= 0xE0 ? 3 : byte >= 0xC0 ? 2 : 1;
  length = std::min(length, text.size() - at);
  piece.to = at + length;
  piece.folded = text.substr(at, length);
  if (length == 2) {
    const unsigned code =
        ((byte & 0x1Fu) << 6) | (static_cast<unsigned char>(text[at + 1]) & 0x3Fu);
    const std::string_view letters = plain(code);
    const Arabic other = arabic(code);
    if (!letters.empty()) {
      piece.folded = letters;
      piece.sort = Sort::letter;
    } else if (other.letter) {
      if (other.folded != "-") piece.folded = other.folded;
      piece.sort = Sort::letter;
    } else if (other.stop) {
      piece.sort = Sort::stop;
    } else if (code >= 0x660 && code <= 0x669) {
      piece.folded = std::string(1, static_cast<char>('0' + (code - 0x660)));
      piece.sort = Sort::digit;
    }
  } else if (piece.folded == "\xE2\x80\x99" || piece.folded == "\xE2\x80\x98") {
    piece.sort = Sort::apostrophe;  // the typographic ones
  } else if (piece.folded == "\xE2\x80\x93" || piece.folded == "\xE2\x80\x94") {
    piece.sort = Sort::stop;  // dashes
  }
  return piece;
}

std::vector<Piece> pieces_of(std::string_view text) {
  std::vector<Piece> pieces;
  for (std::size_t at = 0; at < text.size(); at = pieces.back().to) {
    pieces.push_back(piece_at(text, at));
  }
  return pieces;
}

// Of pieces from `at` on: single letters parted by / or . and ended by no further letter are one
// abbreviation. How many pieces it has; 0: none.
std::size_t abbreviation(const std::vector<Piece>& pieces, std::size_t at) {
  const auto is = [&](std::size_t i, Sort sort) {
    return i < pieces.size() && pieces[i].sort == sort;
  };
  if (at > 0 && is(at - 1, Sort::letter)) return 0;
  std::size_t letters = 0, end = at;
  while (is(end, Sort::letter) && !is(end + 1, Sort::letter)) {
    ++letters;
    ++end;
    if (!is(end, Sort::slash) && !is(end, Sort::dot)) break;
    if (!is(end + 1, Sort::letter) || is(end + 2, Sort::letter)) break;
    ++end;
  }
  return letters >= 2 ? end - at : 0;
}

}  // namespace

std::string fold(std::string_view text) {
  std::string folded;
  for (const Piece& piece : pieces_of(text)) folded += piece.folded;
  return folded;
}

std::vector<Token> tokens_of(std::string_view text) {
  const std::vector<Piece> pieces = pieces_of(text);
  std::vector<Token> tokens;
  bool stop = false;
  for (std::size_t i = 0; i < pieces.size();) {
    const Sort sort = pieces[i].sort;
    if (sort != Sort::letter && sort != Sort::digit && sort != Sort::sign) {
      // A point parts clauses only where a blank follows, and not after what may be an
      // abbreviation; a dash within a word does not.
      const bool last = i + 1 == pieces.size();
      const bool blank_after = last || pieces[i + 1].sort == Sort::gap;
      const bool dash = pieces[i].folded == "-";
      stop = stop || (sort == Sort::stop && (!dash || blank_after)) ||
             (sort == Sort::dot && blank_after && !tokens.empty() &&
              tokens.back().word.size() > kLongestShortened);
      ++i;
      continue;
    }
    Token token;
    token.from = pieces[i].from;
    token.after_stop = stop && !tokens.empty();
    stop = false;
    std::size_t end = i;
    const std::size_t abbreviated = sort == Sort::letter ? abbreviation(pieces, i) : 0;
    if (abbreviated > 0) {
      for (end = i; end < i + abbreviated; ++end) {
        if (pieces[end].sort == Sort::letter) token.word += pieces[end].folded;
      }
    } else {
      while (end < pieces.size() &&
             (pieces[end].sort == sort ||
              (sort == Sort::letter && end > i && pieces[end].sort == Sort::apostrophe))) {
        if (pieces[end].sort == sort) token.word += pieces[end].folded;
        ++end;
      }
    }
    token.to = pieces[end - 1].to;
    i = end;
    tokens.push_back(std::move(token));
  }
  return tokens;
}

std::string key_of(const std::vector<Token>& tokens) {
  std::string key;
  for (const Token& token : tokens) {
    if (!key.empty()) key += ' ';
    key += token.word;
  }
  return key;
}

}  // namespace faultodds::wording
