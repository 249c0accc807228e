/** What faultodds.wasm exports. Written by bindings/declare.py; not to be edited. */

/** Numbers with names, without FAULTODDS_. */
export const CONSTANTS = {
  NOTE_TEXT: 1,
  NOTE_HTML: 2,
  PLAN_JSON: 1,
  PLAN_HTML: 2,
  RECORD_JSON: 1,
  RECORD_CSV: 2,
  RECORD_CSV_HEADED: 3,
} as const;

/** Where members of faultodds_call_options are, in 32 bits. */
export const CALL_OPTIONS = { size: 8, struct_size: 0, cancel: 4 } as const;

/** Where members of faultodds_model_options are, in 32 bits. */
export const MODEL_OPTIONS = {
  size: 56, struct_size: 0, memory_budget: 8, asset_class: 16, asset_class_len: 20, cancel: 24,
  search_steps: 32, sets_per_observation: 40, modes: 44, observations: 48, reserved: 52 } as const;

/** Addresses and sizes are numbers. */
export interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  malloc(size: number): number;
  free(address: number): void;
  faultodds_version(): number;
  faultodds_status_name(status: number): number;
  faultodds_error_message(error: number): number;
  faultodds_error_pointer(error: number): number;
  faultodds_error_free(error: number): void;
  faultodds_free(text: number): void;
  faultodds_cancel_new(cancel: number, error: number): number;
  faultodds_cancel_free(cancel: number): void;
  faultodds_cancel_after_ms(cancel: number, milliseconds: bigint): void;
  faultodds_assess_json(
    circuit: number, circuit_len: number, case_document: number, case_len: number, priors_or_null: number,
    priors_len: number, options: number, answer: number, error: number): number;
  faultodds_model_load(
    circuit: number, circuit_len: number, priors_or_null: number, priors_len: number, options: number,
    model: number, error: number): number;
  faultodds_model_free(model: number): void;
  faultodds_model_describe_json(model: number, options: number, document: number, error: number): number;
  faultodds_model_describe_screen_json(model: number, options: number, document: number, error: number): number;
  faultodds_model_assess_json(
    model: number, case_document: number, case_len: number, options: number, answer: number,
    error: number): number;
  faultodds_model_propose_json(
    model: number, text: number, text_len: number, language: number, language_len: number, options: number,
    proposals: number, error: number): number;
  faultodds_model_draw_svg(
    model: number, case_document: number, case_len: number, width: number, language: number,
    language_len: number, options: number, svg: number, error: number): number;
  faultodds_model_note(
    model: number, case_document: number, case_len: number, format: number, options: number, note: number,
    error: number): number;
  faultodds_model_plan(
    model: number, case_document: number, case_len: number, format: number, options: number, plan: number,
    error: number): number;
  faultodds_model_close(
    model: number, case_document: number, case_len: number, closing: number, closing_len: number,
    format: number, options: number, record: number, error: number): number;
}
