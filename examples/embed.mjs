// node embed.mjs circuit.json case.json: the likeliest faults, and the best test with its cautions.
import { readFileSync } from "node:fs";
import { Model } from "faultodds";

const [circuit, work] = process.argv.slice(2).map((name) => readFileSync(name, "utf8"));
const model = new Model(circuit);
const { faults, tests } = model.assess(work);
model.close();

for (const fault of faults.sort((a, b) => a.grades[0] - b.grades[0]).slice(0, 3)) {
  const odds = `${Math.round(100 * (1 - fault.grades[0]))}%`.padStart(4);
  console.log(`${odds}  ${fault.component}: ${fault.title}`);
}
const [test] = tests;
console.log([...test.cautions, `${test.title}: ${test.minutes.toFixed()} min`, test.because].join("\n"));
