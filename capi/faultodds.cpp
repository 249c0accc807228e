// The C ABI of faultodds.h for circuits and cases, over core/ and the documents. What the functions
// promise is written in the header; networks are in networks.cpp.
#include "capi/faultodds.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>

#include "capi/boundary.h"
#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_note.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/circuit_reader.h"
#include "capi/documents/closing.h"
#include "capi/documents/document.h"
#include "capi/documents/embedded.h"
#include "capi/documents/fields.h"
#include "capi/documents/json.h"
#include "capi/documents/pack_reader.h"
#include "capi/documents/plan_card.h"
#include "capi/documents/plan_writer.h"
#include "capi/documents/screen_writer.h"
#include "capi/documents/titles.h"
#include "core/circuit/analysis.h"
#include "core/circuit/names.h"
#include "core/diagnosis/advice.h"
#include "core/diagnosis/assessment.h"
#include "core/diagnosis/before_service.h"
#include "core/diagnosis/case.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/plan.h"
#include "core/diagnosis/preparation.h"
#include "core/diagnosis/said.h"
#include "core/error.h"
#include "core/number_text.h"
#include "priors/work_order_rows.h"

namespace documents = faultodds::documents;
namespace diagnosis = faultodds::diagnosis;
namespace circuit = faultodds::circuit;
using namespace faultodds::boundary;
using faultodds::Code;
using faultodds::Error;

namespace {

// A compiled circuit and what is needed to say how it was compiled.
struct LoadedModel {
  diagnosis::Model model;
  std::string asset_class;
  std::set<std::string> pack_classes;  // asset classes that the prior pack distinguishes
  documents::Titles titles;            // in other languages
};

}  // namespace

struct faultodds_model {
  std::shared_ptr<const LoadedModel> loaded;
};

struct faultodds_case {
  std::shared_ptr<const LoadedModel> loaded;
  diagnosis::Case evidence;
  diagnosis::Said said;
  std::size_t entries = 0;  // observations and repairs, said before or not
  std::optional<diagnosis::Assessment> assessment;
};

