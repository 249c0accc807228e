#include "bindings/priors/free_text.h"

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <map>
#include <optional>
#include <set>
#include <sstream>

#include "bindings/files/output_file.h"
#include "capi/documents/coding_tasks.h"
#include "core/error.h"
#include "core/number_text.h"
#include "core/quoted_text.h"
#include "core/wording/tokens.h"
#include "priors/inspection.h"

namespace faultodds_priors {
namespace {

using namespace faultodds;
using namespace faultodds::priors;
using documents::RecordsMapping;
using faultodds_files::OutputFile;

constexpr std::size_t kShownReasons = 5, kCodesLookedUp = 2000;

[[noreturn]] void refuse(const std::string& message) {
  throw Error(Code::invalid_argument, message);
}

std::string text_at(const std::string& path) {
  if (path.empty()) return {};
  std::ifstream file(path, std::ios::binary);
  if (!file) refuse("file " + path + " cannot be opened; expected a readable file");
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

// One row for each record of a table, cells by our fields.
class Rows {
 public:
  Rows(Table table, const std::map<std::string, std::string>& columns)
      : table_(std::move(table)), reader_(std::move(table_.source), table_.form.delimiter) {
    for (std::size_t before = 0; before <= table_.form.rows_before; ++before) reader_.next(row_);
    for (const auto& [field, column] : columns) {
      for (std::size_t c = 0; c < table_.header.size(); ++c) {
        if (table_.header[c] == column) at_[field] = c;
      }
    }
  }
  bool next() {
    if (!reader_.next(row_)) return false;
    while (row_.fields.size() > table_.header.size() &&
           row_.fields.back().find_first_not_of(" \t") == std::string_view::npos) {
      row_.fields.pop_back();  // a delimiter at the end
    }
    return true;
  }
  bool readable() const {
    return row_.fault == RowFault::none && row_.fields.size() == table_.header.size();
  }
  bool has(const std::string& field) const { return at_.contains(field); }
  std::string cell(const std::string& field) const {
    const auto at = at_.find(field);
    if (at == at_.end()) return {};
    const std::string_view text = row_.fields[at->second];
    const std::size_t first = text.find_first_not_of(" \t"), last = text.find_last_not_of(" \t");
    return first == text.npos ? std::string() : std::string(text.substr(first, last - first + 1));
  }
  std::uint64_t line() const { return row_.line; }
  std::string_view raw() const { return row_.raw; }

 private:
  Table table_;
  CsvReader reader_;
  CsvRow row_;
  std::map<std::string, std::size_t> at_;
};

Table table_at(const std::string& path, const Mapping& mapping) {
  Table table =
      open_table(file_source(path), mapping.encoding, mapping.delimiter, mapping.rows_before, {});
  if (table.header.empty()) {
    refuse("file " + path + " has no header row; expected a table with one row of column names");
  }
  return table;
}

void print_columns(const Inspection& seen) {
  std::printf("%-24s %-8s %7s %9s  %-12s %s\n", "column", "holds", "filled", "different", "field",
              "examples");
  for (const ColumnSeen& column : seen.columns) {
    std::string examples;
    for (const std::string& example : column.examples) {
      examples += (examples.empty() ? "" : " | ") + example.substr(0, 40);
    }
    std::printf("%-24s %-8s %6.0f%% %9zu  %-12s %s\n", column.name.c_str(), column.holds.c_str(),
                100.0 * static_cast<double>(column.filled) /
                    static_cast<double>(std::max<std::size_t>(1, seen.rows)),
                column.distinct, column.field.empty() ? "-" : column.field.c_str(),
                examples.c_str());
  }
}

const char* delimiter_name(char delimiter) {
  switch (delimiter) {
    case ',':
      return "comma";
    case ';':
      return "semicolon";
    case '\t':
      return "tab";
    default:
      return "bar";
  }
}

// What the person has to say before anything can be read; empty: nothing.
std::vector<std::string> asked_of(const Inspection& seen) {
  std::vector<std::string> asked;
  if (seen.dates.unclear) {
    asked.push_back("dates can be read in two ways, as in " + in_quotes(seen.dates.example) +
                    ": write \"dates\": \"day_month_year\" or \"month_day_year\" into the mapping");
  }
  if (seen.numbers.unclear) {
    asked.push_back("numbers can be read in two ways, as in " + in_quotes(seen.numbers.example) +
                    ": write \"decimal_comma\": true or false into the mapping");
  }
  return asked;
}

struct TrialRead {
  ReadSummary summary;
  std::map<Reason, std::vector<std::string>> examples;
};

TrialRead try_reading(const std::string& path, const Mapping& mapping,
                      const Vocabulary& vocabulary) {
  TrialRead trial;
  ReadSinks sinks;
  sinks.reject = [&](const Reject& reject) {
    std::vector<std::string>& of = trial.examples[reject.reason];
    if (of.size() < 2) of.push_back("line " + std::to_string(reject.line) + ": " + reject.detail);
  };
  trial.summary =
      read_work_orders(file_source(path), mapping, vocabulary, sinks, [](const WorkOrder&) {});
  return trial;
}

void print_trial(const TrialRead& trial) {
  const ReadSummary& summary = trial.summary;
  std::printf("usable as it is, with the mapping proposed: %llu of %llu rows (%.0f %%)\n",
              static_cast<unsigned long long>(summary.used),
              static_cast<unsigned long long>(summary.rows),
              100.0 * static_cast<double>(summary.used) /
                  static_cast<double>(std::max<std::uint64_t>(1, summary.rows)));
  std::vector<std::pair<std::uint64_t, Reason>> reasons;
  for (std::size_t i = 0; i < reason_count; ++i) {
    if (summary.rejected[i] > 0) reasons.push_back({summary.rejected[i], static_cast<Reason>(i)});
  }
  std::stable_sort(reasons.begin(), reasons.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  if (reasons.size() > kShownReasons) reasons.resize(kShownReasons);
  for (const auto& [count, reason] : reasons) {
    std::printf("  %s: %llu\n", name_of(reason), static_cast<unsigned long long>(count));
    for (const std::string& example : trial.examples.at(reason)) {
      std::printf("    %s\n", example.c_str());
    }
  }
}

}  // namespace

int inspect_orders(const InspectPaths& paths) {
  std::optional<OutputFile> mapping_file;
  if (!paths.mapping_out.empty()) mapping_file.emplace(paths.mapping_out);
  const documents::Trade trade = documents::trade_of(text_at(paths.circuit), {});
  const Table table = table_at(paths.orders, {});
  Inspection seen = inspect(table);
  std::printf("%s: %s, parted by %s, %zu rows before the header\n", paths.orders.c_str(),
              kEncodings[static_cast<std::size_t>(seen.encoding)],
              delimiter_name(seen.form.delimiter), seen.form.rows_before);
  print_columns(seen);
  if (seen.mapping.dates) {
    std::printf("dates: %s\n", kDateOrders[static_cast<std::size_t>(*seen.mapping.dates)]);
  }
  if (seen.numbers.cells > 0 && seen.mapping.decimal_comma) {
    std::printf("decimal sign: %s\n", *seen.mapping.decimal_comma ? "comma" : "point");
  }
  if (seen.has_codes) {
    Rows rows(open_table(file_source(paths.orders), seen.mapping.encoding, seen.mapping.delimiter,
                         seen.mapping.rows_before, {}),
              seen.mapping.columns);
    std::set<std::pair<std::string, std::string>> pairs;
    while (rows.next() && pairs.size() < kCodesLookedUp) {
      if (rows.readable() && rows.cell("component") != seen.mapping.columns.at("component")) {
        pairs.insert({rows.cell("component"), rows.cell("finding")});
      }
    }
    std::vector<std::pair<std::string, std::string>> unknown;
    for (const auto& pair : pairs) {
      if (!documents::is_known(trade.vocabulary, pair.first, pair.second)) unknown.push_back(pair);
    }
    propose_codes(unknown, *trade.coder, 0.9, seen.mapping);
  }
  std::vector<std::string> asked = asked_of(seen);
  std::optional<TrialRead> trial;
  const auto has = [&](const char* field) { return seen.mapping.columns.contains(field); };
  if (seen.has_codes && has("work_order") && has("closed") && asked.empty()) {
    trial = try_reading(paths.orders, seen.mapping, trade.vocabulary);
    print_trial(*trial);
    if (trial->summary.used == 0) {
      asked.push_back(
          "no row could be used: see the refusals above, and edit `columns`, `types` "
          "and `findings` of the mapping");
    }
  } else if (seen.has_codes && asked.empty()) {
    for (const char* field : {"work_order", "closed"}) {
      if (!has(field)) {
        asked.push_back(std::string("no column seems to be ") + field +
                        ": name it under `columns` of the mapping");
      }
    }
  } else if (!seen.has_codes && has("text")) {
    std::printf(
        "no columns of codes for component and finding; free text in %s: "
        "`faultodds-priors code` proposes findings from it\n",
        in_quotes(seen.mapping.columns.at("text")).c_str());
  } else if (!seen.has_codes) {
    asked.push_back(
        "no columns seem to be component and finding, nor free text: name them under "
        "`columns` of the mapping");
  }
  if (mapping_file) {
    mapping_file->write(documents::write_records_mapping({seen.mapping, true},
                                                         "proposed by inspect, to be looked at"));
    mapping_file->put_in_place();
  }
  for (const std::string& question : asked) std::fprintf(stderr, "%s\n", question.c_str());
  return asked.empty() ? 0 : 1;
}

namespace {

const char* grade_name(const std::optional<int>& grade) {
  return !grade ? "" : *grade == 2 ? "failed" : *grade == 1 ? "worn" : "sound";
}

std::string percent(double share) { return fixed_text(share, 3); }

std::string row_of(const std::vector<std::string>& cells) {
  std::string row;
  for (std::size_t i = 0; i < cells.size(); ++i) row += (i == 0 ? "" : ",") + csv_field(cells[i]);
  return row + "\r\n";
}

// csv_field puts an apostrophe before what a spreadsheet would take for a formula.
std::string as_written(std::string text) {
  if (text.size() > 1 && text[0] == '\'' &&
      std::string_view("=+-@\t\r").find(text[1]) != std::string_view::npos) {
    text.erase(0, 1);
  }
  return text;
}

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : "; ") + word;
  return text;
}

std::vector<ConfirmedText> answers_at(const std::vector<std::string>& paths) {
  std::vector<ConfirmedText> answers;
  for (const std::string& path : paths) {
    Rows rows(
        open_table(file_source(path), {}, {}, {}, {"text", "component", "finding"}),
        {{"text", "text"}, {"component", "component"}, {"finding", "finding"}, {"grade", "grade"}});
    for (const char* field : {"text", "component", "finding"}) {
      if (!rows.has(field)) {
        refuse("answers " + path + " have no column `" + field +
               "`; expected text, component, finding and grade, as the questions have them");
      }
    }
    while (rows.next()) {
      if (!rows.readable()) {
        refuse("line " + std::to_string(rows.line()) + " of answers " + path +
               " cannot be read as a row of its columns");
      }
      ConfirmedText answer{as_written(rows.cell("text")),
                           {rows.cell("component"), rows.cell("finding"), {}}};
      if (answer.coded.component.empty()) continue;  // not answered
      const std::string grade = rows.cell("grade");
      if (!grade.empty() && grade != "worn" && grade != "failed") {
        refuse("grade on line " + std::to_string(rows.line()) + " of answers " + path + " is " +
               in_quotes(grade) + "; expected worn, failed or nothing");
      }
      if (!grade.empty()) answer.coded.grade = grade == "worn" ? 1 : 2;
      if (answer.coded.component == kNotOurs || answer.coded.component == kUnclear) {
        answer.coded.finding.clear();
      }
      answers.push_back(std::move(answer));
    }
  }
  return answers;
}

// The mapping of the orders: given, or as inspect proposes it.
Mapping mapping_for(const CodePaths& paths) {
  if (!paths.mapping.empty()) {
    Mapping mapping = documents::records_mapping_of(text_at(paths.mapping)).mapping;
    for (const char* field : {"text", "closed", "work_order", "asset"}) {
      mapping.columns.emplace(field, field);
    }
    return mapping;
  }
  const Inspection seen = inspect(table_at(paths.orders, {}));
  const std::vector<std::string> asked = asked_of(seen);
  if (!asked.empty()) refuse(asked[0] + " (faultodds-priors inspect proposes one)");
  return seen.mapping;
}

DateOrder dates_of(const Table& table, const Mapping& mapping) {
  if (mapping.dates) return *mapping.dates;
  const auto column = mapping.columns.find("closed");
  const std::string name = column == mapping.columns.end() ? "closed" : column->second;
  for (std::size_t c = 0; c < table.header.size(); ++c) {
    if (table.header[c] != name) continue;
    const DatesSeen seen = dates_seen(table.columns[c]);
    if (seen.unclear) {
      refuse("dates can be read in two ways, as in " + in_quotes(seen.example) +
             "; expected a mapping whose `dates` is \"day_month_year\" or \"month_day_year\"");
    }
    return seen.order.value_or(DateOrder::year_month_day);
  }
  return DateOrder::year_month_day;
}

struct Counts {
  std::size_t rows = 0, coded = 0, stated = 0, not_ours = 0, review = 0, unread = 0;
};

struct Texts {
  std::vector<std::string> texts;  // that differ, in order
  std::vector<std::size_t> times;
  std::map<std::string, std::size_t> place;
};

void print_choices(const Coder& coder) {
  for (const auto& [component, findings] : coder.choices()) {
    std::printf("%s:", component.c_str());
    for (const std::string& finding : findings) std::printf(" %s", finding.c_str());
    std::printf("\n");
  }
  std::printf("%s: not of the catalogue\n%s: one cannot tell\n", kNotOurs, kUnclear);
}

void print_counts(const Counts& counts, std::size_t answers) {
  std::printf("%zu rows, %zu answers\n", counts.rows, answers);
  std::printf("  coded: %zu, of them with what was found: %zu\n", counts.coded, counts.stated);
  std::printf("  not of the catalogue: %zu\n  for review: %zu\n", counts.not_ours, counts.review);
  if (counts.unread > 0) {
    std::printf("  without text or date, or not readable, for review too: %zu\n", counts.unread);
  }
}

void write_questions(const std::string& path, const Coder& coder, const Texts& texts,
                     std::size_t most) {
  OutputFile file(path);
  file.write("text,component,finding,grade,certainty,because,times\r\n");
  for (std::size_t i : coder.ask(texts.texts, texts.times, most)) {
    const Proposal proposal = coder.propose(texts.texts[i]);
    file.write(row_of({texts.texts[i], proposal.coded.component, proposal.coded.finding,
                       grade_name(proposal.coded.grade), percent(proposal.certainty),
                       joined(proposal.because), std::to_string(texts.times[i])}));
  }
  file.put_in_place();
}

std::string mapping_of_coded(const Coder& coder) {
  RecordsMapping mapping;
  mapping.others_sound = false;  // a text that names one fault says nothing of the others
  mapping.mapping.delimiter = ',';
  mapping.mapping.dates = DateOrder::year_month_day;
  mapping.mapping.decimal_comma = false;
  for (const auto& [family, types] : coder.families()) mapping.mapping.types[family] = types[0];
  return documents::write_records_mapping(
      mapping,
      "of coded orders; `types` says which type a word of the text means on these machines");
}

}  // namespace

int code_orders(const CodePaths& paths) {
  std::vector<std::string> words;
  for (const std::string& path : paths.words) words.push_back(text_at(path));
  const documents::Trade trade =
      documents::trade_of(text_at(paths.circuit), {words.begin(), words.end()});
  Coder& coder = *trade.coder;
  if (paths.choices) {
    print_choices(coder);
    return 0;
  }
  if (paths.orders.empty() || paths.out.empty() || paths.review.empty()) {
    refuse("--orders, --out and --review are needed; expected files");
  }
  const std::vector<ConfirmedText> answers = answers_at(paths.answers);
  coder.learn(answers);
  const Mapping mapping = mapping_for(paths);
  Table table = table_at(paths.orders, mapping);
  const DateOrder dates = dates_of(table, mapping);
  Rows rows(std::move(table), mapping.columns);
  for (const char* field : {"text", "closed"}) {
    if (!rows.has(field)) {
      refuse(
          "no column of " + paths.orders + " seems to be " + field +
          "; expected a mapping whose `columns` names it (faultodds-priors inspect proposes one)");
    }
  }
  OutputFile out(paths.out), review(paths.review);
  std::optional<OutputFile> others;
  if (!paths.others.empty()) others.emplace(paths.others);
  const std::string header =
      "work_order,closed,asset,component,finding,grade,text,certainty,because\r\n";
  out.write(header);
  review.write(header);
  if (others) others->write(header);
  Counts counts;
  Texts texts;
  std::map<std::string, Proposal> known;
  while (rows.next()) {
    ++counts.rows;
    const std::string text = rows.readable() ? rows.cell("text") : std::string(rows.raw());
    const std::optional<Date> closed =
        rows.readable() ? date_in(rows.cell("closed"), dates) : std::nullopt;
    std::string id = rows.readable() ? rows.cell("work_order") : std::string();
    if (id.empty()) id = "line " + std::to_string(rows.line());
    const std::string asset = rows.readable() ? rows.cell("asset") : std::string();
    if (!rows.readable() || text.empty() || !closed) {
      ++counts.unread;
      review.write(row_of({id, rows.readable() ? rows.cell("closed") : "", asset, "", "", "", text,
                           "", "no text, no date or not readable"}));
      continue;
    }
    const std::string key = wording::key_of(wording::tokens_of(text));
    auto found = known.find(key);
    if (found == known.end()) found = known.emplace(key, coder.propose(text)).first;
    const Proposal& proposal = found->second;
    const auto [place, added] = texts.place.emplace(key, texts.texts.size());
    if (added) {
      texts.texts.push_back(text);
      texts.times.push_back(0);
    }
    ++texts.times[place->second];
    const bool sure = proposal.certainty >= paths.sure && proposal.coded.component != kUnclear;
    const std::string row =
        row_of({id, to_string(*closed), asset, proposal.coded.component, proposal.coded.finding,
                grade_name(proposal.coded.grade), text, percent(proposal.certainty),
                proposal.confirmed ? "confirmed" : joined(proposal.because)});
    if (!sure) {
      ++counts.review;
      review.write(row);
    } else if (proposal.coded.component == kNotOurs) {
      ++counts.not_ours;
      if (others) others->write(row);
    } else {
      ++counts.coded;
      if (proposal.coded.finding != kNotStated && proposal.coded.finding != kNoSuchMode) {
        ++counts.stated;
      }
      out.write(row);
    }
  }
  print_counts(counts, answers.size());
  if (!paths.questions.empty()) write_questions(paths.questions, coder, texts, paths.ask);
  if (counts.coded == 0) {
    review.put_in_place();
    refuse("no row of " + paths.orders +
           " could be coded; expected one at least. Answer the "
           "questions (--questions) and give them back (--answers), or name the columns");
  }
  if (!paths.mapping_out.empty()) {
    OutputFile file(paths.mapping_out);
    file.write(mapping_of_coded(coder));
    file.put_in_place();
  }
  out.put_in_place();
  review.put_in_place();
  if (others) others->put_in_place();
  return 0;
}

}  // namespace faultodds_priors
