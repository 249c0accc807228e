#include <catch2/catch.hpp>
#include <cstdio>
#include <fstream>
#include <random>
#include <string>
#include <vector>

#include "core/error.h"
#include "priors/csv.h"
#include "tests/sanitized.h"

using namespace faultodds::priors;
using Catch::Contains;

namespace {

struct Read {
  std::vector<std::vector<std::string>> rows;  // of rows without fault
  std::vector<RowFault> faults;                // of every row
  std::vector<std::uint64_t> lines;
  std::vector<std::string> raw;
  std::uint64_t blank = 0;
};

Read read(ByteSource source, char delimiter = ',', const CsvLimits& limits = {}) {
  CsvReader reader(std::move(source), delimiter, limits);
  Read result;
  CsvRow row;
  while (reader.next(row)) {
    result.faults.push_back(row.fault);
    result.lines.push_back(row.line);
    result.raw.emplace_back(row.raw);
    if (row.fault == RowFault::none) {
      result.rows.emplace_back(row.fields.begin(), row.fields.end());
    }
  }
  result.blank = reader.blank_lines();
  return result;
}

Read read(std::string_view text, char delimiter = ',', const CsvLimits& limits = {}) {
  return read(text_source(text), delimiter, limits);
}

// Hands out a few bytes at a time.
ByteSource trickle(std::string_view text, std::size_t most) {
  return [text, most, turn = std::size_t{0}](char* into, std::size_t room) mutable {
    const std::size_t size = std::min({room, text.size(), 1 + turn++ % most});
    std::copy_n(text.data(), size, into);
    text.remove_prefix(size);
    return size;
  };
}

using Rows = std::vector<std::vector<std::string>>;

// The same rules, written one character at a time over the whole text.
Read reference(const std::string& text) {
  Read result;
  std::size_t i = 0;
  std::uint64_t line = 1;
  const auto at_end = [&](std::size_t k) { return k >= text.size(); };
  const auto line_end = [&](std::size_t k) {
    return !at_end(k) && (text[k] == '\n' || text[k] == '\r');
  };
  const auto after_line_end = [&](std::size_t k) {
    return k + (text[k] == '\r' && k + 1 < text.size() && text[k + 1] == '\n' ? 2 : 1);
  };
  while (!at_end(i)) {
    if (line_end(i)) {
      i = after_line_end(i);
      ++line;
      ++result.blank;
      continue;
    }
    const std::size_t start = i;
    std::uint64_t lines = 0;
    std::vector<std::string> fields;
    RowFault fault = RowFault::none;
    for (bool more = true; more;) {
      std::string field;
      if (!at_end(i) && text[i] == '"') {
        ++i;
        for (;;) {
          if (at_end(i)) {
            fault = RowFault::quote_not_closed;
            break;
          }
          if (text[i] == '"') {
            if (i + 1 < text.size() && text[i + 1] == '"') {
              field += '"';
              i += 2;
              continue;
            }
            ++i;
            if (!at_end(i) && text[i] != ',' && !line_end(i)) fault = RowFault::text_after_quote;
            break;
          }
          if (line_end(i)) {
            const std::size_t next = after_line_end(i);
            field += text.substr(i, next - i);
            i = next;
            ++lines;
            continue;
          }
          field += text[i++];
        }
      } else {
        while (!at_end(i) && text[i] != ',' && !line_end(i)) field += text[i++];
      }
      if (fault != RowFault::none) break;
      fields.push_back(field);
      more = !at_end(i) && text[i] == ',';
      if (more) ++i;
    }
    result.faults.push_back(fault);
    result.lines.push_back(line);
    if (fault == RowFault::none) {
      result.raw.push_back(text.substr(start, i - start));
      result.rows.push_back(fields);
      line += lines;
      if (!at_end(i)) {
        i = after_line_end(i);
        ++line;
      }
    } else {
      i = start;
      while (!at_end(i) && !line_end(i)) ++i;
      result.raw.push_back(text.substr(start, i - start));
      if (!at_end(i)) {
        i = after_line_end(i);
        ++line;
      }
    }
  }
  return result;
}

}  // namespace

TEST_CASE("plain rows come out field by field, with or without a last line end") {
  CHECK(read("a,b\n1,\n,2").rows == Rows{{"a", "b"}, {"1", ""}, {"", "2"}});
  CHECK(read("a\n").rows == Rows{{"a"}});
  CHECK(read("").rows.empty());
}

TEST_CASE("quoted fields may hold delimiters, line ends and doubled quotes") {
  const Read result = read("id,note\r\n7,\"seat, \"\"worn\"\"\nand pitted\"\r\n8,\"\"\n");
  CHECK(result.rows == Rows{{"id", "note"}, {"7", "seat, \"worn\"\nand pitted"}, {"8", ""}});
  CHECK(result.lines == std::vector<std::uint64_t>{1, 2, 4});
  CHECK(result.raw[1] == "7,\"seat, \"\"worn\"\"\nand pitted\"");
}

