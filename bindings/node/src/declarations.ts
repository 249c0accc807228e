/** What the binding declares of the C interface. Written by bindings/declare.py; not to be edited. */
import koffi from "koffi";

koffi.proto("int32_t faultodds_progress(void* context, uint64_t done)");
koffi.proto("int32_t faultodds_write(void* context, void* text, size_t text_len)");

const call_options = koffi.struct("faultodds_call_options", {
  struct_size: "size_t",
  cancel: "void*",
});

const model_options = koffi.struct("faultodds_model_options", {
  struct_size: "size_t",
  memory_budget: "uint64_t",
  asset_class: "uint8_t*",
  asset_class_len: "size_t",
  cancel: "void*",
  search_steps: "uint64_t",
  sets_per_observation: "uint32_t",
  modes: "uint32_t",
  observations: "uint32_t",
  reserved: "uint32_t",
});

const model_counters = koffi.struct("faultodds_model_counters", {
  struct_size: "size_t",
  plans_made: "uint64_t",
  plans_from_cache: "uint64_t",
  plans_evicted: "uint64_t",
  plans_kept: "uint64_t",
  plan_bytes: "uint64_t",
  bytes: "uint64_t",
  memory_budget: "uint64_t",
  by_tree: "uint64_t",
  by_tables: "uint64_t",
  by_products: "uint64_t",
  by_careful_products: "uint64_t",
  by_junction_tree: "uint64_t",
  by_bounded: "uint64_t",
});

const ranked_test = koffi.struct("faultodds_ranked_test", {
  struct_size: "size_t",
  observation: "uint32_t",
  energised: "int32_t",
  information_bits: "double",
  cause_bits: "double",
  minutes: "double",
  bits_per_minute: "double",
});

const case_summary = koffi.struct("faultodds_case_summary", {
  struct_size: "size_t",
  method: "uint8_t*",
  error_bound: "double",
  log_evidence: "double",
  cause_count: "uint32_t",
  test_count: "uint32_t",
});

const causes = koffi.struct("faultodds_causes", {
  struct_size: "size_t",
  observation: "uint32_t",
  share_count: "uint32_t",
  component_count: "uint64_t",
  by_design: "double",
  elsewhere: "double",
  nothing: "double",
});

const records = koffi.struct("faultodds_records", {
  struct_size: "size_t",
  path: "uint8_t*",
  path_len: "size_t",
  text: "uint8_t*",
  text_len: "size_t",
});

const learn_options = koffi.struct("faultodds_learn_options", {
  struct_size: "size_t",
  source: "uint8_t*",
  source_len: "size_t",
  title: "uint8_t*",
  title_len: "size_t",
  mapping: "uint8_t*",
  mapping_len: "size_t",
  circuit: "uint8_t*",
  circuit_len: "size_t",
  judgement: "uint8_t*",
  judgement_len: "size_t",
  worth_jobs: "double",
  no_pooling: "int32_t",
  through_circuit: "int32_t",
  learn_outcomes: "int32_t",
  threads: "uint32_t",
  reject: "faultodds_write*",
  reject_context: "void*",
  progress: "faultodds_progress*",
  progress_context: "void*",
  cancel: "void*",
  audit_orders: "uint32_t",
  count_distinct: "uint32_t",
});

const backtest_options = koffi.struct("faultodds_backtest_options", {
  struct_size: "size_t",
  mapping: "uint8_t*",
  mapping_len: "size_t",
  before: "uint8_t*",
  before_len: "size_t",
  after: "uint8_t*",
  after_len: "size_t",
  asset_class: "uint8_t*",
  asset_class_len: "size_t",
  worth_jobs: "double",
  isolated: "double",
  most_jobs: "uint64_t",
  threads: "uint32_t",
  progress: "faultodds_progress*",
  progress_context: "void*",
  cancel: "void*",
});

const network_options = koffi.struct("faultodds_network_options", {
  struct_size: "size_t",
  memory_budget: "uint64_t",
  cancel: "void*",
});

const network_statistics = koffi.struct("faultodds_network_statistics", {
  struct_size: "size_t",
  cliques: "uint64_t",
  entries: "uint64_t",
  dense_entries: "double",
  largest_clique: "double",
  bytes: "uint64_t",
  query_bytes: "uint64_t",
});

