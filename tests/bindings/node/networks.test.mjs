// Networks, against tests/vectors/networks.json.
import assert from "node:assert/strict";
import { test } from "node:test";
import { FaultoddsError, Network } from "faultodds";
import { read } from "./documents.mjs";

const { networks, tolerance } = JSON.parse(read("tests/vectors/networks.json"));
const near = (actual, expected, place) => assert.ok(Math.abs(actual - expected) <= tolerance, `${place}: ${actual}, not ${expected}`);

for (const { name, format, text, variables, queries, refusals } of networks) {
  const network = new Network(text.join("\n"), { format });

  test(`${name}: variables are in the order of the text, each with its states`, () => {
    assert.deepEqual(network.variables(), variables);
    assert.ok(network.states(variables[0]).length >= 2);
    assert.throws(() => network.states("teapot"), { code: "invalid_argument" });
  });

  for (const query of queries) {
    test(`${name}: ${query.name}`, () => {
      const { logEvidence, posteriors } = network.query(query.evidence);
      near(Math.exp(logEvidence), query.evidence_probability, "evidence");
      assert.equal(posteriors.size, variables.length);
      for (const [variable, expected] of Object.entries(query.posteriors ?? {})) {
        expected.forEach((p, state) => near(posteriors.get(variable)[state], p, `${variable} ${state}`));
      }
    });
  }

  for (const { name: what, evidence, code, message } of refusals) {
    test(`${name}: ${what}`, () => {
      assert.throws(() => network.query(evidence), (error) => {
        assert.ok(error instanceof FaultoddsError);
        assert.equal(error.code, code);
        assert.ok(error.message.includes(message), error.message);
        return true;
      });
    });
  }
}

test("a text that is no network is refused with its line", () => {
  assert.throws(() => new Network("network x {\n}\nvariable"), { code: "invalid_document", message: /^line 3: / });
  assert.throws(() => new Network("<BIF/>", { format: "xmlbif" }), FaultoddsError);
});

test("a memory budget that is too small is announced", () => {
  assert.throws(() => new Network(networks[0].text.join("\n"), { memoryBudget: 1 }), { code: "limit_exceeded" });
  assert.throws(() => new Network("", { memoryBudget: -1 }), RangeError);
});

test("a closed network refuses and may be closed again", () => {
  const network = new Network(networks[0].text.join("\n"));
  network.close();
  network.close();
  assert.throws(() => network.query(), /closed/);
});
