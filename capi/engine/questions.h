// What is asked of a model with a case document, and the documents and pages that answer: the
// assessment, the note, the plan, the record of a closed order, what an operator's words may mean
// (complaint.cpp). Nothing is kept between questions: for that there is open_case.h. All throw
// Error; a StopScope ends them.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "capi/engine/loaded_model.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/case.h"

namespace faultodds::engine {

// The assessment of one case against one circuit, both forgotten after it: the asset class of the
// case chooses among the pack's entries. The `whole` of it, or as much as the case asks for.
std::string assess_once(std::string_view circuit, std::optional<std::string_view> priors,
                        std::string_view case_document, At& at, bool whole = false);

// The drawing of the whole circuit with what the case makes suspect, by the shipped pack.
std::string draw_once(std::string_view circuit, std::string_view case_document, At& at);

// A document "faultodds-assessment/1".
std::string assess(const LoadedModel& model, std::string_view case_document);

enum class NoteFormat { text, html };
std::string note(const LoadedModel& model, std::string_view case_document, NoteFormat format);

enum class PlanFormat { json, html };
std::string plan(const LoadedModel& model, std::string_view case_document, PlanFormat format);

// The part of the circuit that the case concerns, as SVG; empty where there is none. `width`: px
// that it shall fit in, 0 any. Parts are called as `language` does where the circuit has titles in
// it.
std::string draw(const LoadedModel& model, std::string_view case_document, double width,
                 std::string_view language);

// What words of a complaint may mean, a document "faultodds-proposals/1".
std::string propose(const LoadedModel& model, std::string_view text, std::string_view language);

enum class RecordFormat { json, csv, csv_headed };
std::string close(const LoadedModel& model, std::string_view case_document,
                  std::string_view closing, RecordFormat format);

// What advice there is, none where no method fits it: then the assessment is warned of that. One
// list, one next step: its test becomes the first of the assessment's. What was said of a
// `question` that tells all of the case is kept; empty: nothing is.
std::optional<diagnosis::Advice> advise(const diagnosis::Model& model,
                                        const diagnosis::Case& the_case,
                                        diagnosis::Assessment& assessment,
                                        std::string_view question = {});

// Warns of what was said twice and counted once.
void warn_of_said_before(const diagnosis::Model& model, const diagnosis::Case& the_case,
                         diagnosis::Assessment& assessment);

}  // namespace faultodds::engine