const network_evidence = koffi.struct("faultodds_network_evidence", {
  struct_size: "size_t",
  variable: "uint32_t",
  state: "int32_t",
  likelihood: "double*",
  likelihood_count: "size_t",
});

/** Sizes of the structs, for their `struct_size`. */
export const SIZES = {
  call_options: koffi.sizeof(call_options),
  model_options: koffi.sizeof(model_options),
  model_counters: koffi.sizeof(model_counters),
  ranked_test: koffi.sizeof(ranked_test),
  case_summary: koffi.sizeof(case_summary),
  causes: koffi.sizeof(causes),
  records: koffi.sizeof(records),
  learn_options: koffi.sizeof(learn_options),
  backtest_options: koffi.sizeof(backtest_options),
  network_options: koffi.sizeof(network_options),
  network_statistics: koffi.sizeof(network_statistics),
  network_evidence: koffi.sizeof(network_evidence),
};

/** Prototypes as koffi reads them. */
export const PROTOTYPES = [
  "const char* faultodds_version()",
  "const char* faultodds_status_name(int32_t status)",
  "int32_t faultodds_error_code(void* error)",
  "const char* faultodds_error_message(void* error)",
  "const char* faultodds_error_pointer(void* error)",
  "void faultodds_error_free(void* error)",
  "void faultodds_free(void* text)",
  "int32_t faultodds_cancel_new(_Out_ void** cancel, _Out_ void** error)",
  "void faultodds_cancel_free(void* cancel)",
  "void faultodds_cancel_now(void* cancel)",
  "void faultodds_cancel_after_ms(void* cancel, uint64_t milliseconds)",
  "void faultodds_cancel_reset(void* cancel)",
  "int32_t faultodds_assess_json(uint8_t* circuit, size_t circuit_len, uint8_t* case_document, size_t case_len, uint8_t* priors_or_null, size_t priors_len, faultodds_call_options* options, _Out_ void** answer, _Out_ void** error)",
  "int32_t faultodds_model_load(uint8_t* circuit, size_t circuit_len, uint8_t* priors_or_null, size_t priors_len, faultodds_model_options* options, _Out_ void** model, _Out_ void** error)",
  "void faultodds_model_free(void* model)",
  "uint32_t faultodds_model_count(void* model, int32_t kind)",
  "const char* faultodds_model_id(void* model, int32_t kind, uint32_t index)",
  "int32_t faultodds_model_find(void* model, int32_t kind, uint8_t* id, size_t id_len, _Out_ uint32_t* index, _Out_ void** error)",
  "uint32_t faultodds_model_outcome_count(void* model, uint32_t observation)",
  "const char* faultodds_model_outcome_id(void* model, uint32_t observation, uint32_t outcome)",
  "int32_t faultodds_model_read_counters(void* model, _Inout_ faultodds_model_counters* counters, _Out_ void** error)",
  "int32_t faultodds_model_describe_json(void* model, faultodds_call_options* options, _Out_ void** document, _Out_ void** error)",
  "int32_t faultodds_model_describe_screen_json(void* model, faultodds_call_options* options, _Out_ void** document, _Out_ void** error)",
  "int32_t faultodds_model_assess_json(void* model, uint8_t* case_document, size_t case_len, faultodds_call_options* options, _Out_ void** answer, _Out_ void** error)",
  "int32_t faultodds_model_propose_json(void* model, uint8_t* text, size_t text_len, uint8_t* language, size_t language_len, faultodds_call_options* options, _Out_ void** proposals, _Out_ void** error)",
  "int32_t faultodds_model_draw_svg(void* model, uint8_t* case_document, size_t case_len, uint32_t width, uint8_t* language, size_t language_len, faultodds_call_options* options, _Out_ void** svg, _Out_ void** error)",
  "int32_t faultodds_model_note(void* model, uint8_t* case_document, size_t case_len, int32_t format, faultodds_call_options* options, _Out_ void** note, _Out_ void** error)",
  "int32_t faultodds_model_plan(void* model, uint8_t* case_document, size_t case_len, int32_t format, faultodds_call_options* options, _Out_ void** plan, _Out_ void** error)",
  "int32_t faultodds_model_close(void* model, uint8_t* case_document, size_t case_len, uint8_t* closing, size_t closing_len, int32_t format, faultodds_call_options* options, _Out_ void** record, _Out_ void** error)",
  "int32_t faultodds_case_open(void* model, _Out_ void** new_case, _Out_ void** error)",
  "void faultodds_case_free(void* the_case)",
  "int32_t faultodds_case_observe_outcome(void* the_case, uint32_t observation, uint32_t outcome, _Out_ void** error)",
  "int32_t faultodds_case_observe_likelihood(void* the_case, uint32_t observation, double* likelihood, _Out_ void** error)",
  "int32_t faultodds_case_observe_json(void* the_case, uint8_t* entry, size_t entry_len, faultodds_call_options* options, _Out_ void** error)",
  "int32_t faultodds_case_retract(void* the_case, uint32_t observation, _Out_ void** error)",
  "int32_t faultodds_case_setup_done(void* the_case, uint8_t* step, size_t step_len, _Out_ void** error)",
  "int32_t faultodds_case_assess(void* the_case, faultodds_call_options* options, _Out_ void** error)",
  "int32_t faultodds_cases_assess(void** cases, size_t count, uint32_t threads, faultodds_call_options* options, _Out_ int32_t* statuses, _Out_ void** error)",
  "int32_t faultodds_case_read_summary(void* the_case, _Inout_ faultodds_case_summary* summary, _Out_ void** error)",
  "int32_t faultodds_case_posteriors(void* the_case, double* grades, size_t capacity, _Out_ size_t* count, _Out_ void** error)",
  "int32_t faultodds_case_causes(void* the_case, uint32_t rank, _Inout_ faultodds_causes* causes, _Out_ void** error)",
  "int32_t faultodds_case_shares(void* the_case, uint32_t rank, double* probabilities, uint32_t* ends, size_t capacity, uint32_t* components, size_t component_capacity, _Out_ void** error)",
  "int32_t faultodds_case_test(void* the_case, uint32_t rank, _Inout_ faultodds_ranked_test* test, _Out_ void** error)",
  "int32_t faultodds_case_answer_json(void* the_case, faultodds_call_options* options, _Out_ void** answer, _Out_ void** error)",
  "int32_t faultodds_priors_learn(faultodds_records* orders, faultodds_records* exposure_or_null, faultodds_learn_options* options, _Out_ void** pack, _Out_ void** summary, _Out_ void** error)",
  "int32_t faultodds_priors_merge(uint8_t** packs, size_t* lengths, size_t count, faultodds_call_options* options, _Out_ void** merged, _Out_ void** error)",
  "int32_t faultodds_priors_diff_json(uint8_t* before_or_null, size_t before_len, uint8_t* after, size_t after_len, faultodds_call_options* options, _Out_ void** difference, _Out_ void** error)",
  "int32_t faultodds_priors_backtest_json(uint8_t* circuit, size_t circuit_len, faultodds_records* orders, faultodds_backtest_options* options, _Out_ void** answer, _Out_ void** error)",
  "int32_t faultodds_circuit_check_json(uint8_t* circuit, size_t circuit_len, faultodds_call_options* options, _Out_ void** findings, _Out_ void** error)",
  "int32_t faultodds_circuit_explain_json(uint8_t* circuit, size_t circuit_len, uint8_t* observation, size_t observation_len, uint8_t* size_or_null, size_t size_len, faultodds_call_options* options, _Out_ void** explanation, _Out_ void** error)",
  "int32_t faultodds_circuit_diff_json(uint8_t* before, size_t before_len, uint8_t* after, size_t after_len, uint8_t* case_or_null, size_t case_len, faultodds_call_options* options, _Out_ void** difference, _Out_ void** error)",
  "int32_t faultodds_circuit_new_json(uint8_t* parts, size_t parts_len, faultodds_call_options* options, _Out_ void** circuit, _Out_ void** error)",
  "int32_t faultodds_circuit_draw_svg(uint8_t* circuit, size_t circuit_len, uint8_t* case_or_null, size_t case_len, faultodds_call_options* options, _Out_ void** svg, _Out_ void** error)",
  "int32_t faultodds_circuit_expand_json(uint8_t* circuit, size_t circuit_len, faultodds_call_options* options, _Out_ void** expanded, _Out_ void** error)",
  "int32_t faultodds_schema_json(uint8_t* format, size_t format_len, faultodds_call_options* options, _Out_ void** schema, _Out_ void** error)",
  "int32_t faultodds_network_load(uint8_t* text, size_t text_len, int32_t format, faultodds_network_options* options, _Out_ void** network, _Out_ void** error)",
  "void faultodds_network_free(void* network)",
  "uint32_t faultodds_network_variable_count(void* network)",
  "const char* faultodds_network_variable_name(void* network, uint32_t variable)",
  "uint32_t faultodds_network_state_count(void* network, uint32_t variable)",
  "const char* faultodds_network_state_name(void* network, uint32_t variable, uint32_t state)",
  "size_t faultodds_network_posterior_count(void* network)",
  "int32_t faultodds_network_find_variable(void* network, uint8_t* name, size_t name_len, _Out_ uint32_t* variable, _Out_ void** error)",
  "int32_t faultodds_network_find_state(void* network, uint32_t variable, uint8_t* name, size_t name_len, _Out_ uint32_t* state, _Out_ void** error)",
  "int32_t faultodds_network_read_statistics(void* network, _Inout_ faultodds_network_statistics* statistics, _Out_ void** error)",
  "int32_t faultodds_network_query(void* network, faultodds_network_evidence* evidence, size_t count, faultodds_call_options* options, double* posteriors, size_t capacity, _Out_ size_t* written, _Out_ double* log_evidence, _Out_ void** error)",
  "int32_t faultodds_network_case_open(void* network, _Out_ void** new_case, _Out_ void** error)",
  "void faultodds_network_case_free(void* the_case)",
  "int32_t faultodds_network_case_observe(void* the_case, faultodds_network_evidence* evidence, _Out_ void** error)",
  "int32_t faultodds_network_case_retract(void* the_case, uint32_t variable, _Out_ void** error)",
  "int32_t faultodds_network_case_solve(void* the_case, faultodds_call_options* options, _Out_ double* log_evidence, _Out_ void** error)",
  "int32_t faultodds_network_case_posterior(void* the_case, uint32_t variable, double* posterior, size_t capacity, _Out_ size_t* written, _Out_ void** error)",
  "int32_t faultodds_network_case_posteriors(void* the_case, double* posteriors, size_t capacity, _Out_ size_t* written, _Out_ void** error)",
];

