#include "bindings/http/drawing_route.h"

#include <charconv>
#include <string>
#include <string_view>

#include "bindings/http/exchange.h"
#include "bindings/http/members.h"
#include "bindings/http/problem.h"
#include "bindings/http/question.h"

namespace faultodds_http {
namespace {

struct Wanted {
  Asked asked;
  std::uint32_t width = 0;
  std::string language;
};

std::variant<Wanted, Problem> read_wanted(std::string_view body) {
  const auto refused = [](const std::string& message, const std::string& name) {
    return Problem{422, "invalid_document", message, pointer_to(name)};
  };
  Wanted out;
  try {
    for (const Member& member : members_of(body)) {
      if (member.name == "circuit") {
        out.asked.circuit = member.text;
      } else if (member.name == "case") {
        out.asked.the_case = member.text;
      } else if (member.name == "width") {
        const char* const end = member.text.data() + member.text.size();
        const auto read = std::from_chars(member.text.data(), end, out.width);
        if (read.ec != std::errc() || read.ptr != end || out.width > 100'000) {
          return refused("`width` is no whole number of px; expected one up to 100000", "width");
        }
      } else if (member.name == "language") {
        if (!member.text.starts_with('"')) {
          return refused("`language` is no text; expected a string", "language");
        }
        out.language = string_value(member.text);
      } else {
        return refused("unknown member " + quoted(member.name) +
                           "; expected `circuit`, `case` and optionally `width`, `language`",
                       member.name);
      }
    }
  } catch (const NotAnObject& problem) {
    return Problem{400, "invalid_json",
                   std::string("the body is not a JSON object: ") + problem.what(), ""};
  }
  if (out.asked.circuit.empty()) return refused("`circuit` is missing; expected it", "circuit");
  if (out.asked.the_case.empty()) return refused("`case` is missing; expected it", "case");
  return out;
}

}  // namespace

void add_drawing_route(Router& router, const CircuitStore& store) {
  router.add("POST", "/v1/drawing", [&store](const Request& request, Response& response) {
    if (const auto problem = no_json_body(request)) return refuse(response, *problem);
    const auto read = read_wanted(request.body);
    if (const auto* problem = std::get_if<Problem>(&read)) return refuse(response, *problem);
    const Wanted& wanted = std::get<Wanted>(read);
    const Question drawing{
        [&wanted](const faultodds_model* model, const char* text, size_t length,
                  const faultodds_call_options* options, char** svg, faultodds_error** error) {
          return faultodds_model_draw_svg(model, text, length, wanted.width, wanted.language.data(),
                                          wanted.language.size(), options, svg, error);
        },
        "image/svg+xml"};
    const auto drawn = ask(drawing, wanted.asked, store, nullptr, request.limit);
    if (const auto* problem = std::get_if<Problem>(&drawn)) return refuse(response, *problem);
    answer(response, 200, std::get<Answer>(drawn), drawing.media_type);
  });
}

}  // namespace faultodds_http
