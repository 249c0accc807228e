// Memory over many calls; a file of its own, so a process of its own. Run with --expose-gc.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { setTimeout as pause } from "node:timers/promises";
import { test } from "node:test";
import { FaultoddsError, Model } from "faultodds";
import { LIFT, RAM } from "./documents.mjs";

// Bytes of memory this process has now, but for the heap of the JavaScript engine, which grows at its own pace.
async function resident() {
  for (let i = 0; i < 3; ++i) {
    globalThis.gc();
    await pause(20); // finalizers run between turns of the event loop
  }
  const pages = Number(readFileSync("/proc/self/statm", "utf8").split(" ")[1]);
  return 4096 * pages - process.memoryUsage().heapTotal;
}

test("a hundred thousand calls leave nothing behind", async () => {
  const held = JSON.stringify({
    format: "faultodds-case/1", advice: false, observations: [{ observation: "static/ram.cap", outcome: "held" }],
  });
  const model = new Model(RAM);
  const fiveCalls = () => {
    model.assess(held);
    assert.throws(() => model.assess("{}"), FaultoddsError);
    const work = model.openCase();
    work.observe("static/ram.cap", "bled_down");
    work.assess();
    work.posteriors();
    work.close();
  };
  for (let i = 0; i < 4000; ++i) fiveCalls();
  const before = await resident();
  for (let i = 0; i < 20000; ++i) fiveCalls();
  const grown = (await resident()) - before;
  assert.ok(grown < 8 << 20, `grew by ${grown} bytes`);
  model.close();
});

test("models are freed with and without close", async () => {
  const forget = async (count) => {
    for (let i = 0; i < count; ++i) {
      new Model(LIFT).close();
      new Model(LIFT).openCase();
      if (i % 50 === 49) await resident();
    }
  };
  await forget(100);
  const before = await resident();
  await forget(500);
  const grown = (await resident()) - before;
  assert.ok(grown < 8 << 20, `grew by ${grown} bytes`);
});
