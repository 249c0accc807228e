/** What the library answers. Written by bindings/declare.py from capi/documents/answers.json; not to be edited. */

/** P(sound), P(worn), P(failed). */
export type Grades = [sound: number, worn: number, failed: number];

/** A text, a number, or what is said with its unit. */
export type SaidValue =
  | string
  | number
  | { share: number }
  | { minutes: number }
  | { money: number; currency: string }
  | { decibans: number }
  | { observation: string }
  | { components: string[] }
  | { modes: string[]; shares?: number[]; more?: number };

/** A sentence as what it is made of: a message of the catalogues (capi/words) and its values. */
export interface Said {
  /** by which it is called */
  id: string;
  /** by the names that the message has for them */
  values?: Record<string, SaidValue>;
}

/** The machine, as the case says it. */
export interface AnsweredAsset {
  /** by which it is called */
  id?: string;
  /** class of assets, for priors */
  class?: string;
  /** hours in service */
  meter_hours?: number;
  /** by component */
  component_hours?: Record<string, number>;
  /** by component: hours at which it was last seen sound */
  sound_at?: Record<string, number>;
}

/** Components that together may be the cause. */
export interface Share {
  /** ids */
  components: string[];
  /** of it */
  probability: number;
}

/** Why an observation is as it is; the shares and the numbers beside them sum to 1. */
export interface Causes {
  /** the symptom, or the test that stands for one */
  observation: string;
  /** most probable first */
  shares: Share[];
  /** what leaks although all is sound */
  by_design: number;
  /** something that the circuit document does not describe */
  elsewhere: number;
  /** nothing wrong: a false report */
  nothing: number;
  /** those that are not listed */
  rest?: number;
}

/** One failure mode of one component. */
export interface Fault {
  /** component.mode */
  mode: string;
  /** id */
  component: string;
  /** in words */
  title: string;
  /** probabilities of sound, worn and failed */
  grades: Grades;
  /** odds of not sound; null where infinite */
  posterior_odds: number | null;
  /** of ISO 14224 */
  code?: string;
  /** odds of not sound before anything was seen; null where infinite */
  prior_odds?: number | null;
  /** weight of the evidence; null where infinite or undefined */
  decibans?: number | null;
}

/** One failure mode of one component: of the whole answer. */
export interface FullFault extends Fault {
  /** of ISO 14224 */
  code: string;
  /** odds of not sound before anything was seen; null where infinite */
  prior_odds: number | null;
  /** weight of the evidence; null where infinite or undefined */
  decibans: number | null;
}

/** A step of a test. */
export interface Step {
  /** by which it is called */
  id: string;
  /** in words */
  title: string;
  /** where other tests share it */
  minutes?: number;
  /** the volumes that it is about */
  at?: string[];
  /** those of them that are reached only past a leak */
  past_leak?: string[];
}

/** What a test is made with. */
export interface FittingToBring {
  /** adapter, plug, ... */
  what: string;
  /** where it goes */
  port: string | null;
  /** of the port */
  standard: string | null;
  /** of the port */
  size: string | null;
  /** the least pressure, such as "140 bar" */
  rated_for: string | null;
}

/** Which volume limits the pressure of a hold, and why. */
export interface PressureLimit {
  /** the volume that it concerns */
  volume: string;
  /** a rating, a relief, ... */
  by: string;
  /** whose it is, where the volume does not say so */
  part?: string;
  /** such as "140 bar", before any share of it */
  stands: string;
  /** pressure there per pressure at the port, where that is another */
  factor?: number;
  /** the failure mode past which it is reached */
  suspect?: string;
  /** in a sentence */
  why: string;
}

/** Why a hold has no figure. */
export interface NoPressure {
  /** by name */
  reason: string;
  /** the volume that it concerns */
  volume: string;
  /** whose it is, where the volume does not say so */
  part?: string;
  /** in a sentence */
  why: string;
}

/** Between which effects the outcomes lie, where that was solved. */
export interface EffectLimits {
  /** of the effects */
  unit: "mL/min" | "mm/min" | "rev/min" | "%";
  /** from here the second outcome */
  first: number;
  /** from here the third */
  second: number;
  /** what the instrument cannot tell from nothing */
  floor: number;
  /** of the instrument */
  resolution: number;
  /** of a hold: in which its pressure falls to half */
  seconds?: number;
}

/** A test by its name. */
export interface NamedTest {
  /** under which its result is entered */
  observation: string;
  /** in words */
  title: string;
  /** what kind of test */
  kind: "static" | "drift" | "delivery" | "flow" | "look" | "temperature" | "symptom" | "test";
  /** setup not yet done included */
  minutes: number;
  /** needs power on or a load left up */
  energised: boolean;
}