/** Numbers with names, without FAULTODDS_. */
export const CONSTANTS = {
  OK: 0,
  INVALID_ARGUMENT: 1,
  INVALID_JSON: 2,
  INVALID_DOCUMENT: 3,
  INVALID_CIRCUIT: 4,
  INVALID_CASE: 5,
  INVALID_PRIORS: 6,
  CONFLICTING_EVIDENCE: 7,
  LIMIT_EXCEEDED: 8,
  OUT_OF_MEMORY: 9,
  CANCELLED: 10,
  INTERNAL: 11,
  MODE: 1,
  OBSERVATION: 2,
  COMPONENT: 3,
  NOTE_TEXT: 1,
  NOTE_HTML: 2,
  PLAN_JSON: 1,
  PLAN_HTML: 2,
  RECORD_JSON: 1,
  RECORD_CSV: 2,
  RECORD_CSV_HEADED: 3,
  BIF: 1,
  XMLBIF: 2,
} as const;

/** Address of an object of the library. */
export type Handle = bigint;

/** An out-parameter. */
export type Out<T> = [T | null];

/** A text, or NULL. */
export type Bytes = Uint8Array | null;

/** A call; `async` makes it on another thread. */
export interface Call<A extends unknown[], R> {
  (...parameters: A): R;
  async: (...parameters: [...A, (problem: unknown, result: R) => void]) => void;
}

