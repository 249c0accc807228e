/** Where cases are stored between visits: the HTTP adapter, or what a page puts in its place. */
import { Refusal, askAdapter } from "./assessor.js";
import type { CaseDocument } from "./documents.js";

export interface StoredCase {
  theCase: CaseDocument;
  /** Names this state of it. */
  revision: string;
}

export interface CaseStore {
  /** null: there is none yet. */
  load(): Promise<StoredCase | null>;
  /**
   * Replaces the state `revision` (null: there is none yet) and gives the new one's. Null where the stored case is at
   * another: nothing was replaced.
   */
  save(theCase: CaseDocument, revision: string | null): Promise<string | null>;
}

/** The cases of the adapter at `base`, which was started with `--cases`. */
export function httpCases(base: string, circuit: string, id: string, request: RequestInit = {}): CaseStore {
  const path = `/v1/cases/${encodeURIComponent(id)}`;
  return {
    load: async () => {
      try {
        const { body, headers } = await askAdapter(base, path, request, { cache: "no-cache" });
        return { theCase: (body as { case: CaseDocument }).case, revision: headers.get("ETag") ?? "" };
      } catch (problem) {
        if (problem instanceof Refusal && problem.code === "unknown_case") return null;
        throw problem;
      }
    },
    save: async (theCase, revision) => {
      const precondition: Record<string, string> = revision === null ? { "If-None-Match": "*" } : { "If-Match": revision };
      try {
        const { headers } = await askAdapter(base, path, request, {
          method: "PUT",
          headers: { "Content-Type": "application/json", ...precondition },
          body: JSON.stringify({ circuit, case: theCase }),
        });
        return headers.get("ETag") ?? "";
      } catch (problem) {
        if (problem instanceof Refusal && problem.code === "precondition_failed") return null;
        throw problem;
      }
    },
  };
}
