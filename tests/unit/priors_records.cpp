#include <catch2/catch.hpp>
#include <set>
#include <string>
#include <vector>

#include "core/error.h"
#include "priors/records.h"
#include "priors/seen_ids.h"

namespace priors_records {

using namespace faultodds;
using namespace faultodds::priors;
using Catch::Contains;

namespace {

Vocabulary vocabulary() {
  return {{{"port_relief", {{"seat_leak", "INL"}, {"sticks_open", "FTC"}}},
           {"spool_valve", {{"bore_wear", "INL"}, {"bent_spool", "FTF"}, {"seal_leak", "ELU"}}}}};
}

struct Seen {
  std::string id, asset_class, closed;
  std::uint32_t type;
  std::vector<std::uint32_t> modes;
  std::optional<int> grade;
  std::optional<double> hours;
};

struct Result {
  ReadSummary summary;
  std::vector<Seen> orders;
  std::vector<Reject> rejects;
  std::vector<std::string> records;  // of the rejects
};

Result read(const std::string& text, const Mapping& mapping = {}) {
  Result result;
  ReadSinks sinks;
  sinks.reject = [&](const Reject& reject) {
    result.rejects.push_back(reject);
    result.records.emplace_back(reject.record);
  };
  result.summary = read_work_orders(
      text_source(text), mapping, vocabulary(), sinks, [&](const WorkOrder& order) {
        result.orders.push_back({std::string(order.id),
                                 std::string(order.asset_class),
                                 to_string(order.closed),
                                 order.type,
                                 {order.modes.begin(), order.modes.end()},
                                 order.grade,
                                 order.hours});
      });
  CHECK(result.summary.rows == result.summary.used + result.summary.rejected_rows());
  CHECK(result.summary.used == result.orders.size());
  CHECK(result.summary.rejected_rows() == result.rejects.size());
  return result;
}

// The reason and detail of the only data row of a file.
Reject only_reject(const std::string& row, const Mapping& mapping = {},
                   const std::string& header =
                       "work_order,closed,component,finding,grade,hours,opened,sound_at,minutes") {
  const Result result = read(header + "\n" + row + "\n", mapping);
  REQUIRE(result.rejects.size() == 1);
  CHECK(result.records[0] == row);
  CHECK(result.rejects[0].line == 2);
  return result.rejects[0];
}

}  // namespace

TEST_CASE("a work order in our own words needs no mapping") {
  const Result result = read(
      "work_order,closed,component,finding,grade,hours,asset_class\n"
      "W1,2023-02-28,port_relief,seat_leak,worn,4120.5,rear loader\n");
  REQUIRE(result.orders.size() == 1);
  const Seen& order = result.orders[0];
  CHECK(order.id == "W1");
  CHECK(order.asset_class == "rear loader");
  CHECK(order.closed == "2023-02-28");
  CHECK(order.type == 0);
  CHECK(order.modes == std::vector<std::uint32_t>{0});
  CHECK(order.grade == 1);
  CHECK(order.hours == 4120.5);
}

TEST_CASE("the owner's columns, codes, grades, classes, dates and decimals are mapped") {
  Mapping mapping;
  mapping.delimiter = ';';
  mapping.decimal_comma = true;
  mapping.dates = DateOrder::day_month_year;
  mapping.columns = {{"work_order", "Auftrag"}, {"closed", "Ende"},   {"component", "Teil"},
                     {"finding", "Befund"},     {"grade", "Zustand"}, {"hours", "Bh"},
                     {"asset_class", "Klasse"}};
  mapping.types = {{"DBV-2", "port_relief"}};
  mapping.findings = {{"undicht", {"seat_leak"}}};
  mapping.grades = {{"defekt", 2}};
  mapping.classes = {{"HL", "rear loader"}};
  const Result result = read(
      "Auftrag;Ende;Teil;Befund;Zustand;Bh;Klasse;Bemerkung\n"
      "0815;28.02.2023;DBV-2;undicht;defekt;4120,5;HL;\"Sitz; eingelaufen\"\n",
      mapping);
  REQUIRE(result.orders.size() == 1);
  CHECK(result.orders[0].closed == "2023-02-28");
  CHECK(result.orders[0].modes == std::vector<std::uint32_t>{0});
  CHECK(result.orders[0].grade == 2);
  CHECK(result.orders[0].hours == 4120.5);
  CHECK(result.orders[0].asset_class == "rear loader");
}

TEST_CASE("days may be written month first, and are shown so where one cannot be read") {
  Mapping mapping;
  mapping.dates = DateOrder::month_day_year;
  const Result result =
      read("work_order,closed,component,finding\nW,2/28/2023,port_relief,seat_leak\n", mapping);
  REQUIRE(result.orders.size() == 1);
  CHECK(result.orders[0].closed == "2023-02-28");
  for (const char* day : {"28/2/2023", "2/28/23", "2023-02-28"}) {
    CAPTURE(day);
    const Reject reject =
        only_reject(std::string("W,").append(day).append(",port_relief,seat_leak,,,,,"), mapping);
    CHECK(reject.reason == Reason::impossible_date);
    CHECK_THAT(reject.detail, Contains(day) && Contains("written like 02/28/2023"));
  }
}

TEST_CASE("a component of unknown finding and sound grade was found sound") {
  const Result result = read(
      "work_order,closed,component,finding,grade\n"
      "A,2023-01-01,spool_valve,UNK,sound\n"
      "B,2023-01-01,spool_valve,OTH,\n"
      "C,2023-01-01,spool_valve,,worn\n");
  REQUIRE(result.orders.size() == 3);
  CHECK(result.orders[0].modes.empty());
  CHECK(!result.orders[0].grade);
  CHECK(result.orders[1].modes == std::vector<std::uint32_t>{0, 1, 2});
  CHECK(result.orders[2].modes == std::vector<std::uint32_t>{0, 1, 2});
  CHECK(result.orders[2].grade == 1);
}

TEST_CASE("a finding may be a mode, an ISO 14224 code, a code of the mapping or not known") {
  Mapping mapping;
  mapping.findings = {{"replaced whole", {"*"}},
                      {"spool", {"bent_spool", "bore_wear"}},
                      {"spool_valve|wear", {"bore_wear"}},
                      {"ok", {}}};
  const auto modes = [&](const std::string& component, const std::string& finding) {
    const Result result = read(
        "work_order,closed,component,finding\nW,2023-01-01," + component + "," + finding + "\n",
        mapping);
    REQUIRE(result.orders.size() == 1);
    return result.orders[0].modes;
  };
  using Modes = std::vector<std::uint32_t>;
  CHECK(modes("spool_valve", "seal_leak") == Modes{2});
  CHECK(modes("spool_valve", "FTF") == Modes{1});
  CHECK(modes("spool_valve", "replaced whole") == Modes{0, 1, 2});
  CHECK(modes("spool_valve", "spool") == Modes{0, 1});
  CHECK(modes("spool_valve", "wear") == Modes{0});
  CHECK(modes("spool_valve", "") == Modes{0, 1, 2});
  CHECK(modes("port_relief", "UNK") == Modes{0, 1});
  CHECK(modes("port_relief", "ok").empty());
  CHECK(modes("port_relief", "none").empty());
}

TEST_CASE("each kind of unusable row has its reason, and the sentence names field and value") {
  CHECK(only_reject(",2023-01-01,port_relief,seat_leak,,,,,").reason == Reason::missing_value);
  CHECK(only_reject("W,,port_relief,seat_leak,,,,,").detail == "closed is empty; expected a value");
  const Reject component = only_reject("W,2023-01-01,gearbox,seat_leak,,,,,");
  CHECK(component.reason == Reason::unknown_component);
  CHECK_THAT(component.detail, Contains("component is \"gearbox\""));
  const Reject finding = only_reject("W,2023-01-01,port_relief,bore_wear,,,,,");
  CHECK(finding.reason == Reason::unknown_finding);
  CHECK_THAT(finding.detail, Contains("\"bore_wear\"") && Contains("port_relief"));
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,tired,,,,").reason ==
        Reason::unknown_grade);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,sound,,,,").reason ==
        Reason::contradictory_grade);
  CHECK(only_reject("W,2023-01-01,port_relief,none,failed,,,,").reason ==
        Reason::contradictory_grade);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,-5,,,").reason == Reason::negative_hours);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,many,,,").reason == Reason::not_a_number);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,nan,,,").reason == Reason::not_a_number);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,1e9,,,").reason ==
        Reason::impossible_hours);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,100,,200,").reason ==
        Reason::impossible_hours);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,,2023-01-02,,").reason ==
        Reason::closed_before_opened);
  CHECK(only_reject("W,2023-01-01,port_relief,seat_leak,,,,,-3").reason == Reason::negative_hours);
  CHECK(only_reject("W,1066-10-14,port_relief,seat_leak,,,,,").reason == Reason::date_out_of_range);
  Mapping mapping;
  mapping.latest = make_date(2023, 6, 30);
  CHECK(only_reject("W,2023-07-01,port_relief,seat_leak,,,,,", mapping).reason ==
        Reason::date_out_of_range);
}

