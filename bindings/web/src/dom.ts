/** Elements from text, never from markup: what documents say cannot become part of the page. */

type Child = Node | string | null | undefined | false;

interface Properties {
  [attribute: string]: string | number | boolean | ((event: Event) => void) | null | undefined;
}

/** An element. A function is a listener ("onclick"), true an empty attribute; false, null and undefined are left out. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  properties: Properties = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (typeof value === "function") element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, String(value));
  }
  for (const child of children) {
    if (child) element.append(child);
  }
  return element;
}
