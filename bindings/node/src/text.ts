/** What goes into the library: UTF-8 of texts and of documents. */
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

function unicode(text: string): string {
  if (/\p{Surrogate}/u.test(text)) throw new TypeError("a lone surrogate is no Unicode text");
  return text;
}
