// The shared circuits and tables.
import { readFileSync } from "node:fs";
import { join } from "node:path";

const root = process.env.FAULTODDS_SOURCE;
export const read = (path) => readFileSync(join(root, path), "utf8");
export const LIFT = JSON.parse(read("tests/bindings/lift.json"));
export const RAM = JSON.parse(read("tests/bindings/ram.json"));
export const TABLE = JSON.parse(read("tests/vectors/assessments.json"));
export const BAD = JSON.parse(readFileSync(process.env.FAULTODDS_BAD_DOCUMENTS, "utf8"));
export const caseOf = (...observations) => ({ format: "faultodds-case/1", circuit: "lift", detail: "full", observations });
export const DRIFTS = caseOf({ observation: "drift/cylinder/retract", outcome: "fast" });

// A whole machine. LASTS: sixty of its parts replaced in turn and all seen again, which takes seconds.
export const TRUCK = JSON.parse(read("examples/refuse_truck/circuit.json"));
export const SINKS = JSON.parse(read("examples/refuse_truck/arm_sinks_2_valve_port.json"));
export const LASTS = {
  ...SINKS,
  observations: Array.from({ length: 60 }, (_, i) => [
    { repaired: [TRUCK.components[i % TRUCK.components.length].id] },
    ...SINKS.observations,
  ]).flat(),
};
