// Fuzz target: every JSON document that circuits and cases are made of. The first byte chooses what
// is done, the documents follow it, separated by NUL.
//
//   a  circuit, case, priors    the one call
//   c  case                     on the small circuit: an assessment
//   n  case                     likewise both notes
//   o  entry of a case          likewise an open case
//   l  closing, case            on the small circuit: all three forms of a record
//   m  circuit, case, priors    load, describe, assess
//   h  circuit, case            load without room for tables, assess, plan: hypotheses answer
//   p  priors, priors           a model with the first; what changed; both merged
//   r  mapping                  learning from three rows with it, with its audit
//   w  words, language          what the words of a complaint propose on the small circuit
//   d  circuit, case, width and language    both drawings
//   k  circuit                  its check; written out, which is loaded and described as it is
//   itself e  circuit, observation, size           why an observation shows what f  circuit,
//   circuit, case   what changes b  list of parts            a circuit begun from it, and its check
#include <optional>

#include "faultodds_circuit.h"
#include "tests/fuzz/input.h"

namespace {

using fuzz::Input;
using fuzz::Text;
using fuzz::took;

constexpr std::uint64_t kNoTables = 300'000;  // bytes

// The text that a call gives, which is a document; none where it refuses.
template <typename Call, typename... Arguments>
std::optional<std::string> take(Call call, Arguments... arguments) {
  char* text = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = call(arguments..., &text, &error);
  std::optional<std::string> copy;
  if (text != nullptr) copy = text;
  took(status, text, error);
  return copy;
}

void assess(const faultodds_model* model, const Text& the_case) {
  take(faultodds_model_assess_json, model, the_case.data(), the_case.size(), nullptr);
}

// What a browser shows: nothing of a document in it is more than text.
void demand_still(std::string_view text) {
  for (const std::string_view no :
       {"<script", "<foreignObject", "<a ", "<image", "<img", "<iframe"}) {
    fuzz::demand(text.find(no) == std::string_view::npos, "nothing shown runs, links or loads");
  }
}

void demand_drawing(std::string_view text) {
  fuzz::demand(text.empty() || text.starts_with("<svg"), "a drawing is an SVG");
  demand_still(text);
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    fuzz::demand(byte >= 0x20 || c == '\n' || c == '\t' || c == '\r', "XML has no controls");
  }
}

void one_call(const Text& circuit, const Text& the_case, const Text& priors) {
  char *answer = nullptr, *error = nullptr;
  const faultodds_status status = faultodds_assess_json(
      circuit.data(), circuit.size(), the_case.data(), the_case.size(),
      priors.empty() ? nullptr : priors.data(), priors.size(), nullptr, &answer, &error);
  fuzz::demand((answer != nullptr) == (status == FAULTODDS_OK), "an answer exactly on success");
  fuzz::demand((error == nullptr) == (status == FAULTODDS_OK), "an error exactly on failure");
  const char* const text = answer != nullptr ? answer : error;
  fuzz::demand(nlohmann::json::accept(text), "an answer is well-formed JSON");
  if (error != nullptr) fuzz::demand_failure(status, nullptr);
  faultodds_free(answer);
  faultodds_free(error);
}

void notes(const Text& the_case) {
  for (const int32_t format : {FAULTODDS_NOTE_TEXT, FAULTODDS_NOTE_HTML}) {
    char* note = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status = faultodds_model_note(
        fuzz::small_circuit(), the_case.data(), the_case.size(), format, nullptr, &note, &error);
    if (note != nullptr && format == FAULTODDS_NOTE_HTML) demand_still(note);
    took(status, note, error, false);
  }
  for (const int32_t format : {FAULTODDS_PLAN_JSON, FAULTODDS_PLAN_HTML}) {
    char* plan = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status = faultodds_model_plan(
        fuzz::small_circuit(), the_case.data(), the_case.size(), format, nullptr, &plan, &error);
    if (plan != nullptr && format == FAULTODDS_PLAN_HTML) demand_still(plan);
    took(status, plan, error, format == FAULTODDS_PLAN_JSON);
  }
}

