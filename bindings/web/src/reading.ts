/** Which readings an observation takes, and the fields and units of each. The library checks the values. */

const pressure = ["bar", "psi", "MPa", "kPa"];
const leak = ["mL/min", "L/min", "drops/min", "gpm"];
const time = ["s", "min", "h"];
const temperature = ["degC", "degF"];

export interface Field {
  key: string;
  units: string[];
  optional?: boolean;
}

export interface ReadingForm {
  id: string;
  fields: Field[];
}

const holds: ReadingForm[] = [
  {
    id: "pressure_drop",
    fields: [
      { key: "pressure_drop", units: pressure },
      { key: "time", units: time },
      { key: "volume", units: ["L", "mL", "cm3", "in3", "gal"] },
      { key: "pressure", units: pressure, optional: true },
      { key: "temperature_start", units: temperature, optional: true },
      { key: "temperature_end", units: temperature, optional: true },
    ],
  },
  { id: "supply_flow", fields: [{ key: "supply_flow", units: leak }, { key: "pressure", units: pressure }] },
  { id: "leak_rate", fields: [{ key: "leak_rate", units: leak }, { key: "pressure", units: pressure, optional: true }] },
  { id: "below", fields: [{ key: "below", units: leak }] },
];

const drifts: ReadingForm[] = [
  { id: "drift", fields: [{ key: "distance", units: ["mm", "cm", "in"] }, { key: "time", units: ["min", "s", "h"] }] },
];

const flows: ReadingForm[] = [{ id: "flow", fields: [{ key: "flow", units: ["L/min", "gpm"] }] }];

/** The readings a kind of observation takes; none for what is only looked at. */
export function readingsOf(kind: string): ReadingForm[] {
  switch (kind) {
    case "static":
      return holds;
    case "drift":
      return drifts;
    case "flow":
      return flows;
    default:
      return [];
  }
}

/** "12,5" as "12.5"; null if it is no number of 0 or more (below zero only where `signed`). */
export function numberOf(text: string, signed = false): string | null {
  const plain = text.trim().replace(",", ".");
  return (signed ? /^[-−]?\d+(\.\d+)?$/ : /^\d+(\.\d+)?$/).test(plain) ? plain.replace("−", "-") : null;
}