TEST_CASE("line ends of three kinds may be mixed in one file") {
  const Read result = read("a\nb\r\nc\rd");
  CHECK(result.rows == Rows{{"a"}, {"b"}, {"c"}, {"d"}});
  CHECK(result.lines == std::vector<std::uint64_t>{1, 2, 3, 4});
}

TEST_CASE("a UTF-8 byte order mark is not part of the first field") {
  CHECK(read("\xEF\xBB\xBFid\n1").rows == Rows{{"id"}, {"1"}});
  CHECK(read(trickle("\xEF\xBB\xBFid\n1", 1)).rows == Rows{{"id"}, {"1"}});
}

TEST_CASE("a UTF-16 file is refused as such") {
  CHECK_THROWS_WITH(read(std::string_view("\xFF\xFE"
                                          "a\0",
                                          4)),
                    Contains("UTF-16"));
}

TEST_CASE("blank lines are counted, not dropped without a word") {
  const Read result = read("a\n\n\r\nb\n");
  CHECK(result.rows == Rows{{"a"}, {"b"}});
  CHECK(result.blank == 2);
  CHECK(result.lines == std::vector<std::uint64_t>{1, 4});
}

TEST_CASE("a quote within a field that does not begin with one is text") {
  CHECK(read("3/4\" hose,b\n").rows == Rows{{"3/4\" hose", "b"}});
}

TEST_CASE("other delimiters are taken as told") {
  CHECK(read("a;\"b;c\";1,5\n", ';').rows == Rows{{"a", "b;c", "1,5"}});
  CHECK(read("a\tb\n", '\t').rows == Rows{{"a", "b"}});
  CHECK_THROWS_WITH(read("a", '"'), Contains("delimiter"));
  CHECK_THROWS_WITH(read("a", '\n'), Contains("delimiter"));
  CHECK_THROWS_WITH(read("a", '\0'), Contains("delimiter is byte 0;"));
  CHECK_THROWS_WITH(read("a", '\xA7'), Contains("delimiter is byte 167;"));
}

TEST_CASE("a quote never closed costs the line it stands on and no other") {
  const Read result = read("1,\"open\n2,b\n3,c\n");
  REQUIRE(result.faults.size() == 3);
  CHECK(result.faults[0] == RowFault::quote_not_closed);
  CHECK(result.raw[0] == "1,\"open");
  CHECK(result.rows == Rows{{"2", "b"}, {"3", "c"}});
  CHECK(result.lines == std::vector<std::uint64_t>{1, 2, 3});
}

TEST_CASE("text after a closing quote is a fault of that line") {
  const Read result = read("\"a\"b,c\nd,e\n");
  CHECK(result.faults == std::vector<RowFault>{RowFault::text_after_quote, RowFault::none});
}

TEST_CASE("a quote never closed before a long rest is found within the row limit") {
  std::string text = "1,\"open\n";
  for (int i = 0; i < 500; ++i) text += "2,b\n";
  const Read result = read(text, ',', {256, 10});
  CHECK(result.faults[0] == RowFault::quote_not_closed);
  CHECK(result.rows.size() == 500);
}