TEST_CASE("a day that does not exist is impossible, a leap day is not") {
  for (const char* day :
       {"2023-02-29", "2023-13-01", "2023-04-31", "1900-02-29", "2023-00-10", "23-01-01", "2023-1",
        "2023-01-01x", "yesterday", "2023-01-01T", "2023_01_01", "2023-001-01", "2023-01-01 soon",
        "2023-01-01 9h30", "02023-01-01"}) {
    CAPTURE(day);
    CHECK(only_reject(std::string("W,").append(day).append(",port_relief,seat_leak,,,,,")).reason ==
          Reason::impossible_date);
  }
  CHECK(read("work_order,closed,component,finding\n"
             "A,2024-02-29,port_relief,seat_leak\n"
             "B,2023-1-5,port_relief,seat_leak\n"
             "C,2023-01-05T13:45:00Z,port_relief,seat_leak\n"
             "D,2023/01/05 01:45 PM,port_relief,seat_leak\n")
            .orders.size() == 4);
}

TEST_CASE("rows broken as CSV are rejected with their own reasons and the rest is used") {
  const Result result = read(
      "work_order,closed,component,finding\n"
      "2,2023-01-01,port_relief,seat_leak\n"
      "3,2023-01-01,port_relief,\"seat\"_leak\n"
      "4,2023-01-01,port_relief\n"
      "5,2023-01-01,port_relief,seat_leak,more\n"
      "6,2023-01-01,port_relief,und\xEDght\n"
      "\xC3\xBC,2023-01-01,,\n"  // the others are UTF-8
      "\n"
      "7,2023-01-01,port_relief,seat_leak\r\n"
      "8,2023-01-01,port_relief,\"seat_leak\n");
  CHECK(result.orders.size() == 2);
  CHECK(result.summary.blank_lines == 1);
  std::vector<Reason> reasons;
  for (const Reject& reject : result.rejects) reasons.push_back(reject.reason);
  CHECK(reasons == std::vector<Reason>{Reason::text_after_quote, Reason::wrong_field_count,
                                       Reason::wrong_field_count, Reason::not_utf8,
                                       Reason::missing_value, Reason::quote_not_closed});
}

