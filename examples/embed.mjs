// node embed.mjs circuit.json case.json: the likeliest causes, and the best test with its cautions.
import { readFileSync } from "node:fs";
import { Model, cautionsOf } from "faultodds";

const [circuit, work] = process.argv.slice(2).map((name) => readFileSync(name, "utf8"));
const model = new Model(circuit);
const answer = model.assess(work);
model.close();

const percent = (share) => `${Math.round(100 * share)}%`.padStart(4);
for (const { shares, elsewhere, nothing } of answer.causes) { // of the complaint, then of every other abnormal symptom
  for (const { components, probability } of shares.slice(0, 3)) {
    console.log(`${percent(probability)}  ${components.join(" and ")}`);
  }
  console.log(`${percent(elsewhere)}  something else; ${percent(nothing)}  nothing wrong`);
}
const [test] = answer.tests;
console.log([...cautionsOf(answer, test), `${test.title}: ${test.minutes.toFixed()} min`, test.because].join("\n"));
