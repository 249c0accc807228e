// Closed work orders and exposure, read from the owner's CSV by a mapping from the owner's columns
// and codes to ours. Every row is either used or handed to the reject sink with its reason; nothing
// is dropped silently. Memory does not grow with the number of rows. What is made of the rows is
// the caller's business (statistics.h, learning.h, backtest.h).
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/circuit/description.h"
#include "priors/csv.h"
#include "priors/dialect.h"

namespace faultodds::priors {

// The component types and failure modes there are, with their ISO 14224 codes.
struct Vocabulary {
  struct Mode {
    std::string name, code;
  };
  struct Type {
    std::string name;
    std::vector<Mode> modes;
  };
  std::vector<Type> types;
};

Vocabulary vocabulary_of(const std::vector<circuit::ComponentType>& catalogue);

// How the owner's file is read. Work orders have the fields
//   work_order, closed, component, finding                          (required)
//   line, asset, asset_class, opened, grade, hours, sound_at, minutes, complaint, tests, circuit,
//   position, text, confirmed, site, entry, orders
// and exposure
//   component, in_service                                           (required)
//   asset, asset_class, hours, age, installs, renewals, from, to
// `component` is the owner's code of a component type; `finding` what was wrong with it: a code of
// the mapping, one of our mode names, an ISO 14224 failure-mode code, or nothing known (then every
// mode of the type is a candidate). `position` is the component's id in its circuit. `text` is what
// somebody wrote: it is for coding.h and not read here. `confirmed`, yes or no: somebody saw or
// measured the fault on the part itself, rather than booking what was proposed. `site`: the depot,
// where depots differ. `orders`: how many work orders say this, 1 where it is not said; learning
// through a circuit reads it (distinct_orders.h). `entry`: hours at which records of the part begin. `hours` of a work
// order are the component's at the finding, `sound_at` its hours when last seen sound; `hours` of
// exposure are those run by all in service, `age` the hours of each of them now.
struct Mapping {
  // How the table is written; what is not said is read off its beginning, and refused where that
  // does not tell.
  std::optional<Encoding> encoding;
  std::optional<char> delimiter;
  std::optional<std::size_t> rows_before;  // the header, blank ones not counted
  std::optional<bool> decimal_comma;
  std::optional<DateOrder> dates;
  std::map<std::string, std::string> columns;  // field -> header of the owner's column
  std::map<std::string, std::string> types;    // owner's component code -> our type
  // Owner's finding, or "component code|finding" -> our modes: one is certain, several are
  // candidates, none means nothing was found. "*" stands for every mode of the type.
  std::map<std::string, std::vector<std::string>> findings;
  std::map<std::string, int> grades;           // owner's word -> 0 sound, 1 worn, 2 failed
  std::map<std::string, std::string> classes;  // owner's asset class -> ours
  Date earliest{-7305};                        // 1950-01-01; dates before it are impossible
  std::optional<Date> latest;                  // dates after it are impossible
  double most_hours = 1e6;
  std::size_t most_classes = 500;
  std::size_t seen_budget = std::size_t{256} << 20;  // bytes for telling duplicates
  CsvLimits limits;
};

// One closed work order. Views and spans are valid during the call only.
struct WorkOrder {
  std::string_view id, line, asset, asset_class, site, complaint, tests, circuit, position;
  std::uint32_t type = 0;                // index into Vocabulary::types
  std::span<const std::uint32_t> modes;  // candidates, ascending, of that type; none: found sound
  std::optional<bool> confirmed;         // the finding: looked at, or booked as it was proposed
  std::optional<int> grade;              // 1 or 2; none where modes is empty or it was not recorded
  std::optional<double> hours, sound_at, entry, minutes;
  std::optional<Date> opened;
  Date closed;
  std::uint64_t orders = 1;  // that say this
};

// One row of exposure.
struct Exposure {
  std::string_view asset, asset_class;
  std::uint32_t type = 0;
  std::uint64_t in_service = 0, installs = 0, renewals = 0;
  std::int64_t centihours = 0;  // hundredths of an hour: sums are exact in any order
  std::optional<double> age;
  std::optional<Date> from, to;
};

enum class Reason : std::uint8_t {
  quote_not_closed,
  text_after_quote,
  row_too_long,
  too_many_fields,
  not_utf8,
  control_character,
  wrong_field_count,
  repeated_header,
  missing_value,
  duplicate,
  unknown_component,
  unknown_finding,
  unknown_grade,
  contradictory_grade,
  not_a_number,
  negative_hours,
  impossible_hours,
  impossible_count,
  impossible_date,
  date_out_of_range,
  closed_before_opened,
  too_many_classes,
  text_too_long,
  impossible_rate,
  not_yes_or_no,
};
inline constexpr std::size_t reason_count = 25;
const char* name_of(Reason reason);

struct Reject {
  std::uint64_t line = 0, offset = 0;
  Reason reason = Reason::missing_value;
  std::string detail;       // one sentence: field, value, what was expected
  std::string_view record;  // as it stands in the file; its beginning if too long
};

// Of `held again` or `40 mL/min again`, what a row says of a test that was looked at again: takes
// the word off. An outcome has no blank in it.
bool take_again(std::string_view& value);

struct ReadSummary {
  std::uint64_t rows = 0;  // without the header: used + rejected
  std::uint64_t used = 0;
  std::array<std::uint64_t, reason_count> rejected{};
  std::uint64_t blank_lines = 0, bytes = 0;
  // Of work orders used, with a fault found: of how many it is recorded whether somebody looked,
  // and of how many that somebody did.
  std::uint64_t told_whether_confirmed = 0, confirmed = 0;
  std::uint64_t found_sound = 0;          // work orders used of which nothing was found
  bool duplicates_may_be_missed = false;  // the budget for telling them ran out

  std::uint64_t rejected_rows() const;
  std::optional<double> confirmed_share() const;  // none: not recorded
};

struct ReadSinks {
  std::function<void(const Reject&)> reject;  // may be empty
  // Called every 8 MiB or so and at the end; false stops the reading with Error(cancelled).
  std::function<bool(const ReadSummary&)> progress;
};

// Throw Error(invalid_argument) where the header or the mapping cannot work, naming the column.
ReadSummary read_work_orders(ByteSource source, const Mapping& mapping,
                             const Vocabulary& vocabulary, const ReadSinks& sinks,
                             const std::function<void(const WorkOrder&)>& use);
ReadSummary read_exposure(ByteSource source, const Mapping& mapping, const Vocabulary& vocabulary,
                          const ReadSinks& sinks, const std::function<void(const Exposure&)>& use);

// One row of a reject file, `reject_header()` before the first.
std::string reject_header();
std::string reject_row(const Reject& reject);

}  // namespace faultodds::priors
