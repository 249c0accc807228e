/** Prior packs from closed work orders: learn, merge, compare, backtest. */
import koffi from "koffi";
import type { Document } from "./documents.js";
import { SIZES } from "./declarations.js";
import { check, library, taken } from "./library.js";
import type { Bytes, Handle, Out, RecordsLine } from "./declarations.js";
import { bytes, encoded, threadCount, whole } from "./text.js";
import { until } from "./until.js";
import type { Ending } from "./until.js";

/** CSV: the text itself, or a file, which is read at constant memory. */
export type Records = string | { path: string };

/** A prior pack, "faultodds-priors/1". */
export type Pack = Record<string, unknown>;

/** Called with how far the call is (rows read, or jobs replayed). False, or an exception, ends it. */
export type Progress = (done: number) => boolean | void;

export interface LearnOptions extends Ending {
  /** Id of these records, which merging counts once. */
  source: string;
  exposure?: Records;
  title?: string;
  /** "faultodds-records/1" */
  mapping?: Document;
  /** Whose own component types are known too. */
  circuit?: Document;
  /** The pack to start from; the shipped one if not given. */
  judgement?: Document;
  /** Jobs that a pack without records is worth; 20 if not given. */
  worthJobs?: number;
  /** False: every asset class stands by itself. */
  poolClasses?: boolean;
  /**
   * By expectation-maximisation through `circuit`: what was tested counts, and that records exist only because of a
   * complaint is corrected for. Such a pack cannot be merged.
   */
  throughCircuit?: boolean;
  learnOutcomes?: boolean;
  threads?: number;
  /** How many work orders, the latest, `summary.audit` names for each failure mode they say something of. */
  auditOrders?: number;
  /** Given a row of CSV for each row that is not used; false, or an exception, ends the call. */
  reject?: (row: string) => boolean | void;
  progress?: Progress;
}

export interface BacktestOptions extends Ending {
  /** The present pack; the shipped one if not given. */
  before?: Document;
  /** The pack offered; learned through the circuit as the replay goes if not given. */
  after?: Document;
  mapping?: Document;
  assetClass?: string;
  worthJobs?: number;
  /** Probability at which a cause counts as isolated; 0.9 if not given. */
  isolated?: number;
  /** Replayed, evenly spaced in time; all if not given. */
  mostJobs?: number;
  threads?: number;
  progress?: Progress;
}

/** Learns a pack from closed work orders. `summary` accounts for every row. */
export function learnPriors(orders: Records, options: LearnOptions): { pack: Pack; summary: Record<string, unknown> } {
  const pack: Out<Handle> = [null];
  const summary: Out<Handle> = [null];
  run(options, options.reject, (progress, reject, cancel, error) =>
    library().priors_learn(
      recordsLine(orders),
      options.exposure === undefined ? null : recordsLine(options.exposure),
      {
        struct_size: SIZES.learn_options,
        ...text("source", bytes(options.source)),
        ...text("title", bytes(options.title ?? "")),
        ...text("mapping", optional(options.mapping)),
        ...text("circuit", optional(options.circuit)),
        ...text("judgement", optional(options.judgement)),
        worth_jobs: options.worthJobs ?? 0,
        no_pooling: options.poolClasses === false ? 1 : 0,
        through_circuit: options.throughCircuit ? 1 : 0,
        learn_outcomes: options.learnOutcomes ? 1 : 0,
        threads: threadCount(options.threads ?? 1),
        reject,
        reject_context: null,
        progress,
        progress_context: null,
        cancel,
        audit_orders: whole("auditOrders", options.auditOrders ?? 0, 0),
        count_distinct: 0,
      },
      pack, summary, error));
  return { pack: JSON.parse(taken(pack)) as Pack, summary: JSON.parse(taken(summary)) as Record<string, unknown> };
}

/** One pack from those of several depots, two or more: what learning from all their records at once gives. */
export function mergePriors(packs: Document[]): Pack {
  const texts = packs.map(encoded);
  const merged: Out<Handle> = [null];
  const error: Out<Handle> = [null];
  check(library().priors_merge(texts, texts.map(({ length }) => length), texts.length, null, merged, error), error);
  return JSON.parse(taken(merged)) as Pack;
}

