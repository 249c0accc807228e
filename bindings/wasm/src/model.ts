/** Documents in, documents out: the library, and models of circuits. */
import type { Assessment, Description, Document, Plan, Proposals } from "./documents.js";
import { Engine } from "./engine.js";
import type { Ending, Handle, Source } from "./engine.js";
import { CONSTANTS, MODEL_OPTIONS } from "./exports.js";
import { bytes, encoded, whole } from "./text.js";

const NOTE = { text: CONSTANTS.NOTE_TEXT, html: CONSTANTS.NOTE_HTML };
const DEFAULT_MEMORY_BUDGET = 256 << 20;

export interface ModelOptions extends Ending {
  /** A prior pack; the shipped one if not given. */
  priors?: Document;
  /** Which entries of the pack to use. */
  assetClass?: string;
  /** Bytes of inference tables; 256 MiB if not given. */
  memoryBudget?: number;
}

/**
 * Loads faultodds.wasm: the one beside this file, or `source`. Everything afterwards is synchronous, on the thread
 * that calls; dist/worker.js answers on another.
 */
export async function loadFaultodds(source: Source = new URL("./faultodds.wasm", import.meta.url)): Promise<Faultodds> {
  return new Faultodds(await Engine.load(source));
}

/** The loaded library, made by `loadFaultodds`. */
export class Faultodds {
  readonly #engine: Engine;
  // What was neither closed nor disposed of is freed when it is collected.
  readonly #forgotten: FinalizationRegistry<Handle>;

  /** Use `loadFaultodds`. */
  constructor(engine: Engine) {
    this.#engine = engine;
    this.#forgotten = new FinalizationRegistry((model) => free(engine, model));
  }

  get version(): string {
    return this.#engine.text(this.#engine.functions.faultodds_version());
  }

  /** Assesses one case against one circuit and forgets both. `priors`: a prior pack, else the shipped one. */
  assess(circuit: Document, theCase: Document, priors?: Document, ending: Ending = {}): Assessment {
    const engine = this.#engine;
    const answer = engine.until(ending, (options) =>
      engine.ask(
        [encoded(circuit), encoded(theCase), priors === undefined ? null : encoded(priors)],
        ([c, c_length, k, k_length, p, p_length], result, error) =>
          engine.functions.faultodds_assess_json(
            c!, c_length!, k!, k_length!, p!, p_length!, options, result, error),
        true,
      ));
    return JSON.parse(engine.taken(answer)) as Assessment;
  }

  /** Compiles a circuit, for any number of cases. */
  model(circuit: Document, options: ModelOptions = {}): Model {
    return new Model(this.#engine, this.#forgotten, circuit, options);
  }
}

/** A compiled circuit, made by `Faultodds.model`. `close` (or `using`) frees it; every method afterwards throws. */
export class Model {
  readonly #engine: Engine;
  readonly #forgotten: FinalizationRegistry<Handle>;
  #handle: Handle;

  /** Use `Faultodds.model`. */
  constructor(engine: Engine, forgotten: FinalizationRegistry<Handle>, circuit: Document, options: ModelOptions) {
    const { priors, assetClass = "", memoryBudget = DEFAULT_MEMORY_BUDGET, ...ending } = options;
    const budget = BigInt(whole("memoryBudget", memoryBudget, 0));
    const { functions } = engine;
    this.#engine = engine;
    this.#forgotten = forgotten;
    this.#handle = engine.until(ending, (_, cancel) =>
      engine.ask(
        [encoded(circuit), priors === undefined ? null : encoded(priors), assetClass ? bytes(assetClass) : null],
        ([c, c_length, p, p_length, named, named_length], result, error) => {
          const room = engine.room(MODEL_OPTIONS.size);
          const options = room.byteOffset; // where the memory grows in the call, `room` is no more
          room.setUint32(0, MODEL_OPTIONS.size, true);
          room.setBigUint64(MODEL_OPTIONS.memory_budget, budget, true);
          room.setUint32(MODEL_OPTIONS.asset_class, named!, true);
          room.setUint32(MODEL_OPTIONS.asset_class_len, named_length!, true);
          room.setUint32(MODEL_OPTIONS.cancel, cancel, true);
          try {
            return functions.faultodds_model_load(c!, c_length!, p!, p_length!, options, result, error);
          } finally {
            functions.free(options);
          }
        },
      ));
    forgotten.register(this, this.#handle, this);
  }

