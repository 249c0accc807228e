// The binding answers tests/vectors/assessments.json and refuses the bad documents.
import assert from "node:assert/strict";
import { test } from "node:test";
import { FaultoddsError, Model, assess } from "faultodds";
import { agree } from "./agree.mjs";
import { BAD, TABLE, read } from "./documents.mjs";

const answered = TABLE.vectors.filter((vector) => vector.expected);
const told = answered.filter((vector) => vector.events);
const refused = TABLE.vectors.filter((vector) => vector.refusal);
assert.ok(answered.length > 10 && told.length > 5 && refused.length > 5);

function tell(work, event) {
  if (event.retract) return work.retract(event.retract);
  if (event.setup_done) return work.setupDone(event.setup_done);
  const { observation, outcome, likelihood, repaired } = event.observe;
  if (outcome) return work.observe(observation, outcome);
  if (likelihood) return work.observeLikelihood(observation, likelihood);
  if (repaired) return work.repaired(...repaired);
  return work.observeEntry(event.observe);
}

for (const vector of answered) {
  test(`answers as expected: ${vector.name}`, async () => {
    const circuit = read(vector.circuit);
    agree(vector.expected, assess(circuit, vector.case), "assess");
    const model = new Model(circuit);
    agree(vector.expected, model.assess(vector.case), "model.assess");
    agree(vector.expected, await model.assessAsync(JSON.stringify(vector.case)), "model.assessAsync");
    model.close();
  });
}

for (const vector of told) {
  test(`an open case gives the same from its events: ${vector.name}`, () => {
    const model = new Model(read(vector.circuit));
    const work = model.openCase();
    for (const event of vector.events) tell(work, event);
    work.assess();
    agree(vector.expected, work.answer(), "answer");
    agree(vector.expected.log_evidence, work.logEvidence(), "log evidence");
    const posteriors = work.posteriors();
    for (const fault of vector.expected.faults) agree(fault.grades, posteriors.get(fault.mode), fault.mode);
    const ranking = work.tests();
    // A second look at the complaint is advice; the ranking is of what was not made yet.
    agree(
      vector.expected.tests.filter(({ again }) => !again).map((line) =>
        Object.fromEntries(Object.keys(ranking[0]).map((key) => [key, line[key]]))),
      ranking, "tests");
    const { tests, advice } = work.answer();
    const order = ranking.map(({ observation }) => observation);
    const first = order.filter((observation) => observation === advice?.test);
    assert.deepEqual(
      tests.filter(({ again }) => !again).map(({ observation }) => observation),
      [...first, ...order.filter((observation) => observation !== advice?.test)]);
    const causes = work.causes();
    assert.deepEqual(
      causes.map(({ observation }) => observation), vector.expected.causes.map(({ observation }) => observation));
    agree(vector.expected.causes, causes, "causes");
    work.close();
    model.close();
  });
}

for (const vector of refused) {
  test(`is refused with code, place and words: ${vector.name}`, async () => {
    const circuit = read(vector.circuit);
    const model = new Model(circuit);
    const { code, pointer, message, event_code } = vector.refusal;
    const asTold = (place) => (error) => {
      assert.ok(error instanceof FaultoddsError);
      assert.equal(error.code, code);
      assert.equal(error.pointer, place);
      assert.ok(error.message.includes(message), error.message);
      return true;
    };
    assert.throws(() => model.assess(vector.case), asTold(pointer));
    await assert.rejects(model.assessAsync(vector.case), asTold(pointer));
    assert.throws(() => assess(circuit, vector.case), asTold(`/case${pointer}`));
    if (event_code) {
      const work = model.openCase();
      assert.throws(
        () => {
          for (const event of vector.events) tell(work, event);
          work.assess();
        },
        { code: event_code });
      work.close();
    }
    model.close();
  });
}

test("every bad document is refused with its code, its place and its words", () => {
  assert.ok(BAD.length > 50);
  for (const entry of BAD) {
    assert.throws(
      () => assess(entry.circuit, entry.case, entry.priors),
      (error) => {
        assert.equal(error.code, entry.code, entry.name);
        if (entry.pointer !== null) assert.equal(error.pointer, entry.pointer, entry.name);
        for (const words of entry.message) assert.ok(error.message.includes(words), `${entry.name}: ${error}`);
        return true;
      });
  }
});
