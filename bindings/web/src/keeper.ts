/**
 * Keeps a work order in the browser, so that neither a reload nor a lost connection loses an entry. Each tab keeps what
 * it has under a name of its own; what all of them have is brought together, so that none writes over another's.
 */
import { Unreachable } from "./assessor.js";
import type { Assessment, CaseDocument, Model } from "./documents.js";
import { merge } from "./merge.js";
import type { Merged } from "./merge.js";

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

/** What tabs kept, brought together. */
export interface Recalled extends Kept {
  /** The answer is of the case as one of several had it. */
  merged: boolean;
  /** The case of each other tab, by its name, as it was brought in. */
  tabs: Map<string, CaseDocument>;
  /** Observations that two tabs entered with different results. */
  twice: Merged["twice"];
}

/** A name that no other tab has. Not of `randomUUID`, which pages without https lack. */
export function newTab(): string {
  return Array.from(crypto.getRandomValues(new Uint32Array(4)), (part) => part.toString(16).padStart(8, "0")).join("");
}

/** The names of the tabs of a work order begin with it. */
function address(circuit: string, id: string): string {
  return `faultodds/${encodeURIComponent(circuit)}/${encodeURIComponent(id)}/`;
}

/** The tab that `key` of the browser's storage is of, if it is of this work order; "" in what 0.1 wrote. */
export function tabOf(key: string, circuit: string, id: string): string | null {
  if (key === `faultodds/${circuit}/${id}`) return "";
  const start = address(circuit, id);
  return key.startsWith(start) && !key.slice(start.length).includes("/") ? key.slice(start.length) : null;
}

/** Null where `text` is not what was kept of the work order. */
export function keptOf(text: string | null, id: string): Kept | null {
  try {
    const kept = JSON.parse(text ?? "null") as Kept | null;
    return kept && kept.theCase.id === id && Array.isArray(kept.theCase.observations) ? kept : null;
  } catch {
    return null;
  }
}

/** False where there is no room, or storing is forbidden: the page's own events still carry every change. */
export function keep(circuit: string, id: string, tab: string, kept: Kept): boolean {
  try {
    localStorage.setItem(address(circuit, id) + tab, JSON.stringify(kept));
    return true;
  } catch {
    return false;
  }
}

function keysOf(circuit: string, id: string): string[] {
  try {
    return Array.from({ length: localStorage.length }, (_, i) => localStorage.key(i) ?? "").filter(
      (key) => tabOf(key, circuit, id) !== null);
  } catch {
    return []; // forbidden
  }
}

/** `given`: the case as the page has it, which a tab went on from that says nothing else. */
export function recall(circuit: string, id: string, tab: string, given: CaseDocument): Recalled | null {
  const all = keysOf(circuit, id).flatMap((key) => {
    const kept = keptOf(localStorage.getItem(key), id);
    return kept ? [{ tab: tabOf(key, circuit, id)!, kept }] : [];
  });
  // This tab's own first, then those with the newest answer.
  all.sort((a, b) => Number(b.tab === tab) - Number(a.tab === tab) || ((a.kept.at ?? "") < (b.kept.at ?? "") ? 1 : -1));
  const [first, ...others] = all;
  if (!first) return null;
  const found: Recalled = { ...first.kept, merged: others.length > 0, tabs: new Map(), twice: [] };
  if (first.tab !== tab) found.tabs.set(first.tab, first.kept.theCase);
  for (const other of others) {
    // What was done there since its base is done to this case too.
    const { theCase, twice } = merge(other.kept.base ?? given, found.theCase, other.kept.theCase);
    found.theCase = theCase;
    found.twice.push(...twice);
    found.model ??= other.kept.model;
    found.tabs.set(other.tab, other.kept.theCase);
  }
  return found;
}

/** Removes what other tabs kept, once all of it is kept here. One that is still open keeps its own anew when it changes. */
export function takeOver(circuit: string, id: string, tabs: Iterable<string>): void {
  for (const tab of tabs) localStorage.removeItem(tab === "" ? `faultodds/${circuit}/${id}` : address(circuit, id) + tab);
}

export function forget(circuit: string, id: string): void {
  for (const key of keysOf(circuit, id)) {
    if (keptOf(localStorage.getItem(key), id)) localStorage.removeItem(key);
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
