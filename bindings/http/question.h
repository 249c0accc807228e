// What the library is asked about a case, with the model that the question needs: a stored
// circuit's own, or one compiled for this question alone. It knows no HTTP.
#pragma once

#include <faultodds.h>

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <variant>

#include "bindings/http/answer_cache.h"
#include "bindings/http/circuit_store.h"
#include "bindings/http/problem.h"

namespace faultodds_http {

// Strings and errors of the library's, freed on every way out.
struct FreeText {
  void operator()(char* text) const { faultodds_free(text); }
};
using Text = std::unique_ptr<char, FreeText>;

struct FreeError {
  void operator()(faultodds_error* error) const { faultodds_error_free(error); }
};
using ErrorHandle = std::unique_ptr<faultodds_error, FreeError>;

struct Question {
  std::function<faultodds_status(const faultodds_model*, const char*, size_t,
                                 const faultodds_call_options*, char**, faultodds_error**)>
      ask;
  const char* media_type;  // of the answer
};
extern const Question assessment;
extern const Question text_note;
extern const Question html_note;
extern const Question plan;
extern const Question plan_card;

// The note that a request with this Accept field gets: HTML for who names it and not plain text.
const Question& note_for(std::string_view accept);
// The plan: the card for who names HTML and not JSON.
const Question& plan_for(std::string_view accept);

// The members of a request body. `circuit` is the JSON text of an id or of a circuit document;
// `priors` may be empty.
struct Asked {
  std::string_view circuit, the_case, priors;
};

using Answer = std::shared_ptr<const std::string>;

// A problem's pointer leads into the body the members are of. `answers`, unless null, remembers
// what stored circuits answered.
std::variant<Answer, Problem> ask(const Question& question, const Asked& asked,
                                  const CircuitStore& circuits, AnswerCache* answers,
                                  const TimeLimit& limit);

// The record of a work order that is closed with `closing`, a document, in the form `format`
// (FAULTODDS_RECORD_JSON, ...). A problem's pointer begins with "/case" or "/closing".
std::variant<Answer, Problem> close(const Asked& asked, std::string_view closing, int format,
                                    const CircuitStore& circuits, const TimeLimit& limit);

}  // namespace faultodds_http
