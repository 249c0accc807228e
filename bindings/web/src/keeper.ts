/** Keeps a work order in the browser, so that neither a reload nor a lost connection loses an entry. */
import { Unreachable } from "./assessor.js";
import type { Assessment, CaseDocument, Model } from "./documents.js";

export interface Kept {
  theCase: CaseDocument;
  /** The case as the page or the store of cases last had it, which `theCase` may be ahead of. */
  base: CaseDocument | null;
  /** Which state of the stored case that was. */
  revision: string | null;
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

/** The text at `url`: from there, and then kept; without a connection the one that was kept. */
export async function keptText(url: string, request: RequestInit = {}): Promise<string> {
  // Undefined on pages that did not come over https or from this machine.
  const cache = await globalThis.caches?.open("faultodds").catch(() => undefined);
  try {
    const response = await fetch(url, request);
    if (response.ok) {
      await cache?.put(url, response.clone()).catch(() => {}); // storage is full: as if it were not kept
      return await response.text();
    }
  } catch {
    // No connection.
  }
  const kept = await cache?.match(url);
  if (!kept) throw new Unreachable(`${url} cannot be had`);
  return kept.text();
}