namespace {

// Which document is being worked on; its name goes before the pointers of one-call errors.
enum class Stage { circuit, priors, the_case };

const char* stage_name(Stage stage) {
  switch (stage) {
    case Stage::circuit:
      return "/circuit";
    case Stage::priors:
      return "/priors";
    case Stage::the_case:
      return "/case";
  }
  return "";
}

// The types and priors inside the library. A fault in them is ours and not the caller's.
template <typename Read>
auto shipped(std::string_view text, const char* name, Read read) {
  try {
    return read(documents::read_document(text));
  } catch (const Error& error) {
    if (error.code() == Code::cancelled) throw;
    throw Error(Code::internal, std::string(name) + " inside the library: " + error.pointer() +
                                    ": " + error.what());
  }
}

struct Priors {
  diagnosis::Pack pack;
  bool shipped = false;
};

Priors read_priors(std::optional<std::string_view> text) {
  if (text) return {documents::read_pack(documents::read_document(*text)), false};
  return {shipped(documents::kShippedPack, "the shipped prior pack", documents::read_pack), true};
}

// The shipped pack speaks for the shipped types only: a type the circuit defines anew keeps the
// priors written with it.
void leave_to_circuit(diagnosis::Pack& pack, const circuit::Description& description) {
  std::set<std::string_view> own;
  for (const circuit::ComponentType& type : description.types) own.insert(type.name);
  std::erase_if(pack.priors, [&](const diagnosis::PackPrior& p) { return own.count(p.type) != 0; });
}

std::shared_ptr<const LoadedModel> load(std::string_view circuit_text,
                                        std::optional<std::string_view> priors_text,
                                        const std::string& asset_class,
                                        const diagnosis::Options& options, Stage& stage,
                                        const circuit::Limits& limits = {}) {
  stage = Stage::circuit;
  const auto catalogue =
      shipped(documents::kCatalogue, "the shipped catalogue", documents::read_catalogue);
  const documents::Json document = documents::read_document(circuit_text);
  const circuit::Description description = documents::read_circuit(document, catalogue);
  circuit::Analysis analysis = circuit::analyse(description, catalogue, limits);
  documents::Titles titles = documents::read_titles(document, analysis);
  stage = Stage::priors;
  Priors priors = read_priors(priors_text);
  if (priors.shipped) leave_to_circuit(priors.pack, description);
  stage = Stage::circuit;
  std::set<std::string> classes;
  for (const diagnosis::PackPrior& prior : priors.pack.priors) {
    if (!prior.asset_class.empty()) classes.insert(prior.asset_class);
  }
  try {
    return std::make_shared<const LoadedModel>(LoadedModel{
        diagnosis::Model::compile(std::move(analysis), priors.pack, asset_class, options),
        asset_class, std::move(classes), std::move(titles)});
  } catch (const Error& error) {
    if (error.code() == Code::invalid_priors) stage = Stage::priors;
    throw;
  }
}

// One list, one next step: the test that the advice names goes before the others.
void put_first(const diagnosis::Model& model, const diagnosis::Case& the_case,
               const diagnosis::Advice& advice, std::vector<diagnosis::TestAssessment>& tests) {
  if (advice.again) {
    diagnosis::TestAssessment look;
    look.observation = *advice.test;
    look.again = true;
    look.minutes = advice.minutes;
    look.probability.assign(advice.outcomes.begin(), advice.outcomes.end());
    look.because = advice.reason;
    diagnosis::say_setup(diagnosis::Preparation(model, the_case), look);
    tests.insert(tests.begin(), std::move(look));
    return;
  }
  const auto at = std::find_if(tests.begin(), tests.end(),
                               [&](const auto& test) { return test.observation == *advice.test; });
  if (at != tests.end()) std::rotate(tests.begin(), at, at + 1);
}

// Advice is worth having but not worth failing for. Its test becomes the first of the assessment's.
std::optional<diagnosis::Advice> advice_for(const diagnosis::Model& model,
                                            const diagnosis::Case& the_case,
                                            diagnosis::Assessment& assessment) {
  try {
    auto advice = diagnosis::advise(model, the_case);
    if (advice && advice->test) put_first(model, the_case, *advice, assessment.tests);
    return advice;
  } catch (const Error& error) {
    if (error.code() != Code::limit_exceeded && error.code() != Code::conflicting_evidence) throw;
    assessment.warnings.push_back(std::string("There is no advice on this case: ") + error.what() +
                                  ".");
    return std::nullopt;
  }
}

void warn_of_said_before(const diagnosis::Model& model, const diagnosis::Case& the_case,
                         diagnosis::Assessment& assessment) {
  for (std::string& warning : diagnosis::said_before_warnings(model.analysis(), the_case)) {
    assessment.warnings.push_back(std::move(warning));
  }
}

// What is said on a case document.
struct Answer {
  documents::Asset asset;
  diagnosis::Assessment assessment;
  std::optional<diagnosis::Advice> advice;
  std::optional<diagnosis::BeforeService> before_service;
};

Answer answer_of(const LoadedModel& loaded, const documents::Json& case_document) {
  Answer answer;
  answer.asset = documents::read_asset(case_document);
  const diagnosis::Case the_case = documents::read_case(case_document, loaded.model);
  answer.assessment = diagnosis::assess(loaded.model, the_case);
  diagnosis::explain(loaded.model, the_case, answer.assessment);
  warn_of_said_before(loaded.model, the_case, answer.assessment);
  const std::string& asset_class = answer.asset.asset_class;
  if (asset_class != loaded.asset_class && loaded.pack_classes.count(asset_class) > 0) {
    answer.assessment.warnings.push_back(
        "The prior pack has entries for the asset class `" + asset_class +
        "`, but the model was loaded " +
        (loaded.asset_class.empty() ? std::string("without an asset class")
                                    : "for the asset class `" + loaded.asset_class + "`") +
        ": those entries were not used.");
  }
  if (documents::wants_advice(case_document)) {
    answer.advice = advice_for(loaded.model, the_case, answer.assessment);
    answer.before_service = diagnosis::before_service(loaded.model, the_case);
  }
  return answer;
}

std::string answer_text(const LoadedModel& loaded, const documents::Json& case_document) {
  const auto write =
      documents::wants_all(case_document) ? documents::write_assessment : documents::write_screen;
  const Answer answer = answer_of(loaded, case_document);
  return write(loaded.model, answer.assessment, answer.asset,
               answer.advice ? &*answer.advice : nullptr,
               answer.before_service ? &*answer.before_service : nullptr);
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

void check_observation(const faultodds_case& the_case, std::uint32_t observation) {
  const std::size_t count = the_case.loaded->model.analysis().observations.size();
  if (observation >= count) {
    refuse("observation is " + std::to_string(observation) + "; expected an index below " +
           std::to_string(count));
  }
}

// Where the next entry would stand in a case document's `observations`.
std::string next_observation(const faultodds_case& the_case) {
  return "/observations/" + std::to_string(the_case.entries);
}

void add(faultodds_case& the_case, diagnosis::Evidence evidence) {
  evidence.repairs_before = static_cast<std::uint32_t>(the_case.evidence.repairs.size());
  evidence.pointer = next_observation(the_case);
  the_case.said.add(the_case.evidence, std::move(evidence));
  ++the_case.entries;
  the_case.assessment.reset();
}

const diagnosis::Assessment& assessment_of(const faultodds_case* the_case) {
  need(the_case, "the_case");
  if (!the_case->assessment) {
    refuse(
        "the case has no assessment; expected a call of faultodds_case_assess after the last "
        "change of the case");
  }
  return *the_case->assessment;
}

const diagnosis::CauseAssessment& causes_of(const faultodds_case* the_case, std::uint32_t rank) {
  const auto& causes = assessment_of(the_case).causes;
  if (rank >= causes.size()) {
    refuse("rank is " + std::to_string(rank) + "; expected an index below " +
           std::to_string(causes.size()));
  }
  return causes[rank];
}

std::size_t component_count(const diagnosis::CauseAssessment& of) {
  std::size_t count = 0;
  for (const diagnosis::Cause& cause : of.causes) count += cause.components.size();
  return count;
}

void check_capacity(std::size_t capacity, std::size_t needed, const char* name, const char* what) {
  if (capacity >= needed) return;
  refuse(std::string(name) + " is " + std::to_string(capacity) + "; expected at least " +
         std::to_string(needed) + ", " + what);
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

faultodds_status faultodds_assess_json_until(const char* circuit, size_t circuit_len,
                                             const char* case_document, size_t case_len,
                                             const char* priors_or_null, size_t priors_len,
                                             const faultodds_cancel* cancel, char** answer,
                                             char** error) {
  clear(answer);
  clear(error);
  std::optional<Stage> stage;
  try {
    const faultodds::StopScope scope(signal_of(cancel));
    faultodds::check_stop();
    need(answer, "answer");
    const auto circuit_text = text_argument(circuit, circuit_len, "circuit");
    const auto case_text = text_argument(case_document, case_len, "case_document");
    const auto priors_text = text_argument(priors_or_null, priors_len, "priors_or_null");
    std::optional<std::string_view> pack;
    if (priors_or_null != nullptr) pack = priors_text;
    stage = Stage::the_case;
    const documents::Document document = documents::read_document(case_text);
    const std::string asset_class = documents::read_asset(document).asset_class;
    const auto loaded = load(circuit_text, pack, asset_class, {}, *stage);
    stage = Stage::the_case;
    *answer = copy_text(answer_text(*loaded, document));
    return FAULTODDS_OK;
  } catch (...) {
    return explain([&](Code code, std::string_view message, std::string_view pointer) {
      if (error == nullptr) return;
      try {
        const bool in_document = code != Code::internal && code != Code::out_of_memory;
        std::string prefix = stage && in_document ? stage_name(*stage) : "";
        *error = copy_text(documents::write_error(code, message, prefix.append(pointer)));
      } catch (...) {
        *error = nullptr;  // no memory even for the message: the status says it
      }
    });
  }
}

faultodds_status faultodds_assess_json(const char* circuit, size_t circuit_len,
                                       const char* case_document, size_t case_len,
                                       const char* priors_or_null, size_t priors_len, char** answer,
                                       char** error) {
  return faultodds_assess_json_until(circuit, circuit_len, case_document, case_len, priors_or_null,
                                     priors_len, nullptr, answer, error);
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
    const auto circuit_text = text_argument(circuit, circuit_len, "circuit");
    const auto priors_text = text_argument(priors_or_null, priors_len, "priors_or_null");
    std::optional<std::string_view> pack;
    if (priors_or_null != nullptr) pack = priors_text;
    const faultodds_model_options given =
        known_part(options, "options", offsetof(faultodds_model_options, cancel));
    const faultodds::StopScope scope(signal_of(given.cancel));
    faultodds::check_stop();
    diagnosis::Options engine;
    if (given.memory_budget != 0) {
      engine.memory_budget = budget_argument(given.memory_budget, "options->memory_budget");
    }
    const std::string asset_class(
        text_argument(given.asset_class, given.asset_class_len, "options->asset_class"));
    const circuit::Limits limits = limits_of(given);
    Stage stage = Stage::circuit;
    try {
      *model = new faultodds_model{load(circuit_text, pack, asset_class, engine, stage, limits)};
    } catch (const Error& failure) {
      if (stage != Stage::priors) throw;
      throw Error(failure.code(), std::string("in the prior pack: ") + failure.what(),
                  failure.pointer());
    }
  });
}

void faultodds_model_free(faultodds_model* model) { delete model; }

uint32_t faultodds_model_mode_count(const faultodds_model* model) {
  if (model == nullptr) return 0;
  return static_cast<uint32_t>(model->loaded->model.analysis().modes.size());
}

uint32_t faultodds_model_observation_count(const faultodds_model* model) {
  if (model == nullptr) return 0;
  return static_cast<uint32_t>(model->loaded->model.analysis().observations.size());
}

uint32_t faultodds_model_component_count(const faultodds_model* model) {
  if (model == nullptr) return 0;
  return static_cast<uint32_t>(model->loaded->model.analysis().components.size());
}

const char* faultodds_model_mode_id(const faultodds_model* model, uint32_t mode) {
  if (mode >= faultodds_model_mode_count(model)) return nullptr;
  return model->loaded->model.analysis().modes[mode].id.c_str();
}

const char* faultodds_model_observation_id(const faultodds_model* model, uint32_t observation) {
  if (observation >= faultodds_model_observation_count(model)) return nullptr;
  return model->loaded->model.analysis().observations[observation].id.c_str();
}

const char* faultodds_model_component_id(const faultodds_model* model, uint32_t component) {
  if (component >= faultodds_model_component_count(model)) return nullptr;
  return model->loaded->model.analysis().components[component].id.c_str();
}

uint32_t faultodds_model_outcome_count(const faultodds_model* model, uint32_t observation) {
  if (observation >= faultodds_model_observation_count(model)) return 0;
  return static_cast<uint32_t>(
      model->loaded->model.analysis().observations[observation].outcomes.size());
}

const char* faultodds_model_outcome_id(const faultodds_model* model, uint32_t observation,
                                       uint32_t outcome) {
  if (outcome >= faultodds_model_outcome_count(model, observation)) return nullptr;
  return model->loaded->model.analysis().observations[observation].outcomes[outcome].c_str();
}

faultodds_status faultodds_model_find_mode(const faultodds_model* model, const char* id,
                                           size_t id_len, uint32_t* mode, faultodds_error** error) {
  clear(mode);
  return guarded(error, [&] {
    need(model, "model");
    need(mode, "mode");
    const std::string name(text_argument(id, id_len, "id"));
    const auto found = model->loaded->model.find_mode(name);
    if (!found) {
      std::vector<std::string> names;
      for (const auto& known : model->loaded->model.analysis().modes) names.push_back(known.id);
      refuse("unknown failure mode " + faultodds::in_backticks(name) +
             circuit::expected(name, names, "failure modes"));
    }
    *mode = *found;
  });
}

faultodds_status faultodds_model_find_observation(const faultodds_model* model, const char* id,
                                                  size_t id_len, uint32_t* observation,
                                                  faultodds_error** error) {
  clear(observation);
  return guarded(error, [&] {
    need(model, "model");
    need(observation, "observation");
    const std::string name(text_argument(id, id_len, "id"));
    const auto found = model->loaded->model.find_observation(name);
    if (!found) {
      refuse("unknown observation " + faultodds::in_backticks(name) +
             documents::known_observations(name, model->loaded->model));
    }
    *observation = *found;
  });
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

faultodds_status faultodds_model_describe_json_until(const faultodds_model* model,
                                                     const faultodds_cancel* cancel,
                                                     char** document, faultodds_error** error) {
  clear(document);
  return guarded(cancel, error, [&] {
    need(model, "model");
    need(document, "document");
    *document = copy_text(documents::write_model(model->loaded->model, model->loaded->titles));
  });
}

faultodds_status faultodds_model_describe_json(const faultodds_model* model, char** document,
                                               faultodds_error** error) {
  return faultodds_model_describe_json_until(model, nullptr, document, error);
}

faultodds_status faultodds_model_assess_json_until(const faultodds_model* model,
                                                   const char* case_document, size_t case_len,
                                                   const faultodds_cancel* cancel, char** answer,
                                                   faultodds_error** error) {
  clear(answer);
  return guarded(cancel, error, [&] {
    need(model, "model");
    need(answer, "answer");
    const auto text = text_argument(case_document, case_len, "case_document");
    *answer = copy_text(answer_text(*model->loaded, documents::read_document(text)));
  });
}

faultodds_status faultodds_model_assess_json(const faultodds_model* model,
                                             const char* case_document, size_t case_len,
                                             char** answer, faultodds_error** error) {
  return faultodds_model_assess_json_until(model, case_document, case_len, nullptr, answer, error);
}

faultodds_status faultodds_model_note_until(const faultodds_model* model, const char* case_document,
                                            size_t case_len, int32_t format,
                                            const faultodds_cancel* cancel, char** note,
                                            faultodds_error** error) {
  clear(note);
  return guarded(cancel, error, [&] {
    need(model, "model");
    need(note, "note");
    if (format != FAULTODDS_NOTE_TEXT && format != FAULTODDS_NOTE_HTML) {
      refuse("format is " + std::to_string(format) + "; expected a FAULTODDS_NOTE_ constant");
    }
    const documents::Document document =
        documents::read_document(text_argument(case_document, case_len, "case_document"));
    const Answer answer = answer_of(*model->loaded, document);
    *note = copy_text(documents::write_note(
        model->loaded->model, document, answer.assessment,
        answer.advice ? &*answer.advice : nullptr,
        format == FAULTODDS_NOTE_HTML ? documents::NoteFormat::html : documents::NoteFormat::text,
        answer.before_service ? &*answer.before_service : nullptr));
  });
}

faultodds_status faultodds_model_note(const faultodds_model* model, const char* case_document,
                                      size_t case_len, int32_t format, char** note,
                                      faultodds_error** error) {
  return faultodds_model_note_until(model, case_document, case_len, format, nullptr, note, error);
}

faultodds_status faultodds_model_plan(const faultodds_model* model, const char* case_document,
                                      size_t case_len, int32_t format,
                                      const faultodds_cancel* cancel, char** plan,
                                      faultodds_error** error) {
  clear(plan);
  return guarded(cancel, error, [&] {
    need(model, "model");
    need(plan, "plan");
    if (format != FAULTODDS_PLAN_JSON && format != FAULTODDS_PLAN_HTML) {
      refuse("format is " + std::to_string(format) + "; expected a FAULTODDS_PLAN_ constant");
    }
    const documents::Document document =
        documents::read_document(text_argument(case_document, case_len, "case_document"));
    const documents::Asset asset = documents::read_asset(document);
    const diagnosis::Model& compiled = model->loaded->model;
    const diagnosis::Case the_case = documents::read_case(document, compiled);
    const std::optional<diagnosis::Plan> made = diagnosis::make_plan(compiled, the_case);
    const diagnosis::Plan* const known = made ? &*made : nullptr;
    *plan = copy_text(format == FAULTODDS_PLAN_JSON
                          ? documents::write_plan(compiled, known, asset)
                          : documents::write_plan_card(compiled, document, known));
  });
}

faultodds_status faultodds_model_close_until(const faultodds_model* model,
                                             const char* case_document, size_t case_len,
                                             const char* closing, size_t closing_len,
                                             int32_t format, const faultodds_cancel* cancel,
                                             char** record, faultodds_error** error) {
  clear(record);
  return guarded(cancel, error, [&] {
    need(model, "model");
    need(record, "record");
    if (format != FAULTODDS_RECORD_JSON && format != FAULTODDS_RECORD_CSV &&
        format != FAULTODDS_RECORD_CSV_HEADED) {
      refuse("format is " + std::to_string(format) + "; expected a FAULTODDS_RECORD_ constant");
    }
    const auto case_text = text_argument(case_document, case_len, "case_document");
    const auto closing_text = text_argument(closing, closing_len, "closing");
    const documents::Closing closed =
        documents::read_closing(documents::read_document(closing_text),
                                documents::read_document(case_text), model->loaded->model);
    const circuit::Analysis& analysis = model->loaded->model.analysis();
    if (format == FAULTODDS_RECORD_JSON) {
      *record = copy_text(documents::write_record(closed, model->loaded->model));
      return;
    }
    const bool headed = format == FAULTODDS_RECORD_CSV_HEADED;
    *record = copy_text(
        (headed ? faultodds::priors::work_order_header() : std::string()) +
        faultodds::priors::work_order_rows(closed.job, analysis, closed.asset_class, closed.asset));
  });
}

faultodds_status faultodds_model_close(const faultodds_model* model, const char* case_document,
                                       size_t case_len, const char* closing, size_t closing_len,
                                       int32_t format, char** record, faultodds_error** error) {
  return faultodds_model_close_until(model, case_document, case_len, closing, closing_len, format,
                                     nullptr, record, error);
}

// ---- cases
// ---------------------------------------------------------------------------------------

faultodds_status faultodds_case_open(const faultodds_model* model, faultodds_case** new_case,
                                     faultodds_error** error) {
  clear(new_case);
  return guarded(error, [&] {
    need(model, "model");
    need(new_case, "new_case");
    *new_case = new faultodds_case{model->loaded, {}, {}, 0, std::nullopt};
  });
}

void faultodds_case_free(faultodds_case* the_case) { delete the_case; }

faultodds_status faultodds_case_observe_outcome(faultodds_case* the_case, uint32_t observation,
                                                uint32_t outcome, faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    check_observation(*the_case, observation);
    const std::size_t count =
        the_case->loaded->model.analysis().observations[observation].outcomes.size();
    if (outcome >= count) {
      refuse("outcome is " + std::to_string(outcome) + "; expected an index below " +
             std::to_string(count));
    }
    diagnosis::Evidence evidence;
    evidence.observation = observation;
    evidence.outcome = outcome;
    add(*the_case, std::move(evidence));
  });
}

