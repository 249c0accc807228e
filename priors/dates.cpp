#include "priors/dates.h"

#include <algorithm>
#include <cmath>

#include "core/number_text.h"

namespace faultodds::priors {
namespace {

constexpr int kFirstSerial = 18264, kLastSerial = 73415;  // 1950-01-01 to 2100-12-31
constexpr int kSerialOfEpoch = 25569;                     // of 1970-01-01

bool is_digit(char c) { return c >= '0' && c <= '9'; }

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

}  // namespace faultodds::priors
