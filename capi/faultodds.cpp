// The C ABI of faultodds.h for circuits and cases: arguments in, copies out, over engine/. What the
// functions promise is written in the header; networks are in networks.cpp, prior packs in
// priors.cpp.
#include "capi/faultodds.h"

#include <algorithm>
#include <cstddef>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "capi/boundary.h"
#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/screen_writer.h"
#include "capi/engine/questions.h"
#include "capi/handles.h"
#include "core/circuit/names.h"
#include "core/error.h"
#include "core/quoted_text.h"

namespace documents = faultodds::documents;
namespace diagnosis = faultodds::diagnosis;
namespace circuit = faultodds::circuit;
namespace engine = faultodds::engine;
using namespace faultodds::boundary;
using faultodds::Code;
using faultodds::Error;

namespace {

constexpr std::size_t kLongestComplaint = 10'000;  // bytes

// What goes before the pointers of one-call errors.
const char* name_of(engine::At at) {
  switch (at) {
    case engine::At::circuit:
      return "/circuit";
    case engine::At::priors:
      return "/priors";
    case engine::At::the_case:
      return "/case";
  }
  return "";
}

std::optional<std::string_view> pack_argument(const char* priors_or_null, std::size_t length) {
  const std::string_view text = text_argument(priors_or_null, length, "priors_or_null");
  return priors_or_null == nullptr ? std::nullopt : std::optional(text);
}

// A limit of 0 is the library's own.
circuit::Limits limits_of(const faultodds_model_options& options) {
  circuit::Limits limits;
  if (options.search_steps != 0) {
    limits.path_steps = budget_argument(options.search_steps, "options->search_steps");
  }
  if (options.sets_per_observation != 0) limits.sets_per_observation = options.sets_per_observation;
  if (options.modes != 0) limits.modes = options.modes;
  if (options.observations != 0) limits.observations = options.observations;
  if (options.reserved != 0) {
    refuse("options->reserved is " + std::to_string(options.reserved) + "; expected 0");
  }
  return limits;
}

std::string_view case_argument(const char* text, std::size_t length) {
  return text_argument(text, length, "case_document");
}

// The format of a page or document, by the constants that begin with `prefix`, the first of which
// is 1.
template <typename Format>
Format format_argument(std::int32_t format, std::int32_t last, const char* prefix) {
  if (format < 1 || format > last) {
    refuse("format is " + std::to_string(format) + "; expected a " + prefix + " constant");
  }
  return static_cast<Format>(format - 1);
}

// What a model numbers, by kind.
std::size_t count_of(const faultodds_model& model, faultodds_kind kind) {
  const circuit::Analysis& analysis = model.loaded->model.analysis();
  switch (kind) {
    case FAULTODDS_MODE:
      return analysis.modes.size();
    case FAULTODDS_OBSERVATION:
      return analysis.observations.size();
    case FAULTODDS_COMPONENT:
      return analysis.components.size();
    default:
      return 0;
  }
}

const std::string& id_of(const faultodds_model& model, faultodds_kind kind, std::size_t index) {
  const circuit::Analysis& analysis = model.loaded->model.analysis();
  if (kind == FAULTODDS_MODE) return analysis.modes[index].id;
  return kind == FAULTODDS_OBSERVATION ? analysis.observations[index].id
                                       : analysis.components[index].id;
}

std::optional<std::uint32_t> index_of(const faultodds_model& model, faultodds_kind kind,
                                      const std::string& id) {
  if (kind == FAULTODDS_MODE) return model.loaded->model.find_mode(id);
  if (kind == FAULTODDS_OBSERVATION) return model.loaded->model.find_observation(id);
  for (std::size_t i = 0; i < count_of(model, kind); ++i) {
    if (id_of(model, kind, i) == id) return static_cast<std::uint32_t>(i);
  }
  return std::nullopt;
}

[[noreturn]] void refuse_unknown(const faultodds_model& model, faultodds_kind kind,
                                 const std::string& id) {
  const char* const what = kind == FAULTODDS_MODE          ? "failure mode"
                           : kind == FAULTODDS_OBSERVATION ? "observation"
                                                           : "component";
  if (kind == FAULTODDS_OBSERVATION) {
    refuse(std::string("unknown ") + what + " " + faultodds::in_backticks(id) +
           documents::known_observations(id, model.loaded->model));
  }
  std::vector<std::string> names;
  for (std::size_t i = 0; i < count_of(model, kind); ++i) names.push_back(id_of(model, kind, i));
  refuse(std::string("unknown ") + what + " " + faultodds::in_backticks(id) +
         circuit::expected(id, names, std::string(what) + "s"));
}

}  // namespace

