// Models and cases: names, closing, concurrency, and memory over many calls (run with --expose-gc).
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { setTimeout as pause } from "node:timers/promises";
import { test } from "node:test";
import { FaultoddsError, Model, assess, libraryVersion } from "faultodds";
import { DRIFTS, LIFT, RAM, caseOf } from "./documents.mjs";

test("the library tells its version", () => {
  assert.equal(libraryVersion(), process.env.FAULTODDS_VERSION);
});

test("a model names its modes, observations and outcomes", () => {
  const model = new Model(LIFT);
  assert.ok(model.modes().includes("cap_relief.seat_leak"));
  assert.ok(model.observations().includes("static/section.a"));
  assert.deepEqual(model.outcomes("drift/cylinder/retract"), ["none", "slow", "fast"]);
  assert.equal(model.describe().format, "faultodds-model/1");
  assert.throws(() => model.outcomes("drift/nowhere"), { code: "invalid_argument" });
  model.close();
});

test("a closed model refuses and may be closed again", async () => {
  const model = new Model(LIFT);
  model.close();
  model.close();
  assert.throws(() => model.assess(DRIFTS), /closed/);
  assert.throws(() => model.openCase(), /closed/);
  await assert.rejects(model.assessAsync(DRIFTS), /closed/);
});

test("a refused circuit throws from the constructor", () => {
  assert.throws(() => new Model({ format: "faultodds-circuit/1" }), (error) => {
    assert.ok(error instanceof FaultoddsError);
    assert.equal(error.name, "FaultoddsError");
    assert.equal(error.code, "invalid_document");
    return true;
  });
});

test("a memory budget that is too small is announced", () => {
  assert.throws(() => new Model(LIFT, { memoryBudget: 1 }).assess(DRIFTS), { code: "limit_exceeded" });
  assert.throws(() => new Model(LIFT, { memoryBudget: -1 }), RangeError);
});

test("an asset's class chooses among the priors", () => {
  const priors = {
    format: "faultodds-priors/1", id: "p", title: "p",
    modes: [{ type: "port_relief", mode: "seat_leak", asset_class: "old", grades: [0.5, 0.3, 0.2], method: "judgement" }],
  };
  const sound = (options) =>
    new Model(LIFT, options).assess(caseOf()).faults.find(({ mode }) => mode === "cap_relief.seat_leak").grades[0];
  assert.ok(Math.abs(sound({ priors, assetClass: "old" }) - 0.5) < 1e-12);
  assert.ok(sound({ priors }) > 0.8);
});

test("text of any language comes through, and what is no Unicode or no JSON is refused", () => {
  const title = "Hubzylinder – 缸 🛢";
  const titled = structuredClone(LIFT);
  titled.components[5].title = title;
  const model = new Model(titled);
  assert.ok(JSON.stringify(model.describe()).includes(title));
  assert.throws(() => model.assess("\ud800"), TypeError);
  assert.throws(() => model.assess({ note: "\ud800" }), TypeError);
  assert.throws(() => model.assess(caseOf({ observation: "flow/pump", likelihood: [1, NaN, 0] })), RangeError);
  model.close();
});

test("many calls run on one model at once, and the event loop goes on", async () => {
  const model = new Model(LIFT);
  const expected = model.assess(DRIFTS);
  let ticks = 0;
  const clock = setInterval(() => ++ticks, 1);
  const answers = await Promise.all(Array.from({ length: 200 }, () => model.assessAsync(DRIFTS)));
  clearInterval(clock);
  for (const answer of answers) assert.deepEqual(answer, expected);
  assert.ok(ticks > 0);
  model.close();
});

test("closing leaves the calls that run to finish", async () => {
  const model = new Model(LIFT);
  const expected = model.assess(DRIFTS);
  const running = Array.from({ length: 20 }, () => model.assessAsync(DRIFTS));
  model.close();
  for (const answer of await Promise.all(running)) assert.deepEqual(answer, expected);
  assert.throws(() => model.assess(DRIFTS), /closed/);
});

test("a case outlives its model", () => {
  const model = new Model(LIFT);
  const work = model.openCase();
  model.close();
  work.observe("drift/cylinder/retract", "fast");
  work.assess();
  assert.ok(work.logEvidence() < 0);
  work.close();
  work.close();
  assert.throws(() => work.assess(), /closed/);
});

test("models and cases are disposable", () => {
  const model = new Model(LIFT);
  const work = model.openCase();
  work[Symbol.dispose]();
  model[Symbol.dispose]();
  assert.throws(() => work.assess(), /closed/);
  assert.throws(() => model.modes(), /closed/);
});

test("results are refused until the case is assessed", () => {
  const model = new Model(LIFT);
  const work = model.openCase();
  assert.throws(() => work.posteriors(), { code: "invalid_argument" });
  work.assess();
  work.observe("drift/cylinder/retract", "fast");
  assert.throws(() => work.answer(), { code: "invalid_argument" });
  work.close();
  model.close();
});

async function resident() {
  for (let i = 0; i < 3; ++i) {
    globalThis.gc();
    await pause(20); // finalizers run between turns of the event loop
  }
  return 4096 * Number(readFileSync("/proc/self/statm", "utf8").split(" ")[1]);
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
  assert.ok(grown < 12 << 20, `grew by ${grown} bytes`);
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
  assert.ok(grown < 12 << 20, `grew by ${grown} bytes`);
});

test("the one call answers and refuses by itself", () => {
  assert.equal(assess(LIFT, DRIFTS).format, "faultodds-assessment/1");
  assert.throws(() => assess({}, DRIFTS), (error) => error.pointer.startsWith("/circuit"));
});
