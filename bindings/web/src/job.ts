/**
 * One work order from complaint to order, without a view: the case, the answers on it, what is kept and stored. Views
 * listen: "show" (draw again; `detail` true where the next step is to be read out), "tell" (only the status changed;
 * `detail` a message or nothing), "faultodds-change", "faultodds-assessment".
 */
import { Refusal, Unreachable, httpAssessor } from "./assessor.js";
import type { Assessor } from "./assessor.js";
import type { Propose } from "./complaint.js";
import { httpCases } from "./cases.js";
import type { CaseStore } from "./cases.js";
import { deviceAssessor } from "./device.js";
import type { DeviceAssessor, Documents } from "./device.js";
import type { Assessment, CaseDocument, Entry, Model, Plan } from "./documents.js";
import type { Draw } from "./drawing.js";
import { either } from "./either.js";
import { forget, keep, keptOf, keptText, newTab, recall, tabOf, takeOver } from "./keeper.js";
import type { Recalled } from "./keeper.js";
import { alike, merge } from "./merge.js";
import type { Merged } from "./merge.js";
import { screenAnswer } from "./screen_answer.js";

const RETRY_SECONDS = 15;
// How long the adapter may take before this device is asked, where it can answer.
const PATIENCE_SECONDS = 10;

/** "device": this device answers, since the adapter does not. */
export type Connection = "working" | "ready" | "offline" | "device";

/** What an entry was made with: it is told why the entry was refused. */
export interface EntryForm {
  refuse(message: string): void;
  readonly shown: boolean;
}

/** "complaint": nothing abnormal was seen, nothing is ranked. "test", "order": what the next step is. */
export type Stage = "loading" | "complaint" | "test" | "order";

export type Setting = "circuit" | "src" | "keep" | "cases" | "offline" | "priors";

export interface Settings {
  value(name: Setting): string | null;
}

/** What the answer would be, were this outcome the one that is seen. */
export interface Imagined {
  outcome: string;
  assessment: Assessment;
}

export class Job extends EventTarget {
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
  /** Under which this job keeps the case; other tabs on the same work order keep theirs beside it. */
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
  #connection: Connection = "working";
  #asked = 0;
  #timer = 0;
  #running = false;
  #entered: { entry: Entry; form: EntryForm | null } | null = null;
  /** Entries that no answer has taken yet. */
  #unassessed = new Set<Entry>();
  #imagined = new Map<string, Promise<Imagined[]>>();
  #plan: { of: string; plan: Promise<Plan> } | null = null;
  /** Something stands in a form of the view that was not entered yet. */
  filling: () => boolean = () => false;
  /** How a refusal is told. */
  refusal: (message: string) => string = (message) => message;

  readonly #stored = (event: StorageEvent): void => this.#otherTab(event);
  readonly #online = (): void => void (this.#connection !== "ready" && this.reconnect(true));

  constructor(private readonly settings: Settings) {
    super();
  }

