// The one error type of the engine: a code a program can branch on, a sentence a person can act on,
// and the place in the caller's document. It is thrown inside the library only; the C ABI turns it
// into an error object and nothing is ever thrown across that boundary.
#pragma once

#include <stdexcept>
#include <string>
#include <utility>

namespace faultodds {

// Values are those of `faultodds_status` in capi/faultodds.h and never change; new ones are added.
enum class Code : int {
  ok = 0,
  invalid_argument = 1,      // a null pointer, a wrong struct size, an index out of range
  invalid_json = 2,          // not RFC 8259 JSON, not UTF-8, duplicate key, too deep, too large
  invalid_document = 3,      // well-formed JSON that is not the document it should be
  invalid_circuit = 4,       // names that do not resolve, functions that cannot work, unsafe tests
  invalid_case = 5,          // unknown observation or outcome, a reading that makes no sense
  invalid_priors = 6,        // a prior pack that does not fit
  conflicting_evidence = 7,  // P(evidence) = 0; the message names the conflicting observations
  limit_exceeded = 8,        // a stated limit on size, paths, width or memory was reached
  out_of_memory = 9,
  cancelled = 10,            // a cancel flag or deadline stopped the call
  internal = 11,             // a defect of this library
};

class Error : public std::runtime_error {
 public:
  // `pointer` is an RFC 6901 JSON pointer into the document at fault, empty for the whole of it.
  // `message` names the field, the value and what was expected.
  Error(Code code, std::string message, std::string pointer = {})
      : std::runtime_error(std::move(message)), code_(code), pointer_(std::move(pointer)) {}

  Code code() const noexcept { return code_; }
  const std::string& pointer() const noexcept { return pointer_; }

 private:
  Code code_;
  std::string pointer_;
};

}  // namespace faultodds
