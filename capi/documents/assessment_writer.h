// Answers as JSON text: an assessment as "faultodds-assessment/1" and a model's description as
// "faultodds-model/1". The bytes depend on nothing but the values written. It computes nothing but
// what is needed to show a value (Pa to bar).
#pragma once

#include <string>

#include "capi/documents/case_reader.h"
#include "capi/documents/json_text.h"
#include "capi/documents/titles.h"
#include "capi/documents/wording.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/before_service.h"
#include "core/diagnosis/model.h"

namespace faultodds::documents {

// `asset` may be empty, `advice` and `before_service` null: then the answer has no such member.
std::string write_assessment(const Words& words, const diagnosis::Assessment& assessment,
                             const Asset& asset, const diagnosis::Advice* advice = nullptr,
                             const diagnosis::BeforeService* before_service = nullptr);

std::string write_model(const Words& words, const Titles& titles = {});

// "exact", or the approximation and how far it may be off.
void write_method(JsonText& out, const diagnosis::Assessment& assessment);

// Members that the plan has, too: of the machine, if anything is said of it; tests that cannot be
// made, if there are any; what a test needs; between which effects its outcomes lie, if it was
// solved.
void write_asset(JsonText& out, const Asset& asset);
void write_reason(JsonText& out, const circuit::NotProposed& one, const Words& words);
void write_pressure_limit(JsonText& out, const circuit::TestPressureLimit& limit,
                          const Words& words);
void write_warnings(JsonText& out, const Messages& warnings, const Words& words);
void write_not_possible(JsonText& out, const Words& words,
                        const std::vector<diagnosis::NotPossible>& list);
// The first `most`; the member is absent where there are none.
void write_not_proposed(JsonText& out, const Words& words,
                        const std::vector<diagnosis::NotProposed>& list, std::size_t most);
void write_bring(JsonText& out, const circuit::Observation& observation);
const char* unit_of(circuit::EffectLimits::Unit unit);
void write_limits(JsonText& out, const circuit::Observation& observation);

// The members code, message and pointer.
std::string write_error(Code code, std::string_view message, std::string_view pointer);

// "invalid_case"; "unknown" for a value that is no code.
const char* code_name(int code);

}  // namespace faultodds::documents
