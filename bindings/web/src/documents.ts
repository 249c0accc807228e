/** The parts of the documents that the element reads and writes, answers with `detail: "screen"`; capi/documents/README.md
 * has the whole of them. */

export interface Fault {
  mode: string;
  component: string;
  title: string;
  grades: [number, number, number];
  posterior_odds: number | null;
}

/** Why an observation is as it is. The shares and the three numbers after them sum to 1. */
export interface Causes {
  observation: string;
  shares: { components: string[]; probability: number }[];
  by_design: number;
  elsewhere: number;
  nothing: number;
}

export interface Fitting {
  what: string;
  port?: string | null;
  standard?: string | null;
  size?: string | null;
  rated_for?: string | null;
}

export interface Test {
  observation: string;
  title: string;
  kind: string;
  probability: Record<string, number>;
  cause_bits: number;
  minutes: number;
  test_pressure?: string | null;
  /** It is made once more: what was seen of it contradicts the rest. */
  again?: boolean;
  people?: number;
  /** Everything left to do before the test, in order; what tests share has `minutes`. */
  steps: { id: string; title: string; minutes?: number }[];
  /** What ends the test, in order. */
  afterwards: { id: string; title: string; minutes?: number }[];
  /** Between which effects its outcomes lie; of a hold also the seconds to half its pressure. */
  limits?: { seconds?: number };
  /** What limits the test pressure. */
  pressure_limit?: { volume: string; by: string; why: string } | null;
  /** Why the test pressure is to be had from the maker's documents. */
  no_pressure?: { reason: string; volume: string; why: string } | null;
  bring: Fitting[];
  energised: boolean;
  /** Besides those for all work; their texts are in the answer's `further_cautions`. */
  caution_ids: string[];
  because: string;
  suspects: string[];
}

export interface Repair {
  components: string[];
  cost: number;
  residual_risk: number;
}

export interface Advice {
  elsewhere?: number;
  stop: boolean;
  reason: string;
  test: string | null;
  currency: string;
  /** What was seen contradicts itself: the most doubtful of it. */
  contradiction?: { observation: string; wrong: number; any_wrong: number };
  repair: Repair;
  verify: { observation: string; title: string; minutes: number; energised: boolean; caution_ids: string[] }[];
}

export interface Assessment {
  causes: Causes[];
  complaint: string[];
  faults: Fault[];
  /** The next ones, whole. */
  tests: Test[];
  /** Others, by name. */
  further_tests: { observation: string; title: string; minutes: number; energised: boolean }[];
  advice?: Advice;
  warnings: string[];
  /** For all work. */
  cautions: string[];
  /** Those that tests refer to, by id. */
  further_cautions: Record<string, string>;
}

export interface Observation {
  observation: string;
  title: string;
  kind: string;
  symptom: boolean;
  outcomes: string[];
  setup: string[] | { id: string }[];
}

/** What the circuit can show, "faultodds-model/1". */
export interface Model {
  title: string;
  /** Of what the circuit's document names, by language and id. */
  titles?: Record<string, Record<string, string>>;
  components: { id: string; title: string }[];
  modes: { mode: string; component: string; title: string }[];
  observations: Observation[];
  cautions: string[];
}

export type Reading = Record<string, string>;

/** One entry of a case's `observations`. */
export type Entry =
  | { observation: string; outcome: string; at?: string; note?: string }
  | { observation: string; reading: Reading; at?: string; note?: string }
  | { observation: string; likelihood: number[]; at?: string; note?: string }
  | { repaired: string[]; at?: string; note?: string }
  | { not_possible: string; reason: string; at?: string; note?: string };

/** "faultodds-case/1". What the element does not know it leaves as it is. */
export interface CaseDocument {
  format: "faultodds-case/1";
  id?: string;
  circuit?: string;
  observations: Entry[];
  setup_done?: string[];
  [more: string]: unknown;
}