/** faultodds_call_options */
export interface CallOptionsLine {
  struct_size: number;
  cancel: Handle | null;
}

/** faultodds_model_options */
export interface ModelOptionsLine {
  struct_size: number;
  memory_budget: number;
  asset_class: Bytes;
  asset_class_len: number;
  cancel: Handle | null;
  search_steps: number;
  sets_per_observation: number;
  modes: number;
  observations: number;
  reserved: number;
}

/** faultodds_model_counters */
export interface ModelCountersLine {
  struct_size: number;
  plans_made: number;
  plans_from_cache: number;
  plans_evicted: number;
  plans_kept: number;
  plan_bytes: number;
  bytes: number;
  memory_budget: number;
  by_tree: number;
  by_tables: number;
  by_products: number;
  by_careful_products: number;
  by_junction_tree: number;
  by_bounded: number;
}

/** faultodds_ranked_test */
export interface RankedTestLine {
  struct_size: number;
  observation: number;
  energised: number;
  information_bits: number;
  cause_bits: number;
  minutes: number;
  bits_per_minute: number;
}

/** faultodds_case_summary */
export interface CaseSummaryLine {
  struct_size: number;
  method: Handle | null;
  error_bound: number;
  log_evidence: number;
  cause_count: number;
  test_count: number;
}

