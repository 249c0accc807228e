/** What goes into the library: UTF-8 of texts and of documents, and numbers. */
import type { Document } from "./documents.js";

const utf8 = new TextEncoder();

/** UTF-8 of a text. A lone surrogate is no Unicode and is refused here. */
export function bytes(text: string): Uint8Array {
  return utf8.encode(unicode(text));
}

/** UTF-8 of a document. NaN and infinities are no JSON: JSON.stringify would write null for them. */
export function encoded(document: Document): Uint8Array {
  if (typeof document === "string") return bytes(document);
  return bytes(
    JSON.stringify(document, (_, value: unknown) => {
      if (typeof value === "number" && !Number.isFinite(value)) throw new RangeError(`${value} is no JSON`);
      // JSON.stringify would write a lone surrogate as an escape.
      return typeof value === "string" ? unicode(value) : value;
    }),
  );
}

/** A number for C, which would take another silently. */
export function whole(name: string, value: number, least: number, most: number = Number.MAX_SAFE_INTEGER): number {
  if (Number.isInteger(value) && value >= least && value <= most) return value;
  throw new RangeError(`${name} is ${value}; expected a whole number of ${least} to ${most}`);
}

/** A number of threads. */
export function threadCount(value: number): number {
  return whole("threads", value, 1, 2 ** 32 - 1);
}

/** A time limit as C takes it. */
export function milliseconds(timeout: number): number {
  if (!(timeout >= 0)) throw new RangeError(`timeout is ${timeout}; expected milliseconds, 0 or more`);
  return Math.min(Math.floor(timeout), Number.MAX_SAFE_INTEGER);
}

function unicode(text: string): string {
  if (/\p{Surrogate}/u.test(text)) throw new TypeError("a lone surrogate is no Unicode text");
  return text;
}
