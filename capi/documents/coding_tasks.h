// What coding free text needs of documents: the catalogue, the words of the trade, a circuit's own
// types. How anything is coded is priors/coding.h's.
#pragma once

#include <memory>
#include <string_view>
#include <vector>

#include "capi/documents/learned_pack.h"
#include "priors/coding.h"
#include "priors/records.h"

namespace faultodds::documents {

struct Trade {
  priors::Vocabulary vocabulary;
  std::unique_ptr<priors::Coder> coder;  // that nobody answered yet
};

// `circuit`, whose own component types are known too, may be empty. `words`: further documents
// "faultodds-words/1", other languages or a shop's own words, besides the shipped ones.
Trade trade_of(std::string_view circuit, const std::vector<std::string_view>& words);

RecordsMapping records_mapping_of(std::string_view document);  // empty: our own field names

// Whether records.h would know the two without a mapping.
bool is_known(const priors::Vocabulary& vocabulary, std::string_view component,
              std::string_view finding);

}  // namespace faultodds::documents
