/**
 * Ranks hydraulic suspects and next tests: a binding of the faultodds C library.
 *
 * Three ways in: `assess` for one answer, `Model` for many cases of one circuit, `Model.openCase` for evidence
 * that comes one by one. Besides them, prior packs from closed work orders, and networks of any kind. Nothing is checked here that the library checks; every refusal is a FaultoddsError.
 *
 * A program that shows a test shows its cautions before it.
 */
export { Case } from "./case.js";
export type { RankedTest } from "./case.js";
export { FaultoddsError } from "./error.js";
export { Model, assess, libraryVersion } from "./model.js";
export type { ModelOptions } from "./model.js";
export { Network } from "./network.js";
export type { NetworkAnswer, NetworkEvidenceOf, NetworkOptions } from "./network.js";
export { backtestPriors, diffPriors, learnPriors, mergePriors } from "./priors.js";
export type { BacktestOptions, LearnOptions, Pack, Progress, Records } from "./priors.js";
export type { Ending } from "./until.js";
export { cautionsOf } from "./documents.js";
export type * from "./documents.js";
