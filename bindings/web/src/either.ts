/** A question that the adapter answers, or this device where the adapter does not. */
import { Refusal, Unreachable } from "./assessor.js";

type Asking<A extends unknown[], R> = (...question: A) => Promise<R>;

/** Null where neither can tell. `away`: the adapter did not answer when it was last asked. */
export function either<A extends unknown[], R>(
  network: Asking<A, R> | undefined,
  device: Asking<A, R> | undefined,
  away: () => boolean,
): Asking<A, R> | null {
  if (!network && !device) return null;
  return async (...question) => {
    try {
      if (network && !(device && away())) return await network(...question);
    } catch (problem) {
      if (!device || problem instanceof Refusal) throw problem;
    }
    if (!device) throw new Unreachable("nobody here can tell");
    return device(...question);
  };
}