faultodds_status faultodds_case_observe_likelihood(faultodds_case* the_case, uint32_t observation,
                                                   const double likelihood[3],
                                                   faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    need(likelihood, "likelihood");
    check_observation(*the_case, observation);
    bool any = false;
    for (int grade = 0; grade < 3; ++grade) {
      if (!std::isfinite(likelihood[grade]) || likelihood[grade] < 0) {
        refuse("likelihood[" + std::to_string(grade) + "] is " +
               faultodds::fixed_text(likelihood[grade]) + "; expected a finite number, 0 or more");
      }
      any = any || likelihood[grade] > 0;
    }
    if (!any) refuse("likelihood is 0, 0, 0; expected at least one number above 0");
    diagnosis::Evidence evidence;
    evidence.observation = observation;
    evidence.likelihood = {likelihood[0], likelihood[1], likelihood[2]};
    add(*the_case, std::move(evidence));
  });
}

faultodds_status faultodds_case_observe_json_until(faultodds_case* the_case, const char* entry,
                                                   size_t entry_len, const faultodds_cancel* cancel,
                                                   faultodds_error** error) {
  return guarded(cancel, error, [&] {
    need(the_case, "the_case");
    const auto text = text_argument(entry, entry_len, "entry");
    const documents::Document document = documents::read_document(text);
    const diagnosis::Model& model = the_case->loaded->model;
    if (auto repair = documents::read_repair(document, documents::Place(), model)) {
      repair->pointer = next_observation(*the_case);
      the_case->evidence.repairs.push_back(std::move(*repair));
      ++the_case->entries;
      the_case->assessment.reset();
      return;
    }
    if (auto one = documents::read_not_possible(document, documents::Place(), model)) {
      documents::add_not_possible(the_case->evidence, std::move(*one));
      the_case->assessment.reset();
      return;
    }
    add(*the_case, documents::read_evidence(document, documents::Place(), model));
  });
}

