/** <faultodds-panel>: one work order from complaint to order. */
import { Refusal, httpAssessor } from "./assessor.js";
import type { Assessor } from "./assessor.js";
import type { Advice, Assessment, CaseDocument, Entry, Fault, Fitting, Model, Test } from "./documents.js";
import { h, told } from "./dom.js";
import { resultForm } from "./form.js";
import type { ResultForm } from "./form.js";
import { forget, keep, recall } from "./keeper.js";
import { filled, stringsOf } from "./strings.js";
import type { Strings } from "./strings.js";
import { style } from "./style.js";

const SHOWN_TESTS = 3;
const RETRY_SECONDS = 15;

type Connection = "working" | "ready" | "offline";

const sheet = new CSSStyleSheet();
sheet.replaceSync(style);

/**
 * Attributes: `circuit`, `src` (of the adapter), `lang`, `keep` (in the browser's storage, under the case's id).
 * Properties: `case`, `assessor`. Events: `faultodds-change`, `faultodds-assessment`, `faultodds-order`.
 */
export class FaultoddsPanel extends HTMLElement {
  static readonly observedAttributes = ["circuit", "src", "lang"];

  readonly #root = this.attachShadow({ mode: "open" });
  readonly #status = h("p", { class: "status", role: "status" });
  readonly #retry = h("button", { type: "button", hidden: true, onclick: () => void this.#assess() });
  readonly #main = h("div");

  #assessor: Assessor | null = null;
  #case: CaseDocument = { format: "faultodds-case/1", observations: [] };
  #model: Model | null = null;
  #assessment: Assessment | null = null;
  #assessedAt: Date | null = null;
  #strings: Strings = stringsOf("en");
  #connection: Connection = "working";
  #asked = 0;
  #timer = 0;
  #opened: string | null = null;
  #allTests = false;
  #cautionsFolded = false;
  #entered: { entry: Entry; form: ResultForm } | null = null;
  #hints = new Map<string, Promise<Map<string, Fault[]>>>();
  #unfolded: HTMLDetailsElement[] = [];