/** A test that can be made next; its cautions stand before it. */
export interface Test {
  /** under which its result is entered */
  observation: string;
  /** in words */
  title: string;
  /** what kind of test */
  kind: "static" | "drift" | "delivery" | "flow" | "look" | "temperature" | "symptom" | "test";
  /** setup not yet done included */
  minutes: number;
  /** needs power on or a load left up */
  energised: boolean;
  /** it is made once more: what was seen of it is doubtful */
  again?: boolean;
  /** where one is not enough */
  people?: number;
  /** of each outcome, the normal one first */
  probability: Record<string, number>;
  /** about the cause of the complaint */
  cause_bits: number;
  /** all steps that it shares with others, done or not */
  setup_ids?: string[];
  /** besides those for all work; texts in further_cautions */
  caution_ids?: string[];
  /** everything left to do before the test, in order */
  steps: Step[];
  /** what ends it, in order */
  afterwards: Step[];
  /** such as "140 bar"; absent or null where it comes from the maker's documents */
  test_pressure?: string | null;
  /** what limits the test pressure */
  pressure_limit?: PressureLimit | null;
  /** why the test pressure is to be had from the maker's documents */
  no_pressure?: NoPressure | null;
  /** between which effects the outcomes lie; absent where they were not solved */
  limits?: EffectLimits;
  /** adapters, plugs and meters */
  bring: FittingToBring[];
  /** which suspects it tells apart */
  because: string;
  /** of what that sentence is made */
  because_said: Said[];
  /** the failure modes that it looks at */
  suspects: string[];
  /** about all failure modes */
  information_bits?: number;
  /** what the order within a safety class rests on */
  bits_per_minute?: number;
  /** of steps, what other tests share */
  setup?: Step[];
  /** to be shown before it */
  cautions?: string[];
}

/** A test that can be made next; its cautions stand before it: of the whole answer. */
export interface FullTest extends Test {
  /** about all failure modes */
  information_bits: number;
  /** what the order within a safety class rests on */
  bits_per_minute: number;
  /** of steps, what other tests share */
  setup: Step[];
  /** such as "140 bar"; absent or null where it comes from the maker's documents */
  test_pressure: string | null;
  /** what limits the test pressure */
  pressure_limit: PressureLimit | null;
  /** why the test pressure is to be had from the maker's documents */
  no_pressure: NoPressure | null;
  /** to be shown before it */
  cautions: string[];
}

/** A hold that is not proposed. */
export interface Withheld {
  /** id */
  observation: string;
  /** by name */
  reason: string;
  /** the volume that it concerns */
  volume: string;
  /** whose it is, where the volume does not say so */
  part?: string;
  /** in a sentence */
  why: string;
}

/** A test that the case says cannot be made. */
export interface ImpossibleTest {
  /** id */
  observation: string;
  /** in words */
  title: string;
  /** as the case says it */
  reason: string;
}

/** A test left out because of the work there is. */
export interface NotProposed {
  /** id */
  observation: string;
  /** by name */
  reason: "people" | "ready_within";
  /** in a sentence */
  why: string;
  /** of what that sentence is made */
  why_said: Said[];
}

/** Components to exchange and check, in that order. */
export interface RepairSet {
  /** ids */
  components: string[];
  /** of exchanging all of them */
  cost: number;
  /** that the complaint stays */
  residual_risk: number;
  /** with what follows then */
  expected_cost: number;
}

/** What was seen contradicts itself. */
export interface Contradiction {
  /** the most doubtful of it */
  observation: string;
  /** that what was seen there is wrong */
  wrong: number;
  /** that some of what was seen is */
  any_wrong: number;
}

/** The technician's own next test. */
export interface OwnOrder {
  /** id of the test */
  test: string;
  /** what would be advised; null: to stop */
  instead_of: string | null;
  /** expected, above that */
  extra_cost: number;
}

/** A part that cannot be in by then. */
export interface LatePart {
  /** id */
  component: string;
  /** it takes */
  minutes: number;
  /** until it is here */
  lead_days: number;
}

/** What the time in which the machine must run allows. */
export interface InTime {
  /** minutes */
  ready_within: number;
  /** that the repair takes */
  minutes: number;
  too_long: LatePart[];
  /** the best repair without the limit, where it is another */
  later: RepairSet | null;
}