faultodds_status faultodds_case_observe_json(faultodds_case* the_case, const char* entry,
                                             size_t entry_len, faultodds_error** error) {
  return faultodds_case_observe_json_until(the_case, entry, entry_len, nullptr, error);
}

faultodds_status faultodds_case_retract(faultodds_case* the_case, uint32_t observation,
                                        faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    check_observation(*the_case, observation);
    const auto of_it = [&](const auto& entry) { return entry.observation == observation; };
    if (std::erase_if(the_case->evidence.not_possible, of_it) > 0) the_case->assessment.reset();
    if (std::erase_if(the_case->evidence.evidence, of_it) == 0) return;
    the_case->said.forget(the_case->evidence, observation);
    the_case->entries = the_case->evidence.evidence.size() + the_case->evidence.repairs.size();
    std::size_t index = 0;
    for (diagnosis::Evidence& evidence : the_case->evidence.evidence) {
      evidence.pointer = "/observations/" + std::to_string(index++ + evidence.repairs_before);
    }
    the_case->assessment.reset();
  });
}

faultodds_status faultodds_case_setup_done(faultodds_case* the_case, const char* step,
                                           size_t step_len, faultodds_error** error) {
  return guarded(error, [&] {
    need(the_case, "the_case");
    std::string id(text_argument(step, step_len, "step"));
    if (!the_case->loaded->model.find_setup(id)) {
      refuse("unknown setup step " + faultodds::in_backticks(id) +
             documents::known_setup(id, the_case->loaded->model));
    }
    the_case->evidence.setup_done.push_back(std::move(id));
    the_case->assessment.reset();
  });
}

