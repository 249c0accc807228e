/**
 * Ranks hydraulic suspects and next tests: the faultodds library as WebAssembly, for browsers, their workers and
 * Node. Nothing is checked here that the library checks; every refusal is a FaultoddsError.
 *
 * A program that shows a test shows its cautions before it.
 */
export type { Ending, Source } from "./engine.js";
export { FaultoddsError } from "./error.js";
export { Faultodds, Model, loadFaultodds } from "./model.js";
export type { ModelOptions } from "./model.js";
export { cautionsOf } from "./documents.js";
export type * from "./documents.js";
