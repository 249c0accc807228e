// Cells of a row as the mapping understands them: numbers, hours, days, yes or no; and what is
// thrown where one cannot be. What the fields are for is records.h's, codes are in record_codes.h.
// Nothing outside of record*.cpp includes it.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "priors/records.h"

namespace faultodds::priors {

// A row cannot be used.
struct Unusable {
  Reason reason;
  std::string detail;
};

// Names of fields, and whether each has to be there.
using Fields = std::vector<std::pair<const char*, bool>>;

// Cells of the present row by field, and how they are understood.
class Cells {
 public:
  Cells(const Mapping& mapping, const std::vector<std::string_view>& header, const Fields& fields);

  std::size_t columns() const { return columns_; }
  bool has(std::size_t field) const { return at_[field] != kMissing; }

  std::string_view text(const CsvRow& row, std::size_t field) const {
    return has(field) ? trimmed(row.fields[at_[field]]) : std::string_view();
  }

  std::optional<double> number(const CsvRow& row, std::size_t field, const char* name) const;

  std::optional<double> hours(const CsvRow& row, std::size_t field, const char* name) const;

  // Of one component: no more than the mapping believes.
  std::optional<double> age(const CsvRow& row, std::size_t field, const char* name) const;

  std::optional<bool> yes_or_no(const CsvRow& row, std::size_t field, const char* name) const;

  std::uint64_t count(const CsvRow& row, std::size_t field, const char* name) const;

  std::optional<Date> date(const CsvRow& row, std::size_t field, const char* name) const;

 private:
  static constexpr std::size_t kMissing = static_cast<std::size_t>(-1);

  std::optional<Date> parse_date(std::string_view cell) const;

  const Mapping& mapping_;
  std::size_t columns_;
  std::vector<std::size_t> at_;  // column of each field
  mutable std::string last_text_;
  mutable std::optional<Date> last_date_;
};

}  // namespace faultodds::priors
