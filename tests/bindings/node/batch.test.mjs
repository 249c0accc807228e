// Many cases of one model at once.
import assert from "node:assert/strict";
import { test } from "node:test";
import { Case, Model } from "faultodds";
import { LIFT } from "./documents.mjs";

const OUTCOMES = ["none", "slow", "fast"];

function cases(model, count) {
  return Array.from({ length: count }, (_, i) => {
    const work = model.openCase();
    work.observe("drift/cylinder/retract", OUTCOMES[i % 3]);
    if (i % 2) work.observe("static/section.a", i % 4 === 1 ? "held" : "would_not_build");
    return work;
  });
}

test("cases assessed together are as assessed one by one, to the bit", () => {
  const model = new Model(LIFT);
  for (const threads of [1, 3]) {
    const together = cases(model, 30);
    Case.assessAll(together, { threads });
    const alone = cases(model, 30);
    for (const [i, work] of alone.entries()) {
      work.assess();
      assert.equal(together[i].logEvidence(), work.logEvidence());
      assert.deepEqual(together[i].posteriors(), work.posteriors());
      assert.deepEqual(together[i].answer(), work.answer());
    }
  }
  Case.assessAll([]);
});

test("the first case that cannot be assessed is told, and the others are assessed", () => {
  const model = new Model(LIFT);
  const work = cases(model, 3);
  work[1].observeLikelihood("static/section.a", [0, 0, 1]);
  work[1].observeLikelihood("static/section.a", [1, 0, 0]);
  assert.throws(() => Case.assessAll(work), { code: "conflicting_evidence", pointer: /^\/cases\/1/ });
  assert.ok(work[2].logEvidence() <= 0);
  assert.throws(() => work[1].logEvidence(), { code: "invalid_argument" });
});

test("the same case twice, a closed one, and cases of two models are refused", () => {
  const model = new Model(LIFT);
  const [one, two] = cases(model, 2);
  assert.throws(() => Case.assessAll([one, one]), { code: "invalid_argument" });
  assert.throws(() => Case.assessAll([one, new Model(LIFT).openCase()]), { code: "invalid_argument" });
  assert.throws(() => Case.assessAll([one], { threads: 0 }), RangeError);
  two.close();
  assert.throws(() => Case.assessAll([one, two]), /closed/);
});
