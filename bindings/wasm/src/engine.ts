/**
 * One instance of faultodds.wasm: how it is loaded, and how its functions are called. What capi/faultodds.h says of
 * a function holds; what the functions are for is in model.ts.
 */
import { FaultoddsError } from "./error.js";
import { milliseconds } from "./text.js";

/** Address of an object in the module's memory. */
export type Handle = number;

type Status = number;

// Where members of faultodds_call_options are in 32 bits.
const CALL_OPTIONS = { size: 8, cancel: 4 };

interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  malloc(size: number): number;
  free(address: number): void;
  faultodds_version(): number;
  faultodds_status_name(status: Status): number;
  faultodds_error_message(error: Handle): number;
  faultodds_error_pointer(error: Handle): number;
  faultodds_error_free(error: Handle): void;
  faultodds_free(text: Handle): void;
  faultodds_cancel_new(cancel: number, error: number): Status;
  faultodds_cancel_free(cancel: Handle): void;
  faultodds_cancel_after_ms(cancel: Handle, milliseconds: bigint): void;
  faultodds_assess_json(
    c: number, c_length: number, k: number, k_length: number, p: number, p_length: number, options: number,
    answer: number, error: number): Status;
  faultodds_model_load(
    c: number, c_length: number, p: number, p_length: number, options: number, model: number, error: number): Status;
  faultodds_model_free(model: Handle): void;
  faultodds_model_describe_json(model: Handle, options: number, document: number, error: number): Status;
  faultodds_model_describe_screen_json(model: Handle, options: number, document: number, error: number): Status;
  faultodds_model_assess_json(
    model: Handle, k: number, k_length: number, options: number, answer: number, error: number): Status;
  faultodds_model_note(
    model: Handle, k: number, k_length: number, format: number, options: number, note: number, error: number): Status;
  faultodds_model_plan(
    model: Handle, k: number, k_length: number, format: number, options: number, plan: number, error: number): Status;
  faultodds_model_propose_json(
    model: Handle, text: number, text_length: number, language: number, language_length: number, options: number,
    proposals: number, error: number): Status;
  faultodds_model_close(
    model: Handle, k: number, k_length: number, closing: number, closing_length: number, format: number,
    options: number, record: number, error: number): Status;
}

/** Given to a call that may last. What it was called on can be used on. */
export interface Ending {
  /** Milliseconds from now, after which the call throws a FaultoddsError with the code "cancelled". */
  timeout?: number | undefined;
}

/** What a module can be made of. */
export type Source = string | URL | Response | Promise<Response> | BufferSource | WebAssembly.Module;

// All that the module imports. `memory` gives its memory, once there is one.
const imports = (memory: () => WebAssembly.Memory): WebAssembly.Imports => ({
  wasi_snapshot_preview1: {
    proc_exit(code: number): never {
      throw new Error(`faultodds.wasm ended itself with ${code}`);
    },
    clock_time_get(clock: number, _precision: bigint, place: number): number {
      const milliseconds = clock === 0 ? Date.now() : performance.now();
      new DataView(memory().buffer).setBigUint64(place, BigInt(Math.round(milliseconds * 1e6)), true);
      return 0;
    },
  },
  env: {
    emscripten_notify_memory_growth(): void {}, // views of the memory are made anew for every call
  },
});

async function moduleOf(source: Source): Promise<WebAssembly.Module> {
  if (source instanceof WebAssembly.Module) return source;
  if (typeof source === "string" || source instanceof URL) {
    const address = new URL(source, import.meta.url);
    if (address.protocol !== "file:") return moduleOf(fetch(address));
    const files = "node:fs/promises"; // Node's fetch reads no files; bundlers for browsers need not know
    const { readFile } = (await import(/* @vite-ignore */ files)) as { readFile(path: URL): Promise<Uint8Array<ArrayBuffer>> };
    return WebAssembly.compile(await readFile(address));
  }
  if (source instanceof Response || source instanceof Promise) {
    const response = await source;
    if (!response.ok) throw new Error(`${response.url}: ${response.status} ${response.statusText}`);
    // Streaming needs the server to call it application/wasm.
    return response.headers.get("content-type")?.startsWith("application/wasm")
      ? WebAssembly.compileStreaming(response)
      : WebAssembly.compile(await response.arrayBuffer());
  }
  return WebAssembly.compile(source);
}

const utf8 = new TextDecoder();

export class Engine {
  readonly functions: Exports;
  /** Two places of four bytes for what a function gives. */
  readonly #out: number;
  /** Why nothing can be asked any more. */
  #broken: unknown = null;

