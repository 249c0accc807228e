// Calls that are ended from outside.
import assert from "node:assert/strict";
import { test } from "node:test";
import { Case, Model, Network, assess, backtestPriors, learnPriors } from "faultodds";
import { DRIFTS, LASTS, LIFT, SINKS, TRUCK } from "./documents.mjs";

const BIF = "variable a { type discrete [ 2 ] { x, y }; } probability ( a ) { table 0.25 0.75; }";
const HEADER = "work_order,closed,component,finding\n";
const ONE_ORDER = HEADER + "1,2024-03-05,port_relief,none\n";

// Every call, with what ends it.
function calls(ending) {
  const model = new Model(LIFT);
  const opened = model.openCase();
  const assessed = model.openCase();
  assessed.assess();
  const network = new Network(BIF);
  return {
    "the one call": () => assess(LIFT, DRIFTS, undefined, ending),
    loading: () => new Model(LIFT, ending),
    assessing: () => model.assess(DRIFTS, ending),
    "a note": () => model.note(DRIFTS, "html", ending),
    "a plan": () => model.plan(DRIFTS, ending),
    "assessing a case": () => opened.assess(ending),
    "assessing several": () => Case.assessAll([opened], { threads: 2, ...ending }),
    "an answer": () => assessed.answer(ending),
    "loading a network": () => new Network(BIF, ending),
    "a query": () => network.query({}, ending),
    learning: () => learnPriors(ONE_ORDER, { source: "depot", ...ending }),
    replaying: () => backtestPriors(LIFT, ONE_ORDER, ending),
  };
}

test("a signal that was aborted before ends every call it is given to, with its reason", async () => {
  const reason = new Error("the user went home");
  const signal = AbortSignal.abort(reason);
  for (const [name, call] of Object.entries(calls({ signal }))) {
    assert.throws(call, (thrown) => thrown === reason, name);
  }
  await assert.rejects(new Model(LIFT).assessAsync(DRIFTS, { signal }), (thrown) => thrown === reason);
});

test("time that is over ends every call", async () => {
  for (const [name, call] of Object.entries(calls({ timeout: 0 }))) {
    assert.throws(call, { code: "cancelled" }, name);
  }
  await assert.rejects(new Model(LIFT).assessAsync(DRIFTS, { timeout: 0 }), {
    code: "cancelled",
    message: "the call's time is over",
  });
});

test("a call that lasts is ended when its time is over", () => {
  assert.throws(() => new Model(TRUCK).assess(LASTS, { timeout: 20 }), { code: "cancelled" });
});

test("a signal that is aborted while a call runs on another thread ends it, and the model can be used on", async () => {
  const model = new Model(TRUCK);
  const controller = new AbortController();
  const lasts = model.assessAsync(LASTS, { signal: controller.signal });
  setTimeout(() => controller.abort(), 20);
  await assert.rejects(lasts, { name: "AbortError" });
  await assert.rejects(model.assessAsync(LASTS, { signal: AbortSignal.timeout(20) }), { name: "TimeoutError" });
  assert.ok(model.assess({ ...SINKS, advice: false, detail: "full" }).log_evidence < 0);
});

test("a callback aborts the call it is told by", () => {
  const controller = new AbortController();
  const orders = HEADER + "1,2024-03-05,haunted,none\n".repeat(200_000);
  assert.throws(
    () => learnPriors(orders, { source: "depot", signal: controller.signal, reject: () => controller.abort() }),
    { name: "AbortError" });
});

test("a call that is not ended answers as without what could end it", async () => {
  const { signal } = new AbortController();
  const plain = calls({});
  for (const [name, call] of Object.entries(calls({ signal, timeout: 1e300 }))) {
    if (name === "replaying") assert.throws(call, /10 at least/);
    else if (!name.startsWith("loading")) assert.deepEqual(call(), plain[name](), name);
    else call().close();
  }
  const model = new Model(LIFT);
  assert.deepEqual(await model.assessAsync(DRIFTS, { signal, timeout: 3600e3 }), model.assess(DRIFTS));
});

test("a time that is none is refused", () => {
  assert.throws(() => new Model(LIFT, { timeout: -1 }), RangeError);
  assert.throws(() => new Model(LIFT, { timeout: NaN }), RangeError);
});
