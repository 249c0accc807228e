// Compiled, never run: the types are what a caller expects of them.
import { FaultoddsError, cautionsOf, loadFaultodds } from "faultodds-wasm";
import type { Assessment, Fault, Faultodds, Model, Test } from "faultodds-wasm";

async function use(): Promise<void> {
  const faultodds: Faultodds = await loadFaultodds();
  const answer: Assessment = faultodds.assess("{}", { format: "faultodds-case/1" }, "{}");
  const fault: Fault | undefined = answer.faults[0];
  const sound: number | undefined = fault?.grades[0];
  const odds: number | null | undefined = fault?.posterior_odds;
  const test: Test | undefined = answer.tests[0];
  const cautions: string[] = test ? cautionsOf(answer, test) : [];
  using model: Model = faultodds.model({}, { assetClass: "municipal", memoryBudget: 1 << 20 });
  const note: string = model.note({}, "html");
  // @ts-expect-error there is no such format
  model.note({}, "pdf");
  // @ts-expect-error there is no such option
  faultodds.model({}, { budget: 1 });
  console.log(model.assess({}, { timeout: 2000 }).advice?.repair.components, note, sound, odds, cautions);
}

use().catch((problem: unknown) => {
  if (problem instanceof FaultoddsError) console.log(problem.code, problem.pointer, problem.message);
});