/** faultodds_causes */
export interface CausesLine {
  struct_size: number;
  observation: number;
  share_count: number;
  component_count: number;
  by_design: number;
  elsewhere: number;
  nothing: number;
}

/** faultodds_records */
export interface RecordsLine {
  struct_size: number;
  path: Bytes;
  path_len: number;
  text: Bytes;
  text_len: number;
}

/** faultodds_learn_options */
export interface LearnOptionsLine {
  struct_size: number;
  source: Bytes;
  source_len: number;
  title: Bytes;
  title_len: number;
  mapping: Bytes;
  mapping_len: number;
  circuit: Bytes;
  circuit_len: number;
  judgement: Bytes;
  judgement_len: number;
  worth_jobs: number;
  no_pooling: number;
  through_circuit: number;
  learn_outcomes: number;
  threads: number;
  reject: unknown;
  reject_context: Handle | null;
  progress: unknown;
  progress_context: Handle | null;
  cancel: Handle | null;
  audit_orders: number;
  count_distinct: number;
}

/** faultodds_backtest_options */
export interface BacktestOptionsLine {
  struct_size: number;
  mapping: Bytes;
  mapping_len: number;
  before: Bytes;
  before_len: number;
  after: Bytes;
  after_len: number;
  asset_class: Bytes;
  asset_class_len: number;
  worth_jobs: number;
  isolated: number;
  most_jobs: number;
  threads: number;
  progress: unknown;
  progress_context: Handle | null;
  cancel: Handle | null;
}

/** faultodds_network_options */
export interface NetworkOptionsLine {
  struct_size: number;
  memory_budget: number;
  cancel: Handle | null;
}

/** faultodds_network_statistics */
export interface NetworkStatisticsLine {
  struct_size: number;
  cliques: number;
  entries: number;
  dense_entries: number;
  largest_clique: number;
  bytes: number;
  query_bytes: number;
}

/** faultodds_network_evidence */
export interface NetworkEvidenceLine {
  struct_size: number;
  variable: number;
  state: number;
  likelihood: Float64Array | null;
  likelihood_count: number;
}