TEST_CASE("what the mapping leaves unsaid is read off the table") {
  const Result result = read(
      "Closed orders\n"
      "work_order;closed;component;finding;hours\n"
      "1;13.02.2023;port_relief;seat_leak;1.200,5\n"
      "2;01.03.2023;port_relief;none;7,25\n");
  REQUIRE(result.orders.size() == 2);
  CHECK(result.orders[1].hours == 7.25);
  CHECK(result.orders[1].closed == "2023-03-01");
}

TEST_CASE("days and numbers that can be read in two ways are refused with the key that tells") {
  CHECK_THROWS_WITH(read("work_order,closed,component,finding\n1,03/04/2026,port_relief,none\n"),
                    Contains("03/04/2026") && Contains("day_month_year"));
  CHECK_THROWS_WITH(
      read("work_order;closed;component;finding;hours\n1;2026-01-02;port_relief;none;1.234\n"),
      Contains("1.234") && Contains("decimal_comma"));
}

TEST_CASE("a header that comes again and delimiters at the end of rows cost no order") {
  const Result result = read(
      "work_order,closed,component,finding\n"
      "1,2023-01-01,port_relief,none,,\n"
      "work_order,closed,component,finding\n"
      "2,2023-01-01,port_relief,none\n");
  CHECK(result.orders.size() == 2);
  REQUIRE(result.rejects.size() == 1);
  CHECK(result.rejects[0].reason == Reason::repeated_header);
}

