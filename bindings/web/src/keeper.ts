/** Keeps a work order in the browser, so that neither a reload nor a lost connection loses an entry. */
import type { Assessment, CaseDocument, Model } from "./documents.js";

export interface Kept {
  theCase: CaseDocument;
  model: Model | null;
  assessment: Assessment | null;
  /** When the assessment was made, ISO 8601. */
  at: string | null;
}

const address = (circuit: string, id: string): string => `faultodds/${circuit}/${id}`;

export function keep(circuit: string, id: string, kept: Kept): void {
  try {
    localStorage.setItem(address(circuit, id), JSON.stringify(kept));
  } catch {
    // Storage is full or forbidden: the page's own events still carry every change.
  }
}

export function recall(circuit: string, id: string): Kept | null {
  try {
    return JSON.parse(localStorage.getItem(address(circuit, id)) ?? "null") as Kept | null;
  } catch {
    return null;
  }
}

export function forget(circuit: string, id: string): void {
  try {
    localStorage.removeItem(address(circuit, id));
  } catch {
    // As above.
  }
}
