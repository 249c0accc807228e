// How a table is written, read off its beginning; and what is left unsaid where it does not tell.
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "core/error.h"
#include "priors/dialect.h"

using namespace faultodds::priors;

namespace {

std::string all_of(ByteSource source) { return beginning_of(source, 1 << 20); }

std::string utf_16(const std::string& ascii, bool little, bool mark) {
  std::string bytes;
  const auto add = [&](unsigned char high, unsigned char low) {
    bytes += static_cast<char>(little ? low : high);
    bytes += static_cast<char>(little ? high : low);
  };
  if (mark) add(0xFE, 0xFF);
  for (char c : ascii) add(0, static_cast<unsigned char>(c));
  return bytes;
}

}  // namespace

TEST_CASE("dates are read in the order said, whatever stands between", "[dialect]") {
  const auto day = [](const char* cell, DateOrder order) {
    const auto date = date_in(cell, order);
    return date ? to_string(*date) : std::string("none");
  };
  CHECK(day("2023-02-28", DateOrder::year_month_day) == "2023-02-28");
  CHECK(day("20230228", DateOrder::year_month_day) == "2023-02-28");
  CHECK(day("2023-02-28T13:45:00Z", DateOrder::year_month_day) == "2023-02-28");
  CHECK(day("28.02.2023", DateOrder::day_month_year) == "2023-02-28");
  CHECK(day("02/28/2023 1:45 PM", DateOrder::month_day_year) == "2023-02-28");
  CHECK(day("28-Feb-2023", DateOrder::year_month_day) == "2023-02-28");
  CHECK(day("Feb 28, 2023", DateOrder::day_month_year) == "2023-02-28");
  CHECK(day("28. M\xC3\xA4rz 2023", DateOrder::day_month_year) == "2023-03-28");
  CHECK(day("44985", DateOrder::spreadsheet_days) == "2023-02-28");
  CHECK(day("44985.5", DateOrder::spreadsheet_days) == "2023-02-28");
  CHECK(day("30.02.2023", DateOrder::day_month_year) == "none");
  CHECK(day("28.02.23", DateOrder::day_month_year) == "none");
  CHECK(day("2023", DateOrder::year_month_day) == "none");
  CHECK(day("12 hours", DateOrder::day_month_year) == "none");
}

TEST_CASE("numbers are read with groups of three", "[dialect]") {
  CHECK(number_in("1234.5", false) == 1234.5);
  CHECK(number_in("1,234.5", false) == 1234.5);
  CHECK(number_in("1.234,5", true) == 1234.5);
  CHECK(number_in("1 234,5", true) == 1234.5);
  CHECK(number_in("1'234.5", false) == 1234.5);
  CHECK(number_in("1\xC2\xA0"
                  "234,5",
                  true) == 1234.5);
  CHECK(number_in("0.125", false) == 0.125);
  CHECK(number_in("1e3", false) == 1000);
  CHECK(number_in("-5", true) == -5);
  for (const char* bad : {"", "1,23", "1,2345", "12,34,567", "abc", "1.2.3", ",5,", "0,125"}) {
    CAPTURE(bad);
    CHECK_FALSE(number_in(bad, false).has_value());
  }
}

TEST_CASE("the order of dates is told by a day beyond twelve, else it is unclear", "[dialect]") {
  CHECK(dates_seen({"03/04/2026", "13/04/2026"}).order == DateOrder::day_month_year);
  CHECK(dates_seen({"03/04/2026", "04/13/2026"}).order == DateOrder::month_day_year);
  CHECK(dates_seen({"2026-04-03", ""}).order == DateOrder::year_month_day);
  CHECK(dates_seen({"44985", "44990"}).order == DateOrder::spreadsheet_days);
  const DatesSeen unclear = dates_seen({"03/04/2026", "05/06/2026"});
  CHECK(unclear.unclear);
  CHECK_FALSE(unclear.order.has_value());
  CHECK(unclear.example == "03/04/2026");
  CHECK_FALSE(dates_seen({"04/04/2026"}).unclear);
  CHECK(dates_seen({"13/04/2026", "04/13/2026", "01/02/2026"}).unclear);
}

TEST_CASE("the decimal sign is told by what cannot be a group", "[dialect]") {
  CHECK(numbers_seen({"12,5", "1.234"}).decimal_comma == true);
  CHECK(numbers_seen({"12.5"}).decimal_comma == false);
  CHECK(numbers_seen({"1,234"}).unclear);
  CHECK_FALSE(numbers_seen({"1200", "7"}).unclear);
}

TEST_CASE("the form of a table is read off its beginning", "[dialect]") {
  const auto form = [](const char* text) {
    const TableForm found = form_of(text);
    return std::string(1, found.delimiter) + std::to_string(found.rows_before);
  };
  CHECK(form("a,b,c\n1,2,3\n") == ",0");
  CHECK(form("a;b;c\n1,5;2;3\n2,5;2;3\n") == ";0");
  CHECK(form("a\tb\n1\t2\n") == "\t0");
  CHECK(form("a|b\n1|2\n") == "|0");
  CHECK(form("sep=;\na;b\n1;2\n") == ";1");
  CHECK(form("Orders of the year\n\na;b;c\n1;2;3\n4;5;6\n") == ";1");
  CHECK(form("Orders;;;\na;b;c;d\n1;2;3;4\n") == ";1");
  CHECK(form("a,b\n\"x;y;z\",2\n\"p;q;r\",3\n") == ",0");
}

TEST_CASE("encodings are told apart and read as UTF-8", "[dialect]") {
  const std::string text = "order,text\n1,hose leaks\n";
  for (const bool little : {true, false}) {
    for (const bool mark : {true, false}) {
      const std::string bytes = utf_16(text, little, mark);
      const Encoding encoding = encoding_of(bytes);
      CHECK(encoding == (little ? Encoding::utf_16_le : Encoding::utf_16_be));
      std::string read = all_of(as_utf_8(text_source(bytes), encoding));
      if (mark) read.erase(0, 3);
      CHECK(read == text);
    }
  }
  CHECK(encoding_of("Zylinder undicht \xFC"
                    "ber Nacht") == Encoding::windows_1252);
  CHECK(encoding_of("Zylinder undicht \xC3\xBC"
                    "ber Nacht") == Encoding::utf_8);
  CHECK(all_of(as_utf_8(text_source("\xFC \x80"), Encoding::windows_1252)) ==
        "\xC3\xBC \xE2\x82\xAC");
}

TEST_CASE("letters of two units and broken ones come out of UTF-16", "[dialect]") {
  // U+1F600, then a lone half.
  const std::string bytes("\x3D\xD8\x00\xDE\x3D\xD8", 6);
  CHECK(all_of(as_utf_8(text_source(bytes), Encoding::utf_16_le)) ==
        "\xF0\x9F\x98\x80\xEF\xBF\xBD");
}

TEST_CASE("a table that is opened stays whole", "[dialect]") {
  const std::string text = "title\nwork_order;closed\nW1;2026-01-02\nW2;2026-01-03\n";
  Table table = open_table(text_source(text), {}, {}, {}, {});
  CHECK(table.header == std::vector<std::string>{"work_order", "closed"});
  CHECK(table.columns[0] == std::vector<std::string>{"W1", "W2"});
  CHECK(all_of(table.source) == text);
}