/** The functions, without faultodds_. */
export interface Functions {
  version: Call<[], string>;
  status_name: Call<[status: number], string>;
  error_code: Call<[error: Handle | null], number>;
  error_message: Call<[error: Handle | null], string>;
  error_pointer: Call<[error: Handle | null], string>;
  error_free: Call<[error: Handle | null], void>;
  free: Call<[text: Handle | null], void>;
  cancel_new: Call<[cancel: Out<Handle>, error: Out<Handle>], number>;
  cancel_free: Call<[cancel: Handle | null], void>;
  cancel_now: Call<[cancel: Handle | null], void>;
  cancel_after_ms: Call<[cancel: Handle | null, milliseconds: number], void>;
  cancel_reset: Call<[cancel: Handle | null], void>;
  assess_json: Call<[
    circuit: Bytes, circuit_len: number, case_document: Bytes, case_len: number, priors_or_null: Bytes,
    priors_len: number, options: CallOptionsLine | null, answer: Out<Handle>, error: Out<Handle>], number>;
  model_load: Call<[
    circuit: Bytes, circuit_len: number, priors_or_null: Bytes, priors_len: number,
    options: ModelOptionsLine | null, model: Out<Handle>, error: Out<Handle>], number>;
  model_free: Call<[model: Handle | null], void>;
  model_count: Call<[model: Handle | null, kind: number], number>;
  model_id: Call<[model: Handle | null, kind: number, index: number], string>;
  model_find: Call<[
    model: Handle | null, kind: number, id: Bytes, id_len: number, index: Out<number>,
    error: Out<Handle>], number>;
  model_outcome_count: Call<[model: Handle | null, observation: number], number>;
  model_outcome_id: Call<[model: Handle | null, observation: number, outcome: number], string>;
  model_read_counters: Call<[
    model: Handle | null, counters: ModelCountersLine | null, error: Out<Handle>], number>;
  model_describe_json: Call<[
    model: Handle | null, options: CallOptionsLine | null, document: Out<Handle>, error: Out<Handle>], number>;
  model_describe_screen_json: Call<[
    model: Handle | null, options: CallOptionsLine | null, document: Out<Handle>, error: Out<Handle>], number>;
  model_assess_json: Call<[
    model: Handle | null, case_document: Bytes, case_len: number, options: CallOptionsLine | null,
    answer: Out<Handle>, error: Out<Handle>], number>;
  model_propose_json: Call<[
    model: Handle | null, text: Bytes, text_len: number, language: Bytes, language_len: number,
    options: CallOptionsLine | null, proposals: Out<Handle>, error: Out<Handle>], number>;
  model_draw_svg: Call<[
    model: Handle | null, case_document: Bytes, case_len: number, width: number, language: Bytes,
    language_len: number, options: CallOptionsLine | null, svg: Out<Handle>, error: Out<Handle>], number>;
  model_note: Call<[
    model: Handle | null, case_document: Bytes, case_len: number, format: number,
    options: CallOptionsLine | null, note: Out<Handle>, error: Out<Handle>], number>;
  model_plan: Call<[
    model: Handle | null, case_document: Bytes, case_len: number, format: number,
    options: CallOptionsLine | null, plan: Out<Handle>, error: Out<Handle>], number>;
  model_close: Call<[
    model: Handle | null, case_document: Bytes, case_len: number, closing: Bytes, closing_len: number,
    format: number, options: CallOptionsLine | null, record: Out<Handle>, error: Out<Handle>], number>;
  case_open: Call<[model: Handle | null, new_case: Out<Handle>, error: Out<Handle>], number>;
  case_free: Call<[the_case: Handle | null], void>;
  case_observe_outcome: Call<[
    the_case: Handle | null, observation: number, outcome: number, error: Out<Handle>], number>;
  case_observe_likelihood: Call<[
    the_case: Handle | null, observation: number, likelihood: Float64Array, error: Out<Handle>], number>;
  case_observe_json: Call<[
    the_case: Handle | null, entry: Bytes, entry_len: number, options: CallOptionsLine | null,
    error: Out<Handle>], number>;
  case_retract: Call<[the_case: Handle | null, observation: number, error: Out<Handle>], number>;
  case_setup_done: Call<[the_case: Handle | null, step: Bytes, step_len: number, error: Out<Handle>], number>;
  case_assess: Call<[the_case: Handle | null, options: CallOptionsLine | null, error: Out<Handle>], number>;
  cases_assess: Call<[
    cases: Handle[], count: number, threads: number, options: CallOptionsLine | null,
    statuses: Int32Array | null, error: Out<Handle>], number>;
  case_read_summary: Call<[
    the_case: Handle | null, summary: CaseSummaryLine | null, error: Out<Handle>], number>;
  case_posteriors: Call<[
    the_case: Handle | null, grades: Float64Array, capacity: number, count: Out<number>,
    error: Out<Handle>], number>;
  case_causes: Call<[
    the_case: Handle | null, rank: number, causes: CausesLine | null, error: Out<Handle>], number>;
  case_shares: Call<[
    the_case: Handle | null, rank: number, probabilities: Float64Array, ends: Uint32Array, capacity: number,
    components: Uint32Array, component_capacity: number, error: Out<Handle>], number>;
  case_test: Call<[
    the_case: Handle | null, rank: number, test: RankedTestLine | null, error: Out<Handle>], number>;
  case_answer_json: Call<[
    the_case: Handle | null, options: CallOptionsLine | null, answer: Out<Handle>, error: Out<Handle>], number>;
  priors_learn: Call<[
    orders: RecordsLine | null, exposure_or_null: RecordsLine | null, options: LearnOptionsLine | null,
    pack: Out<Handle>, summary: Out<Handle>, error: Out<Handle>], number>;
  priors_merge: Call<[
    packs: Bytes[], lengths: number[], count: number, options: CallOptionsLine | null, merged: Out<Handle>,
    error: Out<Handle>], number>;
  priors_diff_json: Call<[
    before_or_null: Bytes, before_len: number, after: Bytes, after_len: number, options: CallOptionsLine | null,
    difference: Out<Handle>, error: Out<Handle>], number>;
  priors_backtest_json: Call<[
    circuit: Bytes, circuit_len: number, orders: RecordsLine | null, options: BacktestOptionsLine | null,
    answer: Out<Handle>, error: Out<Handle>], number>;
  circuit_check_json: Call<[
    circuit: Bytes, circuit_len: number, options: CallOptionsLine | null, findings: Out<Handle>,
    error: Out<Handle>], number>;
  circuit_explain_json: Call<[
    circuit: Bytes, circuit_len: number, observation: Bytes, observation_len: number, size_or_null: Bytes,
    size_len: number, options: CallOptionsLine | null, explanation: Out<Handle>, error: Out<Handle>], number>;
  circuit_diff_json: Call<[
    before: Bytes, before_len: number, after: Bytes, after_len: number, case_or_null: Bytes, case_len: number,
    options: CallOptionsLine | null, difference: Out<Handle>, error: Out<Handle>], number>;
  circuit_new_json: Call<[
    parts: Bytes, parts_len: number, options: CallOptionsLine | null, circuit: Out<Handle>,
    error: Out<Handle>], number>;
  circuit_draw_svg: Call<[
    circuit: Bytes, circuit_len: number, case_or_null: Bytes, case_len: number, options: CallOptionsLine | null,
    svg: Out<Handle>, error: Out<Handle>], number>;
  circuit_expand_json: Call<[
    circuit: Bytes, circuit_len: number, options: CallOptionsLine | null, expanded: Out<Handle>,
    error: Out<Handle>], number>;
  schema_json: Call<[
    format: Bytes, format_len: number, options: CallOptionsLine | null, schema: Out<Handle>,
    error: Out<Handle>], number>;
  network_load: Call<[
    text: Bytes, text_len: number, format: number, options: NetworkOptionsLine | null, network: Out<Handle>,
    error: Out<Handle>], number>;
  network_free: Call<[network: Handle | null], void>;
  network_variable_count: Call<[network: Handle | null], number>;
  network_variable_name: Call<[network: Handle | null, variable: number], string>;
  network_state_count: Call<[network: Handle | null, variable: number], number>;
  network_state_name: Call<[network: Handle | null, variable: number, state: number], string>;
  network_posterior_count: Call<[network: Handle | null], number>;
  network_find_variable: Call<[
    network: Handle | null, name: Bytes, name_len: number, variable: Out<number>, error: Out<Handle>], number>;
  network_find_state: Call<[
    network: Handle | null, variable: number, name: Bytes, name_len: number, state: Out<number>,
    error: Out<Handle>], number>;
  network_read_statistics: Call<[
    network: Handle | null, statistics: NetworkStatisticsLine | null, error: Out<Handle>], number>;
  network_query: Call<[
    network: Handle | null, evidence: NetworkEvidenceLine[] | NetworkEvidenceLine | null, count: number,
    options: CallOptionsLine | null, posteriors: Float64Array, capacity: number, written: Out<number>,
    log_evidence: Out<number>, error: Out<Handle>], number>;
  network_case_open: Call<[network: Handle | null, new_case: Out<Handle>, error: Out<Handle>], number>;
  network_case_free: Call<[the_case: Handle | null], void>;
  network_case_observe: Call<[
    the_case: Handle | null, evidence: NetworkEvidenceLine[] | NetworkEvidenceLine | null,
    error: Out<Handle>], number>;
  network_case_retract: Call<[the_case: Handle | null, variable: number, error: Out<Handle>], number>;
  network_case_solve: Call<[
    the_case: Handle | null, options: CallOptionsLine | null, log_evidence: Out<number>,
    error: Out<Handle>], number>;
  network_case_posterior: Call<[
    the_case: Handle | null, variable: number, posterior: Float64Array, capacity: number, written: Out<number>,
    error: Out<Handle>], number>;
  network_case_posteriors: Call<[
    the_case: Handle | null, posteriors: Float64Array, capacity: number, written: Out<number>,
    error: Out<Handle>], number>;
}
