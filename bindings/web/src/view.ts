/** What one screen shows of a job: functions from its state to elements. They keep nothing and ask nobody. */
import type { Advice, Assessment, Causes, Entry, Test } from "./documents.js";
import { h } from "./dom.js";
import { readingEntry } from "./form.js";
import type { ReadingEntry } from "./form.js";
import type { Imagined } from "./job.js";
import type { Merged } from "./merge.js";
import { own } from "./own.js";
import { leading } from "./words.js";
import type { Words } from "./words.js";

type Child = Node | string | false | null | undefined;

const SHOWN_CAUSES = 3;

export function section(id: string, title: string, ...children: Child[]): HTMLElement {
  return h(
    "section",
    { "aria-labelledby": `${id}-heading`, part: id },
    h("h2", { id: `${id}-heading`, tabindex: -1 }, title),
    ...children,
  );
}

/** Closed until it is touched; `keep` names it, so that drawing again leaves it as it was. */
export function folded(keep: string, title: string, ...children: Child[]): HTMLElement {
  return h("details", { "data-keep": keep, part: keep }, h("summary", {}, title), ...children);
}

const now = (): string => new Date().toISOString().replace(/\.\d+/, "");

export function button(label: string, action: () => void, main = false, more: Record<string, string> = {}): HTMLElement {
  return h("button", { type: "button", class: main ? "main" : "", onclick: action, ...more }, label);
}

/** The cautions for all work. `foldable`: a test has been made, so that they have been read. */
export function generalCautions(words: Words, texts: string[], foldable: boolean): HTMLElement {
  const list = h("ul", {}, ...texts.map((text, i) => words.caution(`general/${i + 1}`, text)));
  return foldable
    ? h("div", { class: "caution", part: "caution", role: "group", "aria-label": words.ui("cautions") },
        h("details", { open: true, "data-keep": "cautions" }, h("summary", {}, words.ui("cautionsAgain")), list))
    : h("div", { class: "caution", part: "caution", role: "group", "aria-label": words.ui("cautions") },
        h("h3", {}, words.ui("cautions")), h("p", {}, words.ui("cautionsFirst")), list);
}

export function furtherCautions(words: Words, ids: string[], texts: Record<string, string>): HTMLElement | null {
  if (ids.length === 0) return null;
  return h(
    "div",
    { class: "caution", part: "caution" },
    h("h3", { class: "part" }, words.ui("cautionsTest")),
    h("ul", {}, ...ids.map((id) => words.caution(id, own(texts, id) ?? id))),
  );
}

/** What is probably behind the complaint: its causes with their shares. */
export function likely(words: Words, answer: Assessment): HTMLElement | null {
  const of = answer.causes[0];
  if (!of) return null;
  const { shown, rest } = causesOf(words, of);
  return section(
    "likely",
    words.ui("likely"),
    h("ul", { class: "likely" },
      ...shown.map(({ name, share }) => {
        const bar = h("i");
        bar.style.width = `${100 * share}%`;
        return h("li", {},
          h("span", { class: "row" }, h("b", {}, name), h("span", {}, words.percent(share))),
          h("span", { class: "bar", "aria-hidden": "true" }, bar),
          h("span", { class: "quiet" }, words.often(share)));
      })),
    rest > 0.005 && h("p", { class: "quiet" }, words.ui("causeRest", { percent: words.percent(rest) })),
    answer.advice?.contradiction &&
      h("p", { class: "problem" }, words.ui("contradicts", { test: words.observation(answer.advice.contradiction.observation) })),
  );
}

function causesOf(words: Words, of: Causes): { shown: { name: string; share: number }[]; rest: number } {
  const named = of.shares.map(({ components, probability }) => ({ name: words.parts(components), share: probability }));
  for (const [name, share] of [["causeByDesign", of.by_design], ["causeElsewhere", of.elsewhere], ["causeNothing", of.nothing]] as const) {
    named.push({ name: words.ui(name), share });
  }
  named.sort((a, b) => b.share - a.share);
  const shown = named.slice(0, SHOWN_CAUSES).filter(({ share }) => share >= 0.01);
  return { shown, rest: 1 - shown.reduce((sum, { share }) => sum + share, 0) };
}

export interface StepActions {
  enter(entry: Entry, form: ReadingEntry | null): void;
  setup(step: string, done: boolean): void;
  makeNext(observation: string): void;
  imagine(observation: string, outcomes: string[]): Promise<Imagined[]>;
}