  /** The assessment of a case document. */
  assess(theCase: Document, ending: Ending = {}): Assessment {
    const { functions } = this.#engine;
    const text = this.#engine.until(ending, (options) =>
      this.#ask([theCase], (model, [k, k_length], result, error) =>
        functions.faultodds_model_assess_json(model, k!, k_length!, options, result, error)));
    return JSON.parse(text) as Assessment;
  }

  /**
   * A note for the work order, plain text or one HTML page: what was observed, what is suspected and why, what to do
   * next, the cautions before everything they belong to.
   */
  note(theCase: Document, format: "text" | "html" = "text", ending: Ending = {}): string {
    const { functions } = this.#engine;
    return this.#engine.until(ending, (options) =>
      this.#ask([theCase], (model, [k, k_length], result, error) =>
        functions.faultodds_model_note(model, k!, k_length!, NOTE[format], options, result, error)));
  }

  /**
   * The tests to make one after the other, by outcome, and what to replace at the end of each branch. A call that is
   * ended keeps what is ready.
   */
  plan(theCase: Document, ending: Ending = {}): Plan {
    return JSON.parse(this.#plan(theCase, CONSTANTS.PLAN_JSON, ending)) as Plan;
  }

  /** The same as a card to print, one HTML page, the cautions before everything. */
  planCard(theCase: Document, ending: Ending = {}): string {
    return this.#plan(theCase, CONSTANTS.PLAN_HTML, ending);
  }

  /** The record of a work order that is closed with `closing`, a "faultodds-closing/1" document. */
  record(theCase: Document, closing: Document): Record<string, unknown> {
    return JSON.parse(this.#record(theCase, closing, CONSTANTS.RECORD_JSON)) as Record<string, unknown>;
  }

  /** The same as rows of a work-order file (CSV), from which prior packs are learned. */
  recordRows(theCase: Document, closing: Document, { header = false }: { header?: boolean } = {}): string {
    return this.#record(theCase, closing, header ? CONSTANTS.RECORD_CSV_HEADED : CONSTANTS.RECORD_CSV);
  }

  /**
   * What the words of a complaint may mean: at most three symptoms of the circuit with an outcome each, the likeliest
   * first, none where nothing fits. A person confirms one. `language`: that of the text.
   */
  propose(text: string, language = "en"): Proposals {
    if (this.#handle === 0) throw new Error("the model is closed");
    const { functions } = this.#engine;
    const answer = this.#engine.ask([bytes(text), bytes(language)], ([t, t_length, l, l_length], result, error) =>
      functions.faultodds_model_propose_json(this.#handle, t!, t_length!, l!, l_length!, 0, result, error));
    return JSON.parse(this.#engine.taken(answer)) as Proposals;
  }

  /**
   * The part of the circuit that a case concerns, as SVG that fits in `width` px (0: any); "" where it concerns none.
   * It holds no cautions: show those of the test before it.
   */
  draw(theCase: Document, width = 0, language = "", ending: Ending = {}): string {
    if (this.#handle === 0) throw new Error("the model is closed");
    const { functions } = this.#engine;
    return this.#engine.until(ending, (options) => this.#engine.taken(this.#engine.ask(
      [encoded(theCase), bytes(language)], ([k, k_length, l, l_length], result, error) =>
        functions.faultodds_model_draw_svg(this.#handle, k!, k_length!, width, l!, l_length!, options, result, error))));
  }

  /** What the circuit can show: modes, observations with their titles, setup steps; "screen": what a screen needs. */
  describe(detail: "full" | "screen" = "full"): Description {
    const { faultodds_model_describe_json, faultodds_model_describe_screen_json } = this.#engine.functions;
    const call = detail === "screen" ? faultodds_model_describe_screen_json : faultodds_model_describe_json;
    const text = this.#ask([], (model, _, result, error) => call(model, 0, result, error));
    return JSON.parse(text) as Description;
  }

  /** Frees the model. May be called again. */
  close(): void {
    if (this.#handle === 0) return;
    this.#forgotten.unregister(this);
    free(this.#engine, this.#handle);
    this.#handle = 0;
  }

  [Symbol.dispose](): void {
    this.close();
  }

  #plan(theCase: Document, format: number, ending: Ending): string {
    const { functions } = this.#engine;
    return this.#engine.until(ending, (options) =>
      this.#ask([theCase], (model, [k, k_length], result, error) =>
        functions.faultodds_model_plan(model, k!, k_length!, format, options, result, error)));
  }

  #record(theCase: Document, closing: Document, format: number): string {
    return this.#ask([theCase, closing], (model, [k, k_length, c, c_length], result, error) =>
      this.#engine.functions.faultodds_model_close(model, k!, k_length!, c!, c_length!, format, 0, result, error));
  }

  #ask(
    documents: Document[],
    call: (model: Handle, parameters: number[], result: number, error: number) => number,
  ): string {
    if (this.#handle === 0) throw new Error("the model is closed");
    const text = this.#engine.ask(documents.map(encoded), (parameters, result, error) =>
      call(this.#handle, parameters, result, error));
    return this.#engine.taken(text);
  }
}

function free(engine: Engine, model: Handle): void {
  try {
    engine.guarded(() => engine.functions.faultodds_model_free(model));
  } catch {
    // The instance is broken, and its memory goes with it.
  }
}
