// Days, and how tables write them: 2023-02-28, 28.02.2023, 28-Feb-2023, a spreadsheet's count. In
// which order a column writes them is read off its cells in dialect.h.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

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

}  // namespace faultodds::priors
