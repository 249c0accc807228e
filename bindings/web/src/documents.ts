/** The documents that the element reads and writes: answers with `detail: "screen"` and plans as the library's binding
 * types them (answers.ts), the others here; capi/documents/README.md has the whole of them. */
import type * as answers from "./answers.js";

export type { Causes, Fault, NoPressure, Plan, PlanNode, RepairSet, Said, SaidValue } from "./answers.js";
/** What limits a test pressure. */
export type { PressureLimit as Limit } from "./answers.js";

/** What a test is made with, of a test or of all that is to be brought. */
export type Fitting = Pick<answers.FittingToBring, "what"> & Partial<answers.FittingToBring>;

/** Cautions are referred to, besides those for all work; their texts are in the answer's `further_cautions`. */
interface Referring {
  caution_ids: string[];
}

export type Test = answers.Test & Referring;

export type Advice = Omit<answers.Advice, "verify"> & { verify: (answers.Verify & Referring)[] };

export type Assessment = Omit<answers.Assessment, "tests" | "advice"> & {
  tests: Test[];
  further_tests: answers.NamedTest[];
  advice?: Advice;
  /** Those that tests refer to, by id. */
  further_cautions: Record<string, string>;
};

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
