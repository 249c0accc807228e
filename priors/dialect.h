// How a table of somebody else's making is written: encoding, delimiter, rows before the header,
// the order of its dates and its decimal sign, as far as its beginning tells. Where it does not
// tell (03/04/2026, 1,234) it says so, and nothing is guessed. It reads no row for anybody: csv.h
// does, and what columns mean is records.h's.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "priors/csv.h"

namespace faultodds::priors {

// Days since 1970-01-01 of the proleptic Gregorian calendar.
struct Date {
  std::int32_t days = 0;
  auto operator<=>(const Date&) const = default;
};

std::optional<Date> make_date(int year, int month, int day);  // none if there is no such day
std::string to_string(Date date);                             // 2023-02-28

// 2023-02-28 (also 20230228), 28.02.2023, 02/28/2023, and the days that a spreadsheet counts from
// 1899-12-30. A month in letters (28-Feb-2023) is read with any of the first three.
enum class DateOrder { year_month_day, day_month_year, month_day_year, spreadsheet_days };
inline constexpr const char* kDateOrders[] = {"year_month_day", "day_month_year", "month_day_year",
                                              "spreadsheet_days"};

std::optional<Date> date_in(std::string_view cell, DateOrder order);

// A plain number, with groups of three digits parted by a blank, an apostrophe or the other sign.
std::optional<double> number_in(std::string_view cell, bool decimal_comma);

enum class Encoding { utf_8, utf_16_le, utf_16_be, windows_1252 };
inline constexpr const char* kEncodings[] = {"utf-8", "utf-16-le", "utf-16-be", "windows-1252"};

// What has been read of `source` comes first.
ByteSource after(std::string already_read, ByteSource source);
// As much as there is, up to `most` bytes.
std::string beginning_of(ByteSource& source, std::size_t most);

Encoding encoding_of(std::string_view beginning);
ByteSource as_utf_8(ByteSource source, Encoding encoding);

struct TableForm {
  char delimiter = ',';
  std::size_t rows_before = 0;  // the header, blank ones not counted
};

// Of the beginning of a table in UTF-8.
TableForm form_of(std::string_view beginning);

// What the cells of a column allow. `none`: no cell speaks of it. `unclear`: two readings are
// possible, with different results.
struct DatesSeen {
  std::size_t cells = 0;  // that are dates in some order
  std::optional<DateOrder> order;
  bool unclear = false;
  std::string example;  // of what is unclear
};
struct NumbersSeen {
  std::size_t cells = 0;
  std::optional<bool> decimal_comma;
  bool unclear = false;
  std::string example;
};

DatesSeen dates_seen(const std::vector<std::string>& cells);
NumbersSeen numbers_seen(const std::vector<std::string>& cells);

// A table whose form is known: said, or read off its beginning.
struct Table {
  ByteSource source;  // all of it, in UTF-8
  Encoding encoding = Encoding::utf_8;
  TableForm form;
  std::vector<std::string> header;                // blanks around taken off; empty: no row
  std::vector<std::vector<std::string>> columns;  // cells of the first rows, by column
};

// What is said is not read off. A first row with commas that has all of `columns` is the header.
Table open_table(ByteSource source, std::optional<Encoding> encoding, std::optional<char> delimiter,
                 std::optional<std::size_t> rows_before, const std::vector<std::string>& columns);

}  // namespace faultodds::priors
