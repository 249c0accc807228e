// A note for a work order, to be read by people: what was observed, what is suspected and why, what
// to do next and how to do it safely. As plain text in lines of 78 columns, or as one HTML page
// that needs nothing else and in which everything that came from a document is escaped. General
// cautions come first, those of a test before the test. It computes nothing.
#pragma once

#include <string>

#include "capi/documents/json.h"
#include "capi/documents/wording.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/before_service.h"

namespace faultodds::documents {

enum class NoteFormat { text, html };

// `case_document` has been read before, so it is well-formed; `assessment` is explained;
// `advice` and `before_service` may be null.
std::string write_note(const Words& words, const Json& case_document,
                       const diagnosis::Assessment& assessment, const diagnosis::Advice* advice,
                       NoteFormat format, const diagnosis::BeforeService* before_service = nullptr);

}  // namespace faultodds::documents
