/** Messages by id and language: the one place where words are put to what the engine says. ICU MessageFormat. */
import { IntlMessageFormat } from "intl-messageformat";
import english from "./catalogues/en.js";
import { own } from "./own.js";

export type Catalogue = Readonly<Record<string, string>>;
export type Values = Readonly<Record<string, string | number>>;

const shipped: Record<string, () => Promise<{ default: Catalogue }>> = {
  de: () => import("./catalogues/de.js"),
  es: () => import("./catalogues/es.js"),
  fr: () => import("./catalogues/fr.js"),
  ar: () => import("./catalogues/ar.js"),
};
const loaded = new Map<string, Catalogue>([["en", english]]);
const replaced = new Map<string, Catalogue>();
const parsed = new Map<string, IntlMessageFormat>();

/** "de" of "de-AT". */
const languageOf = (tag: string): string => tag.toLowerCase().split("-")[0]!;

/** Replaces single messages of a language, or adds one; what it leaves out is as it was, or English. */
export function replaceMessages(language: string, messages: Catalogue): void {
  const of = languageOf(language);
  for (const text of Object.values(messages)) new IntlMessageFormat(text, of, undefined, { ignoreTag: true }); // or throw
  replaced.set(of, { ...replaced.get(of), ...messages });
}

/** Loads a language, if it is one of ours; otherwise there is English. */
export async function loadLanguage(tag: string): Promise<void> {
  const of = languageOf(tag);
  if (loaded.has(of) || !own(shipped, of)) return;
  loaded.set(of, (await shipped[of]!()).default);
}

export class Messages {
  readonly #own: Catalogue;

  constructor(readonly tag: string) {
    this.#own = { ...loaded.get(languageOf(tag)), ...replaced.get(languageOf(tag)) };
  }

  get language(): string {
    return languageOf(this.tag);
  }

  has(id: string): boolean {
    return own(this.#own, id) !== undefined || own(english, id) !== undefined;
  }

  say(id: string, values: Values = {}): string {
    const text = own(this.#own, id) ?? own(english, id);
    if (text === undefined) return id;
    if (!text.includes("{")) return text;
    const key = `${this.tag} ${text}`;
    let message = parsed.get(key);
    if (!message) parsed.set(key, (message = new IntlMessageFormat(text, this.tag, undefined, { ignoreTag: true })));
    return String(message.format(values));
  }
}
