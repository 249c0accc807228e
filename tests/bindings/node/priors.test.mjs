// Prior packs. The records are invented.
import assert from "node:assert/strict";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { Model, backtestPriors, diffPriors, learnPriors, mergePriors } from "faultodds";
import { LIFT, caseOf } from "./documents.mjs";

const HEADER = "work_order,opened,closed,asset_class,component,position,finding,grade,complaint,tests\n";
const order = (number, finding = "none", { grade = "", closed = "2024-03-05", tests = "" } = {}) =>
  `W-${number},2024-03-01,${closed},loader,port_relief,cap_relief,${finding},${grade},drift/cylinder/retract=fast,${tests}\n`;
const orders = (count, of) => HEADER + Array.from({ length: count }, (_, i) => of(i)).join("");
const RECORDS = orders(30, (i) => (i % 3 ? order(i) : order(i, "seat_leak", { grade: "failed" })));
const seatLeak = (pack) =>
  pack.modes.find(({ type, mode, asset_class }) => type === "port_relief" && mode === "seat_leak" && asset_class === "loader");

test("what is learned is a pack that a model takes", () => {
  const { pack, summary } = learnPriors(RECORDS, { source: "depot", title: "Dépôt" });
  assert.equal(summary.work_orders.used, 30);
  assert.deepEqual(summary.work_orders.reasons, {});
  assert.deepEqual(seatLeak(pack).counts, { sound: 20, worn: 0, failed: 10 });
  const model = new Model(LIFT, { priors: pack, assetClass: "loader" });
  const fault = model.assess(caseOf()).faults.find(({ mode }) => mode === "cap_relief.seat_leak");
  assert.ok(Math.abs(fault.grades[0] - seatLeak(pack).grades[0]) < 1e-9);
  model.close();
});

test("the audit names the latest orders of each mode and counts the others", () => {
  const { summary } = learnPriors(RECORDS + order(100, "seat_leak", { grade: "worn", closed: "2024-04-01" }), {
    source: "depot", auditOrders: 2,
  });
  const mode = summary.audit.modes.find(({ mode }) => mode === "seat_leak");
  assert.deepEqual([mode.found, mode.sound, mode.left_out], [11, 20, 9]);
  assert.deepEqual(mode.orders[0], { work_order: "W-100", closed: "2024-04-01", said: "worn" });
  assert.equal(learnPriors(RECORDS, { source: "depot" }).summary.audit, undefined);
});