TEST_CASE("of how many findings somebody looked is counted, where it is recorded") {
  const std::string header = "work_order,closed,component,finding,confirmed\n";
  const Result result = read(header +
                             "1,2023-01-01,port_relief,seat_leak,yes\n"
                             "2,2023-01-01,port_relief,seat_leak,no\n"
                             "3,2023-01-01,port_relief,seat_leak,no\n"
                             "4,2023-01-01,port_relief,seat_leak,\n"
                             "5,2023-01-01,port_relief,none,yes\n"
                             "6,2023-01-01,port_relief,seat_leak,maybe\n");
  CHECK(result.summary.confirmed_share() == Approx(1.0 / 3));
  CHECK(result.summary.found_sound == 1);
  REQUIRE(result.rejects.size() == 1);
  CHECK(result.rejects[0].reason == Reason::not_yes_or_no);
  CHECK_FALSE(read(header + "1,2023-01-01,port_relief,seat_leak,\n").summary.confirmed_share());
}

TEST_CASE("a work order read before is a duplicate unless its line differs") {
  const Result result = read(
      "work_order,line,closed,component,finding\n"
      "W-7,,2023-01-01,port_relief,seat_leak\n"
      "W-7,,2023-01-02,port_relief,seat_leak\n"
      "W-007,,2023-01-01,port_relief,seat_leak\n"
      "W-8,1,2023-01-01,port_relief,seat_leak\n"
      "W-8,2,2023-01-01,spool_valve,bore_wear\n"
      "W-8,2,2023-01-01,spool_valve,bore_wear\n");
  CHECK(result.orders.size() == 4);
  CHECK(result.summary.rejected[static_cast<std::size_t>(Reason::duplicate)] == 2);
}

TEST_CASE("a row refused for another reason does not make its correction a duplicate") {
  const Result result = read(
      "work_order,closed,component,finding\n"
      "W,2023-02-30,port_relief,seat_leak\n"
      "W,2023-02-28,port_relief,seat_leak\n");
  CHECK(result.orders.size() == 1);
}

TEST_CASE("asset classes are limited in number and length") {
  Mapping mapping;
  mapping.most_classes = 2;
  std::string text = "work_order,closed,component,finding,asset_class\n";
  for (int i = 0; i < 5; ++i) {
    const std::string number = std::to_string(i);
    text += number + ",2023-01-01,port_relief,seat_leak,class " + number + "\n";
  }
  text += "9,2023-01-01,port_relief,seat_leak," + std::string(300, 'x') + "\n";
  const Result result = read(text, mapping);
  CHECK(result.orders.size() == 2);
  CHECK(result.summary.rejected[static_cast<std::size_t>(Reason::too_many_classes)] == 3);
  CHECK(result.summary.rejected[static_cast<std::size_t>(Reason::text_too_long)] == 1);
}

