#include "bindings/http/case_text.h"

#include <utility>
#include <vector>

#include "bindings/http/members.h"

namespace faultodds_http {
namespace {

std::string_view member(const std::vector<Member>& members, std::string_view name) {
  for (const Member& m : members) {
    if (m.name == name) return m.text;
  }
  return {};
}

// How many elements a well-formed array has.
std::size_t count_elements(std::string_view array) {
  std::size_t commas = 0;
  std::size_t depth = 0;
  bool any = false;
  for (std::size_t at = 1; at + 1 < array.size(); ++at) {
    const char c = array[at];
    if (c == ' ' || c == '\t' || c == '\n' || c == '\r') continue;
    any = true;
    if (c == '"') {
      for (++at; array[at] != '"'; ++at) {
        if (array[at] == '\\') ++at;
      }
    } else if (c == '{' || c == '[') {
      ++depth;
    } else if (c == '}' || c == ']') {
      --depth;
    } else if (c == ',' && depth == 0) {
      ++commas;
    }
  }
  return any ? commas + 1 : 0;
}

}  // namespace

std::variant<CaseBody, Problem> read_case_body(std::string_view text) {
  CaseBody out;
  try {
    for (const Member& member : members_of(text)) {
      if (member.name == "circuit") {
        out.asked.circuit = member.text;
      } else if (member.name == "case") {
        out.asked.the_case = member.text;
      } else if (member.name == "closing") {
        out.closing = member.text;
      } else {
        return Problem{422, "invalid_document",
                       "unknown member " + quoted(member.name) +
                           "; expected `circuit`, `case` and, of one that is " +
                           "closed, `closing`",
                       pointer_to(member.name)};
      }
    }
  } catch (const NotAnObject& problem) {
    return Problem{400, "invalid_json",
                   std::string("the body is not a JSON object: ") + problem.what(), ""};
  }
  if (out.asked.circuit.empty()) {
    return Problem{422, "invalid_document",
                   "`circuit` is missing; expected the id of a stored circuit", "/circuit"};
  }
  if (out.asked.the_case.empty()) {
    return Problem{422, "invalid_document", "`case` is missing; expected a case document", "/case"};
  }
  if (out.asked.circuit.front() != '"') {
    return Problem{422, "invalid_document",
                   "`circuit` is not a string; expected the id of a stored circuit", "/circuit"};
  }
  try {
    out.circuit = string_value(out.asked.circuit);
  } catch (const NotAnObject& problem) {
    return Problem{400, "invalid_json", std::string("`circuit`: ") + problem.what(), "/circuit"};
  }
  return out;
}

Appended with_observation(std::string_view text, std::string_view entry) {
  members_of(entry);  // an object, and nothing after it
  const std::string_view the_case = member(members_of(text), "case");
  const std::vector<Member> members = members_of(the_case);
  const std::string_view observations = member(members, "observations");

  Appended out;
  std::string_view before;  // the text up to where the new piece goes
  std::string piece;
  if (observations.empty()) {
    before = text.substr(
        0, static_cast<std::size_t>(the_case.data() - text.data()) + the_case.size() - 1);
    piece = (members.empty() ? "" : ", ") + ("\"observations\": [" + std::string(entry)) + "]";
  } else {
    if (observations.front() != '[' || observations.back() != ']') {
      throw NotAnObject("`observations` is not an array");
    }
    out.position = count_elements(observations);
    before = text.substr(
        0, static_cast<std::size_t>(observations.data() - text.data()) + observations.size() - 1);
    piece = (out.position == 0 ? "" : ", ") + std::string(entry);
  }
  out.text.reserve(text.size() + piece.size());
  out.text.append(before).append(piece).append(text.substr(before.size()));
  return out;
}

std::string with_closing(std::string_view text, std::string_view closing) {
  members_of(closing);  // an object, and nothing after it
  const std::size_t end = text.rfind('}');
  std::string closed(text.substr(0, end));
  return closed.append(", \"closing\": ").append(closing).append(text.substr(end));
}

}  // namespace faultodds_http
