/** Where answers come from: the HTTP adapter, or whatever else a page puts in its place. */
import type { Assessment, CaseDocument, Model } from "./documents.js";

export interface Assessor {
  /** What the circuit can show. */
  model(): Promise<Model>;
  assess(theCase: CaseDocument): Promise<Assessment>;
}

/** The case was refused: nobody need try again with the same one. */
export class Refusal extends Error {
  constructor(
    readonly code: string,
    message: string,
    readonly pointer: string,
  ) {
    super(message);
  }
}

/** No answer could be had; trying again later may help. */
export class Unreachable extends Error {}

/**
 * Asks the HTTP adapter at `base`, for example "/faultodds" behind the page's own server, about a circuit that it
 * has stored. `request` goes into every fetch: credentials, headers.
 */
export function httpAssessor(base: string, circuit: string, request: RequestInit = {}): Assessor {
  const root = base.replace(/\/+$/, "");
  const ask = async (path: string, more: RequestInit): Promise<unknown> => {
    let response: Response;
    let body: unknown;
    try {
      response = await fetch(root + path, {
        ...request,
        ...more,
        headers: { ...Object.fromEntries(new Headers(request.headers)), ...(more.headers as object | undefined) },
      });
      body = await response.json();
    } catch (problem) {
      throw new Unreachable(String(problem));
    }
    if (response.ok) return body;
    const told = body as { code?: string; detail?: string; title?: string; pointer?: string };
    const message = told.detail ?? told.title ?? response.statusText;
    if (response.status >= 500 || response.status === 429) throw new Unreachable(message);
    throw new Refusal(told.code ?? String(response.status), message, told.pointer ?? "");
  };
  return {
    model: async () => (await ask(`/v1/circuits/${encodeURIComponent(circuit)}/model`, {})) as Model,
    assess: async (theCase) =>
      (await ask("/v1/assess", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ circuit, case: theCase }),
      })) as Assessment,
  };
}
