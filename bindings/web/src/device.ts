/**
 * Answers on this device, by the faultodds library as WebAssembly (the package faultodds-wasm) in a worker: for when
 * there is no connection.
 */
import { Refusal, Unreachable } from "./assessor.js";
import type { Assessor } from "./assessor.js";
import type { Proposal } from "./complaint.js";
import type { Assessment, CaseDocument, Model, Plan } from "./documents.js";

/** Texts: the circuit document, and the prior pack if it is not the shipped one. */
export interface Documents {
  circuit: string;
  priors?: string;
}

interface Asked {
  resolve(answer: object | null): void;
  reject(problem: Error): void;
}

type Told =
  | { id: number; answer: object | null }
  | { id: number; refusal: { code: string; message: string; pointer: string } }
  | { id: number; problem: string };

export interface DeviceAssessor extends Assessor {
  /** Fetches what is needed, so that it is there when the connection is not. */
  prepare(): Promise<void>;
  /** Ends the worker; asked again, it starts another. */
  stop(): void;
}

/** `worker` is the address of faultodds-wasm's worker.js; `documents` is asked once per worker. */
export function deviceAssessor(worker: string | URL, documents: () => Promise<Documents>): DeviceAssessor {
  let running: { worker: Worker; opened: Promise<unknown> } | null = null;
  let last = 0;
  const asked = new Map<number, Asked>();

  const stop = (problem = new Unreachable("the worker was stopped")): void => {
    running?.worker.terminate();
    running = null;
    for (const { reject } of asked.values()) reject(problem);
    asked.clear();
  };
  const post = (to: Worker, question: object): Promise<object | null> =>
    new Promise((resolve, reject) => {
      asked.set(++last, { resolve, reject });
      to.postMessage({ id: last, ...question });
    });
  const start = (): { worker: Worker; opened: Promise<unknown> } => {
    const started = new Worker(worker, { type: "module" });
    started.addEventListener("message", ({ data }: MessageEvent<Told>) => {
      const waiting = asked.get(data.id);
      asked.delete(data.id);
      if (!waiting) return;
      if ("answer" in data) waiting.resolve(data.answer);
      else if ("problem" in data) waiting.reject(new Unreachable(data.problem));
      else waiting.reject(new Refusal(data.refusal.code, data.refusal.message, data.refusal.pointer));
    });
    // A script that cannot be loaded, for one.
    started.addEventListener("error", ({ message }) => stop(new Unreachable(message || `${worker} cannot be used`)));
    const opened = documents().then((texts) => post(started, { ask: "open", ...texts }));
    opened.catch((problem: unknown) => {
      if (running?.worker === started) stop(problem instanceof Error ? problem : new Unreachable(String(problem)));
    });
    return { worker: started, opened };
  };
  const ask = async (question: object): Promise<object | null> => {
    running ??= start();
    const { worker: to, opened } = running;
    await opened;
    return post(to, question);
  };

  return {
    prepare: async () => void (await ask({ ask: "describe" })),
    stop: () => stop(),
    model: async () => (await ask({ ask: "describe" })) as Model,
    plan: async (theCase) => (await ask({ ask: "plan", case: theCase })) as Plan,
    propose: async (text, language) =>
      ((await ask({ ask: "propose", text, language })) as { proposals: Proposal[] }).proposals,
    draw: async (theCase, width, language) =>
      ((await ask({ ask: "draw", case: theCase, width, language })) as { svg: string }).svg,
    assess: async (theCase: CaseDocument) => {
      try {
        return (await ask({ ask: "assess", case: theCase })) as Assessment;
      } catch (problem) {
        // Where the adapter says it is.
        if (problem instanceof Refusal) throw new Refusal(problem.code, problem.message, `/case${problem.pointer}`);
        throw problem;
      }
    },
  };
}
