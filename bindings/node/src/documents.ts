/** The documents, as capi/documents/README.md describes them. What goes in is typed loosely: the library checks it. */

import type { Assessment, Grades } from "./answers.js";

export type * from "./answers.js";

/** An object of the JSON, or its text. */
export type Document = object | string;

/** All that is to be shown before a test, those for all work first. */
export function cautionsOf(answer: Assessment, test: { cautions?: string[]; caution_ids?: string[] }): string[] {
  if (test.cautions) return test.cautions;
  const further = new Map(Object.entries(answer.further_cautions ?? {}));
  return [...answer.cautions, ...(test.caution_ids ?? []).map((id) => further.get(id) ?? id)];
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
