#include "priors/record_cells.h"

#include <algorithm>
#include <charconv>

#include "core/error.h"
#include "core/quoted_text.h"

namespace faultodds::priors {

Cells::Cells(const Mapping& mapping, const std::vector<std::string_view>& header,
             const Fields& fields)
    : mapping_(mapping), columns_(header.size()) {
  for (const auto& [field, column] : mapping.columns) {
    if (std::none_of(fields.begin(), fields.end(),
                     [&, &name = field](const auto& f) { return name == f.first; })) {
      std::string known;
      for (const auto& f : fields) known += std::string(known.empty() ? "" : ", ") + f.first;
      throw Error(Code::invalid_argument, "mapping of columns names the field " + in_quotes(field) +
                                              "; expected one of " + known);
    }
  }
  for (const auto& [field, required] : fields) {
    const auto mapped = mapping.columns.find(field);
    const std::string column = mapped == mapping.columns.end() ? field : mapped->second;
    std::size_t found = kMissing;
    for (std::size_t i = 0; i < header.size(); ++i) {
      if (trimmed(header[i]) != column) continue;
      if (found != kMissing) {
        throw Error(Code::invalid_argument, "the header has two columns " + in_quotes(column));
      }
      found = i;
    }
    if (found == kMissing && (required || mapped != mapping.columns.end())) {
      std::string present;
      for (std::size_t i = 0; i < header.size() && i < 30; ++i) {
        present += (i == 0 ? "" : ", ") + in_quotes(header[i]);
      }
      throw Error(
          Code::invalid_argument,
          "the header has no column " + in_quotes(column) + " for the field " + field +
              "; it has " + present +
              ". The mapping's `columns` says which one it is; faultodds-priors inspect proposes "
              "one");
    }
    at_.push_back(found);
  }
}

std::optional<double> Cells::number(const CsvRow& row, std::size_t field, const char* name) const {
  std::string_view cell = text(row, field);
  if (cell.empty()) return std::nullopt;
  // Whole numbers, which most are, need no general conversion.
  if (cell.size() <= 15) {
    std::int64_t digits_read = 0;
    bool digits_only = true;
    for (char c : cell) {
      digits_only = digits_only && c >= '0' && c <= '9';
      digits_read = digits_read * 10 + (c - '0');
    }
    if (digits_only) return static_cast<double>(digits_read);
  }
  const std::optional<double> value = number_in(cell, *mapping_.decimal_comma);
  if (!value) {
    throw Unusable{Reason::not_a_number, std::string(name) + " is " + in_quotes(cell) +
                                             "; expected a number like " +
                                             (*mapping_.decimal_comma ? "1234,5" : "1234.5")};
  }
  return value;
}

std::optional<double> Cells::hours(const CsvRow& row, std::size_t field, const char* name) const {
  const std::optional<double> value = number(row, field, name);
  if (!value) return value;
  if (*value < 0) {
    throw Unusable{
        Reason::negative_hours,
        std::string(name) + " is " + in_quotes(text(row, field)) + "; expected 0 or more"};
  }
  return value;
}

std::optional<double> Cells::age(const CsvRow& row, std::size_t field, const char* name) const {
  const std::optional<double> value = hours(row, field, name);
  if (value && *value > mapping_.most_hours) {
    throw Unusable{Reason::impossible_hours,
                   std::string(name) + " is " + in_quotes(text(row, field)) +
                       "; expected no more than " +
                       std::to_string(static_cast<std::int64_t>(mapping_.most_hours)) + " h"};
  }
  return value;
}

std::optional<bool> Cells::yes_or_no(const CsvRow& row, std::size_t field, const char* name) const {
  const std::string_view cell = text(row, field);
  if (cell.empty()) return std::nullopt;
  if (cell == "yes" || cell == "true" || cell == "1") return true;
  if (cell == "no" || cell == "false" || cell == "0") return false;
  throw Unusable{Reason::not_yes_or_no,
                 std::string(name) + " is " + in_quotes(cell) + "; expected yes, no or nothing"};
}

std::uint64_t Cells::count(const CsvRow& row, std::size_t field, const char* name) const {
  const std::string_view cell = text(row, field);
  if (cell.empty()) return 0;
  std::uint64_t value = 0;
  const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (error != std::errc{} || end != cell.data() + cell.size() || value > 1'000'000'000'000) {
    throw Unusable{Reason::impossible_count, std::string(name) + " is " + in_quotes(cell) +
                                                 "; expected a whole number, 0 or more"};
  }
  return value;
}

std::optional<Date> Cells::date(const CsvRow& row, std::size_t field, const char* name) const {
  const std::string_view cell = text(row, field);
  if (cell.empty()) return std::nullopt;
  const std::optional<Date> date = parse_date(cell);
  if (!date) {
    static constexpr const char* form[] = {"2023-02-28", "28.02.2023", "02/28/2023", "44985"};
    throw Unusable{Reason::impossible_date, std::string(name) + " is " + in_quotes(cell) +
                                                "; expected a day that exists, written like " +
                                                form[static_cast<std::size_t>(*mapping_.dates)]};
  }
  if (*date < mapping_.earliest || (mapping_.latest && *date > *mapping_.latest)) {
    throw Unusable{Reason::date_out_of_range,
                   std::string(name) + " is " + in_quotes(cell) + "; expected " +
                       to_string(mapping_.earliest) + " or later" +
                       (mapping_.latest ? ", not after " + to_string(*mapping_.latest) : "")};
  }
  return date;
}

std::optional<Date> Cells::parse_date(std::string_view cell) const {
  if (last_date_ && cell == last_text_) return last_date_;
  const std::optional<Date> date = date_in(cell, *mapping_.dates);
  // Orders come by the day: the next one is often of the same.
  if (date && cell.size() <= 32) {
    last_text_ = cell;
    last_date_ = date;
  }
  return date;
}

}  // namespace faultodds::priors
