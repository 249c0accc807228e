/**
 * Defines <faultodds-panel>, which walks a technician from the complaint to the order, one next step at a time, and
 * gives the parts of which it is made: the job without a view, messages, words.
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
export { Messages, loadLanguage, replaceMessages } from "./catalogue.js";
export type { Proposal, Propose } from "./complaint.js";
export { Job } from "./job.js";
export type { Connection, Imagined, Settings, Stage } from "./job.js";
export { Words } from "./words.js";

if (!customElements.get("faultodds-panel")) customElements.define("faultodds-panel", FaultoddsPanel);

declare global {
  interface HTMLElementTagNameMap {
    "faultodds-panel": FaultoddsPanel;
  }
}
