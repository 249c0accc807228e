/** Evidence that comes one by one. */
import type { Causes, Document, FullAssessment, Grades } from "./documents.js";
import { FaultoddsError } from "./error.js";
import { SIZES } from "./declarations.js";
import { check, library, taken } from "./library.js";
import type { CaseSummaryLine, CausesLine, Handle, Out, RankedTestLine } from "./declarations.js";
import { bytes, encoded, threadCount } from "./text.js";
import { until } from "./until.js";
import type { Ending } from "./until.js";

/** One line of the ranking. Its title, cautions and reason are in `Case.answer`. */
export interface RankedTest {
  observation: string;
  /** Needs power on or a load left up. */
  energised: boolean;
  information_bits: number;
  /** About the cause of the complaint. */
  cause_bits: number;
  /** Setup not yet done included. */
  minutes: number;
  bits_per_minute: number;
}

// What was neither closed nor disposed of is freed when it is collected.
const forgotten = new FinalizationRegistry<Handle>((handle) => library().case_free(handle));

/**
 * The evidence of one work order, made by `Model.openCase`. After every change call `assess` before asking for
 * results. `close` (or `using`) frees it; every method afterwards throws.
 */
export class Case {
  #handle: Handle | null;
  readonly #modes: string[];
  readonly #observations: string[];
  readonly #components: string[];

  /** Use `Model.openCase`. */
  constructor(model: Handle, modes: string[], observations: string[], components: string[]) {
    const opened: Out<Handle> = [null];
    const error: Out<Handle> = [null];
    check(library().case_open(model, opened, error), error);
    this.#handle = opened[0]!;
    this.#modes = modes;
    this.#observations = observations;
    this.#components = components;
    forgotten.register(this, this.#handle, this);
  }

  /** Adds an outcome. Repeating an observation adds to what is known of it. */
  observe(observation: string, outcome: string): void {
    this.observeEntry({ observation, outcome });
  }

  /** Adds a likelihood over the grades sound, worn, failed: finite numbers >= 0, not all 0. */
  observeLikelihood(observation: string, likelihood: Grades): void {
    if (likelihood.length !== 3) throw new RangeError(`likelihood has ${likelihood.length} numbers; expected 3`);
    const index = this.#index(observation);
    this.#call((theCase, error) =>
      library().case_observe_likelihood(theCase, index, Float64Array.from(likelihood), error));
  }

  /** Adds one entry of a case document's `observations`: an outcome, a reading, a repair. */
  observeEntry(entry: Document): void {
    const text = encoded(entry);
    this.#call((theCase, error) => library().case_observe_json(theCase, text, text.length, null, error));
  }

  /** Says that these components were replaced by new ones. */
  repaired(...components: string[]): void {
    this.observeEntry({ repaired: components });
  }

  /** Takes back all that was said of an observation; nothing happens if nothing was. */
  retract(observation: string): void {
    const index = this.#index(observation);
    this.#call((theCase, error) => library().case_retract(theCase, index, error));
  }

  /** Says that a setup step (an id from a test's `setup`) is done and costs nothing more. */
  setupDone(step: string): void {
    const text = bytes(step);
    this.#call((theCase, error) => library().case_setup_done(theCase, text, text.length, error));
  }

  /** Computes what the methods below give, from what the case now holds, which it keeps if the call is ended. */
  assess(ending: Ending = {}): void {
    until(ending, (options) =>
      this.#call((theCase, error) => library().case_assess(theCase, options, error)));
  }

  /** Natural logarithm of the probability (density, for readings) of the evidence. */
  logEvidence(): number {
    return this.#summary().log_evidence;
  }

  /**
   * The most by which a number of the answer can be wrong; 0 unless the model's memory budget was too small for
   * an exact one.
   */
  errorBound(): number {
    return this.#summary().error_bound;
  }

  #summary(): CaseSummaryLine {
    const summary: CaseSummaryLine = {
      struct_size: SIZES.case_summary, method: null, error_bound: 0, log_evidence: 0, cause_count: 0, test_count: 0,
    };
    this.#call((theCase, error) => library().case_read_summary(theCase, summary, error));
    return summary;
  }

