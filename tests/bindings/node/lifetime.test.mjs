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

// The median growth of a round. The engine gives and takes tens of megabytes at its own times, so that one
// round says nothing; a leak shows in every one.
async function growth(rounds, round) {
  await round();
  const grown = [];
  let before = await resident();
  for (let i = 0; i < rounds; ++i) {
    await round();
    const after = await resident();
    grown.push(after - before);
    before = after;
  }
  return grown.sort((a, b) => a - b)[(rounds - 1) / 2];
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
  const grown = await growth(5, () => {
    for (let i = 0; i < 4000; ++i) fiveCalls();
  });
  assert.ok(grown < 2 << 20, `grew by ${grown} bytes in 20,000 calls`);
  model.close();
});

test("models are freed with and without close", async () => {
  const grown = await growth(5, async () => {
    for (let i = 0; i < 100; ++i) {
      new Model(LIFT).close();
      new Model(LIFT).openCase();
      if (i % 50 === 49) await resident();
    }
  });
  assert.ok(grown < 2 << 20, `grew by ${grown} bytes with 200 models`);
});
