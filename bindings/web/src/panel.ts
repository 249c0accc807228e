/** <faultodds-panel>: one work order from complaint to order, one next step at a time. The job is in job.ts. */
import type { Assessor } from "./assessor.js";
import type { CaseStore } from "./cases.js";
import { Messages, loadLanguage } from "./catalogue.js";
import { complaintStep } from "./complaint.js";
import type { Propose } from "./complaint.js";
import type { Documents } from "./device.js";
import type { Assessment, CaseDocument } from "./documents.js";
import { h } from "./dom.js";
import { draftsOf, putBack } from "./drafts.js";
import { drawingOf } from "./drawing.js";
import { Job } from "./job.js";
import { cropped, jobCard, planTree } from "./plan.js";
import { cardStyle, style } from "./style.js";
import type { Units } from "./units.js";
import { elsewhereSection, expert, folded, generalCautions, likely, nextStep, orderStep, otherTests, seen } from "./view.js";
import type { StepActions } from "./view.js";
import { workForm } from "./workform.js";
import { Words } from "./words.js";

// Of the plan on a screen; the likeliest.
const MOST_ENDS = 15;

const sheet = new CSSStyleSheet();
sheet.replaceSync(style);

/** Attributes, properties and events: see README.md. */
export class FaultoddsPanel extends HTMLElement {
  static readonly observedAttributes = ["circuit", "src", "lang", "offline", "priors", "units", "complaint"];

  readonly #root = this.attachShadow({ mode: "open" });
  readonly #status = h("p", { class: "status", role: "status", part: "status" });
  readonly #source = h("p", { class: "source", role: "status" });
  readonly #retry = h("button", { type: "button", hidden: true, onclick: () => this.#job.reconnect() });
  readonly #main = h("div", { class: "main" });
  readonly #job = new Job({ value: (name) => this.getAttribute(name) });
  #messages = new Messages("en");
  #propose: Propose | null = null;
  #unfolded: HTMLDetailsElement[] = [];

