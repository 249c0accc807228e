// What a table of work orders seems to be, for a person to look at: its form, what each column
// holds, which of our fields it may be, and the mapping that follows. It proposes; the person
// decides. Rows are read for learning elsewhere (records.h), free text is coded elsewhere
// (coding.h).
#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <vector>

#include "priors/coding.h"
#include "priors/dialect.h"
#include "priors/records.h"

namespace faultodds::priors {

struct ColumnSeen {
  std::string name;
  std::string holds;  // "dates", "numbers", "words", "text", or "nothing"
  std::size_t filled = 0, distinct = 0;
  std::vector<std::string> examples;  // the first few that differ
  std::string field;                  // ours that it may be; empty: none
};

struct Inspection {
  Encoding encoding = Encoding::utf_8;
  TableForm form;
  std::size_t rows = 0;  // looked at
  std::vector<ColumnSeen> columns;
  DatesSeen dates;
  NumbersSeen numbers;
  Mapping mapping;         // what follows; where dates or numbers are unclear, unsaid
  bool has_codes = false;  // columns for component and finding; else the text has to be coded
};

// Looks at the beginning; `table.source` stays whole.
Inspection inspect(const Table& table);

// Owner's words for components and findings that the coder is sure of, into the mapping.
void propose_codes(const std::vector<std::pair<std::string, std::string>>& component_and_finding,
                   const Coder& coder, double sure, Mapping& mapping);

}  // namespace faultodds::priors
