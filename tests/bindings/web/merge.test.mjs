// Two states of one case that went on from a common one.
import assert from "node:assert/strict";
import { test } from "node:test";
import { alike, merge } from "./dist/merge.js";

const saw = (observation, outcome, at) => ({ observation, outcome, at });
const caseOf = (observations, more = {}) => ({ format: "faultodds-case/1", id: "7", observations, ...more });
const drift = saw("drift/arm", "fast", "2024-03-05T08:00:00Z");
const port = saw("static/a", "held", "2024-03-05T09:00:00Z");
const look = saw("look/arm", "dry", "2024-03-05T10:00:00Z");

test("what was entered on either side stays, in the order of time", () => {
  const { theCase, elsewhere, twice } = merge(caseOf([drift]), caseOf([drift, look]), caseOf([drift, port]));
  assert.deepEqual(theCase.observations, [drift, port, look]);
  assert.deepEqual(elsewhere, [port]);
  assert.deepEqual(twice, []);
  const reversed = merge(caseOf([drift]), caseOf([drift, port]), caseOf([drift, look]));
  assert.deepEqual(reversed.theCase.observations, [drift, port, look]);
});

test("what was taken back on either side stays away", () => {
  assert.deepEqual(merge(caseOf([drift, port]), caseOf([drift]), caseOf([drift, port, look])).theCase.observations, [drift, look]);
  assert.deepEqual(merge(caseOf([drift, port]), caseOf([drift, port, look]), caseOf([drift])).theCase.observations, [drift, look]);
});

test("what both have is there once, however it came there", () => {
  const { theCase, elsewhere } = merge(caseOf([]), caseOf([drift, port]), caseOf([drift, port]));
  assert.deepEqual(theCase.observations, [drift, port]);
  assert.deepEqual(elsewhere, []);
});

test("the same result entered twice on purpose is there twice", () => {
  assert.deepEqual(merge(caseOf([drift]), caseOf([drift, drift]), caseOf([drift])).theCase.observations, [drift, drift]);
});

test("different results of one observation are both kept and both told", () => {
  const other = saw("static/a", "bled_down", "2024-03-05T09:30:00Z");
  const { theCase, twice } = merge(caseOf([drift]), caseOf([drift, port]), caseOf([drift, other]));
  assert.deepEqual(theCase.observations, [drift, port, other]);
  assert.deepEqual(twice, [{ here: port, elsewhere: other }]);
});

test("the same result seen here and elsewhere is two observations and no contradiction", () => {
  const again = { ...port, at: "2024-03-05T09:30:00Z" };
  const { theCase, twice } = merge(caseOf([drift]), caseOf([drift, port]), caseOf([drift, again]));
  assert.deepEqual(theCase.observations, [drift, port, again]);
  assert.deepEqual(twice, []);
});

test("steps done and not done on either side are", () => {
  const { theCase } = merge(
    caseOf([], { setup_done: ["lockout", "line/a"] }),
    caseOf([], { setup_done: ["lockout", "line/b"] }),
    caseOf([], { setup_done: ["line/a", "lockout", "line/c"] }));
  assert.deepEqual(theCase.setup_done, ["lockout", "line/c", "line/b"]);
  assert.ok(!("setup_done" in merge(caseOf([]), caseOf([]), caseOf([])).theCase));
});

test("other members are as here where they were changed here, else as elsewhere", () => {
  const base = caseOf([], { focus: "complaint", asset: { meter_hours: 1 } });
  const here = caseOf([], { focus: "circuit", asset: { meter_hours: 1 } });
  const elsewhere = caseOf([], { focus: "complaint", asset: { meter_hours: 2 }, note: "by hand" });
  assert.deepEqual(merge(base, here, elsewhere).theCase, caseOf([], { focus: "circuit", asset: { meter_hours: 2 }, note: "by hand" }));
});

test("members and entries whose names objects know of themselves are text like any other", () => {
  // As JSON.parse makes them: members of their own.
  const parsed = (text) => JSON.parse(`{"format":"faultodds-case/1","id":"7",${text}}`);
  const names = ["__proto__", "constructor", "toString", "hasOwnProperty"];
  const entries = names.map((name) => saw(name, name, "2024-03-05T08:00:00Z"));
  for (const name of names) {
    const base = parsed('"observations":[]');
    const here = parsed(`"${name}":{"n":1},"observations":${JSON.stringify(entries.slice(0, 2))}`);
    const elsewhere = parsed(`"asset":{"id":"x"},"observations":${JSON.stringify(entries.slice(2))}`);
    const { theCase } = merge(base, here, elsewhere);
    assert.ok(Object.hasOwn(theCase, name), name);
    assert.equal(Object.getPrototypeOf(theCase), Object.prototype);
    assert.match(JSON.stringify(theCase), new RegExp(`"${name}":{"n":1}`));
    assert.equal(theCase.observations.length, 4);
    // An empty object is not taken for what every object has under that name.
    const empty = merge(base, parsed(`"${name}":{},"observations":[]`), elsewhere).theCase;
    assert.ok(Object.hasOwn(empty, name), name);
    assert.ok(Object.hasOwn(merge(base, parsed('"observations":[]'), here).theCase, name), name);
    assert.ok(!alike(base, here) && alike(here, parsed(`"observations":${JSON.stringify(entries.slice(0, 2).reverse())},"${name}":{"n":1}`)));
  }
});

test("two cases are alike where only the order differs", () => {
  assert.ok(alike(caseOf([drift, port]), caseOf([port, drift])));
  assert.ok(alike(caseOf([], { setup_done: ["a", "b"] }), caseOf([], { setup_done: ["b", "a"] })));
  assert.ok(!alike(caseOf([drift]), caseOf([drift, drift])));
  assert.ok(!alike(caseOf([], { note: "x" }), caseOf([])));
  assert.ok(!alike(caseOf([]), caseOf([], { setup_done: ["a"] })));
});
