/** The documents, as capi/documents/README.md describes them. What goes in is typed loosely: the library checks it. */

/** An object of the JSON, or its text. */
export type Document = object | string;

/** P(sound), P(worn), P(failed). */
export type Grades = [sound: number, worn: number, failed: number];

/** "faultodds-assessment/1" */
export interface Assessment {
  format: "faultodds-assessment/1";
  /** What a screen needs; absent in the whole answer, `detail: "full"` of a case (FullAssessment). */
  detail?: "screen";
  circuit: string;
  asset?: Record<string, unknown>;
  /** What is probably behind each abnormal symptom, the complaint first. */
  causes: Causes[];
  /** The abnormal symptoms. */
  complaint: string[];
  /** The likeliest. */
  faults: Fault[];
  /** The next ones, best first; the one that `advice` names before all others. */
  tests: Test[];
  /** Those after them, by name. */
  further_tests?: FurtherTest[];
  /** Of all that can be made. */
  test_count?: number;
  /** Tests that the case says cannot be made; absent where it says so of none. */
  not_possible?: NotPossible[];
  /** Tests left out for want of people or time; absent where there are none. */
  not_proposed?: { observation: string; reason: "people" | "ready_within"; why: string; why_said: Said[] }[];
  /** Of all that are left out, of which an answer for a screen has five. */
  not_proposed_count?: number;
  /** Absent without a complaint, or where the case asked for none. */
  advice?: Advice;
  /** What is worth checking now; only with `focus` "circuit" and nothing abnormal seen. */
  before_service?: BeforeService;
  warnings: string[];
  warnings_said: Said[];
  /** For all work. */
  cautions: string[];
  /** Texts of what tests refer to (`caution_ids`); cautionsOf() puts them together. */
  further_cautions?: Record<string, string>;
}

/** The whole answer. */
export interface FullAssessment extends Assessment {
  detail?: never;
  /** Natural logarithm of the probability (density, for readings) of what was seen. */
  log_evidence: number;
  method: "exact" | { name: string; error_bound: number };
  /** Every one, in the order of the circuit. */
  faults: FullFault[];
  tests: FullTest[];
  /** Holds that are not proposed, and why. */
  withheld: { observation: string; reason: string; volume: string; part?: string; why: string }[];
  ambiguity_groups: string[][];
}

/** Sentences as ids of the message catalogues (capi/words) with their values, for words of one's own. */
export interface Said {
  id: string;
  values?: Record<string, unknown>;
}

/** All that is to be shown before a test, those for all work first. */
export function cautionsOf(answer: Assessment, test: { cautions?: string[]; caution_ids?: string[] }): string[] {
  if (test.cautions) return test.cautions;
  const further = new Map(Object.entries(answer.further_cautions ?? {}));
  return [...answer.cautions, ...(test.caution_ids ?? []).map((id) => further.get(id) ?? id)];
}

/** Why an observation is as it is. The shares and the three numbers after them sum to 1. */
export interface Causes {
  observation: string;
  /** Components that together may be the cause, most probable first. */
  shares: { components: string[]; probability: number }[];
  /** What leaks although all is sound. */
  by_design: number;
  /** Those that are not listed; in an answer for a screen. */
  rest?: number;
  /** Something that the circuit document does not describe. */
  elsewhere: number;
  /** Nothing wrong: a false report. */
  nothing: number;
}

export interface Fault {
  /** "component.mode" */
  mode: string;
  component: string;
  title: string;
  grades: Grades;
  /** Odds of not sound; null where infinite. */
  posterior_odds: number | null;
}

export interface FullFault extends Fault {
  /** Failure-mode code of ISO 14224. */
  code: string;
  /** Odds of not sound; null where infinite. */
  prior_odds: number | null;
  /** Weight of the evidence; null where infinite or undefined. */
  decibans: number | null;
}

/** What tests share has `minutes`. */
export interface Step {
  id: string;
  title: string;
  minutes?: number;
}

export interface FurtherTest {
  observation: string;
  title: string;
  kind: Test["kind"];
  minutes: number;
  energised: boolean;
}

export interface Test {
  observation: string;
  title: string;
  kind: "static" | "drift" | "delivery" | "flow" | "look" | "temperature" | "symptom" | "test";
  /** Of each outcome, the normal one first. */
  probability: Record<string, number>;
  /** About the cause of the complaint. */
  cause_bits: number;
  /** Setup not yet done included. */
  minutes: number;
  /** null or absent: from the maker's documents */
  test_pressure?: string | null;
  /** Everything left to do before the test, in order. */
  steps: Step[];
  /** Ids of all steps that it shares with others, done or not; in an answer for a screen. */
  setup_ids?: string[];
  /** What ends the test, in order. */
  afterwards: Step[];
  /** What limits the test pressure. */
  pressure_limit?: {
    volume: string; by: string; part?: string; stands: string; factor?: number; suspect?: string; why: string;
  } | null;
  /** Why the test pressure is to be had from the maker's documents. */
  no_pressure?: { reason: string; volume: string; part?: string; why: string } | null;
  /** It is made once more: what was seen of it is doubtful. */
  again?: boolean;
  people?: number;
  bring: Fitting[];
  energised: boolean;
  /** To be shown before the test, besides those for all work: cautionsOf(). */
  caution_ids?: string[];
  because: string;
  because_said: Said[];
  suspects: string[];
}

