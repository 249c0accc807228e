/** The part of the circuit that the case concerns, drawn: suspects shaded, the leak path, the port of the test. */
import type { CaseDocument } from "./documents.js";
import { folded } from "./view.js";
import type { Words } from "./words.js";

/** An SVG as wide as `width` px at most; "" where the case concerns no part. Parts are called as in `language`. */
export type Draw = (theCase: CaseDocument, width: number, language: string) => Promise<string>;

const WIDEST = 700;
const PADDING = 24;

// What drawings are made of; nothing else of an answer gets into the page.
const SVG = "http://www.w3.org/2000/svg";
const ELEMENTS = new Set(["svg", "g", "path", "circle", "rect", "text", "title"]);
const ATTRIBUTES = new Set(["viewBox", "class", "d", "x", "y", "cx", "cy", "r", "rx", "width", "height", "transform", "role",
  "text-anchor", "textLength", "lengthAdjust", "fill-opacity", "data-part", "data-port", "data-through", "data-net"]);

function copied(from: Element): Element | null {
  if (from.namespaceURI !== SVG || !ELEMENTS.has(from.localName)) return null;
  const to = document.createElementNS(SVG, from.localName);
  for (const { name, value } of from.attributes) {
    if (ATTRIBUTES.has(name)) to.setAttribute(name, value);
  }
  for (const child of from.childNodes) {
    if (child instanceof Element) to.append(copied(child) ?? "");
    else if (child.nodeType === Node.TEXT_NODE) to.append(child.textContent ?? "");
  }
  return to;
}

/** The drawing as elements, and its look; null where the text is none. */
export function pictureOf(svg: string): { element: Element; look: CSSStyleSheet } | null {
  // The rules are taken out before: a page may forbid style elements, also in what it parses.
  let rules = "";
  const bare = svg.replace(/<style>([^]*?)<\/style>/, (_, text: string) => ((rules = text), ""));
  const element = copied(new DOMParser().parseFromString(bare, "image/svg+xml").documentElement);
  if (!element) return null;
  const look = new CSSStyleSheet();
  if (!/url|@|\\/i.test(rules)) look.replaceSync(rules);
  return { element, look };
}

/** It stands behind the cautions of the step that it is put in, and is drawn when it is opened, as wide as the panel. */
export function drawingOf(words: Words, draw: Draw | null, theCase: CaseDocument, host: HTMLElement): HTMLElement | null {
  if (!draw) return null;
  const element = folded("drawing", words.model.title);
  let asked = false;
  const show = async (): Promise<void> => {
    if (asked) return;
    asked = true;
    const width = Math.max(200, Math.min(WIDEST, (host.clientWidth || WIDEST) - PADDING));
    try {
      const picture = pictureOf(await draw(theCase, width, words.language));
      if (!picture) return element.remove();
      const { element: drawn, look } = picture;
      drawn.setAttribute("part", "drawing");
      element.append(drawn);
      const root = host.shadowRoot;
      if (root) root.adoptedStyleSheets = [root.adoptedStyleSheets[0]!, look];
    } catch {
      asked = false; // drawn when there is a connection again
    }
  };
  element.addEventListener("toggle", () => void show());
  return element;
}