  /** P(sound), P(worn), P(failed) of every failure mode. */
  posteriors(): Map<string, Grades> {
    const room = new Float64Array(3 * this.#modes.length);
    this.#call((theCase, error) => library().case_posteriors(theCase, room, room.length, [null], error));
    return new Map(
      this.#modes.map((mode, i) => [mode, [room[3 * i]!, room[3 * i + 1]!, room[3 * i + 2]!]]));
  }

  /** What is probably behind each abnormal symptom, the complaint first; none where nothing abnormal was seen. */
  causes(): Causes[] {
    return Array.from({ length: this.#summary().cause_count }, (_, rank) => this.#causesAt(rank));
  }

  #causesAt(rank: number): Causes {
    const line: CausesLine = {
      struct_size: SIZES.causes, observation: 0, share_count: 0, component_count: 0, by_design: 0, elsewhere: 0,
      nothing: 0,
    };
    this.#call((theCase, error) => library().case_causes(theCase, rank, line, error));
    const probabilities = new Float64Array(line.share_count);
    const ends = new Uint32Array(line.share_count);
    const room = new Uint32Array(Number(line.component_count));
    this.#call((theCase, error) =>
      library().case_shares(theCase, rank, probabilities, ends, ends.length, room, room.length, error));
    const names = Array.from(room, (component) => this.#components[component]!);
    return {
      observation: this.#observations[line.observation]!,
      shares: Array.from(ends, (end, i) => ({
        components: names.slice(i === 0 ? 0 : ends[i - 1]!, end), probability: probabilities[i]!,
      })),
      by_design: line.by_design,
      elsewhere: line.elsewhere,
      nothing: line.nothing,
    };
  }

  /** The ranking, best first by what each test tells; the answer puts the test of its advice first. */
  tests(): RankedTest[] {
    return Array.from({ length: this.#summary().test_count }, (_, rank) => {
      const line: RankedTestLine = {
        struct_size: SIZES.ranked_test, observation: 0, energised: 0, information_bits: 0, cause_bits: 0,
        minutes: 0, bits_per_minute: 0,
      };
      this.#call((theCase, error) => library().case_test(theCase, rank, line, error));
      return {
        observation: this.#observations[line.observation]!,
        energised: line.energised !== 0,
        information_bits: line.information_bits,
        cause_bits: line.cause_bits,
        minutes: line.minutes,
        bits_per_minute: line.bits_per_minute,
      };
    });
  }

  /** The whole assessment document, with the cautions of every test. */
  answer(ending: Ending = {}): FullAssessment {
    const answer: Out<Handle> = [null];
    until(ending, (options) =>
      this.#call((theCase, error) => library().case_answer_json(theCase, options, answer, error)));
    return JSON.parse(taken(answer)) as FullAssessment;
  }

  /** Frees the case. May be called again. */
  close(): void {
    if (this.#handle === null) return;
    forgotten.unregister(this);
    library().case_free(this.#handle);
    this.#handle = null;
  }

  [Symbol.dispose](): void {
    this.close();
  }

  /**
   * Assesses cases of one model at once, as `assess` does each but faster: those with evidence on the same
   * observations are computed side by side, and `threads` share the work. Throws for the first that cannot be
   * assessed, with a pointer that begins with "/cases/" and its index; the others are assessed all the same. What
   * was assessed when the call is ended stays so.
   */
  static assessAll(cases: Case[], { threads = 1, ...ending }: { threads?: number } & Ending = {}): void {
    const count = threadCount(threads);
    const handles = cases.map((theCase) => {
      if (theCase.#handle === null) throw new Error("a case is closed");
      return theCase.#handle;
    });
    const error: Out<Handle> = [null];
    until(ending, (options) =>
      check(library().cases_assess(handles, handles.length, count, options, null, error), error));
  }

  #call(call: (theCase: Handle, error: Out<Handle>) => number): void {
    if (this.#handle === null) throw new Error("the case is closed");
    const error: Out<Handle> = [null];
    check(call(this.#handle, error), error);
  }

  #index(observation: string): number {
    const index = this.#observations.indexOf(observation);
    if (index >= 0) return index;
    throw new FaultoddsError("invalid_argument", `unknown observation \`${observation}\``);
  }
}
