// The binding answers tests/vectors/assessments.json and refuses the bad documents.
import assert from "node:assert/strict";
import { test } from "node:test";
import { FaultoddsError, loadFaultodds } from "faultodds-wasm";
import { agree } from "./agree.mjs";
import { BAD, TABLE, read } from "./documents.mjs";

const faultodds = await loadFaultodds();
const answered = TABLE.vectors.filter((vector) => vector.expected);
const refused = TABLE.vectors.filter((vector) => vector.refusal);
assert.ok(answered.length > 10 && refused.length > 5);

for (const vector of answered) {
  test(`answers as expected: ${vector.name}`, () => {
    const circuit = read(vector.circuit);
    agree(vector.expected, faultodds.assess(circuit, vector.case), "assess");
    const model = faultodds.model(circuit);
    agree(vector.expected, model.assess(vector.case), "model.assess");
    agree(vector.expected, model.assess(JSON.stringify(vector.case)), "model.assess of a text");
    model.close();
  });
}

for (const vector of refused) {
  test(`is refused with code, place and words: ${vector.name}`, () => {
    const circuit = read(vector.circuit);
    const model = faultodds.model(circuit);
    const { code, pointer, message } = vector.refusal;
    const asTold = (place) => (error) => {
      assert.ok(error instanceof FaultoddsError);
      assert.equal(error.code, code);
      assert.equal(error.pointer, place);
      assert.ok(error.message.includes(message), error.message);
      return true;
    };
    assert.throws(() => model.assess(vector.case), asTold(pointer));
    assert.throws(() => faultodds.assess(circuit, vector.case), asTold(`/case${pointer}`));
    model.close();
  });
}

test("every bad document is refused with its code, its place and its words", () => {
  assert.ok(BAD.length > 50);
  for (const entry of BAD) {
    assert.throws(
      () => faultodds.assess(entry.circuit, entry.case, entry.priors),
      (error) => {
        assert.equal(error.code, entry.code, entry.name);
        if (entry.pointer !== null) assert.equal(error.pointer, entry.pointer, entry.name);
        for (const words of entry.message) assert.ok(error.message.includes(words), `${entry.name}: ${error}`);
        return true;
      });
  }
});
