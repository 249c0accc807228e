// Streaming reader of CSV (RFC 4180) at constant memory: rows of any file, however long or broken,
// come out one at a time, those that cannot be read with the reason why. It knows nothing of work
// orders (records.h), converts no cell to a number, and never looks at what a cell might mean to a
// spreadsheet.
//
// Beyond RFC 4180 it accepts: a UTF-8 byte order mark, \n, \r\n and \r as line ends in one file,
// any delimiter of one byte, and a quote inside a field that does not begin with one. Blank lines
// are counted and skipped.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace faultodds::priors {

// Fills at most `room` bytes and returns how many; 0 at the end. May throw Error.
using ByteSource = std::function<std::size_t(char* into, std::size_t room)>;

ByteSource file_source(const std::string& path);  // throws Error(invalid_argument) naming the path
ByteSource text_source(std::string_view text);    // `text` must outlive it

struct CsvLimits {
  std::size_t row_bytes = std::size_t{1} << 20;  // of one row, quoted line ends included
  std::size_t fields = 1024;                     // of one row
};

enum class RowFault {
  none,
  quote_not_closed,  // only its first line is given up; reading goes on with the next
  text_after_quote,  // likewise
  row_too_long,      // skipped to its end
  too_many_fields,
  not_utf8,
  control_character,  // other than tab and line ends
};

struct CsvRow {
  // Valid until the next call. Quotes taken off, doubled quotes undone. Meaningless with a fault.
  std::vector<std::string_view> fields;
  std::string_view raw;      // as it stands, without its line end; the beginning of it if too long
  std::uint64_t line = 0;    // physical line on which it begins, from 1
  std::uint64_t offset = 0;  // bytes before it
  RowFault fault = RowFault::none;
};

class CsvReader {
 public:
  // Throws Error(invalid_argument) for UTF-16 or a delimiter that cannot be one.
  explicit CsvReader(ByteSource source, char delimiter = ',', const CsvLimits& limits = {});

  // False at the end. `row` is reused: pass the same one.
  bool next(CsvRow& row);

  std::uint64_t bytes() const { return base_ + begin_; }  // taken so far
  std::uint64_t blank_lines() const { return blank_lines_; }

 private:
  enum class Parsed { complete, blank, need_more, quote_not_closed, text_after_quote };

  bool refill();
  void load(std::size_t block);
  void seek(std::size_t position);
  std::size_t next_special();
  Parsed parse(CsvRow& row);
  Parsed parse_quoted(CsvRow& row, std::size_t from, std::uint64_t& lines);
  void finish(CsvRow& row, std::size_t end, std::size_t next);
  void give_up_line(CsvRow& row, RowFault fault);
  void skip_long_row(CsvRow& row, RowFault fault);
  void add_field(CsvRow& row, std::size_t from, std::size_t to);
  void add_quoted_field(CsvRow& row, std::size_t from, std::size_t to, bool doubled);

  ByteSource source_;
  CsvLimits limits_;
  char delimiter_;
  std::vector<char> buffer_;
  std::string undoubled_;            // text of fields with doubled quotes, of the present row
  std::string kept_raw_;             // beginning of a row too long for the buffer
  std::size_t begin_ = 0, end_ = 0;  // unread bytes of the buffer
  std::uint64_t base_ = 0;           // offset of the buffer's first byte
  std::uint64_t line_ = 1;
  std::uint64_t blank_lines_ = 0;
  bool ended_ = false;

  // The block of 64 bytes being looked at: what is left of its delimiters, quotes and line ends,
  // and where its bytes are neither printable ASCII nor line end nor tab.
  std::size_t block_ = 0;
  std::uint64_t special_ = 0, odd_ = 0;
  bool odd_before_ = false;  // odd bytes in earlier blocks of this row
  bool seek_needed_ = true;
};

bool is_utf8(std::string_view text);

// Without blanks and tabs around.
std::string_view trimmed(std::string_view text);

// One field as RFC 4180 writes it: quoted where it must be. A field that a spreadsheet would take
// for a formula (first character = + - @, tab or carriage return, and not a plain number) gets an
// apostrophe before it.
std::string csv_field(std::string_view text);

}  // namespace faultodds::priors