/** Adapters and plugs of one kind. */
export interface BringItem {
  /** adapter, plug, ... */
  what: string;
  /** of the port */
  standard: string;
  /** of the port */
  size: string;
  /** how many */
  count: number;
  /** where they go */
  ports: string[];
}

/** What to bring for all that is named. */
export interface BringList {
  /** by kind */
  items: BringItem[];
  /** the highest pressure, such as "180 bar" */
  gauge_for: string | null;
}

/** A test that proves the repair; its cautions stand before it. */
export interface Verify {
  /** under which its result is entered; in the whole answer id */
  observation: string;
  /** in words */
  title: string;
  /** what kind of test */
  kind?: "static" | "drift" | "delivery" | "flow" | "look" | "temperature" | "symptom" | "test";
  /** setup not yet done included; in the whole answer it takes */
  minutes: number;
  /** needs power on or a load left up */
  energised: boolean;
  /** whether it is the complaint itself */
  is_complaint: boolean;
  /** that the complaint stays, then */
  risk_if_normal: number;
  /** keys of the cautions */
  caution_ids?: string[];
  /** probability of the normal outcome */
  normal?: number;
  /** to be shown before it */
  cautions?: string[];
}

/** A test that proves the repair; its cautions stand before it: of the whole answer. */
export interface FullVerify extends Verify {
  /** probability of the normal outcome */
  normal: number;
  /** to be shown before it */
  cautions: string[];
}

/** What else leaks before the order goes out. */
export interface SecondFault {
  /** that the complaint stays once what is advised is replaced */
  probability: number;
  /** of that probability */
  target: number;
  /** whether the checks come to the target */
  reached: boolean;
  /** in order */
  checks?: SecondFaultCheck[];
}

/** What else leaks before the order goes out: of the whole answer. */
export interface FullSecondFault extends SecondFault {
  /** in order */
  checks: SecondFaultCheck[];
}

/** Whether to stop testing, the next test, and what to repair. */
export interface Advice {
  /** no test is worth its cost */
  stop: boolean;
  /** why, in a sentence */
  reason: string;
  /** of what that sentence is made */
  reason_said: Said[];
  /** the test to make */
  test: string | null;
  /** about how far any probability may be off; absent where exact */
  error?: number;
  /** that the cause is none that the circuit describes, where that is likeliest: no part is ordered */
  elsewhere?: number;
  /** all that is worth ordering is new already */
  renewed_shows?: boolean;
  /** that nothing is wrong, where that is likelier than not: no part is ordered */
  unfounded?: number;
  /** what was seen contradicts itself; nothing is ordered before it was looked at again */
  contradiction?: Contradiction;
  /** the technician's own next test, where the case says an order */
  own_order?: OwnOrder;
  /** what the time in which the machine must run allows, where the case says it */
  in_time?: InTime;
  /** of the amounts; XXX is none in particular */
  currency: string;
  /** what coming once more costs */
  come_back: number;
  /** what to exchange */
  repair: RepairSet;
  /** of the test to make */
  test_cost?: number;
  /** expected */
  test_saving?: number;
  /** what else leaks before the order goes out */
  second_fault: SecondFault;
  /** adapters, plugs and meters */
  bring: BringList;
  /** what proves the repair */
  verify: Verify[];
  /** other repairs */
  alternatives?: RepairSet[];
  /** those that save anything */
  tests?: TestValue[];
  /** two in a row that pay where none does alone */
  two_tests?: TwoTests | null;
  /** no tests whatever can save more */
  perfect_information?: number;
  /** parts taken out in the course of the case */
  replaced?: ReplacedPart[];
  /** what weighed for and against */
  evidence?: EvidenceTrail;
  /** what would change the repair */
  would_change?: WouldChange;
  /** tests that fit in the visit of the case */
  visit?: Visit | null;
}

/** Whether to stop testing, the next test, and what to repair: of the whole answer. */
export interface FullAdvice extends Advice {
  /** other repairs */
  alternatives: RepairSet[];
  /** those that save anything */
  tests: TestValue[];
  /** two in a row that pay where none does alone */
  two_tests: TwoTests | null;
  /** no tests whatever can save more */
  perfect_information: number;
  /** what else leaks before the order goes out */
  second_fault: FullSecondFault;
  /** what proves the repair */
  verify: FullVerify[];
  /** what weighed for and against */
  evidence: EvidenceTrail;
  /** what would change the repair */
  would_change: WouldChange;
  /** tests that fit in the visit of the case */
  visit: Visit | null;
}

/** What a test saves. */
export interface TestValue {
  /** id */
  observation: string;
  /** it takes */
  minutes: number;
  /** of it */
  cost: number;
  /** in money */
  expected_saving: number;
}

