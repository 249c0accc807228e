// Models and cases: names, closing, concurrency.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { FaultoddsError, Model, assess, libraryVersion } from "faultodds";
import { DRIFTS, LIFT, caseOf } from "./documents.mjs";

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

test("a note says the cautions before the test", () => {
  const model = new Model(LIFT);
  const note = model.note(DRIFTS);
  assert.ok(note.indexOf("Lock out and tag out") < note.indexOf("Next test"));
  assert.match(model.note(DRIFTS, "html"), /^<!DOCTYPE html>/);
  model.close();
});

test("words of a complaint propose symptoms that the circuit has", () => {
  const model = new Model(readFileSync(`${process.env.FAULTODDS_SOURCE}/examples/refuse_truck/circuit.json`, "utf8"));
  const [first] = model.propose("the arm comes down by itself between houses").proposals;
  assert.deepEqual([first.observation, first.outcome], ["drift/arm_cylinder/retract", "slow"]);
  assert.ok(first.because.includes("by itself"));
  assert.equal(model.propose("der Arm sinkt", "de").proposals[0].observation, "drift/arm_cylinder/retract");
  assert.deepEqual(model.propose("radio dead").proposals, []);
  assert.throws(() => model.propose("arm", "tlh"), { code: "invalid_argument" });
  model.close();
});

test("a plan begins with the test of the advice, and its card with the cautions", () => {
  const model = new Model(LIFT);
  const { tree } = model.plan(DRIFTS);
  assert.equal(tree.test, model.assess(DRIFTS).advice.test);
  assert.ok(tree.branches.some(({ then }) => then?.replace || then?.test));
  const card = model.planCard(DRIFTS);
  assert.ok(card.indexOf("Lock out and tag out") < card.indexOf("<svg"));
  const without = { ...DRIFTS, not_possible: [{ observation: tree.test, reason: "no room" }] };
  assert.equal(model.assess(without).not_possible[0].observation, tree.test);
  assert.ok(!JSON.stringify(model.plan(without).tree).includes(`"${tree.test}"`));
});

test("a closed work order is a record, and rows to learn from", () => {
  const closing = {
    format: "faultodds-closing/1", work_order: "7", closed: "2024-03-06",
    found: [{ component: "cap_relief", mode: "seat_leak", grade: "failed" }], sound: ["cylinder"],
  };
  const model = new Model(LIFT);
  assert.equal(model.record(DRIFTS, closing).format, "faultodds-record/1");
  const rows = model.recordRows(DRIFTS, closing);
  assert.match(rows, /cap_relief.*seat_leak/);
  const headed = model.recordRows(DRIFTS, closing, { header: true });
  assert.ok(headed.length > rows.length && headed.endsWith(rows));
  closing.found[0].component = "teapot";
  assert.throws(() => model.record(DRIFTS, closing), { pointer: "/found/0/component" });
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
  assert.equal(work.errorBound(), 0);
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

test("the one call answers and refuses by itself", () => {
  assert.equal(assess(LIFT, DRIFTS).format, "faultodds-assessment/1");
  assert.throws(() => assess({}, DRIFTS), (error) => error.pointer.startsWith("/circuit"));
});
