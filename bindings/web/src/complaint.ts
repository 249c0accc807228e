/** The first screen: what is wrong, in the technician's words or from the list. Until then nothing is ranked. */
import type { Entry, Observation } from "./documents.js";
import { h } from "./dom.js";
import { button, section } from "./view.js";
import type { Words } from "./words.js";

/** A symptom and outcome that words may mean, the likeliest first. */
export interface Proposal {
  observation: string;
  outcome?: string;
}

/** Finds what words mean: the page's own, else the assessor's; without either titles are searched. */
export type Propose = (text: string, language: string) => Promise<Proposal[]>;

const SHOWN = 3;
const PAUSE = 200; // milliseconds without a key before it is asked

export function complaintStep(
  words: Words,
  given: string,
  propose: Propose | null,
  enter: (entry: Entry) => void,
): HTMLElement {
  const symptoms = words.model.observations.filter(({ symptom }) => symptom);
  const found = h("div", { class: "found", "aria-live": "polite" });
  const list = h("ul", { class: "rows" });
  const input = h("input", { id: "complaint-words", type: "text", autocomplete: "off", value: given });
  let asked = 0;
  let timer = 0;

  const take = (observation: string, outcome: string): void =>
    enter({ observation, outcome, at: new Date().toISOString().replace(/\.\d+/, "") });
  const outcomesOf = (symptom: Observation): HTMLElement =>
    h("div", { class: "actions" }, ...symptom.outcomes.slice(1).map((outcome) =>
      button(words.outcome(outcome), () => take(symptom.observation, outcome), false,
        { "aria-label": `${words.observation(symptom.observation)}: ${words.outcome(outcome)}` })));
  const proposed = (proposals: Proposal[]): void => {
    const known = proposals.flatMap(({ observation, outcome }) => {
      // Oil outside, say, is no symptom of the list, but what somebody may have seen.
      const symptom = words.model.observations.find((one) => one.observation === observation);
      return symptom ? [{ symptom, outcome: outcome && symptom.outcomes.includes(outcome) ? outcome : null }] : [];
    });
    found.replaceChildren(
      ...(known.length === 0
        ? [h("p", {}, words.ui("noProposal"))]
        : [h("p", {}, words.ui("proposals")), ...known.slice(0, SHOWN).map(({ symptom, outcome }) =>
            outcome
              ? button(`${words.observation(symptom.observation)}: ${words.outcome(outcome)}`, () => take(symptom.observation, outcome), true)
              : h("div", {}, h("p", {}, h("b", {}, words.observation(symptom.observation))), outcomesOf(symptom)))]));
  };
  const ask = async (): Promise<void> => {
    const text = input.value.trim();
    const mine = ++asked;
    if (!text) return found.replaceChildren();
    const titles = byTitle(words, symptoms);
    // Where words cannot be asked about (no connection, a language without words), titles are searched.
    const proposals = await (propose ?? titles)(text, words.language).catch(() => titles(text, words.language));
    if (mine === asked) proposed(proposals);
  };
  input.addEventListener("input", () => {
    clearTimeout(timer);
    timer = window.setTimeout(() => void ask(), PAUSE);
  });
  for (const symptom of symptoms) {
    list.append(h("li", {}, h("details", { "data-keep": `symptom-${symptom.observation}`, name: "symptom" },
      h("summary", {}, words.observation(symptom.observation)), h("p", {}, words.ui("howBad")), outcomesOf(symptom))));
  }
  if (given) void ask();
  return section(
    "complaint",
    words.ui("complaint"),
    h("p", {}, h("label", { for: input.id }, words.ui("complaintWords")), h("br"), input),
    found,
    h("h3", { class: "part" }, words.ui("symptoms")),
    list,
  );
}

/** Symptoms whose title has a word, of four letters or more, that begins like one of the text. */
function byTitle(words: Words, symptoms: Observation[]): Propose {
  const wordsOf = (text: string): string[] => text.toLocaleLowerCase(words.language).match(/\p{L}{3,}/gu) ?? [];
  return async (text) => {
    const sought = wordsOf(text).map((word) => word.slice(0, 4));
    return symptoms
      .map(({ observation }) => ({
        observation,
        hits: wordsOf(words.observation(observation)).filter((word) => sought.some((start) => word.startsWith(start))).length,
      }))
      .filter(({ hits }) => hits > 0)
      .sort((a, b) => b.hits - a.hits)
      .map(({ observation }) => ({ observation }));
  };
}
