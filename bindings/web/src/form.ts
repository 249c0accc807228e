/** The form that takes the result of one observation: an outcome, or a reading with its units. */
import type { Entry, Reading } from "./documents.js";
import { h } from "./dom.js";
import { own } from "./own.js";
import { numberOf, readingsOf } from "./reading.js";
import type { Field, ReadingForm } from "./reading.js";
import { filled } from "./strings.js";
import type { Strings } from "./strings.js";

export interface ResultForm {
  element: HTMLFormElement;
  /** Shows why what was entered was not taken. */
  refuse(message: string): void;
}

/** Calls `take` with what was entered, once it is complete. `name` makes ids unique in the element. */
export function resultForm(
  observation: { observation: string; kind: string; outcomes: string[] },
  name: string,
  strings: Strings,
  label: string,
  take: (entry: Entry) => void,
): ResultForm {
  const problem = h("p", { class: "problem", role: "alert", id: `${name}-problem` });
  const refuse = (message: string, at?: HTMLElement): void => {
    problem.textContent = message;
    at?.setAttribute("aria-invalid", "true");
    at?.setAttribute("aria-describedby", problem.id);
    at?.focus();
  };

  const outcomes = h(
    "fieldset",
    {},
    h("legend", {}, strings.outcome),
    h(
      "div",
      { class: "choices" },
      ...observation.outcomes.map((outcome) =>
        h(
          "label",
          { class: "choice" },
          h("input", { type: "radio", name: `${name}-outcome`, value: outcome }),
          own(strings.outcomes, outcome) ?? outcome.replaceAll("_", " "),
        ),
      ),
    ),
  );

  const forms = readingsOf(observation.kind);
  const fields = h("div", { class: "fields" });
  const measured = h("select", { id: `${name}-measured` });
  for (const form of forms) measured.append(h("option", { value: form.id }, strings.readings[form.id]));
  const showFields = (): void => {
    const form = forms.find(({ id }) => id === measured.value);
    fields.replaceChildren(...(form?.fields.map((field) => fieldOf(field, name, strings)) ?? []));
  };
  measured.addEventListener("change", showFields);
  showFields();
  const readings = h(
    "details",
    {},
    h("summary", {}, strings.enterReading),
    h("p", {}, h("label", { for: measured.id }, strings.measured), h("br"), measured),
    fields,
  );

  const element = h(
    "form",
    { novalidate: true },
    outcomes,
    forms.length > 0 && readings,
    problem,
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, label)),
  );
  element.addEventListener("submit", (event) => {
    event.preventDefault();
    problem.textContent = "";
    for (const marked of element.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
    const at = new Date().toISOString().replace(/\.\d+/, "");
    const form = readings.open ? forms.find(({ id }) => id === measured.value) : undefined;
    if (form) {
      const reading = readFields(form, fields, strings, refuse);
      if (reading) take({ observation: observation.observation, reading, at });
      return;
    }
    const chosen = outcomes.querySelector<HTMLInputElement>("input:checked");
    if (!chosen) return refuse(strings.mustChoose, outcomes.querySelector("input")!);
    take({ observation: observation.observation, outcome: chosen.value, at });
  });
  return { element, refuse };
}

function fieldOf({ key, units, optional }: Field, name: string, strings: Strings): HTMLElement {
  const label = strings.fields[key] ?? key;
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
        { "aria-label": filled(strings.unit, { field: label }) },
        ...units.map((unit) => h("option", { value: unit }, unit.replace("deg", "°"))),
      ),
    ),
  );
}

function readFields(
  form: ReadingForm,
  fields: HTMLElement,
  strings: Strings,
  refuse: (message: string, at: HTMLElement) => void,
): Reading | null {
  const reading: Reading = {};
  for (const { key, optional } of form.fields) {
    const input = fields.querySelector<HTMLInputElement>(`[data-key="${key}"]`)!;
    const field = strings.fields[key] ?? key;
    if (input.value.trim() === "") {
      if (optional) continue;
      refuse(filled(strings.mustFill, { field }), input);
      return null;
    }
    const number = numberOf(input.value, key.startsWith("temperature"));
    if (number === null) {
      refuse(filled(strings.mustNumber, { field, value: input.value }), input);
      return null;
    }
    reading[key] = `${number} ${(input.nextElementSibling as HTMLSelectElement).value}`;
  }
  return reading;
}
