/** Documents in, documents out: the one call, and models. */
import { Case } from "./case.js";
import type { Assessment, Description, Document, Plan, Proposals } from "./documents.js";
import { FaultoddsError } from "./error.js";
import { CONSTANTS, SIZES } from "./declarations.js";
import { check, library, taken } from "./library.js";
import type { CallOptionsLine, Handle, Out } from "./declarations.js";
import { bytes, encoded, whole } from "./text.js";
import { until, untilAsync } from "./until.js";
import type { Ending } from "./until.js";

const NOTE = { text: CONSTANTS.NOTE_TEXT, html: CONSTANTS.NOTE_HTML };

/** Version of the loaded library. */
export function libraryVersion(): string {
  return library().version();
}

/** Assesses one case against one circuit and forgets both. `priors`: a prior pack, else the shipped one. */
export function assess(
  circuit: Document, theCase: Document, priors?: Document, ending: Ending = {}): Assessment {
  const circuitText = encoded(circuit);
  const caseText = encoded(theCase);
  const priorsText = priors === undefined ? null : encoded(priors);
  const answer: Out<Handle> = [null];
  const error: Out<Handle> = [null];
  return until(ending, (options) => {
    const status = library().assess_json(
      circuitText, circuitText.length, caseText, caseText.length, priorsText, priorsText?.length ?? 0, options,
      answer, error);
    if (status === 0) return JSON.parse(taken(answer)) as Assessment;
    if (error[0] === null) throw new FaultoddsError(library().status_name(status), "");
    const told = JSON.parse(taken(error)) as { code: string; message: string; pointer: string };
    throw new FaultoddsError(told.code, told.message, told.pointer);
  });
}

export interface ModelOptions extends Ending {
  /** A prior pack; the shipped one if not given. */
  priors?: Document;
  /** Which entries of the pack to use. */
  assetClass?: string;
  /** Bytes of inference tables; 0 for the library's default of 1 GiB. */
  memoryBudget?: number;
}

interface Shared {
  handle: Handle;
  calls: number;
  closed: boolean;
}

// What other threads read must not be collected meanwhile.
const inUse = new Set<Uint8Array>();

// What was neither closed nor disposed of is freed when it is collected.
const forgotten = new FinalizationRegistry<Shared>((shared) => {
  if (!shared.closed) library().model_free(shared.handle);
});

/**
 * A compiled circuit. Immutable: any number of calls may run on one model at once. `close` (or `using`) frees it
 * as soon as no call runs on it; every method afterwards throws.
 */
export class Model {
  readonly #shared: Shared;