TEST_CASE("a header or mapping that cannot work is refused before the first row") {
  CHECK_THROWS_WITH(read(""), Contains("empty"));
  CHECK_THROWS_WITH(read("work_order,\"closed\nW,2023-01-01\n"),
                    Contains("the header cannot be read: a quote opened on this line"));
  CHECK_THROWS_WITH(read("work_order,closed,finding\n"), Contains("no column \"component\""));
  CHECK_THROWS_WITH(read("work_order,closed,component,finding,closed\n"),
                    Contains("two columns \"closed\""));
  const std::string header = "work_order,closed,component,finding\n";
  Mapping mapping;
  mapping.columns = {{"hours", "Bh"}};
  CHECK_THROWS_WITH(read(header, mapping), Contains("no column \"Bh\" for the field hours"));
  mapping.columns = {{"colour", "x"}};
  CHECK_THROWS_WITH(read(header, mapping), Contains("the field \"colour\""));
  mapping.columns.clear();
  mapping.types = {{"X", "gearbox"}};
  CHECK_THROWS_WITH(read(header, mapping), Contains("\"gearbox\""));
  mapping.types.clear();
  mapping.findings = {{"X", {"melted"}}};
  CHECK_THROWS_WITH(read(header, mapping), Contains("\"melted\""));
  mapping.findings.clear();
  for (const int grade : {-1, 3}) {
    mapping.grades = {{"bad", grade}};
    CHECK_THROWS_WITH(read(header, mapping), Contains("\"bad\" is " + std::to_string(grade)) &&
                                                 Contains("expected 0, 1 or 2"));
  }
}

TEST_CASE("exposure is read with its counts and exact hours") {
  std::vector<Exposure> rows;
  std::vector<Reason> reasons;
  ReadSinks sinks;
  sinks.reject = [&](const Reject& reject) { reasons.push_back(reject.reason); };
  const ReadSummary summary = read_exposure(
      text_source("component,asset_class,in_service,hours,age,installs,renewals,from,to\n"
                  "port_relief,rear,40,10000.25,3000,2,1,2022-01-01,2022-12-31\n"
                  "port_relief,rear,40,9,3000,2,1,2022-01-01,2022-12-31\n"
                  "port_relief,rear,-4,,,,,,\n"
                  "port_relief,rear,4.5,,,,,,\n"
                  "port_relief,rear,4,-1,,,,,\n"
                  "port_relief,rear,4,,,,,2022-12-31,2022-01-01\n"
                  "port_relief,rear,4,1e14,,,,,\n"),
      {}, vocabulary(), sinks, [&](const Exposure& exposure) { rows.push_back(exposure); });
  REQUIRE(rows.size() == 1);
  CHECK(rows[0].in_service == 40);
  CHECK(rows[0].centihours == 1000025);
  CHECK(rows[0].age == 3000);
  CHECK(rows[0].installs == 2);
  CHECK(rows[0].renewals == 1);
  CHECK(reasons == std::vector<Reason>{Reason::duplicate, Reason::impossible_count,
                                       Reason::impossible_count, Reason::negative_hours,
                                       Reason::closed_before_opened, Reason::impossible_hours});
  CHECK(summary.rows == 7);
}

