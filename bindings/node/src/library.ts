/** Finds the shared library, types what the binding uses of it, and takes over what it gives away. */
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import koffi from "koffi";
import { PROTOTYPES } from "./declarations.js";
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

/** Names without `faultodds_`. */
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
  model_describe_screen_json(
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
    functions[/faultodds_(\w+)\(/.exec(prototype)![1]!] = lib.func(prototype);
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