/** The next test: its cautions first, then what is done, then what each outcome means, each a button. */
export function nextStep(words: Words, answer: Assessment, test: Test, done: string[], general: HTMLElement, act: StepActions): HTMLElement {
  const meanings = h("div", { class: "outcomes" });
  outcomeButtons(words, answer, test, meanings, act);
  const reading = readingEntry(test, "next", words, (entry) => act.enter(entry, reading));
  return section(
    "next",
    words.ui("next"),
    h("p", { class: "facts" }, h("b", {}, words.observation(test.observation)), h("span", {}, words.minutes(test.minutes)),
      h("span", { class: test.energised ? "power" : "" }, words.power(test.energised)),
      (test.people ?? 1) > 1 && h("span", {}, words.ui("twoPeople"))),
    general,
    furtherCautions(words, test.caution_ids, answer.further_cautions),
    h("p", { class: "does", part: "instruction" }, words.does(test)),
    h("p", { class: "quiet" }, words.because(test)),
    test.steps.length > 0 && h("h3", { class: "part" }, words.ui("steps")),
    h("ol", { class: "steps" }, ...test.steps.map((step) => h("li", {}, stepLine(words, step, done, act)))),
    test.kind === "static" && h("p", {}, `${words.ui("pressure")}: `,
      h("b", {}, test.test_pressure ? words.quantity(test.test_pressure, "down") : words.say("pressure.maker")), ". ",
      test.pressure_limit ? words.limit(test.pressure_limit) : test.no_pressure ? words.noPressure(test.no_pressure) : ""),
    h("h3", { class: "part" }, words.ui("whatSeen")),
    meanings,
    h("div", { class: "fallbacks off-paper" },
      reading && folded("reading", words.ui("seenElse"), reading.element),
      folded("could-not", words.ui("couldNot"), h("p", {}, words.ui("couldNotWhy")),
        h("div", { class: "actions" },
          ...["noFitting", "noReach", "notSafe"].map((reason) =>
            button(words.ui(reason), () => act.enter({ not_possible: test.observation, reason: words.ui(reason), at: now() }, null)))))),
    test.afterwards.length > 0 && h("h3", { class: "part" }, words.ui("afterwards")),
    h("ol", { class: "steps" }, ...test.afterwards.map((step) => h("li", {}, words.step(step)))),
    test.bring.length > 0 && h("h3", { class: "part" }, words.ui("bring")),
    h("ul", {}, ...test.bring.map((fitting) => h("li", {}, words.fitting(fitting)))),
  );
}

function stepLine(words: Words, step: Test["steps"][number], done: string[], act: StepActions): HTMLElement {
  const text = words.step(step);
  if (step.minutes === undefined) return h("span", {}, text);
  return h("label", { class: "choice" },
    h("input", { type: "checkbox", class: "off-paper", checked: done.includes(step.id),
      onchange: (event) => act.setup(step.id, (event.target as HTMLInputElement).checked) }),
    h("span", {}, `${text} (${words.minutes(step.minutes)})`));
}

function outcomeButtons(words: Words, answer: Assessment, test: Test, into: HTMLElement, act: StepActions): void {
  const outcomes = Object.keys(test.probability);
  const draw = (meaning: (outcome: string) => string): void => {
    into.replaceChildren(...outcomes.map((outcome) =>
      h("button", { type: "button", class: "outcome", "data-outcome": outcome,
          onclick: () => act.enter({ observation: test.observation, outcome, at: now() }, null) },
        h("b", {}, words.outcomeOf(test, outcome)), h("span", { class: "quiet" }, meaning(outcome)))));
  };
  draw(() => `${words.ui("tellsWaiting")} …`);
  act.imagine(test.observation, outcomes).then(
    (imagined) => {
      const focused = (into.getRootNode() as ShadowRoot).activeElement as HTMLElement | null;
      const kept = focused && into.contains(focused) ? focused.dataset["outcome"] : undefined;
      draw((outcome) => meaningOf(words, imagined.find((one) => one.outcome === outcome)?.assessment, answer));
      if (kept) into.querySelector<HTMLElement>(`[data-outcome="${kept}"]`)?.focus();
    },
    () => draw((outcome) => words.percent(own(test.probability, outcome) ?? 0)),
  );
}

/** The likeliest cause then, and whether testing ends. */
function meaningOf(words: Words, then: Assessment | undefined, answer: Assessment): string {
  const of = then?.causes.find(({ observation }) => observation === answer.causes[0]?.observation) ?? then?.causes[0];
  const first = of && causesOf(words, of).shown[0];
  if (!first || !then) return "";
  const id = then.advice?.stop ? "meansOrder" : "meansLine";
  return words.ui(id, { outcome: "", cause: first.name, often: words.often(first.share) }).replace(/^\s*[:،]\s*/, "");
}

/** Other tests: the technician may take one of them next. */
export function otherTests(words: Words, answer: Assessment, act: StepActions): HTMLElement | null {
  const others = [...answer.tests.slice(1), ...answer.further_tests];
  if (others.length === 0) return null;
  return folded("others", words.ui("otherTests"),
    h("ul", { class: "rows" }, ...others.map((test) =>
      h("li", { class: "row" },
        h("span", {}, words.observation(test.observation), h("br"),
          h("span", { class: "quiet" }, `${words.minutes(test.minutes)}, ${words.power(test.energised)}`)),
        button(words.ui("takeThis"), () => act.makeNext(test.observation), false,
          { "aria-label": `${words.ui("takeThis")}: ${words.observation(test.observation)}` })))));
}