test("a path is a file, and one that is not there is told by its name", () => {
  const folder = mkdtempSync(join(tmpdir(), "faultodds-"));
  try {
    const path = join(folder, "orders.csv");
    writeFileSync(path, RECORDS);
    assert.deepEqual(learnPriors({ path }, { source: "depot" }), learnPriors(RECORDS, { source: "depot" }));
    assert.throws(() => learnPriors({ path: join(folder, "no.csv") }, { source: "depot" }), /no\.csv/);
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test("rows that cannot be used are handed over with their reason", () => {
  const rows = [];
  const { summary } = learnPriors(RECORDS + order(99, "none", { closed: "2024-02-30" }) + order(1), {
    source: "depot", reject: (row) => void rows.push(row),
  });
  assert.deepEqual(summary.work_orders.reasons, { duplicate: 1, impossible_date: 1 });
  assert.deepEqual(rows.map((row) => row.split(",")[2]), ["impossible_date", "duplicate"]);
});

test("a file without a row that can be used is refused", () => {
  const nothing = HEADER + order(1, "haunted");
  assert.throws(() => learnPriors(nothing, { source: "depot" }), {
    code: "invalid_argument", message: /no row of `orders` was used.*unknown_finding 1/,
  });
  assert.throws(() => learnPriors(RECORDS, { source: "depot", exposure: "component,in_service\n" }), /no row of `exposure`/);
});

test("false from a callback cancels, and what one throws comes through", () => {
  assert.throws(() => learnPriors(RECORDS, { source: "depot", progress: () => false }), { code: "cancelled" });
  const problem = new Error("no more");
  const refuse = () => {
    throw problem;
  };
  assert.throws(() => learnPriors(HEADER + order(1, "haunted"), { source: "depot", reject: refuse }), (thrown) => thrown === problem);
});

test("exposure gives rates", () => {
  const exposure = "component,asset_class,in_service,hours\nport_relief,loader,12,60000\n";
  const { pack, summary } = learnPriors(RECORDS, { source: "depot", exposure });
  assert.equal(summary.exposure.used, 1);
  const { alpha, beta } = seatLeak(pack).posterior.rate_per_hour;
  assert.deepEqual([alpha, beta], [10.5, 60000]);
});

test("through the circuit tests count and complaints are corrected for", () => {
  const opened = orders(30, (i) =>
    i % 3 ? order(i, "none", { tests: "static/section.a=held" })
      : order(i, "seat_leak", { grade: "failed", tests: "static/section.a=would_not_build" }));
  const options = { source: "depot", circuit: LIFT, throughCircuit: true };
  const { pack, summary } = learnPriors(opened, options);
  assert.equal(summary.not_understood, 0);
  const learned = pack.modes.find(({ type, mode }) => type === "port_relief" && mode === "seat_leak");
  assert.ok(1 - learned.grades[0] < 0.75 * (1 - seatLeak(learnPriors(opened, { source: "depot" }).pack).grades[0]));
  assert.deepEqual(learnPriors(opened, { ...options, threads: 2 }).pack, pack);
  assert.throws(() => learnPriors(opened, { source: "depot", throughCircuit: true }), /no circuit to learn through/);
});

test("merging is pooling, and the difference says on how many jobs", () => {
  const north = learnPriors(HEADER + order(1) + order(2), { source: "north" }).pack;
  const south = learnPriors(HEADER + order(3, "seat_leak"), { source: "south" }).pack;
  const pooled = learnPriors(HEADER + order(1) + order(2) + order(3, "seat_leak"), { source: "all" }).pack;
  const merged = mergePriors([north, south]);
  assert.deepEqual(seatLeak(merged).grades, seatLeak(pooled).grades);
  const [change] = diffPriors(north, merged);
  assert.deepEqual([change.before.jobs, change.after.jobs], [2, 3]);
  assert.ok(diffPriors(null, merged).length > 0);
  assert.throws(() => mergePriors([north, north]), { code: "invalid_priors" });
});

test("a number that C has no room for is refused", () => {
  for (const wrong of [{ threads: 0 }, { threads: 1.5 }, { threads: 2 ** 32 }, { mostJobs: -1 }]) {
    assert.throws(() => backtestPriors(LIFT, RECORDS, wrong), RangeError);
  }
  assert.throws(() => learnPriors(RECORDS, { source: "depot", threads: -1 }), /threads is -1; expected/);
});

test("jobs are replayed with both packs", () => {
  const closed = orders(16, (i) =>
    i % 4 ? order(i, "seat_leak", { grade: "failed", closed: `2024-03-${String(2 + i).padStart(2, "0")}`, tests: "static/section.a=would_not_build" })
      : order(i, "none", { closed: `2024-03-${String(2 + i).padStart(2, "0")}`, tests: "static/section.a=held" }));
  const told = [];
  const answer = backtestPriors(LIFT, closed, { progress: (done) => void told.push(done) });
  assert.equal(answer.format, "faultodds-backtest/1");
  assert.deepEqual([answer.jobs, answer.with_cause], [16, 12]);
  assert.equal(told.length, 32);
  const pack = learnPriors(HEADER + order(1), { source: "one" }).pack;
  assert.equal(backtestPriors(LIFT, closed, { before: pack, after: pack, threads: 2 }).verdict, "cannot_tell");
  assert.throws(() => backtestPriors(LIFT, closed, { mostJobs: 4 }), /10 at least/);
});