void observe(const Text& entry) {
  faultodds_case* opened = nullptr;
  fuzz::demand(faultodds_case_open(fuzz::small_circuit(), &opened, nullptr) == FAULTODDS_OK,
               "a case opens");
  faultodds_error* error = nullptr;
  if (fuzz::succeeded(
          faultodds_case_observe_json(opened, entry.data(), entry.size(), nullptr, &error),
          error)) {
    error = nullptr;
    fuzz::succeeded(faultodds_case_assess(opened, nullptr, &error), error);
  }
  faultodds_case_free(opened);
}

void close(const Text& closing, const Text& the_case) {
  const Text& known = the_case.empty() ? fuzz::documents().the_case : the_case;
  for (const int32_t format :
       {FAULTODDS_RECORD_JSON, FAULTODDS_RECORD_CSV, FAULTODDS_RECORD_CSV_HEADED}) {
    char* record = nullptr;
    faultodds_error* error = nullptr;
    const faultodds_status status =
        faultodds_model_close(fuzz::small_circuit(), known.data(), known.size(), closing.data(),
                              closing.size(), format, nullptr, &record, &error);
    took(status, record, error, format == FAULTODDS_RECORD_JSON);
  }
}

void model(const Text& circuit, const Text& the_case, const Text& priors) {
  faultodds_model* const loaded = fuzz::load(circuit, priors);
  if (loaded == nullptr) return;
  take(faultodds_model_describe_json, loaded, nullptr);
  take(faultodds_model_describe_screen_json, loaded, nullptr);
  assess(loaded, the_case);
  faultodds_model_free(loaded);
}

void by_hypotheses(const Text& circuit, const Text& the_case) {
  faultodds_model_options options = fuzz::small_model();
  options.memory_budget = kNoTables;
  faultodds_model* loaded = nullptr;
  faultodds_error* error = nullptr;
  faultodds_status status =
      faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, &options, &loaded, &error);
  if (!fuzz::succeeded(status, error)) return;
  assess(loaded, the_case);
  char* plan = nullptr;
  error = nullptr;
  status = faultodds_model_plan(loaded, the_case.data(), the_case.size(), FAULTODDS_PLAN_JSON,
                                nullptr, &plan, &error);
  took(status, plan, error);
  faultodds_model_free(loaded);
}

void packs(const Text& before, const Text& after) {
  faultodds_model_free(fuzz::load(fuzz::documents().circuit, before));
  char* text = nullptr;
  faultodds_error* error = nullptr;
  faultodds_status status = faultodds_priors_diff_json(before.data(), before.size(), after.data(),
                                                       after.size(), nullptr, &text, &error);
  took(status, text, error);
  const char* const texts[] = {before.data(), after.data()};
  const std::size_t lengths[] = {before.size(), after.size()};
  text = nullptr;
  error = nullptr;
  status = faultodds_priors_merge(texts, lengths, 2, nullptr, &text, &error);
  took(status, text, error);
}

void mapping(const Text& document) {
  const Text rows(
      "work_order,closed,asset_class,component,finding,grade\r\n"
      "1,2024-03-01,loader,port_relief,seat_leak,failed\r\n"
      "2,2024-03-05,loader,port_relief,none,\r\n3,2024-03-05,loader,ram,rod_leak,worn\r\n");
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = rows.data();
  records.text_len = rows.size();
  faultodds_learn_options options{};
  options.struct_size = sizeof options;
  options.source = "fuzz";
  options.source_len = 4;
  options.mapping = document.data();
  options.mapping_len = document.size();
  options.audit_orders = 2;
  char *pack = nullptr, *summary = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status =
      faultodds_priors_learn(&records, nullptr, &options, &pack, &summary, &error);
  fuzz::demand((summary != nullptr) == (status == FAULTODDS_OK), "a summary exactly on success");
  faultodds_free(summary);
  took(status, pack, error);
}