faultodds_status faultodds_case_assess_until(faultodds_case* the_case,
                                             const faultodds_cancel* cancel,
                                             faultodds_error** error) {
  return guarded(cancel, error, [&] {
    need(the_case, "the_case");
    the_case->assessment.reset();
    the_case->assessment = diagnosis::assess(the_case->loaded->model, the_case->evidence);
  });
}

faultodds_status faultodds_case_assess(faultodds_case* the_case, faultodds_error** error) {
  return faultodds_case_assess_until(the_case, nullptr, error);
}

faultodds_status faultodds_cases_assess_until(faultodds_case* const* cases, size_t count,
                                              uint32_t threads, const faultodds_cancel* cancel,
                                              faultodds_status* statuses, faultodds_error** error) {
  if (statuses != nullptr) std::fill_n(statuses, count, FAULTODDS_INTERNAL);
  std::vector<diagnosis::Assessed> results;
  const faultodds_status whole = guarded(cancel, error, [&] {
    if (count == 0) return;
    need(cases, "cases");
    if (count > static_cast<size_t>(PTRDIFF_MAX) / sizeof(faultodds_case*)) {
      refuse("count is " + std::to_string(count) + "; expected the number of cases");
    }
    std::vector<const faultodds_case*> distinct(cases, cases + count);
    std::sort(distinct.begin(), distinct.end());
    if (std::adjacent_find(distinct.begin(), distinct.end()) != distinct.end()) {
      refuse("one case occurs twice in cases; expected distinct cases");
    }
    std::vector<const diagnosis::Case*> evidence;
    for (size_t i = 0; i < count; ++i) {
      need(cases[i], ("cases[" + std::to_string(i) + "]").c_str());
      if (cases[i]->loaded != cases[0]->loaded) {
        refuse("cases[" + std::to_string(i) + "] is of another model than cases[0]");
      }
      evidence.push_back(&cases[i]->evidence);
    }
    for (size_t i = 0; i < count; ++i) cases[i]->assessment.reset();
    results.resize(count);
    diagnosis::assess_many(cases[0]->loaded->model, evidence, results, threads);
  });
  if (whole != FAULTODDS_OK) {
    if (statuses != nullptr) std::fill_n(statuses, count, whole);
    return whole;
  }
  faultodds_status first = FAULTODDS_OK;
  for (size_t i = 0; i < count; ++i) {
    faultodds_status status = FAULTODDS_OK;
    if (const auto& failed = results[i].error) {
      status = static_cast<faultodds_status>(failed->code());
      if (first == FAULTODDS_OK) {
        first = guarded(error, [&] {
          throw Error(failed->code(), failed->what(),
                      "/cases/" + std::to_string(i) + failed->pointer());
        });
      }
    } else {
      cases[i]->assessment = std::move(results[i].assessment);
    }
    if (statuses != nullptr) statuses[i] = status;
  }
  return first;
}