  start(): void {
    this.#running = true;
    window.addEventListener("online", this.#online);
    window.addEventListener("storage", this.#stored);
    this.#recall();
    if (this.#model) this.#show_();
    this.#begin();
  }

  stop(): void {
    this.#running = false;
    this.#device?.stop();
    window.removeEventListener("online", this.#online);
    window.removeEventListener("storage", this.#stored);
    clearTimeout(this.#timer);
    ++this.#asked;
  }

  /** Where answers come from has changed. */
  restart(): void {
    this.#model = null;
    this.#assessment = null;
    this.#device?.stop();
    this.#device = null;
    if (this.#running) this.#begin();
  }

  /** The entries themselves, by which they are taken back. */
  get entries(): readonly Entry[] {
    return this.#case.observations;
  }
  get model(): Model | null {
    return this.#model;
  }
  get connection(): Connection {
    return this.#connection;
  }
  get assessedAt(): Date {
    return this.#assessedAt ?? new Date();
  }
  get elsewhere(): Merged | null {
    return this.#elsewhere;
  }
  get prepared(): boolean {
    return this.#prepared;
  }
  get unsent(): boolean {
    return this.#sent === "no";
  }

  get stage(): Stage {
    if (!this.#model) return "loading";
    if (!this.#case.observations.some((entry) => "observation" in entry)) return "complaint";
    const answer = this.#assessment;
    if (!answer) return "loading";
    if (answer.complaint.length === 0 && answer.causes.length === 0) return "complaint";
    return !answer.advice || (!answer.advice.stop && answer.tests.length > 0) ? "test" : "order";
  }

  #attribute(name: Setting): string | null {
    return this.settings.value(name);
  }

  #show_(moveFocus = false): void {
    this.dispatchEvent(new CustomEvent("show", { detail: moveFocus }));
  }

  #tell(message?: string): void {
    this.dispatchEvent(new CustomEvent("tell", { detail: message }));
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
    if (this.#running) this.#begin();
  }

  #startAfresh(): void {
    this.#assessment = null;
    this.#assessedAt = null;
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
    if (this.#running) void this.#assess();
  }

  /** What goes into every request to the adapter: credentials, headers. */
  set request(request: RequestInit) {
    this.#request = request;
    this.restart();
  }

  /** Where this device has the circuit from, if not from the adapter at `src`. */
  set documents(documents: () => Promise<Documents>) {
    this.#documents = documents;
    this.restart();
  }

  /** Where the case is stored; with the attribute `cases`, the adapter at `src` unless this is set. */
  set cases(store: CaseStore) {
    this.#store = store;
    if (this.#running) void this.#send();
  }

  /** The assessment that is shown; null before the first. */
  get assessment(): Assessment | null {
    return this.#assessment;
  }

  /** Takes the work order out of the browser's storage, once the page has it. */
  forget(): void {
    if (this.#case.id) forget(this.#circuit, this.#case.id);
  }

  get #circuit(): string {
    return this.#attribute("circuit") ?? this.#case.circuit ?? "";
  }

  // ---- answers ----------------------------------------------------------------------------------

  #network(): Assessor {
    return this.#assessor ?? httpAssessor(this.#attribute("src") ?? "", this.#circuit, this.#request);
  }

  /** Answers without a connection, if the page has said by what. */
  #onDevice(): DeviceAssessor | null {
    const worker = this.#attribute("offline");
    if (!worker || this.#device) return this.#device;
    const root = (this.#attribute("src") ?? "").replace(/\/+$/, "");
    const circuit = `${root}/v1/circuits/${encodeURIComponent(this.#circuit)}`;
    const priors = this.#attribute("priors");
    this.#prepared = false;
    const fetched = async (): Promise<Documents> => ({
      circuit: await keptText(circuit, this.#request),
      ...(priors ? { priors: await keptText(priors, this.#request) } : {}),
    });
    this.#device = deviceAssessor(new URL(worker, document.baseURI), this.#documents ?? fetched);
    return this.#device;
  }

  /** What words of a complaint may mean, from whoever answers now; null where nobody can tell. */
  get propose(): Propose | null {
    const [network, device] = [this.#network(), this.#onDevice()];
    return either(network.propose?.bind(network), device?.propose?.bind(device), () => this.#away);
  }

  /** The drawing of what a case concerns, likewise. */
  get draw(): Draw | null {
    const [network, device] = [this.#network(), this.#onDevice()];
    return either(network.draw?.bind(network), device?.draw?.bind(device), () => this.#away);
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
      .then(() => this.#tell());
  }

  /** Tries the adapter again, whoever answers now. */
  reconnect(quietly = false): void {
    this.#away = false;
    void this.#assess(quietly);
    void this.#send();
  }

  /** The case as it is asked about: what a screen needs is answered. */
  #question(): CaseDocument {
    return { ...this.case, detail: "screen" };
  }

  /** From the adapter; from this device if that does not answer. */
  async #answer(theCase: CaseDocument): Promise<[Model, Assessment, Connection]> {
    const device = this.#onDevice();
    const from = async (source: Assessor): Promise<[Model, Assessment]> =>
      [this.#model ?? (await source.model()), screenAnswer(await source.assess(theCase))];
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
    const theCase = this.#question();
    const text = JSON.stringify(this.#case);
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
      this.#imagined.clear();
      this.#unassessed.clear();
      this.#keep();
      const form = this.#entered;
      this.#entered = null;
      this.#show_(form !== null);
      this.dispatchEvent(new CustomEvent("faultodds-assessment", { detail: assessment }));
    } catch (problem) {
      if (asked !== this.#asked) return;
      if (problem instanceof Refusal) this.#refused(problem);
      else this.#lost(quietly);
    }
  }

  #again(): void {
    clearTimeout(this.#timer);
    if (!this.#running) return;
    this.#timer = window.setTimeout(() => this.reconnect(true), RETRY_SECONDS * 1000);
  }

  // An entry that is refused is taken back, and it is told where it was entered.
  #refused(problem: Refusal): void {
    const entered = this.#entered;
    const place = /^\/case\/observations\/(\d+)/.exec(problem.pointer);
    const culprit = place ? this.#case.observations[Number(place[1])] : entered?.entry;
    const message = this.refusal(problem.message);
    this.#entered = null;
    this.#connection = "ready";
    if (!culprit || !this.#unassessed.delete(culprit)) return this.#tell(message);
    this.#case.observations = this.#case.observations.filter((entry) => entry !== culprit);
    this.#changed();
    if (entered?.entry === culprit && entered.form?.shown) {
      this.#tell("");
      entered.form.refuse(message);
    } else {
      this.#show_();
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
    this.#show_(entered);
  }

  // ---- the store of cases -----------------------------------------------------------------------

  #cases(): CaseStore | null {
    if (this.#store || !(this.#attribute("cases") !== null) || !this.#case.id) return this.#store;
    return httpCases(this.#attribute("src") ?? "", this.#circuit, this.#case.id, this.#request);
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
            if (this.#model) this.#show_();
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
    this.#tell();
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

  enter(entry: Entry, form: EntryForm | null): void {
    this.#case.observations.push(entry);
    if ("observation" in entry) this.#endOrder(entry.observation);
    if ("not_possible" in entry) this.#endOrder(entry.not_possible);
    this.#unassessed.add(entry);
    this.#entered = { entry, form };
    this.#changed();
    void this.#assess();
  }

  takeBack(entry: Entry): void {
    this.#case.observations = this.#case.observations.filter((other) => other !== entry);
    this.#changed();
    this.#show_(true);
    void this.#assess();
  }

  /** Of what was entered here and elsewhere, `wrong` is taken back; null: it stands as it is. */
  resolve(wrong: Entry | null): void {
    const open = this.#elsewhere;
    if (!open) return;
    const twice = wrong ? open.twice.filter((pair) => pair.here !== wrong && pair.elsewhere !== wrong) : [];
    this.#elsewhere = twice.length > 0 ? { ...open, twice } : null;
    if (!wrong) return this.#show_(true);
    const at = this.#case.observations.findIndex((entry) => JSON.stringify(entry) === JSON.stringify(wrong));
    if (at >= 0) this.takeBack(this.#case.observations[at]!);
    else this.#show_(true);
  }

  replaced(components: string[]): void {
    this.#case.observations.push({ repaired: components, at: new Date().toISOString().replace(/\.\d+/, "") });
    this.#changed();
    this.#show_(true);
    void this.#assess();
  }

  setup(step: string, done: boolean): void {
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
    if (this.#attribute("keep") === null || !this.#case.id) return false;
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
    const kept = this.#attribute("keep") !== null && this.#case.id
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
      this.#assessment ??= screenAnswer(kept.assessment);
      this.#assessed = kept.merged ? "" : JSON.stringify(this.#case);
      this.#assessedAt ??= new Date(kept.at);
    }
  }

  /** Another tab on the same work order has entered something, or taken it back: so it is here. */
  #otherTab({ key, newValue, storageArea }: StorageEvent): void {
    const { id } = this.#case;
    if (this.#attribute("keep") === null || !id || key === null || storageArea !== localStorage) return;
    const tab = tabOf(key, this.#circuit, id);
    const kept = tab === null || tab === this.#tab ? null : keptOf(newValue, id);
    if (tab === null || !kept) return;
    const merged = merge(this.#tabs.get(tab) ?? kept.base ?? this.#given, this.#case, kept.theCase);
    this.#tabs.set(tab, kept.theCase);
    if (merged.twice.length > 0) this.#elsewhere = merged;
    if (alike(merged.theCase, this.#case)) return; // else two tabs would hand an order to and fro
    this.#case = structuredClone(merged.theCase);
    this.#changed();
    if (this.filling()) return; // shown with the next entry
    this.#show_();
    void this.#assess(true);
  }

  /** What there is to work with. */
  workWith(work: Record<string, unknown>): void {
    if (Object.keys(work).length > 0) this.#case.work = work;
    else delete this.#case.work;
    this.#changed();
    void this.#assess();
  }

  /** A test that the technician wants to make next. */
  makeNext(observation: string): void {
    this.workWith({ ...(this.#case.work as object | undefined), order: [observation] });
  }

  #endOrder(observation: string): void {
    const work = this.#case.work as { order?: string[] } | undefined;
    if (!work?.order?.includes(observation)) return;
    const { order: _, ...rest } = work;
    if (Object.keys(rest).length > 0) this.#case.work = rest;
    else delete this.#case.work;
  }

  get canPlan(): boolean {
    return Boolean(this.#network().plan || this.#onDevice()?.plan);
  }

  /** What may come, or null where nobody can tell; the same promise until the case is another. */
  get plan(): Promise<Plan> | null {
    const network = this.#network();
    const device = this.#onDevice();
    const source = device?.plan && (this.#away || !network.plan) ? device : network;
    if (!source.plan) return null;
    const of = JSON.stringify(this.#case);
    if (this.#plan?.of !== of) {
      const plan = source.plan(this.case);
      this.#plan = { of, plan };
      plan.catch(() => (this.#plan = null));
    }
    return this.#plan!.plan;
  }

  /** For each outcome of a test, the answer on the case if it were seen. */
  imagine(observation: string, outcomes: string[]): Promise<Imagined[]> {
    let found = this.#imagined.get(observation);
    if (!found) {
      const source = (this.#away && this.#onDevice()) || this.#network();
      found = Promise.all(
        outcomes.map(async (outcome) => {
          const theCase = this.#question();
          theCase.observations.push({ observation, outcome });
          return { outcome, assessment: screenAnswer(await source.assess(theCase)) };
        }),
      );
      found.catch(() => this.#imagined.delete(observation));
      this.#imagined.set(observation, found);
    }
    return found;
  }
}

async function timely<T>(answer: Promise<T>): Promise<T> {
  let timer = 0;
  const late = new Promise<never>((_, reject) => {
    timer = window.setTimeout(() => reject(new Unreachable("no answer in time")), PATIENCE_SECONDS * 1000);
  });
  return Promise.race([answer, late]).finally(() => clearTimeout(timer));
}