export interface FullTest extends Test {
  information_bits: number;
  bits_per_minute: number;
  /** Of `steps`, what tests share. */
  setup: { id: string; title: string; minutes: number }[];
  test_pressure: string | null;
  /** To be shown before the test. */
  cautions: string[];
}

export interface Fitting {
  what: string;
  port?: string | null;
  standard?: string | null;
  size?: string | null;
  rated_for?: string | null;
}

export interface Repair {
  components: string[];
  cost: number;
  residual_risk: number;
  expected_cost: number;
}

export interface Advice {
  stop: boolean;
  reason: string;
  reason_said: Said[];
  test: string | null;
  currency: string;
  come_back: number;
  /** What was seen contradicts itself: the most doubtful of it. Nothing is ordered before it was looked at again. */
  contradiction?: { observation: string; wrong: number; any_wrong: number };
  /** The technician's own next test; `instead_of` is null where it would be advised to stop. */
  own_order?: { test: string; instead_of: string | null; extra_cost: number };
  /** What the time in which the machine must run allows. */
  in_time?: {
    ready_within: number;
    minutes: number;
    too_long: { component: string; minutes: number; lead_days: number }[];
    later: Repair | null;
  };
  repair: Repair;
  /** This and the next in the whole answer alone. */
  alternatives?: Repair[];
  tests?: { observation: string; minutes: number; cost: number; expected_saving: number }[];
  verify: {
    observation: string;
    title: string;
    minutes: number;
    normal?: number;
    risk_if_normal: number;
    is_complaint: boolean;
    energised: boolean;
    cautions?: string[];
    caution_ids?: string[];
  }[];
  /** The rest is in capi/documents/README.md. */
  [more: string]: unknown;
}

/** What is worth checking on a machine that nobody complains of. */
export interface BeforeService {
  currency: string;
  /** Most net saving a minute first. */
  tests: {
    observation: string;
    minutes: number;
    cost: number;
    expected_saving: number;
    net: number;
    finds: { component: string; probability: number }[];
  }[];
  /** Parts worth replacing as it is. */
  replace: { component: string; fails: number; saving: number }[];
  not_reckoned?: string[];
}

/** "faultodds-plan/1": the tests to make one after the other, by outcome. */
export interface Plan {
  format: "faultodds-plan/1";
  circuit: string;
  /** To be shown before everything. */
  cautions: string[];
  asset?: Record<string, unknown>;
  /** null where nothing abnormal is recorded; then `tree` is, too, and the rest is absent. */
  complaint: string | null;
  currency?: string;
  come_back?: number;
  /** Estimate of the share of what is probable that the answer leaves out; absent where it is exact. */
  approximate?: number;
  /** Probability of all branches that are not followed. */
  left_out?: number;
  bring?: { items: (Fitting & { count: number; ports: string[] })[]; gauge_for: string | null };
  /** Which parts are probably needed. */
  parts?: { component: string; probability: number }[];
  not_possible?: NotPossible[];
  warnings?: string[];
  tree: PlanNode | null;
}

/** A test (`test` and what belongs to it) or an end (`replace`, `verify`); neither where it was cut. */
export interface PlanNode {
  /** Probability of coming here. */
  reached: number;
  /** Why it goes no further: four tests were made, the call was ended, or a limit was reached. */
  cut?: "depth" | "time" | "limit";
  /** To be shown before the test. */
  cautions?: string[];
  test?: string;
  title?: string;
  energised?: boolean;
  /** It was made before, and is looked at once more. */
  again?: boolean;
  /** Because what was seen contradicts itself. */
  contradicts?: boolean;
  minutes?: number;
  bring?: Fitting[];
  /** Between which effects the outcomes lie, where that was solved. */
  limits?: { unit: string; first: number; second: number; floor: number; resolution: number; seconds?: number };
  /** `then` is null where the branch is not followed. */
  branches?: { outcome: string; probability: number; then: PlanNode | null }[];
  replace?: Repair;
  verify?: Advice["verify"];
}

/** A test that cannot be made on this machine. */
export interface NotPossible {
  observation: string;
  title: string;
  reason: string;
}

/** "faultodds-proposals/1": what the words of a complaint may mean, the likeliest first. */
export interface Proposals {
  format: "faultodds-proposals/1";
  language: string;
  proposals: { observation: string; outcome: string; score: number; because: string[] }[];
}

/** "faultodds-model/1": what a circuit can show. */
export interface Description {
  format: "faultodds-model/1";
  circuit: string;
  title: string;
  modes: { mode: string; component: string; type: string; code: string; title: string; prior: Grades }[];
  observations: {
    observation: string;
    title: string;
    kind: string;
    symptom: boolean;
    energised: boolean;
    outcomes: string[];
    minutes: number;
    [more: string]: unknown;
  }[];
  cautions: string[];
  [more: string]: unknown;
}
