// The answer that a screen needs, which a case has unless it asks for `detail: "full"`: the
// likeliest causes, the next tests whole, the others by name, the advice without its evidence;
// every caution once, tests refer to them by id. It is "faultodds-assessment/1" like the whole
// answer (assessment_writer.h) and computes nothing.
#pragma once

#include <string>

#include "capi/documents/case_reader.h"
#include "capi/documents/wording.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/before_service.h"

namespace faultodds::documents {

// `asset` may be empty, `advice` and `before_service` null: then the answer has no such member.
std::string write_screen(const Words& words, const diagnosis::Assessment& assessment,
                         const Asset& asset, const diagnosis::Advice* advice = nullptr,
                         const diagnosis::BeforeService* before_service = nullptr);

// The description of a model without what only an expert or a program needs.
std::string write_screen_model(const Words& words, const Titles& titles);

}  // namespace faultodds::documents
