// "Slow or weak", the commonest complaint there is, of both demo circuits.
import assert from "node:assert/strict";
import { test } from "node:test";
import { loadFaultodds } from "faultodds-wasm";
import { read } from "./documents.mjs";

const faultodds = await loadFaultodds();

for (const machine of ["refuse_truck", "veneer_press"]) {
  test(`every function of the ${machine} that is slow gets causes that sum to 1, and advice`, (t) => {
    const model = faultodds.model(read(`examples/${machine}/circuit.json`));
    const slow = model.describe().observations.map(({ observation }) => observation)
      .filter((id) => id.startsWith("delivery/"));
    assert.ok(slow.length > 1);
    for (const observation of slow) {
      const started = process.cpuUsage();
      const { causes: [cause], advice, method } = model.assess(
        { format: "faultodds-case/1", observations: [{ observation, outcome: "slow" }] });
      const { user, system } = process.cpuUsage(started);
      t.diagnostic(`${observation}: ${Math.round((user + system) / 1000)} ms of processor time`);
      assert.equal(cause.observation, observation);
      assert.equal(method, "exact");
      const shown = cause.shares.reduce((sum, { probability }) => sum + probability, 0);
      const { rest, by_design, elsewhere, nothing } = cause;
      assert.ok(Math.abs(shown + rest + by_design + elsewhere + nothing - 1) < 1e-4);
      assert.ok(advice.test);
    }
    model.close();
  });
}
