/** Brings together two states of one case that went on from a common one: here without a connection, and elsewhere. */
import type { CaseDocument, Entry } from "./documents.js";
import { own } from "./own.js";

export interface Merged {
  theCase: CaseDocument;
  /** Entries made elsewhere. */
  elsewhere: Entry[];
  /** The same was observed here and elsewhere, with different results. Both are in `theCase`. */
  twice: { here: Entry; elsewhere: Entry }[];
}

const same = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);

/** What is in `list` and not in `others`, each as often as it is more often there. */
function without<T>(list: T[], others: T[]): T[] {
  const left = [...others];
  return list.filter((item) => {
    const at = left.findIndex((other) => same(other, item));
    if (at >= 0) left.splice(at, 1);
    return at < 0;
  });
}

/** Nothing is in one and not in the other; the order of entries and members says nothing. */
export function alike(a: CaseDocument, b: CaseDocument): boolean {
  const within = (one: CaseDocument, other: CaseDocument): boolean =>
    without(one.observations, other.observations).length === 0
    && without(one.setup_done ?? [], other.setup_done ?? []).length === 0
    && Object.entries(one).every(
      ([key, value]) => key === "observations" || key === "setup_done" || same(value, own(other, key)));
  return within(a, b) && within(b, a);
}

// Entries in the order in which they were made, where they say when: what was replaced divides them.
function insert(entries: Entry[], entry: Entry): void {
  const later = entries.findIndex((other) => entry.at && other.at && other.at > entry.at);
  entries.splice(later < 0 ? entries.length : later, 0, entry);
}

/** What was taken back on either side stays away, what was entered on either side stays. */
export function merge(base: CaseDocument, here: CaseDocument, elsewhere: CaseDocument): Merged {
  const addedElsewhere = without(elsewhere.observations, base.observations);
  const addedHere = without(without(here.observations, base.observations), addedElsewhere);
  const takenBack = without(base.observations, here.observations);
  const observations = without(elsewhere.observations, takenBack);
  for (const entry of addedHere) insert(observations, entry);

  const done = without(elsewhere.setup_done ?? [], without(base.setup_done ?? [], here.setup_done ?? []));
  const changed = Object.entries(here).filter(
    ([key, value]) => key !== "observations" && key !== "setup_done" && !same(value, own(base, key)));
  // Not by assignment, which takes a member `__proto__` for something else.
  const theCase: CaseDocument = { ...elsewhere, ...Object.fromEntries(changed), observations };
  const setup = [...done, ...without(here.setup_done ?? [], done)].filter(
    (step) => here.setup_done?.includes(step) || !base.setup_done?.includes(step));
  if (setup.length > 0 || theCase.setup_done) theCase.setup_done = setup;

  const twice = addedHere.flatMap((mine) => {
    const theirs = addedElsewhere.find(
      (entry) => "observation" in entry && "observation" in mine && entry.observation === mine.observation
        && !same({ ...entry, at: "", note: "" }, { ...mine, at: "", note: "" }));
    return theirs ? [{ here: mine, elsewhere: theirs }] : [];
  });
  return { theCase, elsewhere: without(addedElsewhere, here.observations), twice };
}
