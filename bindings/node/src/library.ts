/** Finds the shared library, declares what the binding uses of the C interface, and takes over what it gives away. */
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import koffi from "koffi";
import { FaultoddsError } from "./error.js";

const SOVERSION = 2;

/** Address of an object of the library. */
export type Handle = bigint;

/** An out-parameter. */
export type Out<T> = [T | null];

/** faultodds_call_options */
export interface CallOptions {
  struct_size: number;
  cancel: Handle | null;
}

/** faultodds_network_options */
export interface NetworkOptionsLine {
  struct_size: number;
  memory_budget: number;
  cancel: Handle | null;
}

/** faultodds_case_summary */
export interface CaseSummary {
  struct_size: number;
  method: Handle | null;
  error_bound: number;
  log_evidence: number;
  cause_count: number;
  test_count: number;
}

export interface CausesLine {
  struct_size: number;
  observation: number;
  share_count: number;
  component_count: number;
  by_design: number;
  elsewhere: number;
  nothing: number;
}

export interface RankedTestLine {
  struct_size: number;
  observation: number;
  energised: number;
  information_bits: number;
  cause_bits: number;
  minutes: number;
  bits_per_minute: number;
}

/** A call that other threads can run meanwhile. */
interface Slow<A extends unknown[]> {
  (...parameters: A): number;
  async: (...parameters: [...A, (problem: unknown, status: number) => void]) => void;
}

type Bytes = Uint8Array | null;

export interface Functions {
  version(): string;
  status_name(status: number): string;
  error_message(error: Handle | null): string;
  error_pointer(error: Handle | null): string;
  error_free(error: Handle | null): void;
  free(text: Handle | null): void;
  cancel_new(cancel: Out<Handle>, error: Out<Handle>): number;
  cancel_free(cancel: Handle | null): void;
  cancel_now(cancel: Handle | null): void;
  cancel_after_ms(cancel: Handle | null, milliseconds: number): void;
  assess_json: Slow<[
    Bytes, number, Bytes, number, Bytes, number, CallOptions | null, Out<Handle>, Out<Handle>]>;
  model_load: Slow<[Bytes, number, Bytes, number, object, Out<Handle>, Out<Handle>]>;
  model_free(model: Handle): void;
  model_count(model: Handle, kind: number): number;
  model_id(model: Handle, kind: number, index: number): string;
  model_find(
    model: Handle, kind: number, id: Bytes, length: number, found: Out<number>, error: Out<Handle>): number;
  model_outcome_count(model: Handle, observation: number): number;
  model_outcome_id(model: Handle, observation: number, outcome: number): string;
  model_describe_json(
    model: Handle, options: CallOptions | null, document: Out<Handle>, error: Out<Handle>): number;
  model_assess_json: Slow<[Handle, Bytes, number, CallOptions | null, Out<Handle>, Out<Handle>]>;
  model_note(
    model: Handle, k: Bytes, length: number, format: number, options: CallOptions | null, note: Out<Handle>,
    error: Out<Handle>): number;
  model_plan(
    model: Handle, k: Bytes, length: number, format: number, options: CallOptions | null, plan: Out<Handle>,
    error: Out<Handle>): number;
  model_close(
    model: Handle, k: Bytes, k_length: number, closing: Bytes, closing_length: number, format: number,
    options: CallOptions | null, record: Out<Handle>, error: Out<Handle>): number;
  case_open(model: Handle, opened: Out<Handle>, error: Out<Handle>): number;
  case_free(theCase: Handle): void;
  case_observe_likelihood(theCase: Handle, observation: number, grades: Float64Array, error: Out<Handle>): number;
  case_observe_json(
    theCase: Handle, entry: Bytes, length: number, options: CallOptions | null, error: Out<Handle>): number;
  case_retract(theCase: Handle, observation: number, error: Out<Handle>): number;
  case_setup_done(theCase: Handle, step: Bytes, length: number, error: Out<Handle>): number;
  case_assess(theCase: Handle, options: CallOptions | null, error: Out<Handle>): number;
  case_read_summary(theCase: Handle, summary: CaseSummary, error: Out<Handle>): number;
  case_posteriors(
    theCase: Handle, grades: Float64Array, capacity: number, count: Out<number>, error: Out<Handle>): number;
  case_causes(theCase: Handle, rank: number, causes: CausesLine, error: Out<Handle>): number;
  case_shares(
    theCase: Handle, rank: number, probabilities: Float64Array, ends: Uint32Array, capacity: number,
    components: Uint32Array, componentCapacity: number, error: Out<Handle>): number;
  case_test(theCase: Handle, rank: number, test: RankedTestLine, error: Out<Handle>): number;
  case_answer_json(
    theCase: Handle, options: CallOptions | null, answer: Out<Handle>, error: Out<Handle>): number;
  cases_assess(
    cases: Handle[], count: number, threads: number, options: CallOptions | null, statuses: Int32Array | null,
    error: Out<Handle>): number;
  network_load(
    text: Bytes, length: number, format: number, options: NetworkOptionsLine, network: Out<Handle>,
    error: Out<Handle>): number;
  network_free(network: Handle): void;
  network_variable_count(network: Handle): number;
  network_variable_name(network: Handle, variable: number): string;
  network_state_count(network: Handle, variable: number): number;
  network_state_name(network: Handle, variable: number, state: number): string;
  network_posterior_count(network: Handle): number;
  network_query: Slow<[
    Handle, NetworkEvidence[] | null, number, CallOptions | null, Float64Array, number, Out<number>, Out<number>,
    Out<Handle>]>;
  priors_learn(
    orders: RecordsLine, exposure: RecordsLine | null, options: object, pack: Out<Handle>, summary: Out<Handle>,
    error: Out<Handle>): number;
  priors_merge(
    packs: Bytes[], lengths: number[], count: number, options: CallOptions | null, merged: Out<Handle>,
    error: Out<Handle>): number;
  priors_diff_json(
    before: Bytes, before_length: number, after: Bytes, after_length: number, options: CallOptions | null,
    difference: Out<Handle>, error: Out<Handle>): number;
  priors_backtest_json(
    circuit: Bytes, length: number, orders: RecordsLine, options: object, answer: Out<Handle>,
    error: Out<Handle>): number;
}