  readonly #online = (): void => void (this.#connection === "offline" && this.#assess());
  readonly #unfold = (): void => {
    this.#unfolded = [...this.#root.querySelectorAll<HTMLDetailsElement>("details:not([open])")].filter(
      (details) => !details.closest("form"),
    );
    for (const details of this.#unfolded) details.open = true;
  };
  readonly #fold = (): void => {
    for (const details of this.#unfolded) details.open = false;
    this.#unfolded = [];
  };
  readonly #printing = matchMedia("print");
  readonly #printChange = (): void => (this.#printing.matches ? this.#unfold() : this.#fold());

  constructor() {
    super();
    this.#root.adoptedStyleSheets = [sheet];
    this.#root.append(h("div", { class: "row off-paper" }, this.#status, this.#retry), this.#main);
  }

  /** The case document, which the page keeps; setting it starts an assessment. */
  get case(): CaseDocument {
    return structuredClone(this.#case);
  }

  set case(theCase: CaseDocument) {
    this.#case = { ...structuredClone(theCase), observations: structuredClone(theCase.observations ?? []) };
    this.#recall();
    if (this.isConnected) void this.#assess();
  }

  /** Where answers come from; the adapter at `src` unless it is set. */
  set assessor(assessor: Assessor) {
    this.#assessor = assessor;
    this.#model = null;
    if (this.isConnected) void this.#assess();
  }

  /** The assessment that is shown; null before the first. */
  get assessment(): Assessment | null {
    return this.#assessment;
  }

  connectedCallback(): void {
    this.#language();
    window.addEventListener("online", this.#online);
    window.addEventListener("beforeprint", this.#unfold);
    window.addEventListener("afterprint", this.#fold);
    this.#printing.addEventListener("change", this.#printChange);
    this.#recall();
    void this.#assess();
  }

  disconnectedCallback(): void {
    window.removeEventListener("online", this.#online);
    window.removeEventListener("beforeprint", this.#unfold);
    window.removeEventListener("afterprint", this.#fold);
    this.#printing.removeEventListener("change", this.#printChange);
    clearTimeout(this.#timer);
    ++this.#asked;
  }

  attributeChangedCallback(name: string, before: string | null, now: string | null): void {
    if (!this.isConnected || before === now) return;
    if (name === "lang") {
      this.#language();
      this.#render();
    } else {
      this.#model = null;
      this.#assessment = null;
      void this.#assess();
    }
  }

  /** Takes the work order out of the browser's storage, once the page has it. */
  forget(): void {
    if (this.#case.id) forget(this.#circuit, this.#case.id);
  }

  get #circuit(): string {
    return this.getAttribute("circuit") ?? this.#case.circuit ?? "";
  }

  #language(): void {
    const tag = this.getAttribute("lang") ?? (document.documentElement.lang || "en");
    this.#strings = stringsOf(tag);
    this.#main.lang = tag;
  }

  // ---- answers ----------------------------------------------------------------------------------

  #source(): Assessor {
    return this.#assessor ?? httpAssessor(this.getAttribute("src") ?? "", this.#circuit);
  }

  async #assess(): Promise<void> {
    const asked = ++this.#asked;
    const theCase = this.case;
    clearTimeout(this.#timer);
    this.#connection = "working";
    this.#tell();
    try {
      const source = this.#source();
      const model = this.#model ?? (await source.model());
      const assessment = await source.assess(theCase);
      if (asked !== this.#asked) return;
      this.#model = model;
      this.#assessment = assessment;
      this.#assessedAt = new Date();
      this.#connection = "ready";
      this.#hints.clear();
      this.#keep();
      const form = this.#entered;
      this.#entered = null;
      this.#render(form !== null);
      this.dispatchEvent(new CustomEvent("faultodds-assessment", { detail: assessment }));
    } catch (problem) {
      if (asked !== this.#asked) return;
      if (problem instanceof Refusal) this.#refused(problem);
      else this.#lost();
    }
  }

  // A refusal of what was just entered takes it back and is told where it was entered.
  #refused(problem: Refusal): void {
    const entered = this.#entered;
    this.#entered = null;
    this.#connection = "ready";
    const message = filled(this.#strings.refused, { message: problem.message });
    if (entered) {
      this.#case.observations = this.#case.observations.filter((entry) => entry !== entered.entry);
      this.#changed();
      this.#tell("");
      entered.form.refuse(message);
    } else {
      this.#tell(message);
    }
  }

  #lost(): void {
    const entered = this.#entered !== null;
    this.#entered = null;
    this.#connection = "offline";
    this.#render(entered);
    this.#timer = window.setTimeout(() => void this.#assess(), RETRY_SECONDS * 1000);
  }

  // ---- the case ---------------------------------------------------------------------------------

  #enter(entry: Entry, form: ResultForm): void {
    this.#case.observations.push(entry);
    this.#entered = { entry, form };
    this.#opened = null;
    this.#changed();
    void this.#assess();
  }

  #takeBack(entry: Entry): void {
    this.#case.observations = this.#case.observations.filter((other) => other !== entry);
    this.#changed();
    this.#render(true);
    void this.#assess();
  }

  #replaced(components: string[]): void {
    this.#case.observations.push({ repaired: components, at: new Date().toISOString().replace(/\.\d+/, "") });
    this.#changed();
    this.#render(true);
    void this.#assess();
  }

  #setup(step: string, done: boolean): void {
    const others = (this.#case.setup_done ?? []).filter((other) => other !== step);
    this.#case.setup_done = done ? [...others, step] : others;
    this.#changed();
  }

  #changed(): void {
    this.#keep();
    this.dispatchEvent(new CustomEvent("faultodds-change", { detail: this.case }));
  }

  #keep(): void {
    if (!this.hasAttribute("keep") || !this.#case.id) return;
    keep(this.#circuit, this.#case.id, {
      theCase: this.#case,
      model: this.#model,
      assessment: this.#assessment,
      at: this.#assessedAt?.toISOString() ?? null,
    });
  }

  // What was kept has more entries than what the page has, if it was entered while the page could not save.
  #recall(): void {
    if (!this.hasAttribute("keep") || !this.#case.id) return;
    const kept = recall(this.#circuit, this.#case.id);
    if (!kept) return;
    if (kept.theCase.observations.length > this.#case.observations.length) {
      this.#case = kept.theCase;
      queueMicrotask(() => this.#changed());
    }
    this.#model ??= kept.model;
    if (JSON.stringify(kept.theCase) === JSON.stringify(this.#case) && kept.assessment && kept.at) {
      this.#assessment ??= kept.assessment;
      this.#assessedAt ??= new Date(kept.at);
    }
  }

  // ---- what is shown ----------------------------------------------------------------------------

  #tell(message?: string): void {
    const strings = this.#strings;
    const tests = this.#assessment?.tests ?? [];
    this.#retry.textContent = strings.tryAgain;
    this.#retry.hidden = this.#connection !== "offline";
    this.#status.classList.toggle("alert", this.#connection === "offline" || Boolean(message));
    this.#status.textContent =
      message ??
      (this.#connection === "working"
        ? strings.working
        : this.#connection === "offline"
          ? this.#assessment
            ? filled(strings.offline, { time: this.#time() })
            : strings.offlineNew
          : tests[0]
            ? filled(strings.readyNext, { test: tests[0].title })
            : filled(strings.ready, { count: 0 }));
  }

  #time(): string {
    return (this.#assessedAt ?? new Date()).toLocaleTimeString(this.#main.lang, { hour: "2-digit", minute: "2-digit" });
  }

  #render(moveFocus = false): void {
    this.#tell();
    const model = this.#model;
    if (!model) return this.#main.replaceChildren();
    const cautions = this.#assessment?.cautions ?? model.cautions;
    this.#main.replaceChildren(
      h("p", { class: "paper" }, filled(this.#strings.printed, { time: this.#time() })),
      this.#cautions(cautions),
      this.#seen(model),
      ...(this.#assessment
        ? [
            this.#tests(model, this.#assessment),
            this.#suspects(model, this.#assessment),
            this.#order(model, this.#assessment),
          ]
        : []),
    );
    if (moveFocus) this.#main.querySelector<HTMLElement>("#tests-heading, #seen-heading")?.focus();
  }

  #section(id: string, title: string, ...children: (Node | string | false | null | undefined)[]): HTMLElement {
    return h(
      "section",
      { "aria-labelledby": `${id}-heading` },
      h("h2", { id: `${id}-heading`, tabindex: -1 }, title),
      ...children,
    );
  }

  /** A caution in the reader's language where there is one, else in the engine's. */
  #caution(text: string): HTMLElement {
    const translated = this.#strings.cautionTexts[text];
    return translated ? h("li", {}, translated) : told(text, "li");
  }

  // Until a test has been made there is no way to put the cautions out of sight.
  #cautions(texts: string[]): HTMLElement {
    const strings = this.#strings;
    const list = h("ul", {}, ...texts.map((text) => this.#caution(text)));
    if (!this.#testMade()) {
      return h(
        "section",
        { class: "caution", "aria-labelledby": "cautions-heading" },
        h("h2", { id: "cautions-heading" }, strings.cautions),
        h("p", {}, strings.cautionsFirst),
        list,
      );
    }
    const details = h("details", { open: !this.#cautionsFolded }, h("summary", {}, strings.cautionsAgain), list);
    details.addEventListener("toggle", () => {
      if (!this.#printing.matches) this.#cautionsFolded = !details.open;
    });
    return h("section", { class: "caution", "aria-label": strings.cautions }, details);
  }

  #testMade(): boolean {
    const symptoms = new Set(this.#model?.observations.filter(({ symptom }) => symptom).map((o) => o.observation));
    return this.#case.observations.some((entry) => "observation" in entry && !symptoms.has(entry.observation));
  }

  #seen(model: Model): HTMLElement {
    const strings = this.#strings;
    const entries = this.#case.observations;
    const list = h(
      "ul",
      { class: "seen" },
      ...entries.map((entry) => {
        const what = this.#entryText(model, entry);
        return h(
          "li",
          { class: "row" },
          h("span", {}, what.title, what.value && h("br"), what.value),
          h(
            "button",
            {
              type: "button",
              "aria-label": `${strings.takeBack}: ${what.title.textContent ?? ""}`,
              onclick: () => this.#takeBack(entry),
            },
            strings.takeBack,
          ),
        );
      }),
    );
    const complaint = this.#complaint(model);
    return this.#section(
      "seen",
      strings.seen,
      entries.length > 0 ? list : h("p", { class: "quiet" }, strings.nothingSeen),
      entries.length > 0 ? h("details", { class: "off-paper" }, h("summary", {}, strings.complaint), complaint) : complaint,
    );
  }

  #entryText(model: Model, entry: Entry): { title: HTMLElement; value: string } {
    const strings = this.#strings;
    if ("repaired" in entry) {
      const parts = entry.repaired.map((id) => this.#part(model, id)).join(", ");
      return { title: h("span", {}, filled(strings.replaced, { parts })), value: "" };
    }
    const known = model.observations.find(({ observation }) => observation === entry.observation);
    const value =
      "outcome" in entry
        ? this.#outcome(entry.outcome)
        : "reading" in entry
          ? Object.entries(entry.reading).map(([key, text]) => `${strings.fields[key]?.replace(/ \(.*/, "") ?? key} ${text}`).join(", ")
          : entry.likelihood.join(" : ");
    return { title: told(known?.title ?? entry.observation), value };
  }

  #complaint(model: Model): HTMLElement {
    const strings = this.#strings;
    const place = h("div");
    const select = h("select", { id: "symptom" }, h("option", { value: "" }, strings.choose));
    for (const { observation, title, symptom } of model.observations) {
      if (symptom) select.append(h("option", { value: observation, lang: "en" }, title));
    }
    select.addEventListener("change", () => {
      const chosen = model.observations.find(({ observation }) => observation === select.value);
      if (!chosen) return place.replaceChildren();
      const form: ResultForm = resultForm(chosen, "complaint", strings, strings.enterSymptom, (entry) =>
        this.#enter(entry, form),
      );
      place.replaceChildren(form.element);
    });
    return h(
      "div",
      { class: "off-paper" },
      h("p", { class: "quiet" }, strings.complaintHelp),
      h("p", {}, h("label", { for: "symptom" }, strings.symptom), h("br"), select),
      place,
    );
  }

  #tests(model: Model, { tests: ranked, warnings }: Assessment): HTMLElement {
    const strings = this.#strings;
    // A ranking from before the connection was lost has tests that were made since.
    const made = new Set(this.#case.observations.map((entry) => ("observation" in entry ? entry.observation : "")));
    const tests = this.#connection === "offline" ? ranked.filter((test) => !made.has(test.observation)) : ranked;
    const shown = this.#allTests ? tests.length : SHOWN_TESTS;
    const opened = tests.findIndex(({ observation }) => observation === this.#opened);
    const count = Math.max(shown, opened + 1);
    const list = h("ol", { class: "tests" });
    tests.slice(0, count).forEach((test, rank) => list.append(this.#test(model, test, rank)));
    return this.#section(
      "tests",
      strings.tests,
      ...warnings.map((warning) => told(warning, "p")),
      tests.length > 0 ? h("p", { class: "quiet" }, strings.testsHelp) : h("p", {}, strings.noTests),
      list,
      tests.length > count &&
        h(
          "div",
          { class: "actions" },
          h(
            "button",
            {
              type: "button",
              onclick: () => {
                this.#allTests = true;
                this.#render();
                this.#main.querySelectorAll<HTMLElement>(".tests summary")[count]?.focus();
              },
            },
            filled(strings.moreTests, { count: tests.length - count }),
          ),
        ),
    );
  }

  #test(model: Model, test: Test, rank: number): HTMLElement {
    const strings = this.#strings;
    const body = h("div", { class: "body" });
    const details = h(
      "details",
      { open: test.observation === this.#opened, "data-observation": test.observation },
      h(
        "summary",
        {},
        h(
          "span",
          { class: "head" },
          h("h3", { lang: "en" }, test.title),
          h(
            "span",
            { class: "facts" },
            h("span", {}, filled(strings.minutes, { minutes: Math.round(test.minutes) })),
            h("span", { class: test.energised ? "power" : "" }, test.energised ? strings.energised : strings.powerOff),
          ),
        ),
      ),
      body,
    );
    const fill = (): void => {
      if (body.childElementCount === 0) body.append(...this.#testBody(model, test, `test-${rank}`));
    };
    if (details.open) fill();
    details.addEventListener("toggle", () => {
      if (!details.open) {
        if (this.#opened === test.observation) this.#opened = null;
        return;
      }
      fill();
      if (!this.#printing.matches) this.#opened = test.observation;
    });
    return h("li", {}, details);
  }

  #testBody(model: Model, test: Test, name: string): Node[] {
    const strings = this.#strings;
    const general = new Set(this.#assessment?.cautions ?? model.cautions);
    const particular = test.cautions.filter((text) => !general.has(text));
    const form: ResultForm = resultForm(
      { observation: test.observation, kind: test.kind, outcomes: Object.keys(test.probability) },
      name,
      strings,
      strings.enter,
      (entry) => this.#enter(entry, form),
    );
    const tells = h("ul");
    void this.#fillHints(model, test, tells);
    return [
      ...(particular.length > 0
        ? [
            h(
              "div",
              { class: "caution" },
              h("h4", {}, strings.cautionsTest),
              h("ul", {}, ...particular.map((text) => this.#caution(text))),
            ),
          ]
        : []),
      h("h4", {}, strings.why),
      told(test.because, "p"),
      h("h4", {}, strings.tells),
      tells,
      ...(test.setup.length > 0
        ? [
            h("h4", {}, strings.setup),
            h("p", { class: "quiet off-paper" }, strings.setupDone),
            ...test.setup.map((step) => this.#step(step)),
          ]
        : []),
      ...(test.kind === "static" || test.test_pressure
        ? [h("h4", {}, strings.pressure), h("p", {}, test.test_pressure ?? strings.pressureUnknown)]
        : []),
      ...(test.bring.length > 0
        ? [h("h4", {}, strings.bring), h("ul", {}, ...test.bring.map((fitting) => this.#fitting(fitting)))]
        : []),
      h("h4", { class: "off-paper" }, strings.result),
      form.element,
    ];
  }

  #step(step: Test["setup"][number]): HTMLElement {
    return h(
      "div",
      {},
      h(
        "label",
        { class: "choice" },
        h("input", {
          class: "off-paper",
          type: "checkbox",
          checked: this.#case.setup_done?.includes(step.id) ?? false,
          onchange: (event) => this.#setup(step.id, (event.target as HTMLInputElement).checked),
        }),
        h("span", {}, told(step.title), " (", filled(this.#strings.minutes, { minutes: step.minutes }), ")"),
      ),
    );
  }

  #fitting({ what, port, standard, size, rated_for }: Fitting): HTMLElement {
    const text = [what, port, [standard, size].filter(Boolean).join(" ")].filter(Boolean).join(", ");
    return h(
      "li",
      {},
      told(text),
      rated_for && `, ${filled(this.#strings.rated, { pressure: rated_for })}`,
    );
  }

  // For each outcome the leading suspects, were it the one that is seen.
  async #fillHints(model: Model, test: Test, list: HTMLElement): Promise<void> {
    const strings = this.#strings;
    const line = (outcome: string, suspects: string): HTMLElement =>
      h("li", {}, filled(strings.tellsLine, {
        outcome: this.#outcome(outcome),
        percent: this.#percent(test.probability[outcome] ?? 0),
        suspects,
      }));
    const outcomes = Object.keys(test.probability);
    list.replaceChildren(...outcomes.map((outcome) => line(outcome, `${strings.tellsWaiting} …`)));
    try {
      let hints = this.#hints.get(test.observation);
      if (!hints) {
        hints = this.#imagine(test.observation, outcomes);
        this.#hints.set(test.observation, hints);
      }
      const seen = await hints;
      list.replaceChildren(
        ...outcomes.map((outcome) =>
          line(
            outcome,
            (seen.get(outcome) ?? [])
              .map((fault) => `${this.#faultTitle(model, fault)} ${this.#percent(1 - fault.grades[0])}`)
              .join("; ") || "–",
          ),
        ),
      );
    } catch {
      this.#hints.delete(test.observation);
      list.replaceChildren(
        ...outcomes.map((outcome) => h("li", {}, `${this.#outcome(outcome)}, ${this.#percent(test.probability[outcome] ?? 0)}`)),
        h("li", { class: "quiet" }, strings.tellsUnknown),
      );
    }
  }

  async #imagine(observation: string, outcomes: string[]): Promise<Map<string, Fault[]>> {
    const source = this.#source();
    const answers = await Promise.all(
      outcomes.map(async (outcome) => {
        const theCase = this.case;
        theCase.observations.push({ observation, outcome });
        const { faults } = await source.assess({ ...theCase, advice: false });
        return [outcome, leading(faults).filter((fault) => 1 - fault.grades[0] >= 0.1).slice(0, 2)] as const;
      }),
    );
    return new Map(answers);
  }

  #suspects(model: Model, { faults }: Assessment): HTMLElement {
    const strings = this.#strings;
    const sorted = leading(faults);
    const shown = sorted.filter((fault) => 1 - fault.grades[0] >= 0.01).slice(0, 8);
    const rows = shown.map((fault) => {
      const chance = 1 - fault.grades[0];
      const bar = h("i");
      bar.style.width = `${100 * chance}%`;
      return h(
        "tr",
        {},
        h("td", {}, told(this.#faultTitle(model, fault)), h("span", { class: "bar", "aria-hidden": "true" }, bar)),
        h("td", { class: "number" }, this.#odds(fault.posterior_odds)),
        h("td", { class: "number" }, this.#percent(chance)),
      );
    });
    const others = sorted.slice(shown.length);
    return this.#section(
      "suspects",
      strings.suspects,
      h(
        "table",
        {},
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            h("th", { scope: "col" }, strings.part),
            h("th", { scope: "col", class: "number" }, strings.odds),
            h("th", { scope: "col", class: "number" }, strings.chance),
          ),
        ),
        h("tbody", {}, ...rows),
      ),
      others[0] &&
        h(
          "p",
          { class: "quiet" },
          filled(strings.others, { count: others.length, percent: this.#percent(1 - others[0].grades[0]) }),
        ),
    );
  }

  #order(model: Model, { advice, tests }: Assessment): HTMLElement {
    const strings = this.#strings;
    if (!advice) return this.#section("order", strings.order, h("p", { class: "quiet" }, strings.orderNone));
    const { components, cost, residual_risk } = advice.repair;
    const next = tests.find(({ observation }) => observation === advice.test);
    const amount = advice.currency === "XXX"
      ? Math.round(cost).toLocaleString(this.#main.lang)
      : cost.toLocaleString(this.#main.lang, { style: "currency", currency: advice.currency, maximumFractionDigits: 0 });
    const detail = { components, advice };
    return this.#section(
      "order",
      strings.order,
      h("p", {}, advice.stop || !next ? strings.orderStop : filled(strings.orderTest, { test: next.title })),
      components.length === 0 && advice.stop && h("p", {}, strings.orderNothing),
      components.length > 0 && h("ul", {}, ...components.map((id) => h("li", {}, told(this.#part(model, id))))),
      components.length > 0 &&
        h("p", { class: "quiet" }, filled(strings.orderRisk, { percent: this.#percent(residual_risk) })),
      components.length > 0 && h("p", { class: "quiet" }, filled(strings.orderCost, { cost: amount })),
      components.length > 0 &&
        h(
          "div",
          { class: "actions" },
          h(
            "button",
            {
              type: "button",
              class: advice.stop ? "main" : "",
              onclick: () => this.dispatchEvent(new CustomEvent("faultodds-order", { detail })),
            },
            strings.orderButton,
          ),
          h("button", { type: "button", onclick: () => this.#replaced(components) }, strings.replacedButton),
        ),
      components.length > 0 && this.#verify(advice),
    );
  }

  #verify({ verify }: Advice): HTMLElement | false {
    const strings = this.#strings;
    if (verify.length === 0) return false;
    const general = new Set(this.#assessment?.cautions);
    return h(
      "div",
      {},
      h("h4", {}, strings.verify),
      h(
        "ul",
        {},
        ...verify.map(({ title, minutes, energised, cautions }) => {
          const particular = cautions.filter((text) => !general.has(text));
          return h(
            "li",
            {},
            told(title),
            ` (${filled(strings.minutes, { minutes: Math.round(minutes) })}, ${energised ? strings.energised : strings.powerOff})`,
            particular.length > 0 &&
              h("div", { class: "caution" }, h("ul", {}, ...particular.map((text) => this.#caution(text)))),
          );
        }),
      ),
    );
  }

  // ---- words for things -------------------------------------------------------------------------

  #part(model: Model, id: string): string {
    return model.components.find((component) => component.id === id)?.title || id;
  }

  #faultTitle(model: Model, fault: Fault): string {
    return `${this.#part(model, fault.component)}: ${fault.title}`;
  }

  #outcome(id: string): string {
    return this.#strings.outcomes[id] ?? id.replaceAll("_", " ");
  }

  #percent(share: number): string {
    const percent = 100 * share;
    const digits = percent > 0 && percent < 1 ? 1 : 0;
    return `${percent.toLocaleString(this.#main.lang, { maximumFractionDigits: digits })} %`;
  }

  #odds(odds: number | null): string {
    const strings = this.#strings;
    if (odds === null) return strings.certain;
    const ratio = odds >= 1 ? odds : 1 / odds;
    if (!Number.isFinite(ratio)) return "–";
    const text = Number(ratio.toPrecision(2)).toLocaleString(this.#main.lang);
    return filled(odds >= 1 ? strings.oddsFor : strings.oddsAgainst, { odds: text });
  }
}

function leading(faults: Fault[]): Fault[] {
  return [...faults].sort((a, b) => a.grades[0] - b.grades[0]);
}
