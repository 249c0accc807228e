// Data shipped inside the library, as text: the build copies the files in (capi/embed.cmake).
#pragma once

#include <string_view>
#include <utility>
#include <vector>

namespace faultodds::documents {

extern const std::string_view kCatalogue;   // core/circuit/catalogue.json
extern const std::string_view kWordsEn;     // core/wording/words.en.json
extern const std::string_view kMessagesEn;  // capi/words/en.json
extern const std::string_view kMessagesDe;
extern const std::string_view kMessagesEs;
extern const std::string_view kMessagesFr;
extern const std::string_view kMessagesAr;
extern const std::string_view kShippedPack;  // priors/packs/shipped.json
extern const std::string_view kSchemas;      // capi/documents/schemas.json
extern const std::string_view kAnswers;      // capi/documents/answers.json
// core/wording/complaints.*.json, by language
std::vector<std::pair<std::string_view, std::string_view>> complaint_documents();

}  // namespace faultodds::documents
