/** The parts of the panel that only show: causes, cautions, suspects, the order and what comes after it. */
import type { Advice, Assessment, Causes, Entry } from "./documents.js";
import { h, told } from "./dom.js";
import type { Merged } from "./merge.js";
import { filled } from "./strings.js";
import { leading } from "./words.js";
import type { Words } from "./words.js";

type Child = Node | string | false | null | undefined;

export function section(id: string, title: string, ...children: Child[]): HTMLElement {
  return h(
    "section",
    { "aria-labelledby": `${id}-heading` },
    h("h2", { id: `${id}-heading`, tabindex: -1 }, title),
    ...children,
  );
}

/** The cautions that `texts` adds to those for all work; nothing if it adds none. */
export function furtherCautions(words: Words, texts: string[], general: string[], title?: string): HTMLElement | null {
  const further = texts.filter((text) => !general.includes(text));
  if (further.length === 0) return null;
  return h(
    "div",
    { class: "caution" },
    title && h("h4", {}, title),
    h("ul", {}, ...further.map((text) => words.caution(text))),
  );
}

const SHOWN_CAUSES = 6;

/** What is probably behind the complaint, then behind the other symptoms; nothing where nothing is abnormal. */
export function causesSection(words: Words, { causes }: Assessment): HTMLElement | null {
  if (causes.length === 0) return null;
  return section("causes", words.strings.causes, ...causes.flatMap((of) => causesOf(words, of)));
}

function causesOf(words: Words, { observation, shares, by_design, elsewhere, nothing }: Causes): HTMLElement[] {
  const { strings } = words;
  const named: { name: Node; share: number }[] = shares.map(({ components, probability }) => ({
    name: told(components.map((id) => words.part(id)).join(" + ")),
    share: probability,
  }));
  const others: [string, number][] = [
    [strings.causeByDesign, by_design],
    [strings.causeElsewhere, elsewhere],
    [strings.causeNothing, nothing],
  ];
  for (const [name, share] of others) named.push({ name: h("span", {}, name), share });
  const sorted = named.sort((a, b) => b.share - a.share);
  const shown = sorted.filter(({ share }) => share >= 0.01).slice(0, SHOWN_CAUSES);
  const rest = sorted.slice(shown.length).reduce((sum, { share }) => sum + share, 0);
  const rows = shown.map(({ name, share }) => {
    const bar = h("i");
    bar.style.width = `${100 * share}%`;
    return h(
      "tr",
      {},
      h("td", {}, name, h("span", { class: "bar", "aria-hidden": "true" }, bar)),
      h("td", { class: "number" }, words.percent(share)),
    );
  });
  const head = h(
    "tr",
    {},
    h("th", { scope: "col" }, strings.cause),
    h("th", { scope: "col", class: "number" }, strings.share),
  );
  return [
    h("h3", { class: "part" }, told(words.observation(observation))),
    h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows)),
    ...(rest > 0 ? [h("p", { class: "quiet" }, filled(strings.causeRest, { percent: words.percent(rest) }))] : []),
  ];
}

const SHOWN_SUSPECTS = 8;

export function suspectsSection(words: Words, { faults }: Assessment): HTMLElement {
  const { strings } = words;
  const sorted = leading(faults);
  const shown = sorted.filter((fault) => 1 - fault.grades[0] >= 0.01).slice(0, SHOWN_SUSPECTS);
  const others = sorted.slice(shown.length);
  const rows = shown.map((fault) => {
    const chance = 1 - fault.grades[0];
    const bar = h("i");
    bar.style.width = `${100 * chance}%`;
    return h(
      "tr",
      {},
      h("td", {}, told(words.fault(fault)), h("span", { class: "bar", "aria-hidden": "true" }, bar)),
      h(
        "td",
        { class: "number" },
        words.percent(chance),
        h("br"),
        h("span", { class: "quiet" }, words.odds(fault.posterior_odds)),
      ),
    );
  });
  const head = h(
    "tr",
    {},
    h("th", { scope: "col" }, strings.part),
    h("th", { scope: "col", class: "number" }, strings.odds),
  );
  return section(
    "suspects",
    strings.suspects,
    h("table", {}, h("thead", {}, head), h("tbody", {}, ...rows)),
    others[0] &&
      h(
        "p",
        { class: "quiet" },
        filled(strings.others, { count: others.length, percent: words.percent(1 - others[0].grades[0]) }),
      ),
  );
}

