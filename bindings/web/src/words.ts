/** How things are called and numbers written, in one language and for one circuit. */
import type { Entry, Fault, Fitting, Model } from "./documents.js";
import { h, told } from "./dom.js";
import { own } from "./own.js";
import { filled } from "./strings.js";
import type { Strings } from "./strings.js";

export class Words {
  constructor(
    readonly strings: Strings,
    readonly language: string,
    readonly model: Model,
  ) {}

  part(id: string): string {
    return this.model.components.find((component) => component.id === id)?.title || id;
  }

  observation(id: string): string {
    return this.model.observations.find(({ observation }) => observation === id)?.title ?? id;
  }

  fault(fault: Fault): string {
    return `${this.part(fault.component)}: ${fault.title}`;
  }

  outcome(id: string): string {
    return own(this.strings.outcomes, id) ?? id.replaceAll("_", " ");
  }

  minutes(minutes: number): string {
    return filled(this.strings.minutes, { minutes: Math.round(minutes) });
  }

  power(energised: boolean): string {
    return energised ? this.strings.energised : this.strings.powerOff;
  }

  percent(share: number): string {
    const percent = 100 * share;
    const digits = percent > 0 && percent < 1 ? 1 : 0;
    return `${percent.toLocaleString(this.language, { maximumFractionDigits: digits })} %`;
  }

  odds(odds: number | null): string {
    if (odds === null) return this.strings.certain;
    const ratio = odds >= 1 ? odds : 1 / odds;
    if (!Number.isFinite(ratio)) return "–";
    const text = Number(ratio.toPrecision(2)).toLocaleString(this.language);
    return filled(odds >= 1 ? this.strings.oddsFor : this.strings.oddsAgainst, { odds: text });
  }

  /** `XXX` is no currency in particular. */
  amount(amount: number, currency: string): string {
    return currency === "XXX"
      ? Math.round(amount).toLocaleString(this.language)
      : amount.toLocaleString(this.language, { style: "currency", currency, maximumFractionDigits: 0 });
  }

  /** In the reader's language where there is one, else in the engine's. */
  caution(text: string): HTMLElement {
    const translated = own(this.strings.cautionTexts, text);
    return translated ? h("li", {}, translated) : told(text, "li");
  }

  fitting({ what, port, standard, size, rated_for }: Fitting): HTMLElement {
    const text = [what, port, [standard, size].filter(Boolean).join(" ")].filter(Boolean).join(", ");
    return h("li", {}, told(text), rated_for && `, ${filled(this.strings.rated, { pressure: rated_for })}`);
  }

  /** What was entered, and with which value. */
  entry(entry: Entry): { title: HTMLElement; value: string } {
    if ("repaired" in entry) {
      const parts = entry.repaired.map((id) => this.part(id)).join(", ");
      return { title: h("span", {}, filled(this.strings.replaced, { parts })), value: "" };
    }
    const id = "not_possible" in entry ? entry.not_possible : entry.observation;
    const known = this.model.observations.find(({ observation }) => observation === id);
    const value = "not_possible" in entry ? entry.reason : this.#value(entry);
    return { title: told(known?.title ?? id), value };
  }

  #value(entry: Exclude<Entry, { repaired: string[] } | { not_possible: string }>): string {
    if ("outcome" in entry) return this.outcome(entry.outcome);
    if ("likelihood" in entry) return entry.likelihood.join(" : ");
    return Object.entries(entry.reading)
      .map(([key, text]) => `${own(this.strings.fields, key)?.replace(/ \(.*/, "") ?? key} ${text}`)
      .join(", ");
  }
}

/** The likeliest first. */
export function leading(faults: Fault[]): Fault[] {
  return [...faults].sort((a, b) => a.grades[0] - b.grades[0]);
}
