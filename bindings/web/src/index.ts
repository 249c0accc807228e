/**
 * Defines <faultodds-panel>, which walks a technician from the complaint to the order: the next tests with their
 * minutes and cautions, entry of results, suspects with odds, what to order. No dependencies.
 */
import { FaultoddsPanel } from "./panel.js";

export { Refusal, Unreachable, httpAssessor } from "./assessor.js";
export type { Assessor } from "./assessor.js";
export { httpCases } from "./cases.js";
export type { CaseStore, StoredCase } from "./cases.js";
export { deviceAssessor } from "./device.js";
export type { DeviceAssessor, Documents } from "./device.js";
export type * from "./documents.js";
export { FaultoddsPanel } from "./panel.js";
export { addLanguage, english } from "./strings.js";
export type { Strings } from "./strings.js";

if (!customElements.get("faultodds-panel")) customElements.define("faultodds-panel", FaultoddsPanel);

declare global {
  interface HTMLElementTagNameMap {
    "faultodds-panel": FaultoddsPanel;
  }
}