/** Two in a row that pay where none does alone. */
export interface TwoTests {
  /** id of the first */
  first: string;
  /** by outcome of the first */
  then: string[];
  /** of it */
  cost: number;
  /** at least */
  expected_saving: number;
}

/** A test that does not look at what is replaced. */
export interface SecondFaultCheck {
  /** id */
  observation: string;
  /** it takes */
  minutes: number;
  /** that the complaint stays once this and all before it were normal */
  probability: number;
}

/** A part taken out in the course of the case. */
export interface ReplacedPart {
  /** id */
  component: string;
  /** that it was, in hindsight */
  faulty: number;
}

/** What an observation weighs for a suspect. */
export interface Weight {
  /** id */
  observation: string;
  /** null where infinite */
  decibans: number | null;
}

/** How the weight of a suspect came about; the numbers add up. */
export interface SuspectTrail {
  /** component.mode */
  mode: string;
  /** null where infinite */
  prior_decibans: number | null;
  /** null where infinite */
  decibans: number | null;
  /** in the order made */
  weights: Weight[];
}

/** What is abnormal though no modelled fault shows there. */
export interface Unexplained {
  /** id */
  observation: string;
  /** of it */
  probability: number;
}

/** What weighed for and against. */
export interface EvidenceTrail {
  /** in words */
  sentence: string;
  /** of what that is made */
  sentence_said: Said[];
  /** the leading suspects */
  faults: SuspectTrail[];
  /** above 0 the observations contradict each other */
  conflict_bits: number;
  /** the observation that agrees least */
  most_at_odds: string | null;
  /** what no modelled fault explains */
  unexplained: Unexplained[];
}

/** What would change the repair. */
export interface Turn {
  /** id */
  observation: string;
  /** were what was seen that many times as probable with nothing leaking there */
  factor: number;
  /** would be the repair */
  components: string[];
}

/** The price of coming again from which the repair is another. */
export interface ComeBackTurn {
  /** what coming once more costs */
  come_back: number;
  /** ids */
  components: string[];
}

/** What would change the repair. */
export interface WouldChange {
  /** each by itself */
  observations: Turn[];
  /** price below which the repair is another */
  come_back_below: ComeBackTurn | null;
  /** price above which the repair is another */
  come_back_above: ComeBackTurn | null;
}

/** A test of a visit. */
export interface VisitTest {
  /** id */
  observation: string;
  /** it takes */
  minutes: number;
  /** of information */
  bits: number;
}

/** The tests to make within the minutes there are. */
export interface Visit {
  /** minutes */
  available: number;
  /** it takes */
  minutes: number;
  /** that they tell */
  information_bits: number;
  /** the share of the most informative choice that they surely reach */
  guarantee: number;
  tests: VisitTest[];
}

/** A part that a test before service may find. */
export interface ServiceFind {
  /** id */
  component: string;
  /** that it would fail in service and the outcome has it replaced */
  probability: number;
}

/** A test worth making before service. */
export interface ServiceTest {
  /** id */
  observation: string;
  /** it takes */
  minutes: number;
  /** of it */
  cost: number;
  /** in money */
  expected_saving: number;
  /** expected saving less cost */
  net: number;
  finds: ServiceFind[];
}

/** A part worth replacing as it is. */
export interface ServicePart {
  /** id */
  component: string;
  /** probability that it fails */
  fails: number;
  /** in money */
  saving: number;
}

/** What is worth checking on a machine that nobody complains of. */
export interface BeforeService {
  /** of the amounts; XXX is none in particular */
  currency: string;
  /** most net saving a minute first */
  tests: ServiceTest[];
  /** parts to exchange */
  replace: ServicePart[];
  /** tests too large to be reckoned */
  not_reckoned?: string[];
}

/** An answer that is not exact. */
export interface ApproximateMethod {
  /** of the method */
  name: string;
  /** on every probability in it */
  error_bound: number;
}

