#include "capi/documents/words_reader.h"

#include <algorithm>
#include <array>
#include <string>
#include <utility>

#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "capi/documents/fields.h"
#include "core/error.h"
#include "core/quoted_text.h"

namespace faultodds::documents {
namespace {

using wording::Concept;

// Endings and links may be a letter or none; a string with blanks is a phrase.
std::vector<std::string> words_of(const Fields& fields, std::string_view key) {
  return fields.has(key) ? texts_of(fields.need(key), fields.at(key)) : std::vector<std::string>();
}

void read_concept(const std::string& id, const Json& value, const Place& place,
                  priors::CodingWords& words) {
  const Fields fields(value, place, "a concept",
                      {"kind", "words", "types", "codes", "grade", "of", "vague", "ends",
                       "of_anything", "sealing"});
  static constexpr std::array kinds = {"component", "part",  "foreign", "other",    "fan",
                                       "unclear",   "place", "oil",     "ours",     "fault",
                                       "breakdown", "sound", "action",  "position", "side",
                                       "symptom",   "area"};
  const std::string kind = fields.text("kind");
  if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) {
    std::string known;
    for (const char* name : kinds) known += std::string(known.empty() ? "" : ", ") + name;
    refuse(fields.at("kind"), "kind is " + in_quotes(kind) + "; expected one of " + known);
  }
  auto known = std::find_if(words.concepts.begin(), words.concepts.end(),
                            [&](const Concept& c) { return c.id == id; });
  if (known == words.concepts.end()) {
    known = words.concepts.insert(known, Concept{id, kind, {}});
  } else if (known->kind != kind) {
    refuse(fields.at("kind"), "kind of " + in_quotes(id) + " is " + in_quotes(kind) +
                                  "; expected " + in_quotes(known->kind) +
                                  " as in the words read before");
  }
  for (std::string& phrase : words_of(fields, "words")) known->phrases.push_back(std::move(phrase));
  if (fields.has("types")) words.types[id] = words_of(fields, "types");
  if (fields.has("codes")) words.codes[id] = words_of(fields, "codes");
  if (const auto grade = fields.number("grade", 1, 2)) words.grades[id] = static_cast<int>(*grade);
  if (fields.flag("vague", false)) words.vague.insert(id);
  if (fields.flag("ends", false)) words.ends.insert(id);
  if (fields.flag("of_anything", false)) words.of_anything.insert(id);
  if (fields.flag("sealing", false)) words.sealing.insert(id);
  if (fields.has("of")) words.part_of[id] = fields.text("of");
}

// What a language brings besides concepts.
wording::Language language_of(const Fields& fields) {
  return {words_of(fields, "endings"),     words_of(fields, "links"),
          words_of(fields, "denials"),     words_of(fields, "denials_after"),
          words_of(fields, "denial_ends"), words_of(fields, "breaks"),
          words_of(fields, "ignored"),     words_of(fields, "elisions"),
          words_of(fields, "beginnings")};
}

}  // namespace

void add_words(const Json& document, priors::CodingWords& words) {
  const Place place;
  const Fields fields(
      document, place, "words of the trade",
      {"format", "language", "source", "endings", "links", "denials", "denials_after",
       "denial_ends", "breaks", "ignored", "elisions", "beginnings", "concepts"});
  fields.check_format("faultodds-words/1");
  fields.text("language");
  fields.text("source", "");
  words.languages.push_back(language_of(fields));
  const Place concepts = fields.at("concepts");
  for (const auto& [id, value] : object_of(fields.need("concepts"), concepts, "concepts by id")) {
    const Place here = concepts.key(id);
    check_id(id, here);
    read_concept(id, value, here, words);
  }
}

priors::CodingWords coding_words(const std::vector<std::string_view>& documents) {
  priors::CodingWords words;
  add_words(read_document(kWordsEn), words);
  for (const std::string_view document : documents) add_words(read_document(document), words);
  return words;
}

wording::ComplaintWords complaint_words(std::string_view language) {
  const std::string_view primary = language.substr(0, language.find('-'));
  std::string known;
  for (const auto& [code, document] : complaint_documents()) {
    if (code == primary) return read_complaint_words(document);
    known += (known.empty() ? "" : ", ") + std::string(code);
  }
  throw Error(Code::invalid_argument,
              "language is " + in_quotes(language) + "; expected one of " + known);
}

wording::ComplaintWords read_complaint_words(std::string_view text) {
  const Document document = read_document(text);
  const Place place;
  const Fields fields(
      document, place, "words of complaints",
      {"format", "language", "source", "endings", "links", "denials", "denials_after",
       "denial_ends", "breaks", "ignored", "elisions", "beginnings", "concepts"});
  fields.check_format("faultodds-words/1");
  wording::ComplaintWords words{{}, language_of(fields), {}};
  const Place concepts = fields.at("concepts");
  for (const auto& [id, value] : object_of(fields.need("concepts"), concepts, "concepts by id")) {
    const Place here = concepts.key(id);
    const Fields of(value, here, "a concept", {"kind", "means", "words"});
    words.concepts.push_back({id, of.text("kind"), words_of(of, "words")});
    if (of.has("means")) words.means[id] = words_of(of, "means");
  }
  return words;
}

}  // namespace faultodds::documents
