/** The form that takes a reading of one observation with its units; outcomes are buttons of the view. */
import type { Entry, Reading } from "./documents.js";
import { h } from "./dom.js";
import { numberOf, readingsOf } from "./reading.js";
import type { Field, ReadingForm } from "./reading.js";
import type { Words } from "./words.js";

export interface ReadingEntry {
  element: HTMLFormElement;
  readonly shown: boolean;
  /** Shows why what was entered was not taken. */
  refuse(message: string): void;
}

/** Calls `take` with what was entered, once it is complete. `name` makes ids unique in the element. Null: it takes none. */
export function readingEntry(
  observation: { observation: string; kind: string },
  name: string,
  words: Words,
  take: (entry: Entry) => void,
): ReadingEntry | null {
  const problem = h("p", { class: "problem", role: "alert", id: `${name}-problem` });
  const refuse = (message: string, at?: HTMLElement): void => {
    problem.textContent = message;
    at?.setAttribute("aria-invalid", "true");
    at?.setAttribute("aria-describedby", problem.id);
    at?.focus();
  };

  const forms = readingsOf(observation.kind);
  if (forms.length === 0) return null;
  const fields = h("div", { class: "fields" });
  const measured = h("select", { id: `${name}-measured` });
  for (const form of forms) measured.append(h("option", { value: form.id }, words.say(`reading.${form.id}`)));
  const showFields = (): void => {
    const form = forms.find(({ id }) => id === measured.value);
    fields.replaceChildren(...(form?.fields.map((field) => fieldOf(field, name, words)) ?? []));
  };
  measured.addEventListener("change", showFields);
  showFields();
  const element = h(
    "form",
    { novalidate: true },
    h("p", {}, h("label", { for: measured.id }, words.ui("measured")), h("br"), measured),
    fields,
    problem,
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, words.ui("enter"))),
  );
  element.addEventListener("submit", (event) => {
    event.preventDefault();
    problem.textContent = "";
    for (const marked of element.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
    const at = new Date().toISOString().replace(/\.\d+/, "");
    const form = forms.find(({ id }) => id === measured.value)!;
    const reading = readFields(form, fields, words, refuse);
    if (reading) take({ observation: observation.observation, reading, at });
  });
  return { element, refuse, get shown() { return element.isConnected; } };
}

function fieldOf({ key, units, optional }: Field, name: string, words: Words): HTMLElement {
  const label = words.field(key);
  const id = `${name}-${key}`;
  return h(
    "div",
    { class: "field" },
    h("label", { for: id }, label),
    h(
      "div",
      { class: "pair" },
      h("input", { id, inputmode: "decimal", autocomplete: "off", "data-key": key, required: !optional }),
      h(
        "select",
        { "aria-label": words.ui("unit", { field: label }) },
        ...units.map((unit) => h("option", { value: unit }, unit.replace("deg", "°"))),
      ),
    ),
  );
}

function readFields(
  form: ReadingForm,
  fields: HTMLElement,
  words: Words,
  refuse: (message: string, at: HTMLElement) => void,
): Reading | null {
  const reading: Reading = {};
  for (const { key, optional } of form.fields) {
    const input = fields.querySelector<HTMLInputElement>(`[data-key="${key}"]`)!;
    const field = words.field(key);
    if (input.value.trim() === "") {
      if (optional) continue;
      refuse(words.ui("mustFill", { field }), input);
      return null;
    }
    const number = numberOf(input.value, key.startsWith("temperature"));
    if (number === null) {
      refuse(words.ui("mustNumber", { field, value: input.value }), input);
      return null;
    }
    reading[key] = `${number} ${(input.nextElementSibling as HTMLSelectElement).value}`;
  }
  return reading;
}