/** faultodds_network_evidence */
export interface NetworkEvidence {
  struct_size: number;
  variable: number;
  state: number;
  likelihood: Float64Array | null;
  likelihood_count: number;
}

/** faultodds_records */
export interface RecordsLine {
  struct_size: number;
  path: Bytes;
  path_len: number;
  text: Bytes;
  text_len: number;
}

// Prototypes as koffi reads them; the names lack "faultodds_".
const PROTOTYPES = [
  "const char* version()",
  "const char* status_name(int32_t status)",
  "const char* error_message(void* error)",
  "const char* error_pointer(void* error)",
  "void error_free(void* error)",
  "void free(void* text)",
  "int32_t cancel_new(_Out_ void** cancel, _Out_ void** error)",
  "void cancel_free(void* cancel)",
  "void cancel_now(void* cancel)",
  "void cancel_after_ms(void* cancel, uint64_t milliseconds)",
  "int32_t assess_json(uint8_t* c, size_t c_len, uint8_t* k, size_t k_len, uint8_t* p, size_t p_len, " +
    "faultodds_call_options* options, _Out_ void** answer, _Out_ void** error)",
  "int32_t model_load(uint8_t* c, size_t c_len, uint8_t* p, size_t p_len, faultodds_model_options* options, " +
    "_Out_ void** model, _Out_ void** error)",
  "void model_free(void* model)",
  "uint32_t model_count(void* model, int32_t kind)",
  "const char* model_id(void* model, int32_t kind, uint32_t index)",
  "int32_t model_find(void* model, int32_t kind, uint8_t* id, size_t len, _Out_ uint32_t* found, _Out_ void** error)",
  "uint32_t model_outcome_count(void* model, uint32_t observation)",
  "const char* model_outcome_id(void* model, uint32_t observation, uint32_t outcome)",
  "int32_t model_describe_json(void* model, faultodds_call_options* options, _Out_ void** document, " +
    "_Out_ void** error)",
  "int32_t model_assess_json(void* model, uint8_t* k, size_t k_len, faultodds_call_options* options, " +
    "_Out_ void** answer, _Out_ void** error)",
  "int32_t model_note(void* model, uint8_t* k, size_t k_len, int32_t format, faultodds_call_options* options, " +
    "_Out_ void** note, _Out_ void** error)",
  "int32_t model_plan(void* model, uint8_t* k, size_t k_len, int32_t format, faultodds_call_options* options, " +
    "_Out_ void** plan, _Out_ void** error)",
  "int32_t model_close(void* model, uint8_t* k, size_t k_len, uint8_t* c, size_t c_len, int32_t format, " +
    "faultodds_call_options* options, _Out_ void** record, _Out_ void** error)",
  "int32_t case_open(void* model, _Out_ void** opened, _Out_ void** error)",
  "void case_free(void* k)",
  "int32_t case_observe_likelihood(void* k, uint32_t observation, double* grades, _Out_ void** error)",
  "int32_t case_observe_json(void* k, uint8_t* entry, size_t len, faultodds_call_options* options, " +
    "_Out_ void** error)",
  "int32_t case_retract(void* k, uint32_t observation, _Out_ void** error)",
  "int32_t case_setup_done(void* k, uint8_t* step, size_t len, _Out_ void** error)",
  "int32_t case_assess(void* k, faultodds_call_options* options, _Out_ void** error)",
  "int32_t case_read_summary(void* k, _Inout_ faultodds_case_summary* summary, _Out_ void** error)",
  "int32_t case_posteriors(void* k, double* grades, size_t capacity, _Out_ size_t* count, _Out_ void** error)",
  "int32_t case_causes(void* k, uint32_t rank, _Inout_ faultodds_causes* causes, _Out_ void** error)",
  "int32_t case_shares(void* k, uint32_t rank, double* probabilities, uint32_t* ends, size_t capacity, " +
    "uint32_t* components, size_t component_capacity, _Out_ void** error)",
  "int32_t case_test(void* k, uint32_t rank, _Inout_ faultodds_ranked_test* test, _Out_ void** error)",
  "int32_t case_answer_json(void* k, faultodds_call_options* options, _Out_ void** answer, _Out_ void** error)",
  "int32_t cases_assess(void** cases, size_t count, uint32_t threads, faultodds_call_options* options, " +
    "_Out_ int32_t* statuses, _Out_ void** error)",
  "int32_t network_load(uint8_t* text, size_t len, int32_t format, faultodds_network_options* options, " +
    "_Out_ void** network, _Out_ void** error)",
  "void network_free(void* network)",
  "uint32_t network_variable_count(void* network)",
  "const char* network_variable_name(void* network, uint32_t variable)",
  "uint32_t network_state_count(void* network, uint32_t variable)",
  "const char* network_state_name(void* network, uint32_t variable, uint32_t state)",
  "size_t network_posterior_count(void* network)",
  "int32_t network_query(void* network, faultodds_network_evidence* evidence, size_t count, " +
    "faultodds_call_options* options, double* posteriors, size_t capacity, _Out_ size_t* written, " +
    "_Out_ double* log_evidence, _Out_ void** error)",
  "int32_t priors_learn(faultodds_records* orders, faultodds_records* exposure, faultodds_learn_options* options, " +
    "_Out_ void** pack, _Out_ void** summary, _Out_ void** error)",
  "int32_t priors_merge(uint8_t** packs, size_t* lengths, size_t count, faultodds_call_options* options, " +
    "_Out_ void** merged, _Out_ void** error)",
  "int32_t priors_diff_json(uint8_t* before, size_t before_len, uint8_t* after, size_t after_len, " +
    "faultodds_call_options* options, _Out_ void** difference, _Out_ void** error)",
  "int32_t priors_backtest_json(uint8_t* circuit, size_t len, faultodds_records* orders, " +
    "faultodds_backtest_options* options, _Out_ void** answer, _Out_ void** error)",
];

