/** <faultodds-panel>: one work order from complaint to order. */
import { Refusal, Unreachable, httpAssessor } from "./assessor.js";
import type { Assessor } from "./assessor.js";
import { httpCases } from "./cases.js";
import type { CaseStore } from "./cases.js";
import { deviceAssessor } from "./device.js";
import type { DeviceAssessor, Documents } from "./device.js";
import type { Assessment, CaseDocument, Entry, Fault, Model, Test } from "./documents.js";
import { h, told } from "./dom.js";
import { resultForm } from "./form.js";
import type { ResultForm } from "./form.js";
import { forget, keep, keptOf, keptText, newTab, recall, tabOf, takeOver } from "./keeper.js";
import type { Recalled } from "./keeper.js";
import { alike, merge } from "./merge.js";
import type { Merged } from "./merge.js";
import { own } from "./own.js";
import { causesSection, elsewhereSection, furtherCautions, orderSection, section, suspectsSection } from "./sections.js";
import { filled, stringsOf } from "./strings.js";
import type { Strings } from "./strings.js";
import { style } from "./style.js";
import { Words, leading } from "./words.js";

const SHOWN_TESTS = 3;
const RETRY_SECONDS = 15;
// How long the adapter may take before this device is asked, where it can answer.
const PATIENCE_SECONDS = 10;

/** "device": this device answers, since the adapter does not. */
type Connection = "working" | "ready" | "offline" | "device";

const sheet = new CSSStyleSheet();
sheet.replaceSync(style);

/**
 * Attributes: `circuit`, `src` (of the adapter), `lang`, `keep` (in the browser's storage, under the case's id),
 * `offline` (address of faultodds-wasm's worker), `priors` (address of a prior pack for it), `cases` (the adapter
 * stores the case). Properties: `case`, `request`, `assessor`, `cases`, `documents`. Events: `faultodds-change`, `faultodds-assessment`,
 * `faultodds-order`.
 */
export class FaultoddsPanel extends HTMLElement {
  static readonly observedAttributes = ["circuit", "src", "lang", "offline", "priors"];

  readonly #root = this.attachShadow({ mode: "open" });
  readonly #status = h("p", { class: "status", role: "status" });
  readonly #source = h("p", { class: "source", role: "status" });
  readonly #retry = h("button", { type: "button", hidden: true, onclick: () => this.#reconnect() });
  readonly #main = h("div");

  #assessor: Assessor | null = null;
  #request: RequestInit = {};
  #documents: (() => Promise<Documents>) | null = null;
  #device: DeviceAssessor | null = null;
  #prepared = false;
  /** The adapter did not answer when it was last asked. */
  #away = false;
  #store: CaseStore | null = null;
  /** The case as the page or the store last had it, and which state of the stored one that was. */
  #base: CaseDocument | null = null;
  #revision: string | null = null;
  #sent: "yes" | "sending" | "no" = "yes";
  #elsewhere: Merged | null = null;
  /** Under which this element keeps the case; other tabs on the same work order keep theirs beside it. */
  readonly #tab = newTab();
  /** What the other tabs had when it was last brought in. */
  #tabs = new Map<string, CaseDocument>();
  #case: CaseDocument = { format: "faultodds-case/1", observations: [] };
  /** As the page gave it. */
  #given: CaseDocument = this.#case;
  #model: Model | null = null;
  #assessment: Assessment | null = null;
  #assessedAt: Date | null = null;
  /** The case that the assessment is of, as text. */
  #assessed = "";
  #strings: Strings = stringsOf("en");
  #connection: Connection = "working";
  #asked = 0;
  #timer = 0;
  #opened: string | null = null;
  #allTests = false;
  #cautionsFolded = false;
  #entered: { entry: Entry; form: ResultForm } | null = null;
  /** Entries that no answer has taken yet. */
  #unassessed = new Set<Entry>();
  #hints = new Map<string, Promise<Map<string, Fault[]>>>();
  #unfolded: HTMLDetailsElement[] = [];