export interface OrderActions {
  order(components: string[], advice: Advice): void;
  replaced(components: string[]): void;
}

export function orderSection(words: Words, { advice, tests, cautions }: Assessment, act: OrderActions): HTMLElement {
  const { strings } = words;
  if (!advice) return section("order", strings.order, h("p", { class: "quiet" }, strings.orderNone));
  const { components, cost, residual_risk } = advice.repair;
  const next = tests.find(({ observation }) => observation === advice.test);
  const first = advice.contradiction?.observation === advice.test ? strings.orderAgain : strings.orderTest;
  const verdict = h("p", {}, advice.stop || !next ? strings.orderStop : filled(first, { test: next.title }));
  if (components.length === 0) {
    return section("order", strings.order, verdict, advice.stop && h("p", {}, strings.orderNothing));
  }
  return section(
    "order",
    strings.order,
    verdict,
    h("ul", {}, ...components.map((id) => h("li", {}, told(words.part(id))))),
    h("p", { class: "quiet" }, filled(strings.orderRisk, { percent: words.percent(residual_risk) })),
    h("p", { class: "quiet" }, filled(strings.orderCost, { cost: words.amount(cost, advice.currency) })),
    h(
      "div",
      { class: "actions" },
      h(
        "button",
        { type: "button", class: advice.stop ? "main" : "", onclick: () => act.order(components, advice) },
        strings.orderButton,
      ),
      h("button", { type: "button", onclick: () => act.replaced(components) }, strings.replacedButton),
    ),
    advice.verify.length > 0 && verifyList(words, advice, cautions),
  );
}

function verifyList(words: Words, { verify }: Advice, general: string[]): HTMLElement {
  return h(
    "div",
    {},
    h("h3", { class: "part" }, words.strings.verify),
    h(
      "ul",
      {},
      ...verify.map(({ title, minutes, energised, cautions }) =>
        h(
          "li",
          {},
          furtherCautions(words, cautions, general),
          told(title),
          ` (${words.minutes(minutes)}, ${words.power(energised)})`,
        ),
      ),
    ),
  );
}

export interface ElsewhereActions {
  takeBack(entry: Entry): void;
  understood(): void;
}

/** What another entered meanwhile, and what was entered twice with different results. */
export function elsewhereSection(words: Words, { elsewhere, twice }: Merged, act: ElsewhereActions): HTMLElement {
  const { strings } = words;
  const contested = new Set(twice.map((pair) => pair.elsewhere));
  const others = elsewhere.filter((entry) => !contested.has(entry));
  const choice = (entry: Entry, sentence: string): HTMLElement =>
    h(
      "button",
      { type: "button", onclick: () => act.takeBack(entry) },
      filled(sentence, { value: words.entry(entry).value }),
    );
  return section(
    "elsewhere",
    strings.elsewhere,
    others.length > 0 && h("p", {}, strings.elsewhereHelp),
    others.length > 0 &&
      h(
        "ul",
        {},
        ...others.map((entry) => {
          const { title, value } = words.entry(entry);
          return h("li", {}, title, value && `: ${value}`);
        }),
      ),
    twice.length > 0 && h("p", {}, strings.twice),
    ...twice.map((pair) =>
      h(
        "div",
        {},
        h("h3", { class: "part" }, words.entry(pair.here).title),
        h(
          "div",
          { class: "actions" },
          choice(pair.here, strings.wrongHere),
          choice(pair.elsewhere, strings.wrongElsewhere),
        ),
      ),
    ),
    h(
      "div",
      { class: "actions" },
      h("button", { type: "button", onclick: () => act.understood() }, twice.length > 0 ? strings.bothRight : strings.understood),
    ),
  );
}