TEST_CASE("a row longer than the limit is skipped to its end and the next one is read") {
  std::string text = "a,b\n" + std::string(700'000, 'x') + "\n1,2\n";
  const Read result = read(text, ',', {1000, 10});
  REQUIRE(result.faults.size() == 3);
  CHECK(result.faults[1] == RowFault::row_too_long);
  CHECK(result.raw[1].size() <= 4096);
  CHECK(result.rows == Rows{{"a", "b"}, {"1", "2"}});
  CHECK(result.lines == std::vector<std::uint64_t>{1, 2, 3});
}

TEST_CASE("a row a little over the limit is as much a fault as one far over it") {
  const Read result = read("a,b\n" + std::string(150, 'x') + ",y\n1,2\n", ',', {100, 10});
  CHECK(result.faults ==
        std::vector<RowFault>{RowFault::none, RowFault::row_too_long, RowFault::none});
  CHECK(result.rows == Rows{{"a", "b"}, {"1", "2"}});
}

TEST_CASE("text after a closing quote costs its line, however long that is") {
  for (const char* end : {"\n", "\r", "\r\n"}) {
    const Read result =
        read("\"a\"b" + std::string(700'000, 'x') + end + "1,2" + end, ',', {1000, 10});
    CAPTURE(std::string(end).size());
    CHECK(result.faults == std::vector<RowFault>{RowFault::text_after_quote, RowFault::none});
    CHECK(result.raw[0].size() <= 4096);
    CHECK(result.rows == Rows{{"1", "2"}});
    CHECK(result.lines == std::vector<std::uint64_t>{1, 2});
  }
}

TEST_CASE("a line of a gigabyte takes no more memory than a short one") {
  // The source makes it up as it goes: 1 GiB of one byte, then a good row.
  std::uint64_t left = std::uint64_t{1} << 30;
  const std::string tail = "\n1,2\n";
  std::size_t tail_at = 0;
  const auto source = [&](char* into, std::size_t room) {
    if (left > 0) {
      const auto size = static_cast<std::size_t>(std::min<std::uint64_t>(left, room));
      std::fill_n(into, size, 'x');
      left -= size;
      return size;
    }
    const std::size_t size = std::min(room, tail.size() - tail_at);
    std::copy_n(tail.data() + tail_at, size, into);
    tail_at += size;
    return size;
  };
  const Read result = read(source);
  CHECK(result.faults == std::vector<RowFault>{RowFault::row_too_long, RowFault::none});
  CHECK(result.rows == Rows{{"1", "2"}});
}

TEST_CASE("a row of too many fields is a fault, not a growing table") {
  const Read result = read(std::string(50'000, ',') + "\na,b\n");
  CHECK(result.faults == std::vector<RowFault>{RowFault::too_many_fields, RowFault::none});
  std::string quoted;
  for (int i = 0; i < 11; ++i) quoted += "\"say \"\"no\"\"\",";
  CHECK(read(quoted + "\na,b\n", ',', {1000, 10}).faults ==
        std::vector<RowFault>{RowFault::too_many_fields, RowFault::none});
}

TEST_CASE("bytes that are not UTF-8 are a fault of their row only") {
  // "Dichtung undicht, Öl" in Latin-1, then in UTF-8.
  const Read result = read("1,\xD6l\n2,\xC3\x96l\n3,oil\n");
  CHECK(result.faults == std::vector<RowFault>{RowFault::not_utf8, RowFault::none, RowFault::none});
}

TEST_CASE("control characters are a fault, tabs are not") {
  const Read result = read(std::string_view("1,a\0b\n2,\x1B[2J\n3,a\tb\n", 19));
  CHECK(result.faults == std::vector<RowFault>{RowFault::control_character,
                                               RowFault::control_character, RowFault::none});
}

TEST_CASE("UTF-8 is checked to the letter: no overlong forms, surrogates or stray bytes") {
  CHECK(is_utf8("plain"));
  CHECK(is_utf8("\xF4\x8F\xBF\xBF"));
  CHECK_FALSE(is_utf8("\xC0\xAF"));
  CHECK_FALSE(is_utf8("\xE0\x80\xAF"));
  CHECK_FALSE(is_utf8("\xED\xA0\x80"));
  CHECK_FALSE(is_utf8("\xF4\x90\x80\x80"));
  CHECK(is_utf8("\xF0\x90\x80\x80"));
  CHECK_FALSE(is_utf8("\xF0\x8F\xBF\xBF"));
  CHECK_FALSE(is_utf8("\xF5\x80\x80\x80"));
  CHECK_FALSE(is_utf8("\x80"));
  CHECK_FALSE(is_utf8("\xE2\x82"));
}

TEST_CASE("fields written for others are quoted where needed and never run as formulas") {
  CHECK(csv_field("plain") == "plain");
  CHECK(csv_field("a,b") == "\"a,b\"");
  CHECK(csv_field("say \"no\"") == "\"say \"\"no\"\"\"");
  CHECK(csv_field("=1+cmd|' /C calc'!A0") == "'=1+cmd|' /C calc'!A0");
  CHECK(csv_field("@SUM(A1,A2)") == "\"'@SUM(A1,A2)\"");
  CHECK(csv_field("-12.5") == "-12.5");
  CHECK(csv_field("+12.5") == "+12.5");
  CHECK(csv_field("+") == "'+");
  CHECK(csv_field("-12+3") == "'-12+3");
  CHECK(csv_field("") == "");
}

TEST_CASE("any text is read as a plain reading of the rules says, however it arrives") {
  std::mt19937 random(20240229);
  const std::string alphabet = "aab,,\"\"\"\n\r";
  for (int round = 0; round < (tests::kSanitized ? 1'500 : 20'000); ++round) {
    std::string text;
    const std::size_t size = random() % (round % 10 == 0 ? 400 : 24);
    for (std::size_t i = 0; i < size; ++i) text += alphabet[random() % alphabet.size()];
    const Read expected = reference(text);
    const Read whole = read(text);
    const Read pieces = read(trickle(text, 1 + random() % 9));
    CAPTURE(text);
    for (const Read* got : {&whole, &pieces}) {
      REQUIRE(got->rows == expected.rows);
      REQUIRE(got->faults == expected.faults);
      REQUIRE(got->lines == expected.lines);
      REQUIRE(got->raw == expected.raw);
      REQUIRE(got->blank == expected.blank);
    }
  }
}

TEST_CASE("a file that is not there is refused by name") {
  CHECK_THROWS_WITH(file_source("/nonexistent/orders.csv"), Contains("/nonexistent/orders.csv"));
}