  readonly #stored = (event: StorageEvent): void => this.#otherTab(event);
  readonly #online = (): void => void (this.#connection !== "ready" && this.#reconnect(true));
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
    this.#root.append(h("div", { class: "row off-paper" }, this.#status, this.#retry), this.#source, this.#main);
  }

  /** The case document, which the page keeps; setting it starts an assessment. */
  get case(): CaseDocument {
    return structuredClone(this.#case);
  }

  set case(theCase: CaseDocument) {
    if (theCase.id !== this.#case.id) this.#startAfresh();
    this.#given = { ...structuredClone(theCase), observations: structuredClone(theCase.observations ?? []) };
    this.#case = structuredClone(this.#given);
    this.#recall();
    if (this.isConnected) this.#begin();
  }

  #startAfresh(): void {
    this.#assessment = null;
    this.#assessedAt = null;
    this.#opened = null;
    this.#allTests = false;
    this.#cautionsFolded = false;
    this.#entered = null;
    this.#unassessed.clear();
    this.#base = null;
    this.#revision = null;
    this.#sent = "yes";
    this.#elsewhere = null;
    this.#tabs.clear();
  }

  /** Where answers come from; the adapter at `src` unless it is set. */
  set assessor(assessor: Assessor) {
    this.#assessor = assessor;
    this.#model = null;
    if (this.isConnected) void this.#assess();
  }

  /** What goes into every request to the adapter: credentials, headers. */
  set request(request: RequestInit) {
    this.#request = request;
    this.#restart();
  }

  /** Where this device has the circuit from, if not from the adapter at `src`. */
  set documents(documents: () => Promise<Documents>) {
    this.#documents = documents;
    this.#restart();
  }

  /** Where the case is stored; with the attribute `cases`, the adapter at `src` unless this is set. */
  set cases(store: CaseStore) {
    this.#store = store;
    if (this.isConnected) void this.#send();
  }

  /** The assessment that is shown; null before the first. */
  get assessment(): Assessment | null {
    return this.#assessment;
  }

  connectedCallback(): void {
    this.#language();
    window.addEventListener("online", this.#online);
    window.addEventListener("storage", this.#stored);
    window.addEventListener("beforeprint", this.#unfold);
    window.addEventListener("afterprint", this.#fold);
    this.#printing.addEventListener("change", this.#printChange);
    this.#recall();
    if (this.#model) this.#render();
    this.#begin();
  }

  disconnectedCallback(): void {
    this.#device?.stop();
    window.removeEventListener("online", this.#online);
    window.removeEventListener("storage", this.#stored);
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
      this.#assessment = null;
      this.#restart();
    }
  }

  #restart(): void {
    this.#model = null;
    this.#device?.stop();
    this.#device = null;
    if (this.isConnected) this.#begin();
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
    for (const part of [this.#main, this.#status, this.#source, this.#retry]) part.lang = tag;
  }

  // ---- answers ----------------------------------------------------------------------------------

  #network(): Assessor {
    return this.#assessor ?? httpAssessor(this.getAttribute("src") ?? "", this.#circuit, this.#request);
  }

  /** Answers without a connection, if the page has said by what. */
  #onDevice(): DeviceAssessor | null {
    const worker = this.getAttribute("offline");
    if (!worker || this.#device) return this.#device;
    const root = (this.getAttribute("src") ?? "").replace(/\/+$/, "");
    const circuit = `${root}/v1/circuits/${encodeURIComponent(this.#circuit)}`;
    const priors = this.getAttribute("priors");
    this.#prepared = false;
    const fetched = async (): Promise<Documents> => ({
      circuit: await keptText(circuit, this.#request),
      ...(priors ? { priors: await keptText(priors, this.#request) } : {}),
    });
    this.#device = deviceAssessor(new URL(worker, document.baseURI), this.#documents ?? fetched);
    return this.#device;
  }

  #begin(): void {
    void this.#assess();
    void this.#send();
    void this.#onDevice()
      ?.prepare()
      .then(
        () => (this.#prepared = true),
        () => {}, // tried again when it is asked
      )
      .then(() => this.#tellSource());
  }

  /** Tries the adapter again, whoever answers now. */
  #reconnect(quietly = false): void {
    this.#away = false;
    void this.#assess(quietly);
    void this.#send();
  }

  /** From the adapter; from this device if that does not answer. */
  async #answer(theCase: CaseDocument): Promise<[Model, Assessment, Connection]> {
    const device = this.#onDevice();
    const from = async (source: Assessor): Promise<[Model, Assessment]> =>
      [this.#model ?? (await source.model()), await source.assess(theCase)];
    if (device && this.#away) return [...(await from(device)), "device"];
    try {
      return [...(await (device ? timely(from(this.#network())) : from(this.#network()))), "ready"];
    } catch (problem) {
      if (!device || problem instanceof Refusal) throw problem;
      this.#away = true;
      return [...(await from(device)), "device"];
    }
  }

  /** `quietly`: what is shown stays as it is unless there is something new. */
  async #assess(quietly = false): Promise<void> {
    const asked = ++this.#asked;
    const theCase = this.case;
    const text = JSON.stringify(theCase);
    clearTimeout(this.#timer);
    if (!quietly) {
      this.#connection = "working";
      this.#tell();
    }
    try {
      const [model, assessment, connection] = await this.#answer(theCase);
      if (asked !== this.#asked) return;
      const unchanged = quietly && this.#assessment !== null && this.#assessed === text;
      this.#model = model;
      this.#assessedAt = new Date();
      this.#connection = connection;
      if (connection === "device") this.#again();
      if (unchanged) return this.#tell();
      this.#assessment = assessment;
      this.#assessed = text;
      this.#hints.clear();
      this.#unassessed.clear();
      this.#keep();
      const form = this.#entered;
      this.#entered = null;
      this.#render(form !== null);
      this.dispatchEvent(new CustomEvent("faultodds-assessment", { detail: assessment }));
    } catch (problem) {
      if (asked !== this.#asked) return;
      if (problem instanceof Refusal) this.#refused(problem);
      else this.#lost(quietly);
    }
  }

  #again(): void {
    clearTimeout(this.#timer);
    if (!this.isConnected) return;
    this.#timer = window.setTimeout(() => this.#reconnect(true), RETRY_SECONDS * 1000);
  }

  // An entry that is refused is taken back, and it is told where it was entered.
  #refused(problem: Refusal): void {
    const entered = this.#entered;
    const place = /^\/case\/observations\/(\d+)/.exec(problem.pointer);
    const culprit = place ? this.#case.observations[Number(place[1])] : entered?.entry;
    const message = filled(this.#strings.refused, { message: problem.message });
    this.#entered = null;
    this.#connection = "ready";
    if (!culprit || !this.#unassessed.delete(culprit)) return this.#tell(message);
    this.#case.observations = this.#case.observations.filter((entry) => entry !== culprit);
    this.#changed();
    if (entered?.entry === culprit && entered.form.element.isConnected) {
      this.#tell("");
      entered.form.refuse(message);
    } else {
      this.#render();
      this.#tell(message);
    }
    if (this.#unassessed.size > 0) void this.#assess();
  }

  #lost(quietly: boolean): void {
    const entered = this.#entered !== null;
    this.#entered = null;
    this.#connection = "offline";
    this.#again();
    if (quietly) return this.#tell(); // a form that is being filled in stays
    this.#render(entered);
  }

  // ---- the store of cases -----------------------------------------------------------------------

  #cases(): CaseStore | null {
    if (this.#store || !this.hasAttribute("cases") || !this.#case.id) return this.#store;
    return httpCases(this.getAttribute("src") ?? "", this.#circuit, this.#case.id, this.#request);
  }

  /** Brings the stored case and this one together, and stores it. */
  async #send(): Promise<void> {
    const store = this.#cases();
    if (!store || this.#sent === "sending") return;
    const id = this.#case.id;
    this.#sent = "sending";
    try {
      let known = this.#revision;
      for (let attempt = 0; attempt < 5; ++attempt) {
        if (known === null) {
          const stored = await store.load();
          if (this.#case.id !== id) return;
          if (stored && this.#together(stored.theCase, (known = stored.revision))) {
            if (this.#model) this.#render();
            void this.#assess();
          }
        }
        const theCase = this.case;
        if (known !== null && JSON.stringify(theCase) === JSON.stringify(this.#base)) break;
        const revision: string | null = await store.save(theCase, known);
        if (this.#case.id !== id) return;
        known = revision;
        if (revision === null) continue; // somebody else was faster
        this.#base = theCase;
        this.#revision = revision;
        this.#keep();
        // What was entered meanwhile goes next.
      }
      this.#sent = JSON.stringify(this.#case) === JSON.stringify(this.#base) ? "yes" : "no";
      if (this.#sent === "no") this.#again(); // others were faster each time
    } catch (problem) {
      if (this.#case.id !== id) return;
      this.#sent = "no";
      if (problem instanceof Refusal) this.#revision = null;
      if (problem instanceof Unreachable && this.#connection === "ready") this.#again();
    }
    this.#tellSource();
  }

  /** Takes in what another has: the page when it gives the case, or the store. True if the case is another now. */
  #together(other: CaseDocument, revision: string | null): boolean {
    const base = this.#base ?? this.#given;
    const ahead = JSON.stringify(this.#case) !== JSON.stringify(base);
    const merged = merge(base, this.#case, other);
    this.#base = structuredClone(other);
    this.#revision = revision;
    // What nobody here went on from meanwhile is no news.
    if (ahead && (merged.elsewhere.length > 0 || merged.twice.length > 0)) this.#elsewhere = merged;
    const changed = JSON.stringify(merged.theCase) !== JSON.stringify(this.#case);
    if (changed) {
      this.#case = structuredClone(merged.theCase);
      queueMicrotask(() => this.dispatchEvent(new CustomEvent("faultodds-change", { detail: this.case })));
    }
    this.#keep();
    return changed;
  }

  // ---- the case ---------------------------------------------------------------------------------

  #enter(entry: Entry, form: ResultForm): void {
    this.#case.observations.push(entry);
    this.#unassessed.add(entry);
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

  /** Of what was entered here and elsewhere, `wrong` is taken back; null: it stands as it is. */
  #resolve(wrong: Entry | null): void {
    const open = this.#elsewhere;
    if (!open) return;
    const twice = wrong ? open.twice.filter((pair) => pair.here !== wrong && pair.elsewhere !== wrong) : [];
    this.#elsewhere = twice.length > 0 ? { ...open, twice } : null;
    if (!wrong) return this.#render(true);
    const at = this.#case.observations.findIndex((entry) => JSON.stringify(entry) === JSON.stringify(wrong));
    if (at >= 0) this.#takeBack(this.#case.observations[at]!);
    else this.#render(true);
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
    void this.#send();
  }

  /** True if it is kept now. */
  #keep(): boolean {
    if (!this.hasAttribute("keep") || !this.#case.id) return false;
    return keep(this.#circuit, this.#case.id, this.#tab, {
      theCase: this.#case,
      base: this.#base,
      revision: this.#revision,
      model: this.#model,
      assessment: this.#assessment,
      at: this.#assessedAt?.toISOString() ?? null,
    });
  }

  // What was kept may be ahead of what the page has, if it was entered while nobody could save it; and the page of
  // what was kept, if another entered something.
  #recall(): void {
    const kept = this.hasAttribute("keep") && this.#case.id
      ? recall(this.#circuit, this.#case.id, this.#tab, this.#given) : null;
    if (!kept) {
      this.#base ??= structuredClone(this.#given);
      return;
    }
    this.#model ??= kept.model;
    this.#case = structuredClone(kept.theCase);
    this.#base = kept.base ?? structuredClone(this.#given);
    this.#revision = null;
    for (const [tab, theCase] of kept.tabs) this.#tabs.set(tab, theCase);
    if (kept.twice.length > 0) this.#elsewhere = { theCase: kept.theCase, elsewhere: [], twice: kept.twice };
    this.#show(kept);
    if (kept.tabs.size > 0 && this.#keep()) takeOver(this.#circuit, this.#case.id!, kept.tabs.keys());
  }

  #show(kept: Recalled): void {
    // With a store of cases the page only says which case; what others entered is in the store.
    if (!this.#cases() && this.#together(this.#given, null)) return;
    if (!this.#cases() && JSON.stringify(this.#case) !== JSON.stringify(this.#given)) {
      queueMicrotask(() => this.dispatchEvent(new CustomEvent("faultodds-change", { detail: this.case })));
    }
    if (kept.assessment && kept.at) {
      this.#assessment ??= kept.assessment;
      this.#assessed = kept.merged ? "" : JSON.stringify(this.#case);
      this.#assessedAt ??= new Date(kept.at);
    }
  }

  /** Another tab on the same work order has entered something, or taken it back: so it is here. */
  #otherTab({ key, newValue, storageArea }: StorageEvent): void {
    const { id } = this.#case;
    if (!this.hasAttribute("keep") || !id || key === null || storageArea !== localStorage) return;
    const tab = tabOf(key, this.#circuit, id);
    const kept = tab === null || tab === this.#tab ? null : keptOf(newValue, id);
    if (tab === null || !kept) return;
    const merged = merge(this.#tabs.get(tab) ?? kept.base ?? this.#given, this.#case, kept.theCase);
    this.#tabs.set(tab, kept.theCase);
    if (merged.twice.length > 0) this.#elsewhere = merged;
    if (alike(merged.theCase, this.#case)) return; // else two tabs would hand an order to and fro
    this.#case = structuredClone(merged.theCase);
    this.#changed();
    if (this.#filling()) return; // shown with the next entry
    this.#render();
    void this.#assess(true);
  }

  /** Something stands in a form that was not entered yet. */
  #filling(): boolean {
    return [...this.#root.querySelectorAll<HTMLInputElement>("form input")].some(
      ({ type, checked, value }) => (type === "radio" ? checked : value !== ""));
  }

  // ---- what is shown ----------------------------------------------------------------------------

  #tell(message?: string): void {
    const strings = this.#strings;
    const tests = this.#assessment?.tests ?? [];
    this.#retry.textContent = strings.tryAgain;
    this.#retry.hidden = this.#connection !== "offline" && this.#connection !== "device";
    this.#tellSource();
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

  // Who answered, and what is on this device only.
  #tellSource(): void {
    const { byServer, byDevice, prepared, unsent } = this.#strings;
    const answered = this.#connection === "device" ? byDevice : this.#connection === "ready" ? byServer : "";
    const told = [
      ...(this.hasAttribute("offline") ? [answered, this.#connection === "ready" && this.#prepared ? prepared : ""] : []),
      this.#sent === "no" ? unsent : "",
    ].filter(Boolean);
    this.#source.classList.toggle("alert", this.#connection === "device" || this.#sent === "no");
    if (this.#source.textContent !== told.join(" ")) this.#source.textContent = told.join(" ");
  }

  #time(): string {
    return (this.#assessedAt ?? new Date()).toLocaleTimeString(this.#main.lang, { hour: "2-digit", minute: "2-digit" });
  }

  #render(moveFocus = false): void {
    this.#tell();
    const model = this.#model;
    if (!model) return this.#main.replaceChildren();
    const words = new Words(this.#strings, this.#main.lang, model);
    const assessment = this.#assessment;
    this.#main.replaceChildren(
      h("p", { class: "paper" }, filled(this.#strings.printed, { time: this.#time() })),
      this.#cautions(words, assessment?.cautions ?? model.cautions),
      ...(this.#elsewhere
        ? [
            elsewhereSection(words, this.#elsewhere, {
              takeBack: (entry) => this.#resolve(entry),
              understood: () => this.#resolve(null),
            }),
          ]
        : []),
      this.#seen(words),
    );
    if (assessment) {
      const causes = causesSection(words, assessment);
      this.#main.append(
        ...(causes ? [causes] : []),
        this.#tests(words, assessment),
        suspectsSection(words, assessment),
        orderSection(words, assessment, {
          order: (components, advice) =>
            this.dispatchEvent(new CustomEvent("faultodds-order", { detail: { components, advice } })),
          replaced: (components) => this.#replaced(components),
        }),
      );
    }
    if (moveFocus) this.#main.querySelector<HTMLElement>("#tests-heading, #seen-heading")?.focus();
  }

  // Until a test has been made there is no way to put the cautions out of sight.
  #cautions(words: Words, texts: string[]): HTMLElement {
    const { strings } = words;
    const list = h("ul", {}, ...texts.map((text) => words.caution(text)));
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

  #seen(words: Words): HTMLElement {
    const { strings } = words;
    const entries = this.#case.observations;
    const list = h(
      "ul",
      { class: "seen" },
      ...entries.map((entry) => {
        const what = words.entry(entry);
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
    const complaint = this.#complaint(words);
    return section(
      "seen",
      strings.seen,
      entries.length > 0 ? list : h("p", { class: "quiet" }, strings.nothingSeen),
      entries.length > 0 ? h("details", { class: "off-paper" }, h("summary", {}, strings.complaint), complaint) : complaint,
    );
  }

  #complaint({ strings, model }: Words): HTMLElement {
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

  #tests(words: Words, { tests: ranked, warnings }: Assessment): HTMLElement {
    const { strings } = words;
    // A ranking from before the connection was lost has tests that were made since.
    const made = new Set(this.#case.observations.map((entry) => ("observation" in entry ? entry.observation : "")));
    const tests = this.#connection === "offline" ? ranked.filter((test) => !made.has(test.observation)) : ranked;
    const shown = this.#allTests ? tests.length : SHOWN_TESTS;
    const opened = tests.findIndex(({ observation }) => observation === this.#opened);
    const count = Math.max(shown, opened + 1);
    const list = h("ol", { class: "tests" });
    tests.slice(0, count).forEach((test, rank) => list.append(this.#test(words, test, rank)));
    return section(
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

  #test(words: Words, test: Test, rank: number): HTMLElement {
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
            h("span", {}, words.minutes(test.minutes)),
            h("span", { class: test.energised ? "power" : "" }, words.power(test.energised)),
          ),
        ),
      ),
      body,
    );
    const fill = (): void => {
      if (body.childElementCount === 0) body.append(...this.#testBody(words, test, `test-${rank}`));
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

  #testBody(words: Words, test: Test, name: string): Node[] {
    const { strings } = words;
    const general = this.#assessment?.cautions ?? words.model.cautions;
    const cautions = furtherCautions(words, test.cautions, general, strings.cautionsTest);
    const form: ResultForm = resultForm(
      { observation: test.observation, kind: test.kind, outcomes: Object.keys(test.probability) },
      name,
      strings,
      strings.enter,
      (entry) => this.#enter(entry, form),
    );
    const tells = h("ul");
    void this.#fillHints(words, test, tells);
    const shared = new Set(test.setup.map((step) => step.id));
    const steps = test.steps ?? test.setup;
    const afterwards = test.afterwards ?? [];
    return [
      ...(cautions ? [cautions] : []),
      h("h4", {}, strings.why),
      told(test.because, "p"),
      h("h4", {}, strings.tells),
      tells,
      ...(steps.length > 0
        ? [
            h("h4", {}, strings.setup),
            h("p", { class: "quiet off-paper" }, strings.setupDone),
            // Those that tests share can be ticked; the others are of this test alone.
            ...steps.map((step) => (shared.has(step.id) ? this.#step(words, step) : told(step.title, "p"))),
          ]
        : []),
      ...(test.kind === "static" || test.test_pressure
        ? [
            h("h4", {}, strings.pressure),
            h("p", {}, test.test_pressure ?? strings.pressureUnknown),
            ...(test.pressure_limit ? [told(`${test.pressure_limit.volume}: ${test.pressure_limit.why}`, "p")] : []),
            ...(test.no_pressure ? [told(test.no_pressure.why, "p")] : []),
          ]
        : []),
      ...(afterwards.length > 0
        ? [h("h4", {}, strings.afterwards), ...afterwards.map((step) => told(step.title, "p"))]
        : []),
      ...(test.bring.length > 0
        ? [h("h4", {}, strings.bring), h("ul", {}, ...test.bring.map((fitting) => words.fitting(fitting)))]
        : []),
      h("h4", { class: "off-paper" }, strings.result),
      form.element,
    ];
  }

  #step(words: Words, step: Test["setup"][number]): HTMLElement {
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
        h("span", {}, told(step.title), ` (${words.minutes(step.minutes)})`),
      ),
    );
  }

  // For each outcome the leading suspects, were it the one that is seen.
  async #fillHints(words: Words, test: Test, list: HTMLElement): Promise<void> {
    const { strings } = words;
    const line = (outcome: string, suspects: string): HTMLElement =>
      h("li", {}, filled(strings.tellsLine, {
        outcome: words.outcome(outcome),
        percent: words.percent(own(test.probability, outcome) ?? 0),
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
              .map((fault) => `${words.fault(fault)} ${words.percent(1 - fault.grades[0])}`)
              .join("; ") || "–",
          ),
        ),
      );
    } catch {
      this.#hints.delete(test.observation);
      list.replaceChildren(
        ...outcomes.map((outcome) => h("li", {}, `${words.outcome(outcome)}, ${words.percent(own(test.probability, outcome) ?? 0)}`)),
        h("li", { class: "quiet" }, strings.tellsUnknown),
      );
    }
  }

  async #imagine(observation: string, outcomes: string[]): Promise<Map<string, Fault[]>> {
    const source = (this.#away && this.#onDevice()) || this.#network();
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
}

async function timely<T>(answer: Promise<T>): Promise<T> {
  let timer = 0;
  const late = new Promise<never>((_, reject) => {
    timer = window.setTimeout(() => reject(new Unreachable("no answer in time")), PATIENCE_SECONDS * 1000);
  });
  return Promise.race([answer, late]).finally(() => clearTimeout(timer));
}
