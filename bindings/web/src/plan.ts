/** The plan of a work order: as a tree to look at, and on one page to print with cautions first and blanks to fill in. */
import type { Entry, Fitting, Plan, PlanNode } from "./documents.js";
import { h } from "./dom.js";
import type { Words } from "./words.js";

/** A node with its outcomes, whose branches may be left out. */
type Shown = PlanNode & { outcomes?: string[] };
type Named = { name: string; node: Shown };

/** Tests by the names they have on the page, "T1" first. */
function namesOf(plan: Plan): Map<string, Named> {
  const names = new Map<string, Named>();
  const walk = (node: PlanNode | null): void => {
    if (node?.test && !names.has(node.test)) names.set(node.test, { name: `T${names.size + 1}`, node });
    for (const branch of node?.branches ?? []) walk(branch.then);
  };
  walk(plan.tree);
  return names;
}

/** The likeliest of it, with at most so many ends. */
export function cropped(plan: Plan, most: number): Plan {
  if (!plan.tree) return plan;
  const opened = new Set<PlanNode>();
  const candidates = [plan.tree];
  for (let ends = 1; candidates.length > 0; ) {
    candidates.sort((a, b) => (b.reached ?? 0) - (a.reached ?? 0));
    const next = candidates.shift()!;
    const children = (next.branches ?? []).flatMap(({ then }) => then ?? []);
    if (!next.test || children.length === 0) continue;
    if (opened.size > 0 && ends - 1 + children.length > most) break;
    ends += children.length - 1;
    opened.add(next);
    candidates.push(...children);
  }
  const copy = (node: PlanNode): Shown => {
    if (!node.test) return node;
    const branches = node.branches ?? [];
    const outcomes = branches.map(({ outcome }) => outcome);
    return { ...node, outcomes, branches: opened.has(node) ? branches.map((one) => ({ ...one, then: one.then && copy(one.then) })) : [] };
  };
  return { ...plan, tree: copy(plan.tree) };
}

/** A list in a list: what is done, and what follows from what is seen. */
export function planTree(words: Words, plan: Plan, named = false): HTMLElement {
  if (!plan.tree) return h("p", {}, words.say("card.no_complaint"));
  const names = namesOf(plan);
  const end = (node: PlanNode): string => {
    const parts = node.replace?.components ?? [];
    const deeper = node.cut === "depth";
    if (!node.replace) return words.say("card.ask_again");
    const what = parts.length > 0
      ? words.say(deeper ? "card.ask_or_replace" : "card.replace", { parts: words.parts(parts) })
      : words.say(deeper ? "card.ask_or_nothing" : "card.replace_nothing");
    return `${what} (${words.ui("orderRisk", { percent: words.percent(node.replace.residual_risk) })})`;
  };
  const item = (node: PlanNode): (Node | string)[] => {
    if (!node.test) return [h("span", { class: "end" }, end(node))];
    const again = node.contradicts ? words.say("card.contradicts") : node.again ? words.say("card.again") : "";
    const title = [named ? `${names.get(node.test)!.name}: ` : "", words.observation(node.test), again && ` (${again})`].join("");
    const branches = (node.branches ?? []).map((branch) =>
      h("li", {}, h("span", { class: "seen" }, `${words.outcome(branch.outcome)} (${words.percent(branch.probability)})`), " → ",
        ...(branch.then ? item(branch.then) : [h("span", { class: "quiet" }, words.say("card.ask_again"))])));
    return [h("b", {}, title), h("span", { class: "quiet" }, ` ${words.minutes(node.minutes ?? 0)}${branches.length > 0 ? "" : `; ${words.say("card.ask_again")}`}`),
      branches.length > 0 ? h("ul", {}, ...branches) : ""];
  };
  return h("ul", { class: "tree", part: "tree", "aria-label": words.say("card.tree") }, h("li", {}, ...item(plan.tree)));
}

const blank = (label: string): HTMLElement => h("span", { class: "blank" }, `${label} `, h("i", {}));

