#include "capi/documents/coding_tasks.h"

#include <algorithm>

#include "capi/documents/document.h"
#include "capi/documents/prior_tasks.h"
#include "capi/documents/words_reader.h"

namespace faultodds::documents {

Trade trade_of(std::string_view circuit, const std::vector<std::string_view>& words) {
  const std::vector<circuit::ComponentType> types = types_for(circuit);
  return {priors::vocabulary_of(types),
          std::make_unique<priors::Coder>(coding_words(words), types)};
}

RecordsMapping records_mapping_of(std::string_view document) {
  return document.empty() ? RecordsMapping{} : read_records_mapping(read_document(document));
}

bool is_known(const priors::Vocabulary& vocabulary, std::string_view component,
              std::string_view finding) {
  for (const auto& type : vocabulary.types) {
    if (type.name != component) continue;
    return finding.empty() || finding == "none" || finding == "UNK" || finding == "OTH" ||
           std::any_of(type.modes.begin(), type.modes.end(), [&](const auto& mode) {
             return mode.name == finding || mode.code == finding;
           });
  }
  return false;
}

}  // namespace faultodds::documents
