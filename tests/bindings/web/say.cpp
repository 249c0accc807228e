// Prints every message of every language as the library says it, each name standing for itself and
// numbers from the command line: words.test.mjs holds it to a whole MessageFormat.
#include <cstdlib>
#include <iostream>
#include <regex>
#include <set>

#include "capi/documents/embedded.h"
#include "capi/documents/json.h"
#include "capi/documents/message_catalogue.h"

using faultodds::documents::MessageCatalogue;
using faultodds::documents::MessageWord;

int main(int count, char** arguments) {
  faultodds::documents::Json all;
  const faultodds::documents::Json english =
      faultodds::documents::Json::parse(faultodds::documents::kMessagesEn);
  const std::regex names(R"(\{(\w+)(, plural)?)");
  for (const char* language : {"en", "de", "es", "fr", "ar"}) {
    const MessageCatalogue& messages = MessageCatalogue::in(language);
    for (const auto& [id, text] : english.items()) {
      const std::string source = text.get<std::string>();
      std::vector<std::pair<std::string, bool>> found;
      for (std::sregex_iterator at(source.begin(), source.end(), names), end; at != end; ++at) {
        found.emplace_back((*at)[1].str(), (*at)[2].matched);
      }
      for (int i = 1; i < count; ++i) {
        std::vector<MessageWord> words;
        for (const auto& [name, plural] : found) {
          if (plural) {
            words.emplace_back(name, std::atol(arguments[i]));
          } else {
            words.emplace_back(name, "<" + name + ">");
          }
        }
        all[language][id].push_back(messages.say(id, words));
      }
    }
  }
  std::cout << all.dump() << "\n";
}
