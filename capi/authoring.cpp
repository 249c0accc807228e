// The C ABI of faultodds_circuit.h, over documents/circuit_check.h and its
// neighbours. What the functions promise is written in the header.
#include <optional>
#include <string>
#include <string_view>

#include "capi/boundary.h"
#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_diff.h"
#include "capi/documents/circuit_document.h"
#include "capi/documents/circuit_drawing.h"
#include "capi/documents/circuit_explain.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/json_schema.h"
#include "capi/documents/new_circuit.h"
#include "capi/engine/questions.h"
#include "capi/faultodds_circuit.h"
#include "core/error.h"

namespace documents = faultodds::documents;
namespace engine = faultodds::engine;
using namespace faultodds::boundary;

namespace {

std::optional<std::string_view> optional_text(const char* text, std::size_t length,
                                              const char* name) {
  const std::string_view view = text_argument(text, length, name);
  if (text == nullptr) return std::nullopt;
  return view;
}

// What is asked of a circuit with a case; its errors say where they are of the case.
template <typename Ask>
std::string asked(Ask ask) {
  engine::At at{};
  try {
    return ask(at);
  } catch (const faultodds::Error& failure) {
    if (at != engine::At::the_case) throw;
    throw faultodds::Error(failure.code(), std::string("in the case: ") + failure.what(),
                           failure.pointer());
  }
}

}  // namespace

faultodds_status faultodds_circuit_check_json(const char* circuit, size_t circuit_len,
                                              const faultodds_call_options* options,
                                              char** findings, faultodds_error** error) {
  clear(findings);
  return guarded(options, error, [&] {
    need(circuit, "circuit");
    need(findings, "findings");
    *findings = copy_text(documents::write_check(
        documents::check_circuit(text_argument(circuit, circuit_len, "circuit"))));
  });
}

faultodds_status faultodds_circuit_explain_json(const char* circuit, size_t circuit_len,
                                                const char* observation, size_t observation_len,
                                                const char* size_or_null, size_t size_len,
                                                const faultodds_call_options* options,
                                                char** explanation, faultodds_error** error) {
  clear(explanation);
  return guarded(options, error, [&] {
    need(circuit, "circuit");
    need(observation, "observation");
    need(explanation, "explanation");
    *explanation = copy_text(
        documents::explain_observation(text_argument(circuit, circuit_len, "circuit"),
                                       text_argument(observation, observation_len, "observation"),
                                       optional_text(size_or_null, size_len, "size_or_null")));
  });
}

faultodds_status faultodds_circuit_diff_json(const char* before, size_t before_len,
                                             const char* after, size_t after_len,
                                             const char* case_or_null, size_t case_len,
                                             const faultodds_call_options* options,
                                             char** difference, faultodds_error** error) {
  clear(difference);
  return guarded(options, error, [&] {
    need(before, "before");
    need(after, "after");
    need(difference, "difference");
    const std::string_view old = text_argument(before, before_len, "before");
    const std::string_view changed = text_argument(after, after_len, "after");
    std::string answers[2];
    if (optional_text(case_or_null, case_len, "case_or_null")) {
      const std::string_view texts[2] = {old, changed};
      const std::string_view the_case(case_or_null, case_len);
      for (std::size_t i = 0; i < 2; ++i) {
        answers[i] = asked([&](engine::At& at) {
          return engine::assess_once(texts[i], std::nullopt, the_case, at, true);
        });
      }
    }
    *difference = copy_text(documents::circuit_difference(old, changed, answers[0], answers[1]));
  });
}

faultodds_status faultodds_circuit_new_json(const char* parts, size_t parts_len,
                                            const faultodds_call_options* options, char** circuit,
                                            faultodds_error** error) {
  clear(circuit);
  return guarded(options, error, [&] {
    need(parts, "parts");
    need(circuit, "circuit");
    *circuit = copy_text(documents::new_circuit(text_argument(parts, parts_len, "parts")));
  });
}

faultodds_status faultodds_circuit_draw_svg(const char* circuit, size_t circuit_len,
                                            const char* case_or_null, size_t case_len,
                                            const faultodds_call_options* options, char** svg,
                                            faultodds_error** error) {
  clear(svg);
  return guarded(options, error, [&] {
    need(circuit, "circuit");
    need(svg, "svg");
    const std::string_view text = text_argument(circuit, circuit_len, "circuit");
    const auto the_case = optional_text(case_or_null, case_len, "case_or_null");
    *svg = copy_text(
        the_case ? asked([&](engine::At& at) { return engine::draw_once(text, *the_case, at); })
                 : documents::circuit_drawing(text));
  });
}

faultodds_status faultodds_circuit_expand_json(const char* circuit, size_t circuit_len,
                                               const faultodds_call_options* options,
                                               char** expanded, faultodds_error** error) {
  clear(expanded);
  return guarded(options, error, [&] {
    need(circuit, "circuit");
    need(expanded, "expanded");
    const documents::CircuitDocument document(text_argument(circuit, circuit_len, "circuit"));
    documents::read_circuit(document, documents::shipped_catalogue());
    *expanded = copy_text(document.json_text());
  });
}

faultodds_status faultodds_schema_json(const char* format, size_t format_len,
                                       const faultodds_call_options* options, char** schema,
                                       faultodds_error** error) {
  clear(schema);
  return guarded(options, error, [&] {
    need(format, "format");
    need(schema, "schema");
    *schema = copy_text(documents::json_schema(text_argument(format, format_len, "format")));
  });
}
