/**
 * Answers in a worker, so that the page goes on meanwhile: `new Worker(".../worker.js", {type: "module"})`. It
 * is told the circuit first, then asked; every message has an `id` that its answer repeats. Messages are answered in
 * their order.
 */
import type { Document } from "./documents.js";
import type { Ending } from "./engine.js";
import { FaultoddsError } from "./error.js";
import { loadFaultodds } from "./model.js";
import type { Faultodds, Model } from "./model.js";

/** What the worker is told. `timeout`: milliseconds for the answer, from when the worker turns to the question. */
export type Question = { id: number; timeout?: number } & (
  | { ask: "open"; circuit: Document; priors?: Document }
  | { ask: "describe" }
  | { ask: "plan"; case: Document }
  | { ask: "assess"; case: Document }
  | { ask: "propose"; text: string; language: string }
  | { ask: "draw"; case: Document; width: number; language: string }
);

/** What it answers: a document (null to "open"), what the library refused, or what else went wrong. */
export type Answer =
  | { id: number; answer: object | null }
  | { id: number; refusal: { code: string; message: string; pointer: string } }
  | { id: number; problem: string };

const MOST_CLASSES = 8;

let library: Promise<Faultodds> | null = null;
let documents: { circuit: Document; priors?: Document } | null = null;
// By the asset class that chooses among the entries of a prior pack.
const models = new Map<string, Model>();

/** What is left of the time for an answer. */
type Left = () => Ending;

async function model(assetClass: string, left: Left): Promise<Model> {
  library ??= loadFaultodds();
  const faultodds = await library;
  if (!documents) throw new Error("no circuit was opened");
  let found = models.get(assetClass);
  if (!found) {
    if (models.size >= MOST_CLASSES) closeAll();
    const { circuit, priors } = documents;
    found = faultodds.model(circuit, { assetClass, ...(priors === undefined ? {} : { priors }), ...left() });
    models.set(assetClass, found);
  }
  return found;
}

function closeAll(): void {
  for (const open of models.values()) open.close();
  models.clear();
}

async function answer(question: Question): Promise<object | null> {
  const { timeout } = question;
  const end = performance.now() + (timeout ?? 0);
  const left: Left = () => (timeout === undefined ? {} : { timeout: Math.max(0, end - performance.now()) });
  switch (question.ask) {
    case "open":
      closeAll();
      documents = question;
      await model("", left);
      return null;
    case "describe":
      return (await model("", left)).describe("screen");
    case "plan":
      return (await model("", left)).plan(question.case, left());
    case "propose":
      return (await model("", left)).propose(question.text, question.language);
    case "draw":
    case "assess": {
      const theCase = typeof question.case === "string" ? (JSON.parse(question.case) as object) : question.case;
      const { asset } = theCase as { asset?: { class?: unknown } };
      const of = await model(typeof asset?.class === "string" ? asset.class : "", left);
      if (question.ask === "assess") return of.assess(theCase, left());
      return { svg: of.draw(theCase, question.width, question.language, left()) };
    }
  }
}

async function reply(question: Question): Promise<Answer> {
  const { id } = question;
  try {
    return { id, answer: await answer(question) };
  } catch (problem) {
    if (problem instanceof FaultoddsError) {
      return { id, refusal: { code: problem.code, message: problem.message, pointer: problem.pointer } };
    }
    library = null; // a broken instance; the next question gets a new one
    models.clear();
    return { id, problem: String(problem) };
  }
}

let last: Promise<void> = Promise.resolve();

self.addEventListener("message", ({ data }: MessageEvent<Question>) => {
  last = last.then(async () => self.postMessage(await reply(data)));
});
