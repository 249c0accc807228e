#include "priors/dialect.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <memory>
#include <set>

#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::priors {
namespace {

constexpr std::size_t kRowsLookedAt = 400;
constexpr int kFirstSerial = 18264, kLastSerial = 73415;  // 1950-01-01 to 2100-12-31
constexpr int kSerialOfEpoch = 25569;                     // of 1970-01-01

bool is_digit(char c) { return c >= '0' && c <= '9'; }

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

std::string small(std::string_view text) {
  std::string letters(text);
  for (char& c : letters) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  }
  return letters;
}

// Of English, German, French and Spanish, by as many letters as tell it; 0: none.
int month_named(std::string_view letters) {
  struct Name {
    std::string_view begins;
    int month;
  };
  static constexpr Name names[] = {{"jan", 1},
                                   {"ene", 1},
                                   {"jaen", 1},
                                   {"feb", 2},
                                   {"fev", 2},
                                   {"f\xC3\xA9v", 2},
                                   {"mar", 3},
                                   {"maer", 3},
                                   {"m\xC3\xA4r", 3},
                                   {"mrz", 3},
                                   {"apr", 4},
                                   {"avr", 4},
                                   {"abr", 4},
                                   {"may", 5},
                                   {"mai", 5},
                                   {"jun", 6},
                                   {"juin", 6},
                                   {"jul", 7},
                                   {"juil", 7},
                                   {"aug", 8},
                                   {"ao", 8},
                                   {"ago", 8},
                                   {"sep", 9},
                                   {"oct", 10},
                                   {"okt", 10},
                                   {"nov", 11},
                                   {"dec", 12},
                                   {"dez", 12},
                                   {"dic", 12},
                                   {"d\xC3\xA9"
                                    "c",
                                    12}};
  const std::string low = small(letters);
  for (const Name& name : names) {
    if (low.size() >= 3 && low.starts_with(name.begins)) return name.month;
  }
  return 0;
}

// A time of day after the date: " 13:45", "T13:45:00Z".
bool is_time(std::string_view rest) {
  if (rest.empty()) return true;
  if (rest.front() != 'T' && rest.front() != ' ') return false;
  const std::string_view time = rest.substr(1);
  return !time.empty() && time.size() <= 32 && is_digit(time.front()) &&
         time.find_first_not_of("0123456789:.,+-Zz APMapm") == std::string_view::npos;
}

struct Parts {
  int value[3] = {0, 0, 0};
  std::size_t digits[3] = {0, 0, 0};
  int lettered = -1;  // which of them is a month in letters
};

// Three parts parted by - / . or blanks, one of them a month in letters perhaps, and a time.
std::optional<Parts> parts_of(std::string_view cell) {
  Parts parts;
  std::size_t at = 0;
  for (std::size_t part = 0; part < 3; ++part) {
    for (; at < cell.size() && is_digit(cell[at]) && parts.digits[part] < 5; ++at) {
      parts.value[part] = parts.value[part] * 10 + (cell[at] - '0');
      ++parts.digits[part];
    }
    if (parts.digits[part] == 0) {
      std::size_t end = at;
      while (end < cell.size() &&
             (static_cast<unsigned char>(cell[end]) >= 0x80 || (cell[end] | 0x20) >= 'a') &&
             (cell[end] | 0x20) <= 'z') {
        ++end;
      }
      while (end < cell.size() && static_cast<unsigned char>(cell[end]) >= 0x80) ++end;
      const int month = parts.lettered < 0 ? month_named(cell.substr(at, end - at)) : 0;
      if (month == 0) return std::nullopt;
      parts.value[part] = month;
      parts.digits[part] = 2;
      parts.lettered = static_cast<int>(part);
      at = end;
    }
    if (part == 2) break;
    const std::size_t before = at;
    while (at < cell.size() && std::string_view("-/., ").find(cell[at]) != std::string_view::npos) {
      ++at;
    }
    const bool letters_near = parts.lettered >= 0 || (at < cell.size() && !is_digit(cell[at]));
    if (at == before && !letters_near) return std::nullopt;
    if (at > before + 1 && !letters_near) return std::nullopt;
    if (at == before + 1 && !letters_near && (cell[before] == ' ' || cell[before] == ',')) {
      return std::nullopt;
    }
  }
  if (!is_time(cell.substr(at))) return std::nullopt;
  return parts;
}

std::optional<Date> serial_in(std::string_view cell) {
  double value = 0;
  const auto [end, error] = read_number(cell.data(), cell.data() + cell.size(), value);
  if (error != std::errc{} || end != cell.data() + cell.size() || !(value >= kFirstSerial) ||
      !(value < kLastSerial + 1)) {
    return std::nullopt;
  }
  return Date{static_cast<std::int32_t>(std::floor(value)) - kSerialOfEpoch};
}

}  // namespace

