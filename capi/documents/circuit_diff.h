// What changes from one circuit document to another: parts, failure modes, observations and their
// sets, and for a case what the two answers say. It compares what the engine made of them.
#pragma once

#include <string>
#include <string_view>

namespace faultodds::documents {

// "faultodds-circuit-diff/1". `answer_before` and `answer_after` are assessments of one case, or
// empty. Throws Error, whose message says in which of the two documents.
std::string circuit_difference(std::string_view before, std::string_view after,
                               std::string_view answer_before, std::string_view answer_after);

}  // namespace faultodds::documents
