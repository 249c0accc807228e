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

/** A sentence as an id of the message catalogues, with its values. */
export interface Said {
  id: string;
  values?: Record<string, SaidValue>;
}

export type SaidValue =
  | string
  | number
  | { share: number }
  | { minutes: number }
  | { money: number; currency: string }
  | { decibans: number }
  | { observation: string }
  | { components: string[] }
  | { modes: string[]; shares?: number[]; more?: number };

/** What limits a test pressure. */
export interface Limit {
  volume: string;
  by: string;
  part?: string;
  stands?: string;
  factor?: number;
  suspect?: string;
  why: string;
}

/** Why there is no figure for a pressure. */
export interface NoPressure {
  reason: string;
  volume: string;
  part?: string;
  why: string;
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
  /** Ids of all steps that it shares with others, done or not. */
  setup_ids?: string[];
  /** Of an answer that is the whole one: those not done. */
  setup?: { id: string }[];
  /** Everything left to do before the test, in order; what tests share has `minutes`. */
  steps: { id: string; title: string; minutes?: number }[];
  /** What ends the test, in order. */
  afterwards: { id: string; title: string; minutes?: number }[];
  /** Between which effects its outcomes lie; of a hold also the seconds to half its pressure. */
  limits?: { seconds?: number };
  /** What limits the test pressure. */
  pressure_limit?: Limit | null;
  /** Why the test pressure is to be had from the maker's documents. */
  no_pressure?: NoPressure | null;
  bring: Fitting[];
  energised: boolean;
  /** Besides those for all work; their texts are in the answer's `further_cautions`. */
  caution_ids: string[];
  because: string;
  because_said?: Said[];
  suspects: string[];
}

export interface Repair {
  components: string[];
  cost: number;
  residual_risk: number;
}

export interface Advice {
  elsewhere?: number;
  unfounded?: number;
  renewed_shows?: boolean;
  stop: boolean;
  reason: string;
  reason_said?: Said[];
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
  warnings_said?: Said[];
  /** For all work. */
  cautions: string[];
  /** Those that tests refer to, by id. */
  further_cautions: Record<string, string>;
}

export interface Observation {
  observation: string;
  title: string;
  /** The circuit's document calls it so; else the id says what it is. */
  own_title?: boolean;
  /** Of a delivery: what the document calls the function. */
  subject?: string;
  kind: string;
  symptom: boolean;
  outcomes: string[];
}

/** What the circuit can show, "faultodds-model/1". */
export interface Model {
  circuit: string;
  title: string;
  /** Of what the circuit's document names, by language and id. */
  titles?: Record<string, Record<string, string>>;
  components: { id: string; title: string }[];
  modes: { mode: string; component: string; title: string }[];
  observations: Observation[];
  cautions: string[];
}

/** "faultodds-plan/1": what is asked now, and what after each outcome. */
export interface Plan {
  /** For all work. */
  cautions: string[];
  /** null where nothing abnormal is recorded, as `tree` then. */
  complaint: string | null;
  bring?: { items: (Fitting & { count: number })[]; gauge_for: string | null };
  parts?: { component: string; probability: number }[];
  tree: PlanNode | null;
}

/** A test, or an end with what is to be replaced; neither where it was cut. */
export interface PlanNode {
  /** Probability of coming here. */
  reached?: number;
  cut?: string;
  /** Of the test, with `caution_ids` beside them. */
  cautions?: string[];
  caution_ids?: string[];
  test?: string;
  kind?: string;
  energised?: boolean;
  again?: boolean;
  contradicts?: boolean;
  minutes?: number;
  test_pressure?: string;
  limits?: { unit?: string; first?: number; second?: number; seconds?: number };
  branches?: { outcome: string; probability: number; then: PlanNode | null }[];
  /** Of a test whose branches are left out. */
  outcomes?: string[];
  replace?: Repair;
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