  constructor(circuit: Document, options: ModelOptions = {}) {
    const { priors, assetClass = "", memoryBudget = 0, ...ending } = options;
    const circuitText = encoded(circuit);
    const priorsText = priors === undefined ? null : encoded(priors);
    const model: Out<Handle> = [null];
    const error: Out<Handle> = [null];
    until(ending, (call) => {
      const status = library().model_load(
        circuitText, circuitText.length, priorsText, priorsText?.length ?? 0,
        {
          struct_size: SIZES.model_options,
          memory_budget: whole("memoryBudget", memoryBudget, 0),
          asset_class: assetClass ? bytes(assetClass) : null,
          asset_class_len: bytes(assetClass).length,
          cancel: call?.cancel ?? null,
          search_steps: 0,
          sets_per_observation: 0,
          modes: 0,
          observations: 0,
          reserved: 0,
        },
        model, error);
      check(status, error);
    });
    this.#shared = { handle: model[0]!, calls: 0, closed: false };
    forgotten.register(this, this.#shared, this);
  }

  /** The assessment of a case document. */
  assess(theCase: Document, ending: Ending = {}): Assessment {
    const text = encoded(theCase);
    return this.#until(ending, (model, options) => {
      const answer: Out<Handle> = [null];
      const error: Out<Handle> = [null];
      check(library().model_assess_json(model, text, text.length, options, answer, error), error);
      return JSON.parse(taken(answer)) as Assessment;
    });
  }

  /** As `assess`, on a thread of the pool: the event loop goes on, and several may run at once. */
  async assessAsync(theCase: Document, ending: Ending = {}): Promise<Assessment> {
    const text = encoded(theCase);
    const model = this.#begin();
    const answer: Out<Handle> = [null];
    const error: Out<Handle> = [null];
    inUse.add(text);
    try {
      return await untilAsync(ending, async (options) => {
        const status = await new Promise<number>((resolve, reject) => {
          library().model_assess_json.async(
            model, text, text.length, options, answer, error, (problem, result) => {
              if (problem) reject(problem);
              else resolve(result);
            });
        });
        check(status, error);
        return JSON.parse(taken(answer)) as Assessment;
      });
    } finally {
      inUse.delete(text);
      this.#end();
    }
  }

  /**
   * A note for the work order, plain text or one HTML page: what was observed, what is suspected and why, what to do
   * next, the cautions before everything they belong to.
   */
  note(theCase: Document, format: "text" | "html" = "text", ending: Ending = {}): string {
    const text = encoded(theCase);
    return this.#until(ending, (model, options) => {
      const note: Out<Handle> = [null];
      const error: Out<Handle> = [null];
      check(library().model_note(model, text, text.length, NOTE[format], options, note, error), error);
      return taken(note);
    });
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

  /**
   * What the words of a complaint may mean: at most three symptoms of the circuit with an outcome each, the likeliest
   * first, none where nothing fits. A person confirms one. `language`: that of the text.
   */
  propose(text: string, language = "en", ending: Ending = {}): Proposals {
    const words = bytes(text);
    const of = bytes(language);
    return this.#until(ending, (model, options) => {
      const proposals: Out<Handle> = [null];
      const error: Out<Handle> = [null];
      check(
        library().model_propose_json(model, words, words.length, of, of.length, options, proposals, error), error);
      return JSON.parse(taken(proposals)) as Proposals;
    });
  }

  /** The record of a work order that is closed with `closing`, a "faultodds-closing/1" document. */
  record(theCase: Document, closing: Document): Record<string, unknown> {
    return JSON.parse(this.#record(theCase, closing, CONSTANTS.RECORD_JSON)) as Record<string, unknown>;
  }

  /** The same as rows of a work-order file (CSV), from which prior packs are learned. */
  recordRows(theCase: Document, closing: Document, { header = false }: { header?: boolean } = {}): string {
    return this.#record(theCase, closing, header ? CONSTANTS.RECORD_CSV_HEADED : CONSTANTS.RECORD_CSV);
  }

  /** An empty case, for evidence that comes one by one. It may outlive the model. */
  openCase(): Case {
    const modes = this.modes();
    const observations = this.observations();
    const components = this.#ids(CONSTANTS.COMPONENT);
    return this.#with((model) => new Case(model, modes, observations, components));
  }

  /** Ids of the failure modes, "component.mode". */
  modes(): string[] {
    return this.#ids(CONSTANTS.MODE);
  }

  /** Ids of everything that can be observed on this circuit. */
  observations(): string[] {
    return this.#ids(CONSTANTS.OBSERVATION);
  }

  /** Ids of the outcomes of an observation, the normal one first. */
  outcomes(observation: string): string[] {
    const lib = library();
    const id = bytes(observation);
    return this.#with((model) => {
      const found: Out<number> = [null];
      const error: Out<Handle> = [null];
      check(lib.model_find(model, CONSTANTS.OBSERVATION, id, id.length, found, error), error);
      const index = found[0]!;
      return ids(lib.model_outcome_count(model, index), (outcome) => lib.model_outcome_id(model, index, outcome));
    });
  }

  /** What the circuit can show: modes, observations with their titles, setup steps; "screen": what a screen needs. */
  describe(detail: "full" | "screen" = "full"): Description {
    return this.#with((model) => {
      const document: Out<Handle> = [null];
      const error: Out<Handle> = [null];
      const lib = library();
      const call = detail === "screen" ? lib.model_describe_screen_json : lib.model_describe_json;
      check(call(model, null, document, error), error);
      return JSON.parse(taken(document)) as Description;
    });
  }

  /** Frees the model, once the last call that runs on it returns. May be called again. */
  close(): void {
    if (this.#shared.closed) return;
    this.#shared.closed = true;
    forgotten.unregister(this);
    if (this.#shared.calls === 0) library().model_free(this.#shared.handle);
  }

  [Symbol.dispose](): void {
    this.close();
  }

  #plan(theCase: Document, format: number, ending: Ending): string {
    const text = encoded(theCase);
    return this.#until(ending, (model, options) => {
      const plan: Out<Handle> = [null];
      const error: Out<Handle> = [null];
      check(library().model_plan(model, text, text.length, format, options, plan, error), error);
      return taken(plan);
    });
  }

  #record(theCase: Document, closing: Document, format: number): string {
    const text = encoded(theCase);
    const closed = encoded(closing);
    return this.#with((model) => {
      const record: Out<Handle> = [null];
      const error: Out<Handle> = [null];
      check(
        library().model_close(model, text, text.length, closed, closed.length, format, null, record, error), error);
      return taken(record);
    });
  }

  #ids(kind: number): string[] {
    const lib = library();
    return this.#with((model) => ids(lib.model_count(model, kind), (index) => lib.model_id(model, kind, index)));
  }

  #begin(): Handle {
    if (this.#shared.closed) throw new Error("the model is closed");
    ++this.#shared.calls;
    return this.#shared.handle;
  }

  #end(): void {
    if (--this.#shared.calls === 0 && this.#shared.closed) library().model_free(this.#shared.handle);
  }

  #until<T>(ending: Ending, use: (model: Handle, options: CallOptionsLine | null) => T): T {
    return this.#with((model) => until(ending, (options) => use(model, options)));
  }

  #with<T>(use: (model: Handle) => T): T {
    const model = this.#begin();
    try {
      return use(model);
    } finally {
      this.#end();
    }
  }
}

function ids(count: number, name: (index: number) => string): string[] {
  return Array.from({ length: count }, (_, index) => name(index));
}
