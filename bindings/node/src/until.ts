/** What ends a call from outside. */
import { FaultoddsError } from "./error.js";
import { SIZES } from "./declarations.js";
import { check, library } from "./library.js";
import type { CallOptionsLine, Handle, Out } from "./declarations.js";
import { milliseconds } from "./text.js";

/** Given to a call that may last. What it was called on can be used on. */
export interface Ending {
  /**
   * Ends the call when it is aborted; the call then throws the signal's reason. While a call that is no `async` one
   * runs, only its own callbacks can abort it: such a call is ended by `timeout`.
   */
  signal?: AbortSignal | undefined;
  /** Milliseconds from now, after which the call throws a FaultoddsError with the code "cancelled". */
  timeout?: number | undefined;
}

// Its time has begun, and its signal is listened to, until it is closed.
class Until {
  /** null where nothing shall end the call. */
  readonly options: CallOptionsLine | null = null;
  readonly #signal: AbortSignal | undefined;
  readonly #abort = (): void => library().cancel_now(this.#cancel);

  constructor({ signal, timeout }: Ending) {
    const limit = timeout === undefined ? null : milliseconds(timeout);
    signal?.throwIfAborted();
    if (!signal && limit === null) return;
    const made: Out<Handle> = [null];
    const error: Out<Handle> = [null];
    check(library().cancel_new(made, error), error);
    this.options = { struct_size: SIZES.call_options, cancel: made[0] };
    if (limit !== null) library().cancel_after_ms(this.#cancel, limit);
    this.#signal = signal;
    signal?.addEventListener("abort", this.#abort);
  }

  get #cancel(): Handle | null {
    return this.options?.cancel ?? null;
  }

  /** What to throw in place of `problem`. */
  reason(problem: unknown): unknown {
    const ended = problem instanceof FaultoddsError && problem.code === "cancelled";
    return ended && this.#signal?.aborted ? this.#signal.reason : problem;
  }

  close(): void {
    this.#signal?.removeEventListener("abort", this.#abort);
    library().cancel_free(this.#cancel);
  }
}

/** Makes a call with options that end it; with NULL where nothing shall. */
export function until<T>(ending: Ending, call: (options: CallOptionsLine | null) => T): T {
  const end = new Until(ending);
  try {
    return call(end.options);
  } catch (problem) {
    throw end.reason(problem);
  } finally {
    end.close();
  }
}

/** The same for a call on another thread. */
export async function untilAsync<T>(ending: Ending, call: (options: CallOptionsLine | null) => Promise<T>): Promise<T> {
  const end = new Until(ending);
  try {
    return await call(end.options);
  } catch (problem) {
    throw end.reason(problem);
  } finally {
    end.close();
  }
}
