// The shared circuits and tables.
import { readFileSync } from "node:fs";
import { join } from "node:path";

const root = process.env.FAULTODDS_SOURCE;
export const read = (path) => readFileSync(join(root, path), "utf8");
export const LIFT = JSON.parse(read("tests/bindings/lift.json"));
export const RAM = JSON.parse(read("tests/bindings/ram.json"));
export const TABLE = JSON.parse(read("tests/vectors/assessments.json"));
export const BAD = JSON.parse(readFileSync(process.env.FAULTODDS_BAD_DOCUMENTS, "utf8"));
export const caseOf = (...observations) => ({ format: "faultodds-case/1", circuit: "lift", observations });
export const DRIFTS = caseOf({ observation: "drift/cylinder/retract", outcome: "fast" });