/** One page to print. */
export function jobCard(words: Words, plan: Plan, theCase: { id?: string; title?: unknown }, entries: readonly Entry[]): HTMLElement {
  const names = [...namesOf(plan).values()];
  const blanks = (...ids: string[]): HTMLElement => h("p", { class: "blanks" }, ...ids.map((id) => blank(words.say(`card.${id}`))));
  const title = [theCase.id, typeof theCase.title === "string" ? theCase.title : ""].filter(Boolean).join(": ");
  return h("article", { class: "card", part: "card" },
    h("div", { class: "caution" }, h("h3", {}, words.ui("cautions")), h("ul", {}, ...cautions(words, plan, names))),
    h("h2", {}, title || words.say("card.plan_for", { circuit: words.circuit() })),
    h("p", {}, words.circuit(), plan.complaint ? ` · ${words.say("card.complaint", { symptom: words.observation(plan.complaint) })}` : ""),
    blanks("date", "hours", "by", "load_held", "zero_verified"),
    entries.length > 0 && h("p", {}, `${words.ui("seen")}: `,
      entries.map((entry) => words.entry(entry)).map(({ title: what, value }) => (value ? `${what}: ${value}` : what)).join("; ")),
    planTree(words, plan, true),
    names.length > 0 && tests(words, names),
    bring(words, plan),
    blanks("replaced", "verified", "watch", "signed"),
    h("p", { class: "quiet" }, words.say("ui.noFinding")));
}


/** Those for all work, then the others with the tests they belong to. */
function cautions(words: Words, plan: Plan, names: Named[]): HTMLElement[] {
  const general = plan.cautions.map((text, i) => words.caution(`general/${i + 1}`, text));
  const further = new Map<string, { text: string; tests: string[] }>();
  for (const { name, node } of names) {
    (node.caution_ids ?? []).forEach((id, i) => {
      if (id.startsWith("general/")) return;
      const known = further.get(id);
      if (known) known.tests.push(name);
      else further.set(id, { text: node.cautions?.[i] ?? id, tests: [name] });
    });
  }
  return [...general, ...[...further].map(([id, { text, tests: of }]) => {
    const item = words.caution(id, text);
    item.prepend(`${of.join(" ")}: `);
    return item;
  })];
}

function tests(words: Words, names: Named[]): HTMLElement {
  const head = ["test", "limits", "found", "reading"].map((id) => h("th", {}, words.say(`card.${id}`)));
  return h("table", {}, h("thead", {}, h("tr", {}, h("th", {}), ...head)), h("tbody", {}, ...names.map(({ name, node }) =>
    h("tr", {}, h("td", {}, name),
      h("td", {}, words.observation(node.test!), ` (${words.power(node.energised ?? false)})`),
      h("td", {}, limits(words, node)),
      h("td", {}, ...(node.outcomes ?? (node.branches ?? []).map(({ outcome }) => outcome)).map((outcome) =>
        h("span", { class: "box" }, `☐ ${words.outcome(outcome)}`))),
      h("td", {}, blank(""))))));
}

function limits(words: Words, node: PlanNode): string {
  const pressure = node.test_pressure ? words.quantity(node.test_pressure, "down") : node.kind === "static" ? words.say("pressure.maker") : "";
  const of = node.limits;
  const between = !of ? "" : of.seconds
    ? words.say("card.to_half", { seconds: Math.round(of.seconds) })
    : `${Math.round(of.first ?? 0)} / ${Math.round(of.second ?? 0)} ${of.unit ?? ""}`;
  return [pressure, between].filter(Boolean).join("; ");
}

function bring(words: Words, plan: Plan): HTMLElement | null {
  const fittings = (plan.bring?.items ?? []).map((item) => `${item.count} × ${words.fitting({ ...item, port: null } as Fitting)}`);
  const gauge = plan.bring?.gauge_for;
  const parts = (plan.parts ?? []).filter(({ probability }) => probability >= 0.02).map(({ component, probability }) =>
    words.say("card.part", { part: words.part(component), share: words.percent(probability) }));
  const items = [...fittings, ...(gauge ? [words.say("card.gauge", { pressure: words.quantity(gauge, "up") })] : []), ...parts];
  if (items.length === 0) return null;
  return h("p", {}, h("b", {}, `${words.ui("bring")}: `), items.join("; "));
}