faultodds_status faultodds_cases_assess(faultodds_case* const* cases, size_t count,
                                        uint32_t threads, faultodds_status* statuses,
                                        faultodds_error** error) {
  return faultodds_cases_assess_until(cases, count, threads, nullptr, statuses, error);
}

// ---- results
// -------------------------------------------------------------------------------------

faultodds_status faultodds_case_log_evidence(const faultodds_case* the_case, double* log_evidence,
                                             faultodds_error** error) {
  clear(log_evidence);
  return guarded(error, [&] {
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    need(log_evidence, "log_evidence");
    *log_evidence = assessment.log_evidence;
  });
}

faultodds_status faultodds_case_method(const faultodds_case* the_case, const char** name,
                                       double* error_bound, faultodds_error** error) {
  clear(name);
  clear(error_bound);
  return guarded(error, [&] {
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    if (name) *name = assessment.method.c_str();
    if (error_bound) *error_bound = assessment.error_bound;
  });
}

faultodds_status faultodds_case_posteriors(const faultodds_case* the_case, double* grades,
                                           size_t capacity, size_t* count,
                                           faultodds_error** error) {
  clear(count);
  return guarded(error, [&] {
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    need(grades, "grades");
    need(count, "count");
    const std::size_t needed = 3 * the_case->loaded->model.analysis().modes.size();
    check_capacity(capacity, needed, "capacity", "3 per failure mode");
    for (const diagnosis::FaultAssessment& fault : assessment.faults) {
      for (std::size_t grade = 0; grade < 3; ++grade) {
        grades[3 * std::size_t{fault.mode} + grade] = fault.grades[grade];
      }
    }
    *count = needed;
  });
}

