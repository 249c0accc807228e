// Prints what the module answers to the shared vectors, for in_locales to compare.
import assert from "node:assert/strict";
import { FaultoddsError, loadFaultodds } from "faultodds-wasm";
import { TABLE, read } from "./documents.mjs";

const { FAULTODDS_LOCALE, FAULTODDS_DECIMAL } = process.env;
assert.equal((0.5).toLocaleString(FAULTODDS_LOCALE === "C" ? "en" : undefined)[1], FAULTODDS_DECIMAL, "the locale is in force");

function print(call) {
  try {
    console.log(JSON.stringify(call()));
  } catch (refused) {
    assert.ok(refused instanceof FaultoddsError);
    console.log(`${refused.code} ${refused.pointer} ${refused.message}`);
  }
}

const faultodds = await loadFaultodds();
const models = new Map();
for (const { circuit, case: theCase } of TABLE.vectors) {
  if (models.has(circuit)) {
    print(() => models.get(circuit).assess(theCase));
    continue;
  }
  const model = faultodds.model(read(circuit));
  models.set(circuit, model);
  print(() => faultodds.assess(read(circuit), theCase));
  print(() => model.note(theCase));
}