export interface OrderActions {
  order(components: string[], advice: Advice): void;
  replaced(components: string[]): void;
  enter(entry: Entry, form: null): void;
}

/** What to order, and what to test after the repair. */
export function orderStep(words: Words, answer: Assessment, act: OrderActions): HTMLElement {
  const advice = answer.advice;
  if (!advice) return section("next", words.ui("order"), h("p", {}, words.ui("noTests")));
  const { components, cost, residual_risk } = advice.repair;
  return section(
    "next",
    words.ui("order"),
    h("p", { class: "does" },
      advice.elsewhere ? words.say("advice.elsewhere")
        : advice.renewed_shows ? words.say("advice.renewed")
        : advice.unfounded ? words.say("advice.unfounded")
        : components.length === 0 ? words.say("advice.nothing")
          : words.say("advice.replace", { parts: words.parts(components), often: words.often(residual_risk) })),
    components.length > 0 && h("p", { class: "quiet" }, words.ui("orderCost", { cost: words.amount(cost, advice.currency) })),
    components.length > 0 && h("div", { class: "actions" },
      button(words.ui("orderButton"), () => act.order(components, advice), true),
      button(words.ui("replacedButton"), () => act.replaced(components))),
    advice.verify.length > 0 && h("h3", { class: "part" }, words.ui("verify")),
    ...advice.verify.map((one) => h("div", {},
      furtherCautions(words, one.caution_ids, answer.further_cautions),
      h("p", {}, `${words.observation(one.observation)} (${words.minutes(one.minutes)}, ${words.power(one.energised)})`))),
  );
}

/** What was entered; each can be taken back. */
export function seen(words: Words, entries: readonly Entry[], takeBack: (entry: Entry) => void): HTMLElement | null {
  if (entries.length === 0) return null;
  return section("seen", words.ui("seen"), h("ul", { class: "rows" }, ...entries.map((entry) => {
    const { title, value } = words.entry(entry);
    return h("li", { class: "row" }, h("span", {}, title, value && h("br"), value),
      button(words.ui("takeBack"), () => takeBack(entry), false, { "aria-label": `${words.ui("takeBack")}: ${title}` }));
  })));
}

/** Suspects with odds and decibans, why the advice is as it is, and what there is to know of readings. */
export function expert(words: Words, answer: Assessment, test: Test | undefined): HTMLElement {
  const rows = leading(answer.faults).map((fault) => {
    const db = fault.posterior_odds === null ? "∞" : (10 * Math.log10(fault.posterior_odds)).toFixed(1);
    return h("tr", {}, h("td", {}, words.fault(fault)),
      h("td", { class: "number" }, words.percent(1 - fault.grades[0])), h("td", { class: "number" }, words.odds(fault.posterior_odds)),
      h("td", { class: "number" }, `${db} db`));
  });
  const { advice, warnings, warnings_said } = answer;
  const told = [
    advice && words.said(advice.reason_said, advice.reason),
    test && words.said(test.because_said, test.because),
    ...(warnings_said?.map((message) => words.message(message)) ?? warnings),
  ].filter((text): text is string => Boolean(text));
  return folded("expert", words.ui("expert"),
    h("table", {}, h("caption", {}, words.ui("suspects")), h("tbody", {}, ...rows)),
    ...told.map((text) => h("p", {}, text)));
}

export interface ElsewhereActions {
  takeBack(entry: Entry): void;
  understood(): void;
}

/** What another entered meanwhile, and what was entered twice with different results. */
export function elsewhereSection(words: Words, { elsewhere, twice }: Merged, act: ElsewhereActions): HTMLElement {
  const contested = new Set(twice.map((pair) => pair.elsewhere));
  const others = elsewhere.filter((entry) => !contested.has(entry));
  const line = (entry: Entry): HTMLElement => {
    const { title, value } = words.entry(entry);
    return h("li", {}, value ? `${title}: ${value}` : title);
  };
  return section("elsewhere", words.ui("elsewhere"),
    others.length > 0 && h("p", {}, words.ui("elsewhereHelp")),
    others.length > 0 && h("ul", {}, ...others.map(line)),
    twice.length > 0 && h("p", { class: "problem" }, words.ui("twice")),
    ...twice.map((pair) => h("div", {}, h("p", {}, words.entry(pair.here).title), h("div", { class: "actions" },
      button(words.ui("wrongHere", { value: words.entry(pair.here).value }), () => act.takeBack(pair.here)),
      button(words.ui("wrongElsewhere", { value: words.entry(pair.elsewhere).value }), () => act.takeBack(pair.elsewhere))))),
    h("div", { class: "actions" }, button(words.ui(twice.length > 0 ? "bothRight" : "understood"), () => act.understood())));
}
