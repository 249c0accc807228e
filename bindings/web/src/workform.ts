/** What there is to work with: `work` of the case, as the technician says it. */
import type { Assessment, CaseDocument } from "./documents.js";
import { h } from "./dom.js";
import { folded } from "./view.js";
import type { Words } from "./words.js";

interface Work {
  people?: number;
  ready_within?: number;
  block_load?: number;
  at_hand?: { parts?: string[]; fittings?: { what: string; standard?: string; size?: string }[] };
  [more: string]: unknown;
}

export function workForm(
  words: Words,
  theCase: CaseDocument,
  answer: Assessment,
  use: (work: Record<string, unknown>) => void,
): HTMLElement {
  const work = (theCase.work ?? {}) as Work;
  const parts = [...new Set(answer.causes.flatMap(({ shares }) => shares.flatMap(({ components }) => components)))];
  const fittings = new Map(answer.tests.flatMap(({ bring }) => bring).map(({ what, standard, size }) => {
    const one = { what, ...(standard ? { standard } : {}), ...(size ? { size } : {}) };
    return [JSON.stringify(one), one] as const;
  }));
  const has = (fitting: string): boolean => (work.at_hand?.fittings ?? []).some((one) => JSON.stringify(one) === fitting);
  const tick = (name: string, value: string, label: string, checked: boolean): HTMLElement =>
    h("label", { class: "choice" }, h("input", { type: "checkbox", name, value, id: `${name}-${value}`, checked }), h("span", {}, label));
  const minutes = (name: string, label: string, value: number | undefined): HTMLElement =>
    h("div", { class: "field" }, h("label", { for: `work-${name}` }, label),
      h("input", { id: `work-${name}`, name, inputmode: "numeric", autocomplete: "off", value: value ?? "" }));
  const form = h("form", { novalidate: true },
    tick("alone", "1", words.ui("workAlone"), work.people === 1),
    h("div", { class: "fields" }, minutes("ready_within", words.ui("workReady"), work.ready_within),
      minutes("block_load", words.ui("workBlock"), work.block_load)),
    parts.length > 0 && h("fieldset", {}, h("legend", {}, words.ui("workParts")),
      ...parts.map((id) => tick("part", id, words.part(id), work.at_hand?.parts?.includes(id) ?? false))),
    fittings.size > 0 && h("fieldset", {}, h("legend", {}, words.ui("workFittings")),
      ...[...fittings].map(([text, one]) => tick("fitting", text, words.fitting(one), has(text)))),
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, words.ui("workUse"))));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const given = new FormData(form);
    const { people: _p, ready_within: _r, block_load: _b, at_hand: _a, ...rest } = work;
    const number = (name: string): number => Number(String(given.get(name) ?? "").replace(",", "."));
    const ticked = given.getAll("part").map(String);
    const there = given.getAll("fitting").map((text) => JSON.parse(String(text)) as object);
    use({
      ...rest,
      ...(given.get("alone") ? { people: 1 } : {}),
      ...(number("ready_within") > 0 ? { ready_within: number("ready_within") } : {}),
      ...(number("block_load") > 0 ? { block_load: number("block_load") } : {}),
      ...(ticked.length + there.length > 0
        ? { at_hand: { ...(ticked.length > 0 ? { parts: ticked } : {}), ...(there.length > 0 ? { fittings: there } : {}) } }
        : {}),
    });
  });
  return folded("work", words.ui("work"), form);
}
