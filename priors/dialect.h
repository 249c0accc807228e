// How a table of somebody else's making is written: encoding, delimiter, rows before the header,
// the order of its dates and its decimal sign, as far as its beginning tells. Where it does not
// tell (03/04/2026, 1,234) it says so, and nothing is guessed. It reads no row for anybody: csv.h
// does, and what columns mean is records.h's. Single days are in dates.h, encodings in encoding.h.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "priors/csv.h"
#include "priors/dates.h"
#include "priors/encoding.h"

namespace faultodds::priors {

// A plain number, with groups of three digits parted by a blank, an apostrophe or the other sign.
std::optional<double> number_in(std::string_view cell, bool decimal_comma);

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