extern "C" {

// ---- version
// -------------------------------------------------------------------------------------

#define FAULTODDS_TEXT_(x) #x
#define FAULTODDS_TEXT(x) FAULTODDS_TEXT_(x)

const char* faultodds_version(void) {
  return FAULTODDS_TEXT(FAULTODDS_VERSION_MAJOR) "." FAULTODDS_TEXT(
      FAULTODDS_VERSION_MINOR) "." FAULTODDS_TEXT(FAULTODDS_VERSION_PATCH);
}

const char* faultodds_status_name(faultodds_status status) { return documents::code_name(status); }

void faultodds_free(char* text) { std::free(text); }

// ---- the one call
// --------------------------------------------------------------------------------

faultodds_status faultodds_assess_json(const char* circuit, size_t circuit_len,
                                       const char* case_document, size_t case_len,
                                       const char* priors_or_null, size_t priors_len,
                                       const faultodds_call_options* options, char** answer,
                                       char** error) {
  clear(answer);
  clear(error);
  std::optional<engine::At> at;
  try {
    const faultodds::StopScope scope(signal_of(known_part(options, "options").cancel));
    faultodds::check_stop();
    need(answer, "answer");
    const auto circuit_text = text_argument(circuit, circuit_len, "circuit");
    const auto case_text = case_argument(case_document, case_len);
    const auto pack = pack_argument(priors_or_null, priors_len);
    at = engine::At::the_case;
    *answer = copy_text(engine::assess_once(circuit_text, pack, case_text, *at));
    return FAULTODDS_OK;
  } catch (...) {
    return explain([&](Code code, std::string_view message, std::string_view pointer) {
      if (error == nullptr) return;
      try {
        const bool in_document = code != Code::internal && code != Code::out_of_memory;
        std::string prefix = at && in_document ? name_of(*at) : "";
        *error = copy_text(documents::write_error(code, message, prefix.append(pointer)));
      } catch (...) {
        *error = nullptr;  // no memory even for the message: the status says it
      }
    });
  }
}

// ---- models
// --------------------------------------------------------------------------------------

faultodds_status faultodds_model_load(const char* circuit, size_t circuit_len,
                                      const char* priors_or_null, size_t priors_len,
                                      const faultodds_model_options* options,
                                      faultodds_model** model, faultodds_error** error) {
  clear(model);
  return guarded(error, [&] {
    need(model, "model");
    engine::Load what;
    what.circuit = text_argument(circuit, circuit_len, "circuit");
    what.priors = pack_argument(priors_or_null, priors_len);
    const faultodds_model_options given = known_part(options, "options");
    const faultodds::StopScope scope(signal_of(given.cancel));
    faultodds::check_stop();
    if (given.memory_budget != 0) {
      what.options.memory_budget = budget_argument(given.memory_budget, "options->memory_budget");
    }
    what.asset_class =
        text_argument(given.asset_class, given.asset_class_len, "options->asset_class");
    what.limits = limits_of(given);
    engine::At at = engine::At::circuit;
    try {
      *model = new faultodds_model{engine::load(what, at)};
    } catch (const Error& failure) {
      if (at != engine::At::priors) throw;
      throw Error(failure.code(), std::string("in the prior pack: ") + failure.what(),
                  failure.pointer());
    }
  });
}

void faultodds_model_free(faultodds_model* model) { delete model; }

uint32_t faultodds_model_count(const faultodds_model* model, faultodds_kind kind) {
  return model == nullptr ? 0 : static_cast<uint32_t>(count_of(*model, kind));
}

const char* faultodds_model_id(const faultodds_model* model, faultodds_kind kind, uint32_t index) {
  if (index >= faultodds_model_count(model, kind)) return nullptr;
  return id_of(*model, kind, index).c_str();
}

faultodds_status faultodds_model_find(const faultodds_model* model, faultodds_kind kind,
                                      const char* id, size_t id_len, uint32_t* index,
                                      faultodds_error** error) {
  clear(index);
  return guarded(error, [&] {
    need(model, "model");
    need(index, "index");
    if (kind < FAULTODDS_MODE || kind > FAULTODDS_COMPONENT) {
      refuse("kind is " + std::to_string(kind) +
             "; expected FAULTODDS_MODE, FAULTODDS_OBSERVATION or FAULTODDS_COMPONENT");
    }
    const std::string name(text_argument(id, id_len, "id"));
    const auto found = index_of(*model, kind, name);
    if (!found) refuse_unknown(*model, kind, name);
    *index = *found;
  });
}

uint32_t faultodds_model_outcome_count(const faultodds_model* model, uint32_t observation) {
  if (observation >= faultodds_model_count(model, FAULTODDS_OBSERVATION)) return 0;
  return static_cast<uint32_t>(
      model->loaded->model.analysis().observations[observation].outcomes.size());
}

const char* faultodds_model_outcome_id(const faultodds_model* model, uint32_t observation,
                                       uint32_t outcome) {
  if (outcome >= faultodds_model_outcome_count(model, observation)) return nullptr;
  return model->loaded->model.analysis().observations[observation].outcomes[outcome].c_str();
}

faultodds_status faultodds_model_read_counters(const faultodds_model* model,
                                               faultodds_model_counters* counters,
                                               faultodds_error** error) {
  return guarded(error, [&] {
    need(model, "model");
    need(counters, "counters");
    check_struct_size(counters->struct_size, sizeof(faultodds_model_counters), "counters");
    const diagnosis::Program& program = model->loaded->model.program();
    const diagnosis::PlanCounts plans = program.plan_counts();
    const diagnosis::MethodCounts& methods = program.method_counts();
    *counters = {counters->struct_size,
                 plans.made,
                 plans.from_cache,
                 plans.evicted,
                 plans.kept,
                 plans.bytes,
                 program.account().used(),
                 program.account().budget(),
                 methods.tree,
                 methods.tables,
                 methods.products,
                 methods.careful_products,
                 methods.junction_tree,
                 methods.bounded};
  });
}

faultodds_status faultodds_model_describe_json(const faultodds_model* model,
                                               const faultodds_call_options* options,
                                               char** document, faultodds_error** error) {
  clear(document);
  return guarded(options, error, [&] {
    need(model, "model");
    need(document, "document");
    *document = copy_text(documents::write_model(model->loaded->model, model->loaded->titles));
  });
}

faultodds_status faultodds_model_describe_screen_json(const faultodds_model* model,
                                                      const faultodds_call_options* options,
                                                      char** document, faultodds_error** error) {
  clear(document);
  return guarded(options, error, [&] {
    need(model, "model");
    need(document, "document");
    *document =
        copy_text(documents::write_screen_model(model->loaded->model, model->loaded->titles));
  });
}

faultodds_status faultodds_model_assess_json(const faultodds_model* model,
                                             const char* case_document, size_t case_len,
                                             const faultodds_call_options* options, char** answer,
                                             faultodds_error** error) {
  clear(answer);
  return guarded(options, error, [&] {
    need(model, "model");
    need(answer, "answer");
    *answer = copy_text(engine::assess(*model->loaded, case_argument(case_document, case_len)));
  });
}

faultodds_status faultodds_model_propose_json(const faultodds_model* model, const char* text,
                                              size_t text_len, const char* language,
                                              size_t language_len,
                                              const faultodds_call_options* options,
                                              char** proposals, faultodds_error** error) {
  clear(proposals);
  return guarded(options, error, [&] {
    need(model, "model");
    need(proposals, "proposals");
    const std::string_view said = text_argument(text, text_len, "text");
    if (said.size() > kLongestComplaint) {
      throw Error(Code::limit_exceeded, "text has " + std::to_string(said.size()) +
                                            " bytes; expected at most " +
                                            std::to_string(kLongestComplaint));
    }
    *proposals = copy_text(
        engine::propose(*model->loaded, said, text_argument(language, language_len, "language")));
  });
}

faultodds_status faultodds_model_draw_svg(const faultodds_model* model, const char* case_document,
                                          size_t case_len, uint32_t width, const char* language,
                                          size_t language_len,
                                          const faultodds_call_options* options, char** svg,
                                          faultodds_error** error) {
  clear(svg);
  return guarded(options, error, [&] {
    need(model, "model");
    need(case_document, "case_document");
    need(svg, "svg");
    *svg = copy_text(engine::draw(*model->loaded,
                                  text_argument(case_document, case_len, "case_document"), width,
                                  text_argument(language, language_len, "language")));
  });
}

faultodds_status faultodds_model_note(const faultodds_model* model, const char* case_document,
                                      size_t case_len, int32_t format,
                                      const faultodds_call_options* options, char** note,
                                      faultodds_error** error) {
  clear(note);
  return guarded(options, error, [&] {
    need(model, "model");
    need(note, "note");
    const auto as =
        format_argument<engine::NoteFormat>(format, FAULTODDS_NOTE_HTML, "FAULTODDS_NOTE_");
    *note = copy_text(engine::note(*model->loaded, case_argument(case_document, case_len), as));
  });
}

faultodds_status faultodds_model_plan(const faultodds_model* model, const char* case_document,
                                      size_t case_len, int32_t format,
                                      const faultodds_call_options* options, char** plan,
                                      faultodds_error** error) {
  clear(plan);
  return guarded(options, error, [&] {
    need(model, "model");
    need(plan, "plan");
    const auto as =
        format_argument<engine::PlanFormat>(format, FAULTODDS_PLAN_HTML, "FAULTODDS_PLAN_");
    *plan = copy_text(engine::plan(*model->loaded, case_argument(case_document, case_len), as));
  });
}

faultodds_status faultodds_model_close(const faultodds_model* model, const char* case_document,
                                       size_t case_len, const char* closing, size_t closing_len,
                                       int32_t format, const faultodds_call_options* options,
                                       char** record, faultodds_error** error) {
  clear(record);
  return guarded(options, error, [&] {
    need(model, "model");
    need(record, "record");
    const auto as = format_argument<engine::RecordFormat>(format, FAULTODDS_RECORD_CSV_HEADED,
                                                          "FAULTODDS_RECORD_");
    *record = copy_text(engine::close(*model->loaded, case_argument(case_document, case_len),
                                      text_argument(closing, closing_len, "closing"), as));
  });
}

}  // extern "C"
