/** Discrete Bayesian networks in general, of hydraulics or not: exact posteriors. */
import { FaultoddsError } from "./error.js";
import { CONSTANTS, SIZES } from "./declarations.js";
import { check, library } from "./library.js";
import type { Handle, NetworkEvidenceLine, Out } from "./declarations.js";
import { bytes, whole } from "./text.js";
import { until } from "./until.js";
import type { Ending } from "./until.js";

const FORMATS = { bif: CONSTANTS.BIF, xmlbif: CONSTANTS.XMLBIF };

export interface NetworkOptions extends Ending {
  /** BIF 0.15, which is the default, or XMLBIF 0.3. */
  format?: "bif" | "xmlbif";
  /** Bytes of inference tables; 0 for the library's default of 1 GiB. */
  memoryBudget?: number;
}

/** Of each variable that is known about: its state, or a likelihood over its states. */
export type NetworkEvidenceOf = Record<string, string | number[]>;

export interface NetworkAnswer {
  /** Natural logarithm of the probability of the evidence. */
  logEvidence: number;
  /** Of every variable, the probability of each of its states, in the order of `states`. */
  posteriors: Map<string, number[]>;
}

// What was neither closed nor disposed of is freed when it is collected.
const forgotten = new FinalizationRegistry<Handle>((handle) => library().network_free(handle));

/** A compiled network. Immutable. `close` (or `using`) frees it; every method afterwards throws. */
export class Network {
  #handle: Handle | null;
  readonly #states: Map<string, string[]>;
  readonly #index: Map<string, number>;

  constructor(text: string, { format = "bif", memoryBudget = 0, ...ending }: NetworkOptions = {}) {
    const lib = library();
    const encoded = bytes(text);
    const budget = whole("memoryBudget", memoryBudget, 0);
    const network: Out<Handle> = [null];
    const error: Out<Handle> = [null];
    until(ending, (call) =>
      check(
        lib.network_load(
          encoded, encoded.length, FORMATS[format],
          { struct_size: SIZES.network_options, memory_budget: budget, cancel: call?.cancel ?? null },
          network, error),
        error));
    const handle = network[0]!;
    this.#handle = handle;
    forgotten.register(this, handle, this);
    const each = <T>(count: number, of: (index: number) => T): T[] => Array.from({ length: count }, (_, i) => of(i));
    this.#states = new Map(
      each(lib.network_variable_count(handle), (variable) => [
        lib.network_variable_name(handle, variable),
        each(lib.network_state_count(handle, variable), (state) => lib.network_state_name(handle, variable, state)),
      ]),
    );
    this.#index = new Map([...this.#states.keys()].map((name, variable) => [name, variable]));
  }

  /** Names of the variables, in the order of the text. */
  variables(): string[] {
    return [...this.#states.keys()];
  }

  /** Names of the states of a variable. */
  states(variable: string): string[] {
    return [...this.#statesOf(variable)];
  }

  /** Posteriors of all variables. Impossible evidence is an error that names the variables in conflict. */
  query(evidence: NetworkEvidenceOf = {}, ending: Ending = {}): NetworkAnswer {
    const handle = this.#open();
    const lib = library();
    const known = Object.entries(evidence).map(([variable, what]) => this.#evidence(variable, what));
    const posteriors = new Float64Array(lib.network_posterior_count(handle));
    const logEvidence: Out<number> = [null];
    const error: Out<Handle> = [null];
    until(ending, (options) =>
      check(
        lib.network_query(
          handle, known.length > 0 ? known : null, known.length, options, posteriors, posteriors.length, [null],
          logEvidence, error),
        error));
    let at = 0;
    return {
      logEvidence: logEvidence[0]!,
      posteriors: new Map(
        [...this.#states].map(([variable, states]) => [variable, [...posteriors.subarray(at, (at += states.length))]]),
      ),
    };
  }

  /** Frees the network. May be called again. */
  close(): void {
    if (this.#handle === null) return;
    forgotten.unregister(this);
    library().network_free(this.#handle);
    this.#handle = null;
  }

  [Symbol.dispose](): void {
    this.close();
  }

  #open(): Handle {
    if (this.#handle === null) throw new Error("the network is closed");
    return this.#handle;
  }

  #statesOf(variable: string): string[] {
    const states = this.#states.get(variable);
    if (states) return states;
    throw new FaultoddsError("invalid_argument", `unknown variable \`${variable}\``);
  }

  #evidence(variable: string, what: string | number[]): NetworkEvidenceLine {
    const states = this.#statesOf(variable);
    const line = { struct_size: SIZES.network_evidence, variable: this.#index.get(variable)! };
    if (typeof what !== "string") {
      return { ...line, state: -1, likelihood: Float64Array.from(what), likelihood_count: what.length };
    }
    const state = states.indexOf(what);
    if (state < 0) throw new FaultoddsError("invalid_argument", `\`${variable}\` has no state \`${what}\``);
    return { ...line, state, likelihood: null, likelihood_count: 0 };
  }
}
