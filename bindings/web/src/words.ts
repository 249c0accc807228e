/** How things are called and numbers written, in one language, for one circuit and the reader's units. */
import { Messages } from "./catalogue.js";
import type { Values } from "./catalogue.js";
import type { Entry, Fault, Fitting, Limit, Model, NoPressure, Said, SaidValue, Test } from "./documents.js";
import { h } from "./dom.js";
import { own } from "./own.js";
import { quantity } from "./units.js";
import type { Rounding, Units } from "./units.js";

/** `component.port` or `component.mode`: ids of parts may have dots, names of ports and modes have none. */
function parted(id: string): [string, string] {
  const dot = id.lastIndexOf(".");
  return dot < 0 ? [id, ""] : [id.slice(0, dot), id.slice(dot + 1)];
}

export class Words {
  constructor(
    readonly messages: Messages,
    readonly model: Model,
    readonly units: Units = "written",
  ) {}

  get language(): string {
    return this.messages.tag;
  }

  say(id: string, values?: Values): string {
    return this.messages.say(id, values);
  }

  /** A word of the element itself. */
  ui(id: string, values?: Values): string {
    return this.say(`ui.${id}`, values);
  }

  /** What the circuit's document calls it in this language. */
  #title(id: string): string | undefined {
    const titles = this.model.titles && own(this.model.titles, this.messages.language);
    return titles && own(titles, id);
  }

  circuit(): string {
    return this.#title(this.model.circuit) ?? this.model.title;
  }

  /** Of "valve@0" the valve that was in before it was replaced. */
  part(id: string): string {
    const [plain = "", generation] = id.split("@");
    const name = this.#title(plain) ?? (this.model.components.find((component) => component.id === plain)?.title || plain);
    return generation === undefined ? name : this.say(generation === "0" ? "title.part_before" : "title.part_since", { part: name });
  }

  parts(ids: string[]): string {
    return this.all(ids.map((id) => this.part(id)));
  }

  all(items: string[]): string {
    return new Intl.ListFormat(this.language, { type: "conjunction" }).format(items);
  }

  /** "port A of the arm valve section" as `component.port` is shown where it stands alone. */
  place(volume: string): string {
    if (this.model.components.some(({ id }) => id === volume)) return this.part(volume);
    const [part, port] = parted(volume);
    return port ? `${this.part(part)} ${this.port(port)}` : this.part(part);
  }

  port(name: string): string {
    if (name.length === 1) return name.toUpperCase();
    return this.messages.has(`port.${name}`) ? this.say(`port.${name}`) : name.replaceAll("_", " ");
  }

  line(id: string): string {
    return this.#title(`line/${id}`) ?? id.replaceAll("_", " ");
  }

  mode(modeId: string): string {
    const id = modeId.split("@")[0]!;
    const mode = this.model.modes.find((one) => one.mode === id);
    const name = parted(id)[1] || id;
    const known = `mode.${name}`;
    return this.#title(id) ??
      (this.messages.language !== "en" && this.messages.has(known) ? this.say(known) : (mode?.title ?? name));
  }

  fault(fault: Pick<Fault, "mode" | "component">): string {
    return `${this.part(fault.component)} (${this.mode(fault.mode)})`;
  }

  outcome(id: string): string {
    return this.messages.has(`outcome.${id}`) ? this.say(`outcome.${id}`) : id.replaceAll("_", " ");
  }

  /** An outcome of a hold as it is seen on the gauge. */
  outcomeOf(test: Test, outcome: string): string {
    const seconds = test.limits?.seconds;
    if (!test.test_pressure || !seconds || !this.messages.has(`fall.${outcome}`)) return this.outcome(outcome);
    const half = quantity(test.test_pressure, this.units, this.language, "down", 0.5);
    return this.say(`fall.${outcome}`, { half, seconds: Number(seconds.toPrecision(2)) });
  }

  quantity(text: string, rounding: Rounding = "near"): string {
    return quantity(text, this.units, this.language, rounding);
  }

  /** A name for lists. Of "drift/arm@1" what was seen of it before a repair. */
  observation(observationId: string): string {
    const [id = "", generation] = observationId.split("@");
    const name = this.#observation(id);
    return generation === undefined ? name : this.say("title.before_repair", { title: name });
  }

  #observation(id: string): string {
    const told = this.#title(id);
    if (told) return told;
    const { kind, part, port: at, direction, cartridge } = takenApart(id);
    const port = this.port(at);
    const known = this.model.observations.find(({ observation }) => observation === id);
    if (known?.own_title) return known.title;
    switch (kind) {
      case "static":
        return cartridge
          ? this.say("title.hold_plugged", { port, part: this.part(part), cartridge: this.part(cartridge) })
          : this.say("title.hold", { port, part: this.part(part) });
      case "flow":
      case "look":
      case "temperature":
        return this.say(`title.${kind}`, { part: this.part(part) });
      case "no_pressure":
      case "hot":
      case "noisy":
      case "jerky":
        return this.say(`title.${kind}`, { part: this.part(part) });
      case "moves":
      case "dip":
      case "uneven":
        return known?.subject ? this.say(`title.${kind}`, { part: known.subject }) : (known?.title ?? id);
      case "drift": {
        const way = this.messages.has(`way.${direction}`) ? this.say(`way.${direction}`) : direction.replaceAll("_", " ");
        return this.say("title.drift", { part: this.part(part), direction: way });
      }
      case "delivery":
        return known?.subject ? this.say("title.delivery", { part: known.subject }) : (known?.title ?? id);
      default:
        return known?.title ?? id;
    }
  }

  /** What is done, as one says it. */
  does(test: Test): string {
    const { kind, part, port: at, cartridge } = takenApart(test.observation);
    const port = this.port(at);
    const pressure = test.test_pressure ? this.quantity(test.test_pressure, "down") : this.say("pressure.maker");
    const named = { part: this.part(part), port, pressure };
    if (kind === "static") {
      if (cartridge) return this.say("do.hold_plugged", { ...named, cartridge: this.part(cartridge) });
      if (test.caution_ids?.includes("actuator_hold/1")) return this.say("do.hold_actuator", named);
      const lines = (test.setup_ids ?? (test.setup ?? []).map((step) => step.id)).filter((step) => step.startsWith("line/"));
      return this.say("do.hold_valve", { ...named, line: this.all(lines.map((step) => this.line(step.slice(5)))) });
    }
    if (kind === "flow" || kind === "look" || kind === "temperature") return this.say(`do.${kind}`, named);
    return this.say("do.symptom", { title: this.observation(test.observation) });
  }

  step({ id, title }: { id: string; title?: string }): string {
    const [kind = "", name = "", more = ""] = id.split("/");
    if (id === "release") return this.say("step.release_pump");
    if (kind === "line") return this.say("step.line", { line: this.line(name) });
    if (!this.messages.has(`step.${kind}`)) return title ?? id;
    const direction = this.messages.has(`direction.${more}`) ? this.say(`direction.${more}`) : more.replaceAll("_", " ");
    return this.say(`step.${kind}`, { part: name ? this.part(name) : "", direction });
  }

  /** Why no more pressure, or why no figure. */
  limit({ volume, by, part = "", stands, factor, suspect, why }: Limit): string {
    if (stands === undefined) return why; // of an older adapter
    const name = by === "line" ? this.line(part) : by === "working_pressure" ? part.replaceAll("_", " ") : this.part(part);
    const what = [
      this.say(`limit.${by === "line" ? "hose" : by}`, { part: name, at: this.place(volume), pressure: this.quantity(stands, "down") }),
      factor !== undefined && this.say("limit.factor", { factor: this.#number(factor) }),
      suspect === "clearance" ? this.say("limit.clearance") : suspect && this.say("limit.suspect", { fault: this.suspect(suspect) }),
    ].filter(Boolean).join("; ");
    return this.say("limit.line", { what });
  }

  noPressure({ reason, volume, part, why }: NoPressure): string {
    const known = `refused.${reason}`;
    return this.messages.has(known) ? this.say(known, { at: this.place(volume), part: part ? this.part(part) : "" }) : why;
  }

  because(test: Test): string {
    if (test.suspects.length === 0) return this.say("because.nothing");
    const what = test.suspects.slice(0, 2).map((mode) => this.suspect(mode));
    return this.say("because.sees", { what: new Intl.ListFormat(this.language, { type: "disjunction" }).format(what) });
  }

  /** What the engine says with an id and values, or, of an older adapter, its own words. */
  said(messages: Said[] | undefined, text: string): string {
    return messages ? messages.map((message) => this.message(message)).join(" ") : text;
  }

  message({ id, values = {} }: Said): string {
    return this.say(id, Object.fromEntries(Object.entries(values).map(([name, value]) => [name, this.#value(value)])));
  }

  #value(value: SaidValue): string | number {
    if (typeof value !== "object") return value;
    if ("share" in value) return this.percent(value.share);
    if ("minutes" in value) return this.minutes(value.minutes);
    if ("money" in value) return this.amount(value.money, value.currency);
    if ("decibans" in value) return `${value.decibans < 0 ? "" : "+"}${this.#number(value.decibans)} db`;
    if ("observation" in value) return this.observation(value.observation);
    if ("components" in value) return this.parts(value.components);
    const names = value.modes.map((mode, i) => {
      const share = value.shares?.[i];
      return share === undefined ? this.suspect(mode) : `${this.suspect(mode)} (${this.percent(share)})`;
    });
    return this.all(value.more ? [...names, this.say("list.others", { count: value.more })] : names);
  }

  #number(value: number): string {
    return Number(value.toPrecision(3)).toLocaleString(this.language);
  }

  /** A failure mode with its part. */
  suspect(mode: string): string {
    const [id = "", generation] = mode.split("@");
    const part = id.split(".")[0]!;
    return this.fault({ mode: id, component: generation === undefined ? part : `${part}@${generation}` });
  }

  /** One of the library's by its id; the circuit's own as it is written. */
  caution(id: string, text: string): HTMLElement {
    const known = `caution.${id}`;
    return h("li", {}, this.messages.has(known) ? this.say(known) : (this.#title(text) ?? text));
  }

  minutes(minutes: number): string {
    return this.ui("minutes", { minutes: Math.round(minutes) });
  }

  power(energised: boolean): string {
    return this.ui(energised ? "energised" : "powerOff");
  }

  percent(share: number): string {
    const percent = 100 * share;
    const digits = percent > 0 && percent < 1 ? 1 : 0;
    return `${percent.toLocaleString(this.language, { maximumFractionDigits: digits })} %`;
  }

  /** "about 3 of 10 such machines". */
  often(share: number): string {
    return this.ui("often", { tenths: share < 0.05 ? 0 : Math.min(10, Math.max(1, Math.round(10 * share))) });
  }

  odds(odds: number | null): string {
    if (odds === null) return this.ui("certain");
    const ratio = odds >= 1 ? odds : 1 / odds;
    if (!Number.isFinite(ratio)) return "–";
    const text = Number(ratio.toPrecision(2)).toLocaleString(this.language);
    return this.ui(odds >= 1 ? "oddsFor" : "oddsAgainst", { odds: text });
  }

  /** `XXX` is no currency in particular. */
  amount(amount: number, currency: string): string {
    return currency === "XXX"
      ? Math.round(amount).toLocaleString(this.language)
      : amount.toLocaleString(this.language, { style: "currency", currency, maximumFractionDigits: 0 });
  }

  fitting({ what, port, standard, size, rated_for }: Fitting): string {
    const known = `what.${what.replaceAll(" ", "_")}`;
    const name = this.messages.has(known) ? this.say(known) : what;
    const text = [name, port && this.place(port), [standard, size].filter(Boolean).join(" ")].filter(Boolean).join(", ");
    return rated_for ? `${text}, ${this.ui("rated", { pressure: this.quantity(rated_for, "up") })}` : text;
  }

  /** What was entered, and with which value. */
  entry(entry: Entry): { title: string; value: string } {
    if ("repaired" in entry) return { title: this.ui("replaced", { parts: this.parts(entry.repaired) }), value: "" };
    if ("not_possible" in entry) {
      return { title: this.observation(entry.not_possible), value: `${this.ui("couldNot")}: ${entry.reason}` };
    }
    return { title: this.observation(entry.observation), value: this.#seen(entry) };
  }

  #seen(entry: Exclude<Entry, { repaired: string[] } | { not_possible: string }>): string {
    if ("outcome" in entry) return this.outcome(entry.outcome);
    if ("likelihood" in entry) return entry.likelihood.join(" : ");
    return Object.entries(entry.reading).map(([key, text]) => `${this.field(key).replace(/ \(.*/, "")} ${text}`).join(", ");
  }

  field(key: string): string {
    return this.messages.has(`field.${key}`) ? this.say(`field.${key}`) : key;
  }
}

/** "static/arm_section.a/plugged/relief", "drift/arm/retract" and their like. */
function takenApart(id: string): { kind: string; part: string; port: string; direction: string; cartridge: string } {
  const [kind = "", at = "", how = "", cartridge = ""] = id.split("/");
  const [part, port] = kind === "static" ? parted(at) : [at, ""];
  return { kind, part, port, direction: how, cartridge: how === "plugged" ? cartridge : "" };
}

/** The likeliest first. */
export function leading(faults: Fault[]): Fault[] {
  return [...faults].sort((a, b) => a.grades[0] - b.grades[0]);
}
