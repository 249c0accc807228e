// Words of the trade in a language, "faultodds-words/1": concepts with the phrases that stand for
// them, and what the language brings besides. What is made of them is priors/coding.h's for orders
// and core/wording/complaint.h's for complaints, which have documents of their own.
#pragma once

#include <string_view>
#include <vector>

#include "capi/documents/json.h"
#include "core/wording/complaint.h"
#include "priors/coding.h"

namespace faultodds::documents {

// Adds the words of a document: concepts of one id are one, whatever the language. Throws
// Error(invalid_document) with a pointer into it.
void add_words(const Json& document, priors::CodingWords& words);

// The shipped words, and those of the documents given.
priors::CodingWords coding_words(const std::vector<std::string_view>& documents = {});

// The shipped words of complaints in a language (`en`, `de`, `es`, `fr`; `de-AT` is `de`). Throws
// Error(invalid_argument) naming those there are.
wording::ComplaintWords complaint_words(std::string_view language);
// Those of a document.
wording::ComplaintWords read_complaint_words(std::string_view text);

}  // namespace faultodds::documents
