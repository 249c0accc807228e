#include "priors/records.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "core/circuit/names.h"
#include "core/error.h"
#include "core/quoted_text.h"
#include "core/reading/units.h"
#include "core/stop.h"
#include "priors/record_cells.h"
#include "priors/record_codes.h"
#include "priors/seen_ids.h"

namespace faultodds::priors {
namespace {

constexpr std::uint64_t progress_bytes = std::uint64_t{8} << 20;
constexpr std::uint64_t kRowsBetweenStops = 4096;

[[noreturn]] void refuse_records(const std::string& message) {
  throw Error(Code::invalid_argument, message);
}

Unusable of_fault(RowFault fault, const CsvLimits& limits) {
  switch (fault) {
    case RowFault::quote_not_closed:
      return {Reason::quote_not_closed, "a quote opened on this line is not closed within " +
                                            std::to_string(limits.row_bytes) +
                                            " bytes; only this line is left out"};
    case RowFault::text_after_quote:
      return {Reason::text_after_quote,
              "text follows a closing quote; expected a delimiter or the end of the line"};
    case RowFault::row_too_long:
      return {Reason::row_too_long,
              "the row is longer than the " + std::to_string(limits.row_bytes) + " bytes allowed"};
    case RowFault::too_many_fields:
      return {Reason::too_many_fields,
              "the row has more than the " + std::to_string(limits.fields) + " fields allowed"};
    case RowFault::not_utf8:
      return {Reason::not_utf8, "the row is not UTF-8; expected one encoding throughout the file"};
    case RowFault::control_character:
      return {Reason::control_character, "the row holds a control character"};
    case RowFault::none:
      break;
  }
  return {Reason::wrong_field_count, ""};
}

// What the mapping leaves unsaid, read off the beginning of `source`, which stays whole.
Mapping settled(ByteSource& source, const Mapping& said, const Fields& fields) {
  const auto column_of = [&](const std::string& field) {
    const auto mapped = said.columns.find(field);
    return mapped == said.columns.end() ? field : mapped->second;
  };
  std::vector<std::string> needed;
  for (const auto& [field, required] : fields) {
    if (required) needed.push_back(column_of(field));
  }
  Table table =
      open_table(std::move(source), said.encoding, said.delimiter, said.rows_before, needed);
  source = std::move(table.source);
  Mapping mapping = said;
  mapping.encoding = Encoding::utf_8;  // it is by now
  mapping.delimiter = table.form.delimiter;
  mapping.rows_before = table.form.rows_before;
  const auto cells_of = [&](std::initializer_list<const char*> names) {
    std::vector<std::string> cells;
    for (std::size_t c = 0; c < table.header.size(); ++c) {
      if (std::any_of(names.begin(), names.end(),
                      [&](const char* name) { return table.header[c] == column_of(name); })) {
        cells.insert(cells.end(), table.columns[c].begin(), table.columns[c].end());
      }
    }
    return cells;
  };
  if (!mapping.dates) {
    const DatesSeen dates = dates_seen(cells_of({"closed", "opened", "from", "to"}));
    if (dates.unclear) {
      refuse_records(
          "dates can be read in two ways, as in " + in_quotes(dates.example) +
          "; expected a mapping whose `dates` is \"day_month_year\" or \"month_day_year\"");
    }
    mapping.dates = dates.order.value_or(DateOrder::year_month_day);
  }
  if (!mapping.decimal_comma) {
    const NumbersSeen numbers = numbers_seen(cells_of({"hours", "sound_at", "minutes", "age"}));
    // A table parted by commas has no decimal comma (RFC 4180's own world).
    if (numbers.unclear && *mapping.delimiter != ',') {
      refuse_records("numbers can be read in two ways, as in " + in_quotes(numbers.example) +
                     "; expected a mapping whose `decimal_comma` is true or false");
    }
    mapping.decimal_comma = numbers.decimal_comma.value_or(false);
  }
  return mapping;
}

// Delimiters at the end of a row that has no more columns.
void drop_blank_beyond(std::size_t columns, CsvRow& row) {
  while (row.fields.size() > columns && trimmed(row.fields.back()).empty()) row.fields.pop_back();
}

ReadSummary read_rows(ByteSource source, const Mapping& said, const ReadSinks& sinks,
                      const Fields& fields, SeenIds& seen,
                      const std::function<void(const Cells&, const CsvRow&)>& use) {
  const Mapping mapping = settled(source, said, fields);
  CsvReader reader(std::move(source), *mapping.delimiter, mapping.limits);
  CsvRow row;
  for (std::size_t before = 0; before <= *mapping.rows_before; ++before) {
    if (!reader.next(row)) refuse_records("the file is empty; expected a header row");
  }
  if (row.fault != RowFault::none) {
    refuse_records("the header cannot be read: " + of_fault(row.fault, mapping.limits).detail);
  }
  const Cells cells(mapping, row.fields, fields);
  const std::string header(row.raw);
  ReadSummary summary;
  const auto reject = [&](const Unusable& unusable) {
    ++summary.rejected[static_cast<std::size_t>(unusable.reason)];
    if (sinks.reject) {
      sinks.reject({row.line, row.offset, unusable.reason, unusable.detail, row.raw});
    }
  };
  const auto report = [&] {
    summary.bytes = reader.bytes();
    summary.blank_lines = reader.blank_lines();
    summary.duplicates_may_be_missed = seen.forgets();
    if (sinks.progress && !sinks.progress(summary)) {
      throw Error(Code::cancelled,
                  "reading was cancelled after " + std::to_string(summary.rows) + " rows");
    }
  };
  std::uint64_t next_report = progress_bytes;
  while (reader.next(row)) {
    if (++summary.rows % kRowsBetweenStops == 0) check_stop();
    if (row.fault != RowFault::none) {
      reject(of_fault(row.fault, mapping.limits));
    } else if (drop_blank_beyond(cells.columns(), row); row.raw == header) {
      reject({Reason::repeated_header, "the row is the header once more"});
    } else if (row.fields.size() != cells.columns()) {
      reject({Reason::wrong_field_count,
              "the row has " + std::to_string(row.fields.size()) + " fields; expected " +
                  std::to_string(cells.columns()) + " as in the header"});
    } else {
      try {
        use(cells, row);
        ++summary.used;
      } catch (const Unusable& unusable) {
        reject(unusable);
      }
    }
    if (reader.bytes() >= next_report) {
      next_report = reader.bytes() + progress_bytes;
      report();
    }
  }
  report();
  return summary;
}

// Values in `id=value; id=value` that look like a quantity must be a leak rate. Outcomes are ids:
// no blank stands in them, nor a slash.
void check_rates(std::string_view cell, const char* name) {
  constexpr double most = 1e7 * 1e-6 / 60;  // m3/s: 10 m3/min
  while (!cell.empty()) {
    const std::size_t end = std::min(cell.find(';'), cell.size());
    const std::string_view part = cell.substr(0, end);
    cell.remove_prefix(std::min(end + 1, cell.size()));
    const std::size_t equals = part.find('=');
    if (equals == std::string_view::npos) continue;
    std::string_view value = trimmed(part.substr(equals + 1));
    take_again(value);
    if (value.empty() || std::string_view("+-.0123456789").find(value[0]) == value.npos ||
        circuit::is_id(value)) {
      continue;
    }
    bool possible = false;
    try {
      const double rate = reading::parse_quantity(value, reading::Dimension::flow);
      possible = rate >= 0 && rate <= most;
    } catch (const Error&) {
    }
    if (!possible) {
      throw Unusable{Reason::impossible_rate,
                     std::string(name) + " has " + in_quotes(trimmed(part)) +
                         "; expected an outcome or a leak rate from 0 to 10000 L/min, like 40 "
                         "mL/min"};
    }
  }
}

std::string_view required(std::string_view cell, const char* name) {
  if (cell.empty()) {
    throw Unusable{Reason::missing_value, std::string(name) + " is empty; expected a value"};
  }
  return cell;
}

}  // namespace

bool take_again(std::string_view& value) {
  constexpr std::string_view again = " again";
  if (!value.ends_with(again)) return false;
  value = trimmed(value.substr(0, value.size() - again.size()));
  return true;
}

Vocabulary vocabulary_of(const std::vector<circuit::ComponentType>& catalogue) {
  Vocabulary vocabulary;
  for (const circuit::ComponentType& type : catalogue) {
    if (type.failure_modes.empty()) continue;
    Vocabulary::Type entry{type.name, {}};
    for (const circuit::FailureModeType& mode : type.failure_modes) {
      entry.modes.push_back({mode.name, mode.code});
    }
    vocabulary.types.push_back(std::move(entry));
  }
  return vocabulary;
}

const char* name_of(Reason reason) {
  static constexpr const char* names[reason_count] = {"quote_not_closed",
                                                      "text_after_quote",
                                                      "row_too_long",
                                                      "too_many_fields",
                                                      "not_utf8",
                                                      "control_character",
                                                      "wrong_field_count",
                                                      "repeated_header",
                                                      "missing_value",
                                                      "duplicate",
                                                      "unknown_component",
                                                      "unknown_finding",
                                                      "unknown_grade",
                                                      "contradictory_grade",
                                                      "not_a_number",
                                                      "negative_hours",
                                                      "impossible_hours",
                                                      "impossible_count",
                                                      "impossible_date",
                                                      "date_out_of_range",
                                                      "closed_before_opened",
                                                      "too_many_classes",
                                                      "text_too_long",
                                                      "impossible_rate",
                                                      "not_yes_or_no"};
  return names[static_cast<std::size_t>(reason)];
}

std::uint64_t ReadSummary::rejected_rows() const {
  return std::accumulate(rejected.begin(), rejected.end(), std::uint64_t{0});
}

std::optional<double> ReadSummary::confirmed_share() const {
  if (told_whether_confirmed == 0) return std::nullopt;
  return static_cast<double>(confirmed) / static_cast<double>(told_whether_confirmed);
}

namespace {

std::optional<double> entry_of(const Cells& cells, const CsvRow& row, std::size_t field,
                               const std::optional<double>& hours) {
  const std::optional<double> entry = cells.age(row, field, "entry");
  if (entry && hours && *entry > *hours) {
    throw Unusable{Reason::impossible_hours,
                   "entry is " + in_quotes(cells.text(row, field)) +
                       "; expected no more than the hours at the finding"};
  }
  return entry;
}

std::optional<double> minutes_of(const Cells& cells, const CsvRow& row, std::size_t field) {
  const std::optional<double> minutes = cells.number(row, field, "minutes");
  if (minutes && *minutes < 0) {
    throw Unusable{Reason::negative_hours,
                   "minutes is " + in_quotes(cells.text(row, field)) + "; expected 0 or more"};
  }
  return minutes;
}

std::uint64_t orders_of(const Cells& cells, const CsvRow& row, std::size_t field) {
  if (!cells.has(field)) return 1;
  const std::uint64_t orders = cells.count(row, field, "orders");
  if (orders == 0) throw Unusable{Reason::impossible_count, "orders is 0; expected 1 or more"};
  return orders;
}

}  // namespace

ReadSummary read_work_orders(ByteSource source, const Mapping& mapping,
                             const Vocabulary& vocabulary, const ReadSinks& sinks,
                             const std::function<void(const WorkOrder&)>& use) {
  enum Field : std::size_t {
    work_order,
    closed,
    component,
    finding,
    line,
    asset,
    asset_class,
    opened,
    grade,
    hours,
    sound_at,
    minutes,
    complaint,
    tests,
    circuit,
    position,
    text,
    confirmed,
    site,
    entry,
    orders
  };
  static const Fields fields = {{"work_order", true},   {"closed", true},    {"component", true},
                                {"finding", true},      {"line", false},     {"asset", false},
                                {"asset_class", false}, {"opened", false},   {"grade", false},
                                {"hours", false},       {"sound_at", false}, {"minutes", false},
                                {"complaint", false},   {"tests", false},    {"circuit", false},
                                {"position", false},    {"text", false},     {"confirmed", false},
                                {"site", false},        {"entry", false},    {"orders", false}};
  Codes codes(mapping, vocabulary);
  SeenIds seen(mapping.seen_budget);
  std::string key;
  WorkOrder order;
  std::uint64_t told_whether_confirmed = 0, confirmed_orders = 0, found_sound = 0;
  ReadSummary summary = read_rows(
      std::move(source), mapping, sinks, fields, seen, [&](const Cells& cells, const CsvRow& row) {
        order.id = required(cells.text(row, work_order), "work_order");
        order.line = cells.text(row, line);
        required(cells.text(row, closed), "closed");
        order.closed = *cells.date(row, closed, "closed");
        order.opened = cells.date(row, opened, "opened");
        if (order.opened && order.closed < *order.opened) {
          throw Unusable{Reason::closed_before_opened,
                         "closed is " + to_string(order.closed) + "; expected no day before " +
                             to_string(*order.opened) + ", when it was opened"};
        }
        const std::string_view code = required(cells.text(row, component), "component");
        order.type = codes.type(code);
        order.modes = codes.modes(code, order.type, cells.text(row, finding));
        order.grade = codes.grade(cells.text(row, grade));
        if (order.grade == 0 && order.modes.size() == 1) {
          throw Unusable{Reason::contradictory_grade,
                         "finding is " + in_quotes(cells.text(row, finding)) +
                             " but its grade is sound; expected worn or failed"};
        }
        if (order.modes.empty() && order.grade.value_or(0) != 0) {
          throw Unusable{Reason::contradictory_grade, "nothing was found but the grade is " +
                                                          in_quotes(cells.text(row, grade)) +
                                                          "; expected sound or none"};
        }
        if (order.grade == 0) {  // no cause said: the component was found sound
          order.modes = {};
          order.grade.reset();
        }
        order.hours = cells.age(row, hours, "hours");
        order.sound_at = cells.age(row, sound_at, "sound_at");
        if (order.sound_at && order.hours && *order.sound_at > *order.hours) {
          throw Unusable{Reason::impossible_hours,
                         "sound_at is " + in_quotes(cells.text(row, sound_at)) +
                             "; expected no more than the hours at the finding, " +
                             in_quotes(cells.text(row, hours))};
        }
        order.entry = entry_of(cells, row, entry, order.hours);
        order.minutes = minutes_of(cells, row, minutes);
        order.confirmed = cells.yes_or_no(row, confirmed, "confirmed");
        order.asset = cells.text(row, asset);
        order.site = cells.text(row, site);
        order.complaint = cells.text(row, complaint);
        order.tests = cells.text(row, tests);
        check_rates(order.complaint, "complaint");
        check_rates(order.tests, "tests");
        order.circuit = cells.text(row, circuit);
        order.orders = orders_of(cells, row, orders);
        order.position = cells.text(row, position);
        order.asset_class = codes.asset_class(cells.text(row, asset_class));
        // Last: a row refused for another reason does not make its correction a duplicate.
        bool first = false;
        if (order.line.empty()) {
          first = seen.insert(order.id);
        } else {
          key.assign(order.line);
          key += '\x1f';
          key += order.id;
          first = seen.insert(key);
        }
        if (!first) {
          throw Unusable{Reason::duplicate,
                         "work_order is " + in_quotes(order.id) +
                             (order.line.empty() ? "" : ", line " + in_quotes(order.line)) +
                             "; expected one not read before"};
        }
        found_sound += order.modes.empty() ? 1 : 0;
        if (order.confirmed && !order.modes.empty()) {
          ++told_whether_confirmed;
          confirmed_orders += *order.confirmed ? 1 : 0;
        }
        use(order);
      });
  summary.told_whether_confirmed = told_whether_confirmed;
  summary.confirmed = confirmed_orders;
  summary.found_sound = found_sound;
  return summary;
}

ReadSummary read_exposure(ByteSource source, const Mapping& mapping, const Vocabulary& vocabulary,
                          const ReadSinks& sinks, const std::function<void(const Exposure&)>& use) {
  enum Field : std::size_t {
    component,
    in_service,
    asset,
    asset_class,
    hours,
    age,
    installs,
    renewals,
    from,
    to
  };
  static const Fields fields = {{"component", true},    {"in_service", true}, {"asset", false},
                                {"asset_class", false}, {"hours", false},     {"age", false},
                                {"installs", false},    {"renewals", false},  {"from", false},
                                {"to", false}};
  Codes codes(mapping, vocabulary);
  SeenIds seen(mapping.seen_budget);
  std::string key;
  Exposure exposure;
  return read_rows(
      std::move(source), mapping, sinks, fields, seen, [&](const Cells& cells, const CsvRow& row) {
        exposure.type = codes.type(required(cells.text(row, component), "component"));
        required(cells.text(row, in_service), "in_service");
        exposure.in_service = cells.count(row, in_service, "in_service");
        exposure.installs = cells.count(row, installs, "installs");
        exposure.renewals = cells.count(row, renewals, "renewals");
        const double run = cells.hours(row, hours, "hours").value_or(0);
        constexpr double most = 9e13;
        if (run > most) {
          throw Unusable{Reason::impossible_hours, "hours is " + in_quotes(cells.text(row, hours)) +
                                                       "; expected no more than 9e13"};
        }
        exposure.centihours = std::llround(run * 100);
        exposure.age = cells.age(row, age, "age");
        exposure.from = cells.date(row, from, "from");
        exposure.to = cells.date(row, to, "to");
        if (exposure.from && exposure.to && *exposure.to < *exposure.from) {
          throw Unusable{Reason::closed_before_opened, "to is " + to_string(*exposure.to) +
                                                           "; expected no day before from, " +
                                                           to_string(*exposure.from)};
        }
        exposure.asset = cells.text(row, asset);
        exposure.asset_class = codes.asset_class(cells.text(row, asset_class));
        key.clear();
        for (std::size_t field : {component, asset, asset_class, age, from, to}) {
          key += cells.text(row, field);
          key += '\x1f';
        }
        if (!seen.insert(key)) {
          throw Unusable{Reason::duplicate,
                         "component, asset, asset_class, age, from and to are those of a row read "
                         "before; expected each stretch of exposure once"};
        }
        use(exposure);
      });
}

std::string reject_header() { return "line,offset,reason,detail,record\r\n"; }

std::string reject_row(const Reject& reject) {
  // What is not UTF-8 cannot stand in a UTF-8 file as it is.
  std::string record(reject.record);
  if (!is_utf8(record)) {
    for (char& c : record) {
      if (static_cast<unsigned char>(c) >= 0x80) c = '?';
    }
  }
  for (char& c : record) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 && c != '\t' && c != '\n' && c != '\r') c = '?';
  }
  return std::to_string(reject.line) + "," + std::to_string(reject.offset) + "," +
         name_of(reject.reason) + "," + csv_field(reject.detail) + "," + csv_field(record) + "\r\n";
}

}  // namespace faultodds::priors
