// The C ABI of faultodds.h for who writes circuit documents, over documents/circuit_check.h and its
// neighbours. What the functions promise is written in the header.
#include <optional>
#include <string>
#include <string_view>

#include "capi/boundary.h"
#include "capi/documents/circuit_check.h"
#include "capi/documents/circuit_diff.h"
#include "capi/documents/circuit_drawing.h"
#include "capi/documents/circuit_explain.h"
#include "capi/documents/json_schema.h"
#include "capi/documents/new_circuit.h"
#include "capi/faultodds.h"
#include "core/error.h"

namespace documents = faultodds::documents;
using namespace faultodds::boundary;

namespace {

std::optional<std::string_view> optional_text(const char* text, std::size_t length,
                                              const char* name) {
  const std::string_view view = text_argument(text, length, name);
  if (text == nullptr) return std::nullopt;
  return view;
}

// The assessment of a case by the public call, whose errors keep their code and place.
std::string answer_of(std::string_view circuit, std::string_view the_case,
                      const faultodds_cancel* cancel) {
  faultodds_model* model = nullptr;
  faultodds_error* error = nullptr;
  char* answer = nullptr;
  faultodds_model_options options{};
  options.struct_size = sizeof options;
  options.cancel = cancel;
  faultodds_status status =
      faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, &options, &model, &error);
  if (status == FAULTODDS_OK) {
    status = faultodds_model_assess_json_until(model, the_case.data(), the_case.size(), cancel,
                                               &answer, &error);
  }
  const std::string in = model == nullptr ? "" : "in the case: ";
  faultodds_model_free(model);
  if (status != FAULTODDS_OK) {
    const faultodds::Error failure(static_cast<faultodds::Code>(status),
                                   in + faultodds_error_message(error),
                                   faultodds_error_pointer(error));
    faultodds_error_free(error);
    throw failure;
  }
  std::string text(answer);
  faultodds_free(answer);
  return text;
}

}  // namespace

faultodds_status faultodds_circuit_check_json(const char* circuit, size_t circuit_len,
                                              const faultodds_cancel* cancel, char** findings,
                                              faultodds_error** error) {
  clear(findings);
  return guarded(cancel, error, [&] {
    need(circuit, "circuit");
    need(findings, "findings");
    *findings = copy_text(documents::write_check(
        documents::check_circuit(text_argument(circuit, circuit_len, "circuit"))));
  });
}

faultodds_status faultodds_circuit_explain_json(const char* circuit, size_t circuit_len,
                                                const char* observation, size_t observation_len,
                                                const char* size_or_null, size_t size_len,
                                                const faultodds_cancel* cancel, char** explanation,
                                                faultodds_error** error) {
  clear(explanation);
  return guarded(cancel, error, [&] {
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
                                             const faultodds_cancel* cancel, char** difference,
                                             faultodds_error** error) {
  clear(difference);
  return guarded(cancel, error, [&] {
    need(before, "before");
    need(after, "after");
    need(difference, "difference");
    const std::string_view old = text_argument(before, before_len, "before");
    const std::string_view changed = text_argument(after, after_len, "after");
    std::string answers[2];
    if (optional_text(case_or_null, case_len, "case_or_null")) {
      const std::string_view texts[2] = {old, changed};
      for (std::size_t i = 0; i < 2; ++i) {
        answers[i] = answer_of(texts[i], std::string_view(case_or_null, case_len), cancel);
      }
    }
    *difference = copy_text(documents::circuit_difference(old, changed, answers[0], answers[1]));
  });
}

faultodds_status faultodds_circuit_new_json(const char* parts, size_t parts_len,
                                            const faultodds_cancel* cancel, char** circuit,
                                            faultodds_error** error) {
  clear(circuit);
  return guarded(cancel, error, [&] {
    need(parts, "parts");
    need(circuit, "circuit");
    *circuit = copy_text(documents::new_circuit(text_argument(parts, parts_len, "parts")));
  });
}

faultodds_status faultodds_circuit_draw_svg(const char* circuit, size_t circuit_len,
                                            const char* case_or_null, size_t case_len,
                                            const faultodds_cancel* cancel, char** svg,
                                            faultodds_error** error) {
  clear(svg);
  return guarded(cancel, error, [&] {
    need(circuit, "circuit");
    need(svg, "svg");
    const std::string_view text = text_argument(circuit, circuit_len, "circuit");
    std::string answer;
    if (optional_text(case_or_null, case_len, "case_or_null")) {
      answer = answer_of(text, std::string_view(case_or_null, case_len), cancel);
    }
    *svg = copy_text(documents::circuit_drawing(text, answer));
  });
}

faultodds_status faultodds_schema_json(const char* format, size_t format_len, char** schema,
                                       faultodds_error** error) {
  clear(schema);
  return guarded(error, [&] {
    need(format, "format");
    need(schema, "schema");
    *schema = copy_text(documents::json_schema(text_argument(format, format_len, "format")));
  });
}
