// Compiled, never run: the types are what a caller expects of them.
import { Model, assess, FaultoddsError } from "faultodds";
import type { Assessment, Case, Fault, RankedTest, Test } from "faultodds";

const answer: Assessment = assess("{}", { format: "faultodds-case/1" }, "{}");
const fault: Fault | undefined = answer.faults[0];
const sound: number | undefined = fault?.grades[0];
const odds: number | null | undefined = fault?.posterior_odds;
const test: Test | undefined = answer.tests[0];
const cautions: string[] = test?.cautions ?? [];

async function use(): Promise<void> {
  using model = new Model({}, { assetClass: "municipal", memoryBudget: 1 << 20 });
  const later: Assessment = await model.assessAsync({});
  using work: Case = model.openCase();
  const ranking: RankedTest[] = work.tests();
  // @ts-expect-error a likelihood has three numbers
  work.observeLikelihood("x", [1, 2]);
  // @ts-expect-error there is no such option
  new Model({}, { budget: 1 });
  console.log(later.advice?.repair.components, ranking, sound, odds, cautions);
}

use().catch((problem: unknown) => {
  if (problem instanceof FaultoddsError) console.log(problem.code, problem.pointer, problem.message);
});
