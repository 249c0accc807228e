/** Quantities in the reader's units, rounded as a gauge is read. It changes no value that is sent. */
export type Units = "written" | "metric" | "us";
/** A pressure that must not be passed is rounded down, one that a part must stand up. */
export type Rounding = "down" | "near" | "up";

// Into what, per unit: value * factor + offset.
const us: Record<string, [unit: string, factor: number, offset?: number]> = {
  bar: ["psi", 14.503774], MPa: ["psi", 145.03774], kPa: ["psi", 0.14503774], "L/min": ["gpm", 1 / 3.785411784],
  "mL/min": ["mL/min", 1], mm: ["in", 1 / 25.4], "mm/min": ["in/min", 1 / 25.4], degC: ["degF", 1.8, 32],
};
const metric: Record<string, [unit: string, factor: number, offset?: number]> = {
  psi: ["bar", 1 / 14.503774], MPa: ["bar", 10], kPa: ["bar", 0.01], gpm: ["L/min", 3.785411784], in: ["mm", 25.4],
  "in/min": ["mm/min", 25.4], degF: ["degC", 1 / 1.8, -32 / 1.8],
};

const gauges: Record<string, [above: number, step: number][]> = {
  bar: [[400, 10], [100, 5], [10, 1], [0, 0.1]],
  psi: [[1000, 50], [200, 10], [0, 5]],
};

/** Two significant figures where no gauge is known. */
function stepOf(value: number, unit: string): number {
  const step = gauges[unit]?.find(([above]) => value >= above)?.[1];
  return step ?? 10 ** (Math.floor(Math.log10(Math.max(Math.abs(value), 1e-9))) - 1);
}

/** `share`: of the quantity as it is shown. */
export function quantity(text: string, units: Units, language: string, rounding: Rounding = "near", share = 1): string {
  const found = /^\s*([-+.\deE]+)\s*(\S+)\s*$/.exec(text);
  if (!found) return text;
  let value = Number(found[1]);
  let unit = found[2]!;
  const into = units === "us" ? us[unit] : units === "metric" ? metric[unit] : undefined;
  if (into) {
    value = value * into[1] + (into[2] ?? 0);
    unit = into[0];
  }
  const step = stepOf(value, unit);
  const round = rounding === "down" ? Math.floor : rounding === "up" ? Math.ceil : Math.round;
  const slack = rounding === "down" ? 1e-9 : rounding === "up" ? -1e-9 : 0;
  const shown = round(value / step + slack) * step;
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return `${(share * shown).toLocaleString(language, { maximumFractionDigits: digits })} ${unit.replace("deg", "°")}`;
}