void propose(const Text& words, const Text& language) {
  take(faultodds_model_propose_json, fuzz::small_circuit(), words.data(), words.size(),
       language.data(), language.size(), nullptr);
}

template <typename Call, typename... Arguments>
void draw(Call call, Arguments... arguments) {
  char* svg = nullptr;
  faultodds_error* error = nullptr;
  const faultodds_status status = call(arguments..., nullptr, &svg, &error);
  if (svg != nullptr) demand_drawing(svg);
  took(status, svg, error, false);
}

void drawings(const Text& circuit, const Text& the_case, const Text& how) {
  draw(faultodds_circuit_draw_svg, circuit.data(), circuit.size(),
       the_case.empty() ? nullptr : the_case.data(), the_case.size());
  faultodds_model* const loaded = fuzz::load(circuit, Text(""));
  if (loaded == nullptr) return;
  char* end = nullptr;
  const std::string words(how.data(), how.size());
  const auto width = static_cast<std::uint32_t>(std::strtoul(words.c_str(), &end, 10));
  draw(faultodds_model_draw_svg, loaded, the_case.data(), the_case.size(), width, end,
       std::strlen(end));
  faultodds_model_free(loaded);
}

// What the call tells authors; and that a circuit written out is the circuit.
void authors(const Text& circuit) {
  const auto checked = take(faultodds_circuit_check_json, circuit.data(), circuit.size(), nullptr);
  fuzz::demand(checked.has_value(), "whatever is wrong with a circuit is a finding of its check");
  const auto expanded =
      take(faultodds_circuit_expand_json, circuit.data(), circuit.size(), nullptr);
  faultodds_model* const as_written = fuzz::load(circuit, Text(""));
  if (as_written == nullptr) return;
  fuzz::demand(expanded.has_value(), "a circuit that loads can be written out");
  faultodds_model* const written_out = fuzz::load(Text(*expanded), Text(""));
  fuzz::demand(written_out != nullptr, "a circuit written out loads");
  fuzz::demand(take(faultodds_model_describe_json, as_written, nullptr) ==
                   take(faultodds_model_describe_json, written_out, nullptr),
               "a circuit written out is the same circuit");
  faultodds_model_free(as_written);
  faultodds_model_free(written_out);
}

void explain(const Text& circuit, const Text& observation, const Text& size) {
  take(faultodds_circuit_explain_json, circuit.data(), circuit.size(), observation.data(),
       observation.size(), size.empty() ? nullptr : size.data(), size.size(), nullptr);
}

void differ(const Text& before, const Text& after, const Text& the_case) {
  take(faultodds_circuit_diff_json, before.data(), before.size(), after.data(), after.size(),
       the_case.empty() ? nullptr : the_case.data(), the_case.size(), nullptr);
}

void begin(const Text& parts) {
  const auto circuit = take(faultodds_circuit_new_json, parts.data(), parts.size(), nullptr);
  if (circuit) take(faultodds_circuit_check_json, circuit->data(), circuit->size(), nullptr);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::ProcessorTimeLimit limit;
  Input input(data, size);
  const char what = static_cast<char>(input.byte());
  const Text first = input.text(), second = input.text(), third = input.text();
  switch (what) {
    case 'a':
      one_call(first, second, third);
      break;
    case 'c':
      assess(fuzz::small_circuit(), first);
      break;
    case 'n':
      notes(first);
      break;
    case 'o':
      observe(first);
      break;
    case 'l':
      close(first, second);
      break;
    case 'm':
      model(first, second, third);
      break;
    case 'h':
      by_hypotheses(first, second);
      break;
    case 'p':
      packs(first, second);
      break;
    case 'r':
      mapping(first);
      break;
    case 'w':
      propose(first, second);
      break;
    case 'd':
      drawings(first, second, third);
      break;
    case 'k':
      authors(first);
      break;
    case 'e':
      explain(first, second, third);
      break;
    case 'f':
      differ(first, second, third);
      break;
    case 'b':
      begin(first);
      break;
    default:
      break;
  }
  return 0;
}