const callOptions = koffi.struct("faultodds_call_options", {
  struct_size: "size_t",
  cancel: "void*",
});
const modelOptions = koffi.struct("faultodds_model_options", {
  struct_size: "size_t",
  memory_budget: "uint64_t",
  asset_class: "const char*",
  asset_class_len: "size_t",
  cancel: "void*",
  search_steps: "uint64_t",
  sets_per_observation: "uint32_t",
  modes: "uint32_t",
  observations: "uint32_t",
  reserved: "uint32_t",
});
const networkOptions = koffi.struct("faultodds_network_options", {
  struct_size: "size_t",
  memory_budget: "uint64_t",
  cancel: "void*",
});
const caseSummary = koffi.struct("faultodds_case_summary", {
  struct_size: "size_t",
  method: "void*",
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
const rankedTest = koffi.struct("faultodds_ranked_test", {
  struct_size: "size_t",
  observation: "uint32_t",
  energised: "int32_t",
  information_bits: "double",
  cause_bits: "double",
  minutes: "double",
  bits_per_minute: "double",
});
const networkEvidence = koffi.struct("faultodds_network_evidence", {
  struct_size: "size_t",
  variable: "uint32_t",
  state: "int32_t",
  likelihood: "double*",
  likelihood_count: "size_t",
});
const records = koffi.struct("faultodds_records", {
  struct_size: "size_t",
  path: "uint8_t*",
  path_len: "size_t",
  text: "uint8_t*",
  text_len: "size_t",
});
koffi.proto("int32_t faultodds_progress(void* context, uint64_t done)");
koffi.proto("int32_t faultodds_write(void* context, void* text, size_t text_len)");
const learnOptions = koffi.struct("faultodds_learn_options", {
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
});
const backtestOptions = koffi.struct("faultodds_backtest_options", {
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
export const CALL_OPTIONS_SIZE = koffi.sizeof(callOptions);
export const NETWORK_OPTIONS_SIZE = koffi.sizeof(networkOptions);
export const CASE_SUMMARY_SIZE = koffi.sizeof(caseSummary);
export const NETWORK_EVIDENCE_SIZE = koffi.sizeof(networkEvidence);
export const RECORDS_SIZE = koffi.sizeof(records);
export const LEARN_OPTIONS_SIZE = koffi.sizeof(learnOptions);
export const BACKTEST_OPTIONS_SIZE = koffi.sizeof(backtestOptions);
export const MODEL_OPTIONS_SIZE = koffi.sizeof(modelOptions);
export const CAUSES_SIZE = koffi.sizeof(causes);
export const RANKED_TEST_SIZE = koffi.sizeof(rankedTest);

// The path in the environment's FAULTODDS_LIBRARY, the package's lib folder, the system's loader. The first that
// applies is used; if it cannot be loaded, that is told.
function where(): string {
  const named = process.env["FAULTODDS_LIBRARY"];
  if (named) return named;
  const name =
    process.platform === "win32" ? `faultodds-${SOVERSION}.dll`
    : process.platform === "darwin" ? `libfaultodds.${SOVERSION}.dylib`
    : `libfaultodds.so.${SOVERSION}`;
  const inside = fileURLToPath(new URL(`../lib/${name}`, import.meta.url));
  return existsSync(inside) ? inside : name;
}

let loaded: Functions | undefined;

/** The library, loaded on first use. */
export function library(): Functions {
  if (loaded) return loaded;
  const path = where();
  let lib: ReturnType<typeof koffi.load>;
  try {
    lib = koffi.load(path);
  } catch (problem) {
    throw new Error(
      `the faultodds library could not be loaded from ${path}; set FAULTODDS_LIBRARY to its path`,
      { cause: problem },
    );
  }
  const functions: Record<string, unknown> = {};
  for (const prototype of PROTOTYPES) {
    const name = /(\w+)\(/.exec(prototype)![1]!;
    functions[name] = lib.func(prototype.replace(`${name}(`, `faultodds_${name}(`));
  }
  loaded = functions as unknown as Functions;
  return loaded;
}

// koffi's own stacks for calls on other threads are too small for a circuit of many components.
if (koffi.config()["async_stack_size"]! < 1 << 20) {
  koffi.config({ ...koffi.config(), async_stack_size: 1 << 20 });
}

/** Copies a string that the library gave away, and frees it. */
export function taken([owned]: Out<Handle>): string {
  try {
    return koffi.decode(owned, "char", -1) as string;
  } finally {
    library().free(owned);
  }
}

/** Throws what a status other than OK means; frees the library's error. */
export function check(status: number, [error]: Out<Handle>): void {
  if (status === 0) return;
  const lib = library();
  try {
    throw new FaultoddsError(lib.status_name(status), lib.error_message(error), lib.error_pointer(error));
  } finally {
    lib.error_free(error);
  }
}