  readonly #unfold = (): void => {
    this.#unfolded = [...this.#root.querySelectorAll<HTMLDetailsElement>("details[data-keep=cautions]:not([open])")];
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
    this.#root.append(h("div", { class: "row off-paper" }, this.#status, this.#retry), this.#source, this.#main);
    this.#job.filling = () => [...this.#root.querySelectorAll<HTMLInputElement>("form input")].some(
      ({ type, checked, defaultChecked, value, defaultValue }) =>
        type === "checkbox" || type === "radio" ? checked !== defaultChecked : value !== defaultValue);
    this.#job.refusal = (message) => this.#messages.say("ui.refused", { message });
    this.#job.addEventListener("show", (event) => this.#render((event as CustomEvent<boolean>).detail));
    this.#job.addEventListener("tell", (event) => this.#tell((event as CustomEvent<string | undefined>).detail));
    for (const name of ["faultodds-change", "faultodds-assessment"]) {
      this.#job.addEventListener(name, (event) => this.dispatchEvent(new CustomEvent(name, { detail: (event as CustomEvent).detail })));
    }
  }

  /** The job without a view, for pages with views of their own. */
  get job(): Job {
    return this.#job;
  }
  /** The case document, which the page keeps; setting it starts an assessment. */
  get case(): CaseDocument {
    return this.#job.case;
  }
  set case(theCase: CaseDocument) {
    this.#job.case = theCase;
  }
  set assessor(assessor: Assessor) {
    this.#job.assessor = assessor;
  }
  set request(request: RequestInit) {
    this.#job.request = request;
  }
  set documents(documents: () => Promise<Documents>) {
    this.#job.documents = documents;
  }
  set cases(store: CaseStore) {
    this.#job.cases = store;
  }
  /** What finds the symptom that words mean, if not whoever assesses. */
  set propose(propose: Propose | null) {
    this.#propose = propose;
    if (this.isConnected) this.#render();
  }
  /** The assessment that is shown; null before the first. */
  get assessment(): Assessment | null {
    return this.#job.assessment;
  }
  forget(): void {
    this.#job.forget();
  }

  connectedCallback(): void {
    void this.#speak();
    window.addEventListener("beforeprint", this.#unfold);
    window.addEventListener("afterprint", this.#fold);
    this.#printing.addEventListener("change", this.#printChange);
    this.#job.start();
  }

  disconnectedCallback(): void {
    this.#job.stop();
    window.removeEventListener("beforeprint", this.#unfold);
    window.removeEventListener("afterprint", this.#fold);
    this.#printing.removeEventListener("change", this.#printChange);
  }

  attributeChangedCallback(name: string, before: string | null, now: string | null): void {
    if (!this.isConnected || before === now) return;
    if (name === "lang") void this.#speak();
    else if (name === "units" || name === "complaint") this.#render();
    else this.#job.restart();
  }

  async #speak(): Promise<void> {
    const tag = this.getAttribute("lang") ?? (document.documentElement.lang || "en");
    await loadLanguage(tag).catch(() => {}); // English until there is a connection
    this.#messages = new Messages(tag);
    const right = /^(ar|he|fa|ur)\b/i.test(tag);
    for (const part of [this.#main, this.#status, this.#source, this.#retry]) {
      part.lang = tag;
      part.dir = right ? "rtl" : "ltr";
    }
    this.#render();
  }

  #ui(id: string, values?: Record<string, string | number>): string {
    return this.#messages.say(`ui.${id}`, values);
  }

  #words(): Words | null {
    const { model } = this.#job;
    const units = this.getAttribute("units");
    return model && new Words(this.#messages, model, (units === "us" || units === "metric" ? units : "written") satisfies Units);
  }

  #tell(message?: string): void {
    const { connection, assessment, stage } = this.#job;
    this.#retry.textContent = this.#ui("tryAgain");
    this.#retry.hidden = connection !== "offline" && connection !== "device";
    this.#tellSource();
    this.#status.classList.toggle("alert", connection === "offline" || Boolean(message));
    const test = stage === "test" ? assessment?.tests[0] : undefined;
    const words = this.#words();
    this.#status.textContent = message ??
      (connection === "working" ? this.#ui("working")
        : connection === "offline" ? (assessment ? this.#ui("offline", { time: this.#time() }) : this.#ui("offlineNew"))
          : stage === "complaint" ? this.#ui("complaintHelp")
            : test && words ? this.#ui("readyNext", { test: words.observation(test.observation) }) : this.#ui("orderStop"));
  }

  // Who answered, and what is on this device only.
  #tellSource(): void {
    const { connection, prepared, unsent } = this.#job;
    const answered = connection === "device" ? this.#ui("byDevice") : connection === "ready" ? this.#ui("byServer") : "";
    const told = [
      ...(this.hasAttribute("offline") ? [answered, connection === "ready" && prepared ? this.#ui("prepared") : ""] : []),
      unsent ? this.#ui("unsent") : "",
    ].filter(Boolean).join(" ");
    this.#source.classList.toggle("alert", connection === "device" || unsent);
    if (this.#source.textContent !== told) this.#source.textContent = told;
  }

  #time(): string {
    return this.#job.assessedAt.toLocaleTimeString(this.#messages.tag, { hour: "2-digit", minute: "2-digit" });
  }

  /** Draws again; what stands in forms and which parts are open stay, in another language too. */
  #render(moveFocus = false): void {
    this.#tell();
    const words = this.#words();
    if (!words) return this.#main.replaceChildren();
    const drafts = draftsOf(this.#main);
    this.#main.replaceChildren(...this.#parts(words).filter((part) => part !== null));
    if (!moveFocus) putBack(this.#main, drafts);
    else this.#main.querySelector<HTMLElement>("#next-heading, #complaint-heading")?.focus();
  }

  /** What may come, once somebody wants to see it; and the same on a page to print. */
  #plan(words: Words): HTMLElement | null {
    const job = this.#job;
    if (!job.canPlan) return null;
    const place = h("div", { "aria-live": "polite" });
    const print = h("button", { type: "button", onclick: () => this.#printCard(words) }, this.#ui("printCard"));
    const element = folded("plan", this.#ui("plan"), place, h("div", { class: "actions" }, print));
    element.addEventListener("toggle", () => {
      if (!(element as HTMLDetailsElement).open || place.hasChildNodes()) return;
      place.replaceChildren(this.#ui("tellsWaiting"));
      job.plan?.then(
        (plan) => place.replaceChildren(planTree(words, cropped(plan, MOST_ENDS))),
        () => place.replaceChildren(this.#ui("planNone")));
    });
    return element;
  }

  async #printCard(words: Words): Promise<void> {
    const job = this.#job;
    const plan = await job.plan?.catch(() => null);
    if (!plan || !job.model) return this.#tell(this.#ui("planNone"));
    // A page of its own, so that what stands around the element is not on it.
    const frame = h("iframe", { class: "printing", title: this.#ui("printCard"), tabindex: -1 });
    this.#main.append(frame);
    const paper = frame.contentWindow as (Window & typeof globalThis) | null;
    if (!paper) return frame.remove();
    const look = new paper.CSSStyleSheet();
    look.replaceSync(cardStyle);
    paper.document.adoptedStyleSheets = [look];
    paper.document.documentElement.lang = this.#main.lang;
    paper.document.documentElement.dir = this.#main.dir;
    paper.document.title = words.circuit();
    const { body } = paper.document;
    // As much of the plan, in type as large, as one page has room for.
    fit: for (const ends of [11, 8, 6, 4, 3, 2]) {
      body.replaceChildren(paper.document.adoptNode(jobCard(words, cropped(plan, ends), job.case, job.entries)));
      for (const size of [7.5, 7, 6.5, 6]) {
        body.style.fontSize = `${size}pt`;
        if (body.scrollHeight <= frame.clientHeight) break fit;
      }
    }
    paper.addEventListener("afterprint", () => frame.remove());
    paper.print();
  }

  #parts(words: Words): (HTMLElement | null)[] {
    const job = this.#job;
    const { assessment, stage, model } = job;
    const theCase = job.case;
    const entries = job.entries;
    const elsewhere = job.elsewhere && elsewhereSection(words, job.elsewhere, {
      takeBack: (entry) => job.resolve(entry),
      understood: () => job.resolve(null),
    });
    const before = h("p", { class: "paper" }, this.#ui("printed", { time: this.#time() }));
    const was = seen(words, entries, (entry) => job.takeBack(entry));
    if (stage === "complaint") {
      return [before, elsewhere,
        complaintStep(words, this.getAttribute("complaint") ?? "", this.#propose ?? job.propose, (entry) => job.enter(entry, null)), was];
    }
    if (!assessment || !model) return [before, elsewhere, was];
    const act: StepActions = {
      enter: (entry, form) => job.enter(entry, form),
      setup: (step, done) => job.setup(step, done),
      makeNext: (observation) => job.makeNext(observation),
      imagine: (observation, outcomes) => job.imagine(observation, outcomes),
    };
    // What was made since an answer that is kept without a connection is no next step.
    const made = new Set(entries.map((entry) => "observation" in entry ? entry.observation : "not_possible" in entry ? entry.not_possible : ""));
    const test = assessment.tests.find((one) => one.again || !made.has(one.observation));
    const symptoms = new Set(model.observations.filter(({ symptom }) => symptom).map(({ observation }) => observation));
    const foldable = entries.some((entry) => "observation" in entry && !symptoms.has(entry.observation));
    const general = generalCautions(words, assessment.cautions, foldable);
    const step = stage === "test" && test
      ? nextStep(words, assessment, test, theCase.setup_done ?? [], general, act)
      : orderStep(words, assessment, {
          order: (components, advice) => this.dispatchEvent(new CustomEvent("faultodds-order", { detail: { components, advice } })),
          replaced: (components) => job.replaced(components),
          enter: (entry) => job.enter(entry, null),
        });
    if (stage === "order") step.querySelector("h2")!.after(general);
    step.append(drawingOf(words, job.draw, theCase, this) ?? "");
    return [before, elsewhere, likely(words, assessment), step, was,
      h("div", { class: "more off-paper" }, this.#plan(words), otherTests(words, assessment, act),
        folded("another", words.ui("complaint"), complaintStep(words, "", this.#propose ?? job.propose, (entry) => job.enter(entry, null))),
        workForm(words, theCase, assessment, (work) => job.workWith(work)), expert(words, assessment, test))];
  }
}