std::optional<Date> make_date(int year, int month, int day) {
  if (year < 1 || year > 9999 || month < 1 || month > 12 || day < 1) return std::nullopt;
  static constexpr int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  const int length = lengths[month - 1] + (month == 2 && leap ? 1 : 0);
  if (day > length) return std::nullopt;
  // Years begin in March, so that the leap day is their last.
  const int y = month <= 2 ? year - 1 : year;
  const int era = y / 400, of_era = y % 400;
  const int of_year = (153 * (month > 2 ? month - 3 : month + 9) + 2) / 5 + day - 1;
  const int day_of_era = of_era * 365 + of_era / 4 - of_era / 100 + of_year;
  return Date{era * 146097 + day_of_era - 719468};
}

std::string to_string(Date date) {
  const int z = date.days + 719468;
  const int era = (z >= 0 ? z : z - 146096) / 146097;
  const int day_of_era = z - era * 146097;
  const int of_era =
      (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
  const int of_year = day_of_era - (365 * of_era + of_era / 4 - of_era / 100);
  const int m = (5 * of_year + 2) / 153;
  const int day = of_year - (153 * m + 2) / 5 + 1;
  const int month = m < 10 ? m + 3 : m - 9;
  const int year = of_era + era * 400 + (month <= 2 ? 1 : 0);
  const auto padded = [](int value, std::size_t width) {
    std::string digits = std::to_string(value);
    if (digits.size() < width) digits.insert(0, width - digits.size(), '0');
    return digits;
  };
  return padded(year, 4) + "-" + padded(month, 2) + "-" + padded(day, 2);
}

std::optional<Date> date_in(std::string_view cell, DateOrder order) {
  if (order == DateOrder::spreadsheet_days) return serial_in(cell);
  if (order == DateOrder::year_month_day && cell.size() == 8 &&
      std::all_of(cell.begin(), cell.end(), is_digit)) {
    const auto number = [&](std::size_t from, std::size_t size) {
      int value = 0;
      for (char c : cell.substr(from, size)) value = value * 10 + (c - '0');
      return value;
    };
    return make_date(number(0, 4), number(4, 2), number(6, 2));
  }
  const std::optional<Parts> parts = parts_of(cell);
  if (!parts) return std::nullopt;
  std::size_t year = 0, month = 1, day = 2;
  if (parts->lettered >= 0) {  // the month is known, and the year has four digits
    month = static_cast<std::size_t>(parts->lettered);
    year = parts->digits[0] == 4 ? 0 : 2;
    day = 3 - month - year;
    if (month == year || parts->digits[day] > 2) return std::nullopt;
  } else if (order == DateOrder::day_month_year) {
    day = 0, month = 1, year = 2;
  } else if (order == DateOrder::month_day_year) {
    month = 0, day = 1, year = 2;
  }
  // Two-digit years are not guessed at.
  if (parts->digits[year] != 4 || parts->digits[month] > 2 || parts->digits[day] > 2) {
    return std::nullopt;
  }
  return make_date(parts->value[year], parts->value[month], parts->value[day]);
}

std::optional<double> number_in(std::string_view cell, bool decimal_comma) {
  const char decimal = decimal_comma ? ',' : '.', grouping = decimal_comma ? '.' : ',';
  std::string digits;
  std::size_t at = 0, group = 0;
  bool grouped = false, fraction = false;
  if (at < cell.size() && (cell[at] == '-' || cell[at] == '+')) {
    if (cell[at] == '-') digits += '-';
    ++at;
  }
  for (; at < cell.size(); ++at) {
    const std::string_view rest = cell.substr(at);
    std::size_t separator = 0;
    if (!fraction) {
      if (cell[at] == grouping || cell[at] == ' ' || cell[at] == '\'') separator = 1;
      if (rest.starts_with("\xC2\xA0")) separator = 2;
      if (rest.starts_with("\xE2\x80\xAF") || rest.starts_with("\xE2\x80\x99")) separator = 3;
    }
    if (separator > 0) {
      if (group == 0 || group > 3 || (grouped && group != 3)) return std::nullopt;
      grouped = true;
      group = 0;
      at += separator - 1;
    } else if (cell[at] == decimal && !fraction) {
      if (grouped && group != 3) return std::nullopt;
      fraction = true;
      digits += '.';
    } else if (fraction && (cell[at] == 'e' || cell[at] == 'E')) {
      digits += cell.substr(at);
      at = cell.size();
      break;
    } else if (!is_digit(cell[at]) && cell[at] != 'e' && cell[at] != 'E' && cell[at] != '-' &&
               cell[at] != '+') {
      return std::nullopt;
    } else {
      digits += cell[at];
      if (!fraction) ++group;
    }
  }
  if (grouped && !fraction && group != 3) return std::nullopt;
  if (grouped && digits[digits.front() == '-' ? 1 : 0] == '0') return std::nullopt;  // 0.125
  double value = 0;
  const auto [end, error] = read_number(digits.data(), digits.data() + digits.size(), value);
  if (error != std::errc{} || end != digits.data() + digits.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

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

namespace {

struct Shape {
  std::vector<std::size_t> fields;              // of each row
  std::vector<std::vector<std::string>> cells;  // likewise
};

Shape shape_of(std::string_view beginning, char delimiter) {
  Shape shape;
  CsvLimits limits;
  limits.row_bytes = beginning.size() + 1;
  CsvReader reader(text_source(beginning), delimiter, limits);
  CsvRow row;
  while (shape.fields.size() < kRowsLookedAt && reader.next(row)) {
    if (row.fault != RowFault::none) continue;
    shape.fields.push_back(row.fields.size());
    shape.cells.emplace_back(row.fields.begin(), row.fields.end());
  }
  return shape;
}

// The number of fields that most rows have, and how many have it.
std::pair<std::size_t, std::size_t> commonest(const std::vector<std::size_t>& fields) {
  std::map<std::size_t, std::size_t> rows;
  for (std::size_t n : fields) ++rows[n];
  std::pair<std::size_t, std::size_t> best{0, 0};
  for (const auto& [n, count] : rows) {
    if (count >= best.second) best = {n, count};
  }
  return best;
}

}  // namespace

TableForm form_of(std::string_view beginning) {
  // A spreadsheet's own hint, a row of its own: sep=;
  if (beginning.starts_with("sep=") && beginning.size() > 5 &&
      (beginning[5] == '\n' || beginning[5] == '\r')) {
    TableForm form = form_of(beginning.substr(beginning.find('\n') + 1));
    return {beginning[4], form.rows_before + 1};
  }
  TableForm form;
  Shape shape = shape_of(beginning, form.delimiter);
  double best = -1;
  for (const char delimiter : {',', ';', '\t', '|'}) {
    Shape candidate = shape_of(beginning, delimiter);
    if (candidate.fields.empty()) continue;
    const auto [fields, rows] = commonest(candidate.fields);
    if (fields < 2) continue;
    const double score = static_cast<double>(rows) / static_cast<double>(candidate.fields.size()) +
                         0.01 * std::log(static_cast<double>(fields));
    if (score > best) {
      best = score;
      form.delimiter = delimiter;
      shape = std::move(candidate);
    }
  }
  // The header: the first row of the usual width, or nearly, whose cells are mostly there.
  const std::size_t width = commonest(shape.fields).first;
  for (std::size_t r = 0; r < shape.cells.size(); ++r) {
    const std::vector<std::string>& cells = shape.cells[r];
    const auto filled = static_cast<std::size_t>(
        std::count_if(cells.begin(), cells.end(),
                      [](const std::string& cell) { return !trimmed(cell).empty(); }));
    // One short where only the rows end in a delimiter.
    const bool one_short = width >= 4 && cells.size() + 1 == width && filled == cells.size();
    if ((cells.size() == width && 2 * filled > width) || one_short) {
      form.rows_before = r;
      break;
    }
  }
  return form;
}

DatesSeen dates_seen(const std::vector<std::string>& cells) {
  DatesSeen seen;
  std::size_t as[4] = {0, 0, 0, 0}, both = 0;
  for (const std::string& text : cells) {
    const std::string_view cell = trimmed(text);
    if (cell.empty()) continue;
    std::optional<Date> read[4];
    for (std::size_t order = 0; order < 4; ++order) {
      read[order] = date_in(cell, static_cast<DateOrder>(order));
      if (read[order]) ++as[order];
    }
    if (read[0] || read[1] || read[2] || read[3]) ++seen.cells;
    if (read[1] && read[2] && *read[1] != *read[2]) {
      ++both;
      if (seen.example.empty()) seen.example = cell;
    }
  }
  if (seen.cells == 0) return seen;
  const std::size_t day_first = as[1], month_first = as[2];
  if (as[0] >= std::max({day_first, month_first, as[3]})) {
    seen.order = DateOrder::year_month_day;
  } else if (as[3] >= std::max(day_first, month_first)) {
    seen.order = DateOrder::spreadsheet_days;
  } else if (day_first != month_first) {
    // A few days that only the other order has are errors of the table's; many are two tables in
    // one.
    const std::size_t more = std::max(day_first, month_first);
    const std::size_t less = std::min(day_first, month_first);
    if (less > both && 10 * (less - both) > more - both) {
      seen.unclear = true;
    } else {
      seen.order = day_first > month_first ? DateOrder::day_month_year : DateOrder::month_day_year;
    }
  } else {
    seen.unclear = both > 0;
    if (!seen.unclear) seen.order = DateOrder::day_month_year;
  }
  return seen;
}

NumbersSeen numbers_seen(const std::vector<std::string>& cells) {
  NumbersSeen seen;
  std::size_t comma = 0, point = 0, differ = 0;
  for (const std::string& text : cells) {
    const std::string_view cell = trimmed(text);
    const std::optional<double> with_comma = number_in(cell, true),
                                with_point = number_in(cell, false);
    if (!with_comma && !with_point) continue;
    ++seen.cells;
    if (with_comma && !with_point) ++comma;
    if (with_point && !with_comma) ++point;
    if (with_comma && with_point && *with_comma != *with_point) {
      ++differ;
      if (seen.example.empty()) seen.example = cell;
    }
  }
  if (comma > 0 && point > 0 && 10 * std::min(comma, point) > std::max(comma, point)) {
    seen.unclear = true;
  } else if (comma != point) {
    seen.decimal_comma = comma > point;
  } else {
    seen.unclear = differ > 0;
  }
  return seen;
}

namespace {

// Files that are no text, known by their first bytes.
void refuse_other_formats(std::string_view bytes) {
  struct Format {
    std::string_view begins;
    const char* what;
  };
  static constexpr Format formats[] = {
      {"PK\x03\x04", "a spreadsheet (xlsx) or another packed file"},
      {"\xD0\xCF\x11\xE0", "an old spreadsheet (xls)"},
      {"PAR1", "a Parquet file"},
      {"%PDF", "a PDF"},
      {"\x1F\x8B", "a compressed file (gzip)"},
      {"<!DOCTYPE", "a web page"},
      {"<html", "a web page"}};
  for (const Format& format : formats) {
    if (!bytes.starts_with(format.begins)) continue;
    throw Error(Code::invalid_argument,
                std::string("the file is ") + format.what +
                    "; expected CSV: save it as such, or give xlsx and Parquet to the Python "
                    "binding's learn_priors, which reads them");
  }
}

}  // namespace

Table open_table(ByteSource source, std::optional<Encoding> encoding, std::optional<char> delimiter,
                 std::optional<std::size_t> rows_before, const std::vector<std::string>& columns) {
  constexpr std::size_t kLookedAt = std::size_t{256} << 10;
  Table table;
  std::string bytes = beginning_of(source, kLookedAt);
  refuse_other_formats(bytes);
  table.encoding = encoding.value_or(encoding_of(bytes));
  source = as_utf_8(after(std::move(bytes), std::move(source)), table.encoding);
  std::string text = beginning_of(source, kLookedAt);
  const std::string_view marked = text;
  const std::string_view beginning = marked.substr(marked.starts_with("\xEF\xBB\xBF") ? 3 : 0);
  const auto has_all = [&](const std::vector<std::string>& cells) {
    return std::all_of(columns.begin(), columns.end(), [&](const std::string& name) {
      return std::any_of(cells.begin(), cells.end(),
                         [&](const std::string& cell) { return trimmed(cell) == name; });
    });
  };
  if (!delimiter || !rows_before) {
    const Shape plain = shape_of(beginning, delimiter.value_or(','));
    const bool plainly = !columns.empty() && !plain.cells.empty() && has_all(plain.cells[0]);
    if (!plainly) {
      table.form = form_of(beginning);
    } else {
      table.form.delimiter = delimiter.value_or(',');
    }
  }
  if (delimiter && table.form.delimiter != *delimiter) {
    table.form = {*delimiter, 0};
  }
  if (rows_before) table.form.rows_before = *rows_before;
  Shape shape = shape_of(beginning, table.form.delimiter);
  if (table.form.rows_before < shape.cells.size()) {
    for (const std::string& cell : shape.cells[table.form.rows_before]) {
      table.header.emplace_back(trimmed(cell));
    }
    table.columns.resize(table.header.size());
    for (std::size_t r = table.form.rows_before + 1; r < shape.cells.size(); ++r) {
      std::vector<std::string>& cells = shape.cells[r];
      while (cells.size() > table.header.size() && trimmed(cells.back()).empty()) cells.pop_back();
      if (cells.size() != table.header.size()) continue;
      for (std::size_t c = 0; c < table.header.size(); ++c) {
        table.columns[c].push_back(std::move(cells[c]));
      }
    }
  }
  table.source = after(std::move(text), std::move(source));
  return table;
}

}  // namespace faultodds::priors