/** The whole of an assessment. */
export interface Assessment {
  /** names the format */
  format: "faultodds-assessment/1";
  /** that it is what a screen needs */
  detail?: "screen";
  /** id of the circuit */
  circuit: string;
  /** the machine */
  asset?: AnsweredAsset;
  /** of the complaint first, then of every other abnormal symptom; those seen before a repair are in the whole answer only; in the whole answer of the complaint first, then of every other abnormal symptom */
  causes: Causes[];
  /** exact, or the approximation */
  method: "exact" | ApproximateMethod;
  /** the abnormal symptoms */
  complaint: string[];
  /** the likeliest; in the whole answer every one, in the order of the circuit */
  faults: Fault[];
  /** the next ones, best first; the one that the advice names before all others; in the whole answer best first; the one that the advice names before all others */
  tests: Test[];
  /** what comes after them */
  further_tests?: NamedTest[];
  /** of all that can be made */
  test_count?: number;
  /** tests that the case says cannot be made; absent where there are none */
  not_possible?: ImpossibleTest[];
  /** the first 5; in the whole answer tests left out for want of people or time; absent where there are none */
  not_proposed?: NotProposed[];
  /** of all that are left out; absent where none are */
  not_proposed_count?: number;
  /** absent without a complaint, or where the case asked for none */
  advice?: Advice;
  /** what is worth checking; absent where that is not asked */
  before_service?: BeforeService;
  /** what to know about the readings */
  warnings: string[];
  /** of what those sentences are made */
  warnings_said: Said[];
  /** for all work */
  cautions: string[];
  /** of what caution_ids refer to, by id */
  further_cautions?: Record<string, string>;
  /** natural logarithm of the probability (density, for readings) of what was seen */
  log_evidence?: number;
  /** holds that may not be made as the circuit stands */
  withheld?: Withheld[];
  /** failure modes that no observation of this circuit can tell apart */
  ambiguity_groups?: string[][];
}

/** The whole of an assessment: of the whole answer. */
export interface FullAssessment extends Assessment {
  /** natural logarithm of the probability (density, for readings) of what was seen */
  log_evidence: number;
  /** every one, in the order of the circuit */
  faults: FullFault[];
  /** best first; the one that the advice names before all others */
  tests: FullTest[];
  /** holds that may not be made as the circuit stands */
  withheld: Withheld[];
  /** failure modes that no observation of this circuit can tell apart */
  ambiguity_groups: string[][];
}

/** What follows an outcome. */
export interface PlanBranch {
  /** by name */
  outcome: string;
  /** of it, once the test is made */
  probability: number;
  /** null where the branch is not followed */
  then: PlanNode | null;
}

/** A test to make (`test` and what belongs to it), an end (`replace`, `verify`), or neither where it was cut. */
export interface PlanNode {
  /** probability of coming here */
  reached: number;
  /** why it goes no further */
  cut?: "depth" | "time" | "limit";
  /** to be shown before the test */
  cautions?: string[];
  /** keys of the cautions */
  caution_ids?: string[];
  /** id of the test */
  test?: string;
  /** in words */
  title?: string;
  /** what kind of test */
  kind?: "static" | "drift" | "delivery" | "flow" | "look" | "temperature" | "symptom" | "test";
  /** needs power on or a load left up */
  energised?: boolean;
  /** it was made before, and is looked at once more */
  again?: boolean;
  /** because what was seen contradicts itself */
  contradicts?: boolean;
  /** setup not yet done included */
  minutes?: number;
  /** such as "140 bar" */
  test_pressure?: string;
  /** adapters, plugs and meters */
  bring?: FittingToBring[];
  /** between which effects the outcomes lie; absent where they were not solved */
  limits?: EffectLimits;
  /** one for each outcome */
  branches?: PlanBranch[];
  /** parts to exchange */
  replace?: RepairSet;
  /** what proves it */
  verify?: Verify[];
}

/** A part that is probably needed. */
export interface NeededPart {
  /** id */
  component: string;
  /** that the plan ends with replacing it */
  probability: number;
}

/** The tests to make one after the other, by outcome; without a complaint `complaint` and `tree` are null and the rest is absent. */
export interface Plan {
  /** names the format */
  format: "faultodds-plan/1";
  /** id of the circuit */
  circuit: string;
  /** to be shown before everything */
  cautions: string[];
  /** the machine */
  asset?: AnsweredAsset;
  /** the abnormal symptom */
  complaint: string | null;
  /** of the amounts; XXX is none in particular */
  currency?: string;
  /** what coming once more costs */
  come_back?: number;
  /** estimate of the share of what is probable that the answer leaves out; absent where it is exact */
  approximate?: number;
  /** probability of all branches that are not followed */
  left_out?: number;
  /** adapters, plugs and meters */
  bring?: BringList;
  /** most probable first */
  parts?: NeededPart[];
  /** tests that the case says cannot be made; absent where there are none */
  not_possible?: ImpossibleTest[];
  /** what to know about the readings */
  warnings?: string[];
  /** of what those sentences are made */
  warnings_said?: Said[];
  /** where it begins */
  tree: PlanNode | null;
}