faultodds_status faultodds_case_cause_count(const faultodds_case* the_case, uint32_t* count,
                                            faultodds_error** error) {
  clear(count);
  return guarded(error, [&] {
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    need(count, "count");
    *count = static_cast<uint32_t>(assessment.causes.size());
  });
}

faultodds_status faultodds_case_causes(const faultodds_case* the_case, uint32_t rank,
                                       faultodds_causes* causes, faultodds_error** error) {
  return guarded(error, [&] {
    need(causes, "causes");
    check_struct_size(causes->struct_size, sizeof(faultodds_causes), "causes");
    const std::size_t size = causes->struct_size;
    std::memset(static_cast<void*>(causes), 0, size);
    causes->struct_size = size;
    const diagnosis::CauseAssessment& from = causes_of(the_case, rank);
    causes->observation = from.observation;
    causes->share_count = static_cast<uint32_t>(from.causes.size());
    causes->component_count = component_count(from);
    causes->by_design = from.by_design;
    causes->elsewhere = from.elsewhere;
    causes->nothing = from.nothing;
  });
}

faultodds_status faultodds_case_shares(const faultodds_case* the_case, uint32_t rank,
                                       double* probabilities, uint32_t* ends, size_t capacity,
                                       uint32_t* components, size_t component_capacity,
                                       faultodds_error** error) {
  return guarded(error, [&] {
    const diagnosis::CauseAssessment& from = causes_of(the_case, rank);
    if (from.causes.empty()) return;
    need(probabilities, "probabilities");
    need(ends, "ends");
    need(components, "components");
    check_capacity(capacity, from.causes.size(), "capacity", "one per share");
    check_capacity(component_capacity, component_count(from), "component_capacity",
                   "the components of all shares");
    std::uint32_t* end = components;
    for (std::size_t i = 0; i < from.causes.size(); ++i) {
      const diagnosis::Cause& cause = from.causes[i];
      probabilities[i] = cause.probability;
      end = std::copy(cause.components.begin(), cause.components.end(), end);
      ends[i] = static_cast<uint32_t>(end - components);
    }
  });
}

