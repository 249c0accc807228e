// The library and its models: documents, closing, memory, the worker.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { setTimeout as pause } from "node:timers/promises";
import { test } from "node:test";
import { FaultoddsError, loadFaultodds } from "faultodds-wasm";
import { DRIFTS, LIFT, RAM, caseOf } from "./documents.mjs";

const faultodds = await loadFaultodds();
const wasm = await readFile(new URL(import.meta.resolve("faultodds-wasm/faultodds.wasm")));

test("the library tells its version", () => {
  assert.equal(faultodds.version, process.env.FAULTODDS_VERSION);
});

test("the module can come from bytes, a compiled module or a response", async () => {
  for (const source of [
    wasm, await WebAssembly.compile(wasm), new Response(wasm),
    Promise.resolve(new Response(wasm, { headers: { "content-type": "application/wasm" } })),
  ]) {
    assert.equal((await loadFaultodds(source)).version, faultodds.version);
  }
  await assert.rejects(loadFaultodds(new Response("", { status: 404 })), /404/);
});

test("a model says what its circuit can show", () => {
  const model = faultodds.model(LIFT);
  const { format, modes, observations } = model.describe();
  assert.equal(format, "faultodds-model/1");
  assert.ok(modes.some(({ mode }) => mode === "cap_relief.seat_leak"));
  assert.ok(observations.some(({ observation }) => observation === "static/section.a"));
  model.close();
});

test("a note says the cautions before the test", () => {
  const model = faultodds.model(LIFT);
  const note = model.note(DRIFTS);
  assert.ok(note.indexOf("Lock out and tag out") < note.indexOf("Next test"));
  assert.match(model.note(DRIFTS, "html"), /^<!DOCTYPE html>/);
  model.close();
});

test("a plan begins with the test of the advice, and its card with the cautions", () => {
  const model = faultodds.model(LIFT);
  const { tree } = model.plan(DRIFTS);
  assert.equal(tree.test, model.assess(DRIFTS).advice.test);
  assert.ok(tree.branches.some(({ then }) => then?.replace || then?.test));
  const card = model.planCard(DRIFTS);
  assert.ok(card.indexOf("Lock out and tag out") < card.indexOf("<svg"));
  const without = { ...DRIFTS, not_possible: [{ observation: tree.test, reason: "no room" }] };
  assert.equal(model.assess(without).not_possible[0].observation, tree.test);
  assert.ok(!JSON.stringify(model.plan(without).tree).includes(`"${tree.test}"`));
});

test("words for nothing in the circuit propose nothing, and a language without words is refused", () => {
  const model = faultodds.model(LIFT);
  assert.deepEqual(model.propose("radio dead").proposals, []);
  assert.equal(model.propose("cylinder sinks", "en").format, "faultodds-proposals/1");
  assert.throws(() => model.propose("x", "tlh"), { code: "invalid_argument" });
});

test("a closed work order is a record, and rows to learn from", () => {
  const closing = {
    format: "faultodds-closing/1", work_order: "7", closed: "2024-03-06",
    found: [{ component: "cap_relief", mode: "seat_leak", grade: "failed" }], sound: ["cylinder"],
  };
  const model = faultodds.model(LIFT);
  assert.equal(model.record(DRIFTS, closing).format, "faultodds-record/1");
  const rows = model.recordRows(DRIFTS, closing);
  assert.match(rows, /cap_relief.*seat_leak/);
  const headed = model.recordRows(DRIFTS, closing, { header: true });
  assert.ok(headed.length > rows.length && headed.endsWith(rows));
  closing.found[0].component = "teapot";
  assert.throws(() => model.record(DRIFTS, closing), { pointer: "/found/0/component" });
  model.close();
});

test("a closed model refuses and may be closed again", () => {
  const model = faultodds.model(LIFT);
  model.close();
  model.close();
  model[Symbol.dispose]?.();
  assert.throws(() => model.assess(DRIFTS), /closed/);
});

test("an asset's class chooses among the priors", () => {
  const priors = {
    format: "faultodds-priors/1", id: "p", title: "p",
    modes: [{ type: "port_relief", mode: "seat_leak", asset_class: "old", grades: [0.5, 0.3, 0.2], method: "judgement" }],
  };
  const sound = (options) =>
    faultodds.model(LIFT, options).assess(caseOf()).faults.find(({ mode }) => mode === "cap_relief.seat_leak").grades[0];
  assert.ok(Math.abs(sound({ priors, assetClass: "old" }) - 0.5) < 1e-12);
  assert.ok(sound({ priors }) > 0.8);
});

test("a memory budget that is too small is announced", () => {
  assert.throws(() => faultodds.model(LIFT, { memoryBudget: 1 }).assess(DRIFTS), { code: "limit_exceeded" });
  assert.throws(() => faultodds.model(LIFT, { memoryBudget: -1 }), RangeError);
});

test("text of any language comes through, and what is no Unicode or no JSON is refused", () => {
  const title = "Hubzylinder – 缸 🛢";
  const titled = structuredClone(LIFT);
  titled.components[5].title = title;
  const model = faultodds.model(titled);
  assert.ok(JSON.stringify(model.describe()).includes(title));
  assert.throws(() => model.assess("\ud800"), TypeError);
  assert.throws(() => model.assess({ note: "\ud800" }), TypeError);
  assert.throws(() => model.assess(caseOf({ observation: "flow/pump", likelihood: [1, NaN, 0] })), RangeError);
  assert.throws(() => model.assess(""), FaultoddsError);
  model.close();
});

// What the module has in use is seen through the exports of an instance of one's own.
test("a hundred thousand calls leave nothing behind", async () => {
  const instantiate = WebAssembly.instantiate;
  let sbrk;
  WebAssembly.instantiate = async (...parameters) => {
    const instance = await instantiate.apply(WebAssembly, parameters);
    ({ sbrk } = instance.exports);
    return instance;
  };
  const alone = await loadFaultodds(wasm);
  WebAssembly.instantiate = instantiate;

  const held = JSON.stringify({
    format: "faultodds-case/1", advice: false, observations: [{ observation: "static/ram.cap", outcome: "held" }],
  });
  const model = alone.model(RAM);
  const fiveCalls = () => {
    model.assess(held);
    assert.throws(() => model.assess("{}"), FaultoddsError);
    assert.throws(() => alone.assess("{}", held), FaultoddsError);
    assert.throws(() => model.note("{}"), FaultoddsError);
    assert.throws(() => alone.model({}), FaultoddsError);
  };
  for (let i = 0; i < 1000; ++i) fiveCalls();
  const before = sbrk(0);
  for (let i = 0; i < 20_000; ++i) fiveCalls();
  assert.ok(sbrk(0) - before < 100_000, `grew by ${sbrk(0) - before} bytes`);

  // Models too, with and without close; the collector frees the latter.
  const round = async () => {
    for (let i = 0; i < 20; ++i) {
      alone.model(LIFT).close();
      alone.model(RAM);
    }
    globalThis.gc();
    await pause(20); // finalizers run between turns of the event loop
  };
  for (let i = 0; i < 5; ++i) await round();
  const full = sbrk(0);
  for (let i = 0; i < 10; ++i) await round();
  assert.ok(sbrk(0) - full < 500_000, `grew by ${sbrk(0) - full} bytes`);
});
