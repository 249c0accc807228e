// Calls that are ended when their time is over.
import assert from "node:assert/strict";
import { test } from "node:test";
import { loadFaultodds } from "faultodds-wasm";
import { DRIFTS, LASTS, LIFT, SINKS, TRUCK } from "./documents.mjs";

const faultodds = await loadFaultodds();

// Every call that takes a time.
function calls(ending) {
  const model = faultodds.model(LIFT);
  return {
    "the one call": () => faultodds.assess(LIFT, DRIFTS, undefined, ending),
    loading: () => faultodds.model(LIFT, ending).describe(),
    assessing: () => model.assess(DRIFTS, ending),
    "a note": () => model.note(DRIFTS, "html", ending),
    "a plan": () => model.plan(DRIFTS, ending),
  };
}

test("time that is over ends every call", () => {
  for (const [name, call] of Object.entries(calls({ timeout: 0 }))) {
    assert.throws(call, { code: "cancelled", message: "the call's time is over" }, name);
  }
});

test("a call that lasts is ended when its time is over, and the model can be used on", () => {
  const model = faultodds.model(TRUCK);
  assert.throws(() => model.assess(LASTS, { timeout: 20 }), { code: "cancelled" });
  assert.ok(model.assess({ ...SINKS, advice: false, detail: "full" }).log_evidence < 0);
  model.close();
});

test("a call whose time is not over answers as without one", () => {
  const plain = calls({});
  for (const [name, call] of Object.entries(calls({ timeout: 1e300 }))) assert.deepEqual(call(), plain[name](), name);
});

test("a time that is none is refused", () => {
  for (const timeout of [-1, NaN]) {
    for (const [name, call] of Object.entries(calls({ timeout }))) assert.throws(call, RangeError, name);
  }
});

test("the worker refuses what it could not answer in its time, and goes on", async () => {
  const asked = new Map();
  globalThis.self = Object.assign(new EventTarget(), {
    postMessage: ({ id, ...answer }) => asked.get(id)(answer),
  });
  await import("faultodds-wasm/worker");
  const ask = (question) =>
    new Promise((resolve) => {
      const id = asked.size;
      asked.set(id, resolve);
      self.dispatchEvent(Object.assign(new Event("message"), { data: { id, ...question } }));
    });
  const late = { code: "cancelled", message: "the call's time is over", pointer: "" };
  assert.deepEqual(await ask({ ask: "open", circuit: TRUCK, timeout: 0 }), { refusal: late });
  assert.deepEqual(await ask({ ask: "open", circuit: TRUCK, timeout: 1e9 }), { answer: null });
  assert.deepEqual(await ask({ ask: "assess", case: LASTS, timeout: 20 }), { refusal: late });
  const { answer } = await ask({ ask: "assess", case: { ...SINKS, advice: false, detail: "full" } });
  assert.ok(answer.log_evidence < 0);
});
