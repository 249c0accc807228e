// Compiled, never run: the types are what a caller expects of them.
import { Case, Model, Network, assess, cautionsOf, FaultoddsError, learnPriors } from "faultodds";
import type { Assessment, Fault, FullAssessment, NetworkAnswer, Pack, RankedTest, Test } from "faultodds";

const answer: Assessment = assess("{}", { format: "faultodds-case/1" }, "{}");
const fault: Fault | undefined = answer.faults[0];
const sound: number | undefined = fault?.grades[0];
const odds: number | null | undefined = fault?.posterior_odds;
const test: Test | undefined = answer.tests[0];
const cautions: string[] = test ? cautionsOf(answer, test) : [];
const whole = assess("{}", { format: "faultodds-case/1", detail: "full" }, "{}") as FullAssessment;
const code: string | undefined = whole.faults[0]?.code;

async function use(): Promise<void> {
  using model = new Model({}, { assetClass: "municipal", memoryBudget: 1 << 20 });
  const later: Assessment = await model.assessAsync({});
  await model.assessAsync({}, { signal: AbortSignal.timeout(1000) });
  using work: Case = model.openCase();
  work.assess({ timeout: 1000 });
  const ranking: RankedTest[] = work.tests();
  // @ts-expect-error a likelihood has three numbers
  work.observeLikelihood("x", [1, 2]);
  Case.assessAll([work], { threads: 2 });
  using network = new Network("", { format: "xmlbif" });
  const known: NetworkAnswer = network.query({ rain: "yes", grass: [0, 0.5, 1] });
  const pack: Pack = learnPriors({ path: "orders.csv" }, { source: "north", progress: (rows) => rows < 10 }).pack;
  // @ts-expect-error records need a source
  learnPriors("", {});
  console.log(known.posteriors.get("rain")?.[0], pack);
  // @ts-expect-error there is no such option
  new Model({}, { budget: 1 });
  console.log(later.advice?.repair.components, ranking, sound, odds, cautions);
}

use().catch((problem: unknown) => {
  if (problem instanceof FaultoddsError) console.log(problem.code, problem.pointer, problem.message);
});