/** What changed, on how many jobs, how sure; the largest change first. `before` null: the shipped pack. */
export function diffPriors(before: Document | null, after: Document): Record<string, unknown>[] {
  const old = before === null ? null : encoded(before);
  const now = encoded(after);
  const difference: Out<Handle> = [null];
  const error: Out<Handle> = [null];
  check(library().priors_diff_json(old, old?.length ?? 0, now, now.length, null, difference, error), error);
  return (JSON.parse(taken(difference)) as { changes: Record<string, unknown>[] }).changes;
}

/** Replays closed orders in time order with two packs, without looking ahead: "faultodds-backtest/1". */
export function backtestPriors(circuit: Document, orders: Records, options: BacktestOptions = {}): Record<string, unknown> {
  const encodedCircuit = encoded(circuit);
  const answer: Out<Handle> = [null];
  run(options, undefined, (progress, _, cancel, error) =>
    library().priors_backtest_json(
      encodedCircuit, encodedCircuit.length, recordsLine(orders),
      {
        struct_size: SIZES.backtest_options,
        ...text("mapping", optional(options.mapping)),
        ...text("before", optional(options.before)),
        ...text("after", optional(options.after)),
        ...text("asset_class", bytes(options.assetClass ?? "")),
        worth_jobs: options.worthJobs ?? 0,
        isolated: options.isolated ?? 0,
        most_jobs: whole("mostJobs", options.mostJobs ?? 0, 0),
        threads: threadCount(options.threads ?? 1),
        progress,
        progress_context: null,
        cancel,
      },
      answer, error));
  return JSON.parse(taken(answer)) as Record<string, unknown>;
}

// Makes C callbacks of the caller's for one call. What one of them throws ends the call, which then throws it.
function run(
  { progress, signal, timeout }: { progress?: Progress } & Ending,
  reject: ((row: string) => boolean | void) | undefined,
  call: (progress: unknown, reject: unknown, cancel: Handle | null, error: Out<Handle>) => number,
): void {
  let thrown: { problem: unknown } | null = null;
  const kept = (told: () => boolean | void): number => {
    try {
      return told() === false ? 1 : 0;
    } catch (problem) {
      thrown = { problem };
      return 1;
    }
  };
  const onProgress = progress
    ? koffi.register((_: unknown, done: number) => kept(() => progress(Number(done))), "faultodds_progress*")
    : null;
  const onReject = reject
    ? koffi.register(
        (_: unknown, row: unknown, length: number) => kept(() => reject(decoded(row, Number(length)))), "faultodds_write*")
    : null;
  try {
    until({ signal, timeout }, (options) => {
      const error: Out<Handle> = [null];
      const status = call(onProgress, onReject, options?.cancel ?? null, error);
      const { problem } = (thrown as { problem: unknown } | null) ?? {};
      if (thrown !== null) {
        library().error_free(error[0]);
        throw problem;
      }
      check(status, error);
    });
  } finally {
    if (onProgress) koffi.unregister(onProgress);
    if (onReject) koffi.unregister(onReject);
  }
}

const utf8 = new TextDecoder();

function decoded(address: unknown, length: number): string {
  return utf8.decode(koffi.decode(address, koffi.array("uint8_t", length, "Typed")) as Uint8Array);
}

function optional(document: Document | undefined): Uint8Array | null {
  return document === undefined ? null : encoded(document);
}

// A member of an options struct, and the one of its length.
function text<N extends string>(name: N, value: Bytes): Record<N, Bytes> & Record<`${N}_len`, number> {
  return { [name]: value !== null && value.length > 0 ? value : null, [`${name}_len`]: value?.length ?? 0 } as
    Record<N, Bytes> & Record<`${N}_len`, number>;
}

function recordsLine(records: Records): RecordsLine {
  const isText = typeof records === "string";
  const given = bytes(isText ? records : records.path);
  // An empty text is a text all the same.
  const value = given.length > 0 ? given : new Uint8Array(1);
  return {
    struct_size: SIZES.records,
    path: isText ? null : value,
    path_len: isText ? 0 : given.length,
    text: isText ? value : null,
    text_len: isText ? given.length : 0,
  };
}
