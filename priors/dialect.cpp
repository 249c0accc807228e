#include "priors/dialect.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "core/error.h"
#include "core/number_text.h"

namespace faultodds::priors {
namespace {

constexpr std::size_t kRowsLookedAt = 400;

}  // namespace

namespace {

// Bytes of what may part groups of three digits: a blank, an apostrophe or `grouping`. 0: none.
std::size_t separator_at(std::string_view rest, char grouping) {
  if (rest.front() == grouping || rest.front() == ' ' || rest.front() == '\'') return 1;
  if (rest.starts_with("\xC2\xA0")) return 2;
  if (rest.starts_with("\xE2\x80\xAF") || rest.starts_with("\xE2\x80\x99")) return 3;
  return 0;
}

bool may_stand_in_number(char c) {
  return (c >= '0' && c <= '9') || c == 'e' || c == 'E' || c == '-' || c == '+';
}

// The number with a point and without groups, or nothing where the groups are not of three.
std::optional<std::string> without_groups(std::string_view cell, char decimal, char grouping) {
  std::string digits;
  std::size_t at = 0, group = 0;
  bool grouped = false, fraction = false;
  if (at < cell.size() && (cell[at] == '-' || cell[at] == '+')) {
    if (cell[at] == '-') digits += '-';
    ++at;
  }
  for (; at < cell.size(); ++at) {
    const std::size_t separator = fraction ? 0 : separator_at(cell.substr(at), grouping);
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
      break;
    } else if (!may_stand_in_number(cell[at])) {
      return std::nullopt;
    } else {
      digits += cell[at];
      if (!fraction) ++group;
    }
  }
  if (grouped && !fraction && group != 3) return std::nullopt;
  if (grouped && digits[digits.front() == '-' ? 1 : 0] == '0') return std::nullopt;  // 0.125
  return digits;
}

}  // namespace

std::optional<double> number_in(std::string_view cell, bool decimal_comma) {
  const std::optional<std::string> digits =
      without_groups(cell, decimal_comma ? ',' : '.', decimal_comma ? '.' : ',');
  if (!digits) return std::nullopt;
  double value = 0;
  const char* const last = digits->data() + digits->size();
  const auto [end, error] = read_number(digits->data(), last, value);
  if (error != std::errc{} || end != last || !std::isfinite(value)) return std::nullopt;
  return value;
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
