/** Where answers come from: the HTTP adapter, or whatever else a page puts in its place. */
import type { Proposal, Propose } from "./complaint.js";
import type { Assessment, CaseDocument, Model, Plan } from "./documents.js";
import type { Draw } from "./drawing.js";

export interface Assessor {
  /** What the circuit can show. */
  model(): Promise<Model>;
  assess(theCase: CaseDocument): Promise<Assessment>;
  /** What words of a complaint may mean, the likeliest first; where it is missing, titles are searched. */
  propose?: Propose;
  /** The part of the circuit that a case concerns, as SVG; where it is missing, nothing is drawn. */
  draw?: Draw;
  /** All that may come of a case; where it is missing, there is no plan to look at and no job card. */
  plan?(theCase: CaseDocument): Promise<Plan>;
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

const PATIENCE = 30_000; // milliseconds that an answer may take

/** One request to the HTTP adapter at `base`; `request` is what the page wants in every one, `more` is of this one. */
export async function askAdapter(
  base: string,
  path: string,
  request: RequestInit,
  more: RequestInit = {},
): Promise<{ body: unknown; headers: Headers }> {
  let response: Response;
  let body: unknown;
  try {
    response = await fetch(base.replace(/\/+$/, "") + path, {
      signal: AbortSignal.timeout(PATIENCE),
      ...request,
      ...more,
      headers: { ...Object.fromEntries(new Headers(request.headers)), ...(more.headers as object | undefined) },
    });
    const svg = response.headers.get("content-type")?.startsWith("image/svg+xml");
    body = svg ? await response.text() : await response.json();
  } catch (problem) {
    throw new Unreachable(String(problem));
  }
  if (response.ok) return { body, headers: response.headers };
  const told = body as { code?: string; detail?: string; title?: string; pointer?: string };
  const message = told.detail ?? told.title ?? response.statusText;
  if (response.status >= 500 || response.status === 429) throw new Unreachable(message);
  throw new Refusal(told.code ?? String(response.status), message, told.pointer ?? "");
}

/**
 * Asks the HTTP adapter at `base`, for example "/faultodds" behind the page's own server, about a circuit that it
 * has stored. `request` goes into every fetch: credentials, headers.
 */
export function httpAssessor(base: string, circuit: string, request: RequestInit = {}): Assessor {
  return {
    model: async () =>
      (await askAdapter(base, `/v1/circuits/${encodeURIComponent(circuit)}/model?detail=screen`, request)).body as Model,
    assess: async (theCase) => {
      const { body } = await askAdapter(base, "/v1/assess", request, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ circuit, case: theCase }),
      });
      return body as Assessment;
    },
    plan: async (theCase) => {
      const { body } = await askAdapter(base, "/v1/plan", request, {
        method: "POST",
        headers: { "Content-Type": "application/json", Accept: "application/json" },
        body: JSON.stringify({ circuit, case: theCase }),
      });
      return body as Plan;
    },
    propose: async (text, language) => {
      const { body } = await askAdapter(base, "/v1/propose", request, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ circuit, text, language }),
      });
      return (body as { proposals: Proposal[] }).proposals;
    },
    draw: async (theCase, width, language) => {
      const { body } = await askAdapter(base, "/v1/drawing", request, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({ circuit, case: theCase, width, language }),
      });
      return body as string;
    },
  };
}