faultodds_status faultodds_case_test_count(const faultodds_case* the_case, uint32_t* count,
                                           faultodds_error** error) {
  clear(count);
  return guarded(error, [&] {
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    need(count, "count");
    *count = static_cast<uint32_t>(assessment.tests.size());
  });
}

faultodds_status faultodds_case_test(const faultodds_case* the_case, uint32_t rank,
                                     faultodds_ranked_test* test, faultodds_error** error) {
  return guarded(error, [&] {
    need(test, "test");
    check_struct_size(test->struct_size, sizeof(faultodds_ranked_test), "test");
    const std::size_t size = test->struct_size;
    std::memset(static_cast<void*>(test), 0, size);
    test->struct_size = size;
    const diagnosis::Assessment& assessment = assessment_of(the_case);
    if (rank >= assessment.tests.size()) {
      refuse("rank is " + std::to_string(rank) + "; expected an index below " +
             std::to_string(assessment.tests.size()));
    }
    const diagnosis::TestAssessment& from = assessment.tests[rank];
    test->observation = from.observation;
    test->energised =
        the_case->loaded->model.analysis().observations[from.observation].energised ? 1 : 0;
    test->information_bits = from.information_bits;
    test->cause_bits = from.cause_bits;
    test->minutes = from.minutes;
    test->bits_per_minute = from.bits_per_minute;
  });
}

faultodds_status faultodds_case_answer_json_until(const faultodds_case* the_case,
                                                  const faultodds_cancel* cancel, char** answer,
                                                  faultodds_error** error) {
  clear(answer);
  return guarded(cancel, error, [&] {
    diagnosis::Assessment assessment = assessment_of(the_case);
    need(answer, "answer");
    diagnosis::explain(the_case->loaded->model, the_case->evidence, assessment);
    warn_of_said_before(the_case->loaded->model, the_case->evidence, assessment);
    const auto advice = advice_for(the_case->loaded->model, the_case->evidence, assessment);
    *answer = copy_text(documents::write_assessment(the_case->loaded->model, assessment, {},
                                                    advice ? &*advice : nullptr));
  });
}

faultodds_status faultodds_case_answer_json(const faultodds_case* the_case, char** answer,
                                            faultodds_error** error) {
  return faultodds_case_answer_json_until(the_case, nullptr, answer, error);
}

}  // extern "C"