  static async load(source: Source): Promise<Engine> {
    const module = await moduleOf(source);
    const instance: WebAssembly.Instance = await WebAssembly.instantiate(
      module, imports(() => (instance.exports as unknown as Exports).memory));
    return new Engine(instance);
  }

  private constructor(instance: WebAssembly.Instance) {
    this.functions = instance.exports as unknown as Exports;
    this.functions._initialize();
    this.#out = this.functions.malloc(8);
  }

  /**
   * Copies `texts` into the module (null as no text), calls `call` with address and length of each and the two
   * places that results and errors are written to, and gives what was written to the first. An error is thrown as
   * FaultoddsError; `asJson` says that it is a JSON text.
   */
  ask(
    texts: (Uint8Array | null)[],
    call: (parameters: number[], result: number, error: number) => Status,
    asJson = false,
  ): Handle {
    return this.guarded(() => {
      const parameters: number[] = [];
      try {
        for (const text of texts) {
          if (text) parameters.push(this.#put(text), text.length);
          else parameters.push(0, 0);
        }
        const status = call(parameters, this.#out, this.#out + 4);
        const [result, error] = new Uint32Array(this.functions.memory.buffer, this.#out, 2) as unknown as [number, number];
        if (status === 0) return result;
        throw asJson ? this.#jsonError(status, error) : this.#error(status, error);
      } finally {
        for (let i = 0; i < parameters.length; i += 2) this.functions.free(parameters[i]!);
      }
    });
  }

  /**
   * Makes a call with a faultodds_call_options that ends it, and with the faultodds_cancel therein, for options of
   * another kind; with NULL and NULL where nothing shall end it.
   */
  until<T>({ timeout }: Ending, call: (options: number, cancel: Handle) => T): T {
    if (timeout === undefined) return call(0, 0);
    const limit = BigInt(milliseconds(timeout));
    const cancel = this.ask([], (_, result, error) => this.functions.faultodds_cancel_new(result, error));
    let options = 0;
    try {
      this.functions.faultodds_cancel_after_ms(cancel, limit);
      const room = this.room(CALL_OPTIONS.size);
      options = room.byteOffset; // where the memory grows in the call, `room` is no more
      room.setUint32(0, CALL_OPTIONS.size, true);
      room.setUint32(CALL_OPTIONS.cancel, cancel, true);
      return call(options, cancel);
    } finally {
      if (!this.#broken) {
        this.functions.free(options);
        this.functions.faultodds_cancel_free(cancel);
      }
    }
  }

  /** Copies a text that the module gave away, and frees it. */
  taken(text: Handle): string {
    const copy = this.text(text);
    this.functions.faultodds_free(text);
    return copy;
  }

  /** Copies a text. */
  text(address: number): string {
    const memory = new Uint8Array(this.functions.memory.buffer);
    return utf8.decode(memory.subarray(address, memory.indexOf(0, address)));
  }

  /** Bytes for a struct, all 0; the caller frees them. */
  room(size: number): DataView {
    const address = this.#allocate(size);
    const { buffer } = this.functions.memory;
    new Uint8Array(buffer, address, size).fill(0);
    return new DataView(buffer, address, size);
  }

  /** A call that ends in a trap leaves a memory that nobody should compute with. */
  guarded<T>(call: () => T): T {
    if (this.#broken) throw new Error("an earlier call ended abnormally; load the library anew", { cause: this.#broken });
    try {
      return call();
    } catch (problem) {
      if (problem instanceof WebAssembly.RuntimeError || problem instanceof WebAssembly.Exception) this.#broken = problem;
      if (problem instanceof RangeError && /call stack/.test(problem.message)) this.#broken = problem;
      throw problem;
    }
  }

  #put(text: Uint8Array): number {
    const address = this.#allocate(text.length);
    new Uint8Array(this.functions.memory.buffer).set(text, address);
    return address;
  }

  #allocate(size: number): number {
    const address = this.functions.malloc(Math.max(1, size)) >>> 0;
    if (address === 0) throw new FaultoddsError("out_of_memory", "out of memory");
    return address;
  }

  #error(status: Status, error: Handle): FaultoddsError {
    const { faultodds_status_name, faultodds_error_message, faultodds_error_pointer, faultodds_error_free } = this.functions;
    const told = new FaultoddsError(
      this.text(faultodds_status_name(status)),
      this.text(faultodds_error_message(error)),
      this.text(faultodds_error_pointer(error)),
    );
    faultodds_error_free(error);
    return told;
  }

  #jsonError(status: Status, error: Handle): FaultoddsError {
    if (error === 0) return new FaultoddsError(this.text(this.functions.faultodds_status_name(status)), "");
    const told = JSON.parse(this.taken(error)) as { code: string; message: string; pointer: string };
    return new FaultoddsError(told.code, told.message, told.pointer);
  }
}
