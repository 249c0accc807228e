/** What stands in forms and which parts are open, across drawing again: in another language, after news. */

interface Draft {
  values: Map<string, string | boolean>;
  open: Map<string, boolean>;
  focus: string | null;
}

const controls = "input[id], select[id]";

export function draftsOf(root: HTMLElement): Draft {
  const values = new Map<string, string | boolean>();
  for (const control of root.querySelectorAll<HTMLInputElement | HTMLSelectElement>(controls)) {
    values.set(control.id, control instanceof HTMLInputElement && control.type === "checkbox" ? control.checked : control.value);
  }
  const open = new Map<string, boolean>();
  for (const details of root.querySelectorAll<HTMLDetailsElement>("details[data-keep]")) {
    open.set(details.dataset["keep"]!, details.open);
  }
  const active = (root.getRootNode() as ShadowRoot).activeElement;
  return { values, open, focus: active && root.contains(active) ? active.id : null };
}

export function putBack(root: HTMLElement, { values, open, focus }: Draft): void {
  for (const details of root.querySelectorAll<HTMLDetailsElement>("details[data-keep]")) {
    const was = open.get(details.dataset["keep"]!);
    if (was !== undefined) details.open = was;
  }
  // Selects first: they may bring the fields whose values come after.
  for (const kind of ["select[id]", "input[id]"]) {
    for (const control of root.querySelectorAll<HTMLInputElement | HTMLSelectElement>(kind)) {
      const was = values.get(control.id);
      if (was === undefined) continue;
      if (typeof was === "boolean") (control as HTMLInputElement).checked = was;
      else if (control.value !== was) {
        control.value = was;
        control.dispatchEvent(new Event(kind === "select[id]" ? "change" : "input"));
      }
    }
  }
  if (focus) root.querySelector<HTMLElement>(`#${CSS.escape(focus)}`)?.focus();
}
