// Work orders in the browser's storage, where every tab keeps its own: what was entered in any of them is there for all.
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { forget, keep, keptOf, newTab, recall, tabOf, takeOver } from "./dist/keeper.js";

// As browsers have it: texts by name, listed by number.
class Storage {
  #texts = new Map();
  room = Infinity;
  get length() { return this.#texts.size; }
  key(i) { return [...this.#texts.keys()][i] ?? null; }
  getItem(key) { return this.#texts.get(key) ?? null; }
  removeItem(key) { this.#texts.delete(key); }
  setItem(key, text) {
    if (text.length > this.room) throw new Error("QuotaExceededError");
    this.#texts.set(key, text);
  }
  keys() { return [...this.#texts.keys()].sort(); }
}
beforeEach(() => { globalThis.localStorage = new Storage(); });

const saw = (observation, outcome, at = "2024-03-05T08:00:00Z") => ({ observation, outcome, at });
const drift = saw("drift/arm", "fast"), port = saw("static/a", "held", "2024-03-05T09:00:00Z");
const look = saw("look/arm", "dry", "2024-03-05T10:00:00Z");
const caseOf = (observations, more = {}) => ({ format: "faultodds-case/1", id: "7", observations, ...more });
const kept = (base, observations, more = {}) => ({
  theCase: caseOf(observations), base: caseOf(base), revision: null, model: null, assessment: null, at: null, ...more,
});
const told = ({ theCase }) => theCase.observations.map(({ observation }) => observation).sort();

test("two tabs that entered one thing each keep both, and a third has both, whichever kept last", () => {
  for (const order of [["a", "b"], ["b", "a"]]) {
    globalThis.localStorage = new Storage();
    for (const tab of order) keep("truck", "7", tab, kept([drift], [drift, tab === "a" ? port : look]));
    for (const tab of ["a", "b", "c"]) {
      assert.deepEqual(told(recall("truck", "7", tab, caseOf([drift]))), ["drift/arm", "look/arm", "static/a"]);
    }
  }
});

test("tabs that went on from different states of the stored case bring only what they did themselves", () => {
  keep("truck", "7", "a", kept([drift], [drift, port]));
  keep("truck", "7", "b", kept([drift, look], [look])); // took the drift back, after another entered the look
  const found = recall("truck", "7", "a", caseOf([]));
  assert.deepEqual(told(found), ["static/a"]);
  assert.deepEqual(found.base.observations, [drift], "what the store has more comes with the store");
});

test("different results of one observation in two tabs are both kept and both told", () => {
  const other = saw("static/a", "bled_down", "2024-03-05T09:30:00Z");
  keep("truck", "7", "a", kept([], [port]));
  keep("truck", "7", "b", kept([], [other]));
  const { theCase, twice } = recall("truck", "7", "a", caseOf([]));
  assert.deepEqual(theCase.observations, [port, other]);
  assert.deepEqual(twice, [{ here: port, elsewhere: other }]);
});

test("what one tab has of another is there once, and is taken over only by name", () => {
  keep("truck", "7", "a", kept([], [port]));
  keep("truck", "7", "b", kept([], [port, look]));
  const found = recall("truck", "7", "c", caseOf([]));
  assert.deepEqual(told(found), ["look/arm", "static/a"]);
  assert.deepEqual([...found.tabs.keys()].sort(), ["a", "b"]);
  keep("truck", "7", "c", kept([], found.theCase.observations));
  takeOver("truck", "7", found.tabs.keys());
  assert.deepEqual(localStorage.keys(), ["faultodds/truck/7/c"]);
  assert.deepEqual(told(recall("truck", "7", "d", caseOf([]))), ["look/arm", "static/a"]);
});

test("what the first release kept is there too", () => {
  localStorage.setItem("faultodds/truck/7", JSON.stringify(kept([], [port])));
  keep("truck", "7", "a", kept([], [look]));
  const found = recall("truck", "7", "a", caseOf([]));
  assert.deepEqual(told(found), ["look/arm", "static/a"]);
  takeOver("truck", "7", found.tabs.keys());
  assert.deepEqual(localStorage.keys(), ["faultodds/truck/7/a"]);
});

test("another work order's entries are never brought in, nor forgotten with this one's, whatever the ids", () => {
  const ids = ["7", "7/a", "7%2Fa", "", "a", "__proto__", "constructor", "toString", "hasOwnProperty"];
  for (const circuit of ["truck", "truck/7", "__proto__"]) {
    for (const id of ids) {
      keep(circuit, id, "a", { ...kept([], []), theCase: { ...caseOf([saw(`${circuit} ${id}`, "x")]), id } });
    }
  }
  for (const circuit of ["truck", "truck/7", "__proto__"]) {
    for (const id of ids) assert.deepEqual(told(recall(circuit, id, "b", caseOf([]))), [`${circuit} ${id}`]);
  }
  const before = localStorage.length;
  forget("truck", "7");
  assert.equal(localStorage.length, before - 1);
  assert.equal(recall("truck", "7", "b", caseOf([])), null);
});

test("what the first release kept of a work order whose id begins like this one's stays when this one is forgotten", () => {
  localStorage.setItem("faultodds/truck/7/a", JSON.stringify({ ...kept([], [port]), theCase: { ...caseOf([port]), id: "7/a" } }));
  keep("truck", "7", "b", kept([], [look]));
  forget("truck", "7");
  assert.equal(recall("truck", "7", "c", caseOf([])), null);
  assert.deepEqual(told(recall("truck", "7/a", "c", caseOf([]))), ["static/a"]);
});

test("storage that is full says so, and what is there stays", () => {
  assert.equal(keep("truck", "7", "a", kept([], [port])), true);
  localStorage.room = 10;
  assert.equal(keep("truck", "7", "a", kept([], [port, look])), false);
  assert.deepEqual(told(recall("truck", "7", "a", caseOf([]))), ["static/a"]);
});

test("what is no work order in the storage is passed over", () => {
  for (const text of ["", "{", "null", "[]", '{"theCase": null}', '{"theCase": {"id": "7"}}', '{"theCase": {"id": "8", "observations": []}}']) {
    localStorage.setItem(`faultodds/truck/7/${newTab()}`, text);
    assert.equal(keptOf(text, "7"), null);
  }
  keep("truck", "7", "a", kept([], [port]));
  assert.deepEqual(told(recall("truck", "7", "b", caseOf([]))), ["static/a"]);
});

test("tabs have names of their own, told from the storage's keys", () => {
  assert.notEqual(newTab(), newTab());
  assert.equal(tabOf("faultodds/truck/7/abc", "truck", "7"), "abc");
  assert.equal(tabOf("faultodds/truck/71/abc", "truck", "7"), null);
  assert.equal(tabOf("faultodds/truck/7/a/b", "truck", "7"), null);
});