TEST_CASE("progress is reported and a caller may stop the reading") {
  std::string text = "work_order,closed,component,finding,note\n";
  const std::string filler(1000, 'n');
  for (int i = 0; i < 20'000; ++i) {
    text += std::to_string(i) + ",2023-01-01,port_relief,seat_leak," + filler + "\n";
  }
  std::vector<std::uint64_t> rows;
  ReadSinks sinks;
  sinks.progress = [&](const ReadSummary& so_far) {
    rows.push_back(so_far.rows);
    return true;
  };
  const auto ignore = [](const WorkOrder&) {};
  read_work_orders(text_source(text), {}, vocabulary(), sinks, ignore);
  CHECK(rows.size() >= 3);
  CHECK(std::is_sorted(rows.begin(), rows.end()));
  CHECK(rows.back() == 20'000);
  sinks.progress = [](const ReadSummary&) { return false; };
  try {
    read_work_orders(text_source(text), {}, vocabulary(), sinks, ignore);
    FAIL("expected the reading to be cancelled");
  } catch (const Error& error) {
    CHECK(error.code() == Code::cancelled);
  }
}

TEST_CASE("a row of the reject file keeps the record as text that no spreadsheet runs") {
  const std::string record = "=HYPERLINK(\"x\"),2023-01-01,\xFF";
  const Reject reject{7, 120, Reason::unknown_component, "component is \"=1\"", record};
  CHECK(reject_row(reject) ==
        "7,120,unknown_component,\"component is \"\"=1\"\"\","
        "\"'=HYPERLINK(\"\"x\"\"),2023-01-01,?\"\r\n");
}

TEST_CASE("every reason has its own name") {
  std::set<std::string> names;
  for (std::size_t i = 0; i < reason_count; ++i) names.insert(name_of(static_cast<Reason>(i)));
  CHECK(names.size() == reason_count);
}

TEST_CASE("dates are days of the Gregorian calendar") {
  CHECK(make_date(1970, 1, 1)->days == 0);
  CHECK(make_date(2000, 2, 29)->days == 11016);
  CHECK(make_date(1950, 1, 1)->days == -7305);
  CHECK_FALSE(make_date(2100, 2, 29).has_value());
  for (int days = -20'000; days < 40'000; days += 37) {
    const std::string text = to_string(Date{days});
    CHECK(make_date(std::stoi(text.substr(0, 4)), std::stoi(text.substr(5, 2)),
                    std::stoi(text.substr(8, 2)))
              ->days == days);
  }
}

TEST_CASE("identifiers are told apart however they are numbered") {
  const auto numbered = [](int i) { return std::to_string(1'000'000 + i).insert(0, 1, 'N'); };
  SeenIds seen;
  CHECK(seen.insert("WO-0000001"));
  CHECK_FALSE(seen.insert("WO-0000001"));
  CHECK(seen.insert("WO-1"));
  CHECK(seen.insert("XO-0000001"));
  CHECK(seen.insert("7f3a"));
  CHECK_FALSE(seen.insert("7f3a"));
  CHECK(seen.insert(""));
  CHECK_FALSE(seen.insert(""));
  for (int i = 2; i < 200'000; ++i) REQUIRE(seen.insert(numbered(i)));
  for (int i = 2; i < 200'000; i += 7) {
    REQUIRE_FALSE(seen.insert(numbered(i)));
  }
  CHECK_FALSE(seen.forgets());
}

TEST_CASE("lines of numbered work orders are never taken for one another") {
  SeenIds seen;
  for (int order = 0; order < 300'000; order += 64) {
    for (int line = 1; line <= 9; ++line) {
      const std::string id =
          std::to_string(line) + '\x1f' + "truck-" + std::to_string(10'000'000 + order);
      CAPTURE(order, line);
      REQUIRE(seen.insert(id));
    }
  }
}

TEST_CASE("identifiers without numbers are told apart as their memory grows") {
  const auto named = [](int i) { return "truck " + std::to_string(i) + " hose"; };
  SeenIds seen(std::size_t{8} << 20);
  for (int i = 0; i < 100'000; ++i) REQUIRE(seen.insert(named(i)));
  for (int i = 0; i < 100'000; ++i) REQUIRE_FALSE(seen.insert(named(i)));
  CHECK_FALSE(seen.forgets());
}

TEST_CASE("beyond its budget the memory of identifiers forgets the oldest and says so") {
  SeenIds seen(std::size_t{1} << 17);
  for (int i = 0; i < 50'000; ++i) REQUIRE(seen.insert(std::to_string(i) + "x"));
  CHECK(seen.forgets());
  CHECK_FALSE(seen.insert("49999x"));
  CHECK(seen.insert("0x"));
}

}  // namespace priors_records
