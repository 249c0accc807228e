// What the check of a circuit document says: one entry for each thing its author should look at. It
// is not an error of loading (core/error.h), which ends the reading; those become findings too.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace faultodds::authoring {

enum class Severity {
  error,    // the document does not load
  warning,  // it loads and is probably not what its author meant
  note,     // as it should be, perhaps; said since something is left out
};

struct Finding {
  Severity severity = Severity::warning;
  std::string rule;               // a stable word
  std::string pointer;            // RFC 6901, into the document as its author wrote it
  std::string value;              // as the author wrote it; may be empty
  std::string message;            // a sentence
  std::string expected;           // what was expected there
  std::string cause;              // what its author has probably done
  std::string source;             // of the rule
  std::vector<std::string> also;  // pointers to what else it is about
};

using Findings = std::vector<Finding>;

inline Finding& add(Findings& findings, Severity severity, const char* rule, std::string pointer,
                    std::string value, std::string message, std::string expected, std::string cause,
                    std::string source) {
  findings.push_back({severity,
                      rule,
                      std::move(pointer),
                      std::move(value),
                      std::move(message),
                      std::move(expected),
                      std::move(cause),
                      std::move(source),
                      {}});
  return findings.back();
}

// Every string and number of the document by its pointer, as its author wrote it.
using Written = std::map<std::string, std::string>;

inline std::string written_at(const Written& written, const std::string& pointer) {
  const auto found = written.find(pointer);
  return found == written.end() ? std::string() : found->second;
}

inline const char* const kPractice = "common practice, no source";

}  // namespace faultodds::authoring
