"""Diagnosis on simulated machines: faultodds beside an ideal diagnosis, a flow chart and guessing.

    /usr/bin/python3 run.py [--machines 100] [--particles 60000] [--seed 1] [--worlds 0.5,4,12] [--wrong]

Prints the tables of README.md in this folder. Needs the shared library (FAULTODDS_LIBRARY)."""

import argparse
import os
import sys
import time
import zlib
from pathlib import Path

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):  # one core for each process
    os.environ.setdefault(_threads, "1")

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[2] / "bindings" / "python")]
if "FAULTODDS_LIBRARY" not in os.environ:
    os.environ["FAULTODDS_LIBRARY"] = str(HERE.parents[2] / "build/capi/libfaultodds.so.2")

import circuits
import engine
import ideal
from hydraulics import ELSEWHERE
from flow_chart import FlowChart
from world import ABANDONED, PER_MINUTE, SEARCH, SECOND_VISIT, Bench, Machines, complaints_of

MOST_ACTIONS, MOST_REPAIRS, VERIFY_MINUTES = 40, 4, 6.0
MOST_DRIFTS = 25  # within the maker's limit, of each circuit and engine


class Job:
    """What is known of one machine: what was seen and renewed, in order, and what is set up."""

    def __init__(self, bench, complaint, outcome):
        self.bench, self.complaint = bench, complaint
        self.events = [("seen", (complaint, outcome))]
        self.setup_done, self.nothing_said = set(), 0

    def key(self):
        return self.complaint, tuple((k, tuple(w)) for k, w in self.events), tuple(sorted(self.setup_done))

    def seen_since_repair(self):
        seen = set()
        for kind, what in self.events:
            seen = set() if kind == "renewed" else seen | {what[0]}
        return seen

    def results(self):
        """The last outcome of each test since the last repair."""
        seen = {}
        for kind, what in self.events:
            if kind == "renewed":
                seen = {}
            elif what[0] != self.complaint:
                seen[what[0]] = what[1]
        return seen

    def looks(self, o):
        """How often it was looked at since the last repair."""
        count = 0
        for kind, what in self.events:
            count = 0 if kind == "renewed" else count + (what[0] == o)
        return count

    def last(self, o):
        return [what[1] for kind, what in self.events if kind == "seen" and what[0] == o][-1]

    def minutes_of(self, o, more_done=()):
        test = self.bench.menu.get(o, {"minutes": 6, "setup": {}})
        return test["minutes"] + sum(m for s, m in test["setup"].items()
                                     if s not in self.setup_done and s not in more_done)


class Machine:
    """One machine of the world: what it is, and what each look at it shows (the same to every policy)."""

    def __init__(self, bench, one, complaint, outcome, seed):
        self.bench, self.first, self.complaint, self.outcome, self.seed = bench, one, complaint, outcome, seed
        self.cause = bench.cause(one, complaint)
        self.least = bench.least_repair(one, complaint)
        self._effects = {}

    def reset(self):
        self.now, self.history, self.looks = self.first, (), {}

    def effect(self, o):
        key = self.history, o
        if key not in self._effects:
            self._effects[key] = self.bench.effect(self.now, o)
        return self._effects[key]

    def _rng(self, *what):
        return np.random.default_rng(zlib.crc32(repr((self.seed, self.history) + what).encode()))

    def look(self, o, abnormal=False, limits=None):
        n = self.looks[o] = self.looks.get(o, 0) + 1
        chances = self.bench.chances(o, self.effect(o), limits)[0].copy()
        if abnormal:
            chances[0] = 0
        return int(self._rng(o, n).choice(3, p=chances / chances.sum()))

    def fine(self):
        return bool(self.effect(self.complaint)[0] <= self.bench.limits[self.complaint][0])

    def leaking(self):
        return {c for k, c in enumerate(self.bench.circuit.mode_component) if self.now.leak[0, k] > 0}

    def search(self):
        """Someone looks for a leak that no document describes, and mends it."""
        self.history += (ELSEWHERE,)
        self.now = self.now.renewed(self.bench, {ELSEWHERE}, self._rng("searched"))
        self.looks = {}

    def renew(self, components):
        self.history += (tuple(sorted(components)),)
        self.now = self.now.renewed(self.bench, set(components), self._rng("new parts"))
        self.looks = {}


def play(policy, machine, decide=None):
    """One machine from complaint to cure, or until it is given up."""
    bench = machine.bench
    machine.reset()
    job = Job(bench, machine.complaint, machine.outcome)
    limits_of = getattr(policy, "limits_of", lambda job, o: None)
    minutes = cost = wrong = parts = repairs = tests = 0
    first = None  # at the first stop: (cured then, causes shown)
    was_fine = machine.fine()
    ordered_false = twice = done = False
    for _ in range(MOST_ACTIONS):
        what, which = (decide or policy.decide)(job)
        if what == "test" and which != job.complaint and job.looks(which) > 1:  # once more is enough
            what, which = "repair", []
        if what == "test":
            minutes += job.minutes_of(which)
            job.setup_done |= set(bench.menu.get(which, {"setup": {}})["setup"])
            job.events.append(("seen", (which, machine.look(which, limits=limits_of(job, which)))))
            tests += 1
            continue
        causes = policy.causes(job) if first is None and hasattr(policy, "causes") else None
        if which:
            cost += bench.repair_cost(which)
            wrong += len(set(which) - machine.leaking())
            parts += len(which)
            ordered_false |= was_fine
            twice |= any(c in w for k, w in job.events if k == "renewed" for c in which)
            repairs += 1
            machine.renew(which)
        else:
            job.nothing_said += 1
            if not machine.fine():
                cost += SEARCH
                machine.search()
        minutes += VERIFY_MINUTES
        done = machine.fine()
        if first is None:
            first = done, causes
        if done or repairs >= MOST_REPAIRS or job.nothing_said >= 3:
            break
        cost += SECOND_VISIT
        job.setup_done = set()
        if which:
            job.events.append(("renewed", tuple(which)))
        job.events.append(("seen", (machine.complaint, machine.look(machine.complaint, abnormal=True))))
    if not done:
        cost += ABANDONED + bench.least_repair(machine.now, machine.complaint)
    return {"cost": cost + PER_MINUTE * minutes, "minutes": minutes, "wrong": wrong, "parts": parts,
            "tests": tests, "cured_first": first is not None and first[0], "cured": done,
            "causes": first[1] if first else None, "ordered_false": ordered_false if was_fine else None,
            "twice": twice}


def machines_of(bench, n, seed):
    rng = np.random.default_rng([seed, 7001])
    made = []
    while len(made) < n:
        pool = Machines(bench, 2000, rng)
        shown = {c: bench.chances(c, bench.effect(pool, c)) for c in bench.complaints}
        for i in range(pool.n):
            outcome = {c: int(rng.choice(3, p=p[i] / p[i].sum())) for c, p in shown.items()}
            abnormal = [c for c, o in outcome.items() if o > 0]
            if abnormal and len(made) < n:
                complaint = abnormal[int(rng.integers(len(abnormal)))]
                made.append(Machine(bench, pool.take([i]), complaint, outcome[complaint],
                                    seed * 100003 + len(made)))
    return made


def small_drifts(bench, n, seed):
    """Machines whose drift is up to half the maker's limit, and how fast each sinks, mm/min."""
    rng = np.random.default_rng([seed, 9001])
    complaint = bench.complaints[0]
    pool = Machines(bench, 3000, rng)
    effect = bench.effect(pool, complaint)
    rows = np.flatnonzero((effect <= 0.5 * bench.limits[complaint][0]) &
                          (effect > 0.1 * bench.limits[complaint][0]))[:n]
    return [(Machine(bench, pool.take([i]), complaint, 1, seed * 7 + k), float(effect[i]))
            for k, i in enumerate(rows)]


def calibration(pairs):
    """Expected calibration error over ten bins of the shares shown, each share counted once."""
    if not pairs:
        return float("nan")
    p, true = np.array([x for x, _ in pairs]), np.array([t for _, t in pairs], float)
    at = np.minimum((10 * p).astype(int), 9)
    return float(sum(abs(p[at == b].sum() - true[at == b].sum()) for b in range(10)) / len(p))


def right_first(causes, cause):
    if not causes:
        return False
    top = max(causes, key=causes.get)
    return top == cause or (isinstance(top, frozenset) and isinstance(cause, frozenset) and cause <= top)


def interval(ratio_of, n, rng):
    draws = sorted(ratio_of(rng.integers(n, size=n)) for _ in range(400))
    return draws[20], draws[379]


def summary(name, results, ideal_results, machines):
    cost = np.array([r["cost"] for r in results])
    least = np.array([r["cost"] for r in ideal_results])
    low, high = interval(lambda i: cost[i].sum() / least[i].sum(), len(cost), np.random.default_rng(5))
    mean = lambda key: np.mean([r[key] for r in results])
    false = [r["ordered_false"] for r in results if r["ordered_false"] is not None]
    row = {"policy": name, "cost": cost.mean(), "over ideal": f"{cost.sum() / least.sum():.2f} [{low:.2f}, {high:.2f}]",
           "avoidable": float((cost - [m.least for m in machines]).mean()),
           "minutes": mean("minutes"), "tests": mean("tests"), "wrong parts": f"{mean('wrong'):.2f}",
           "cured first": f"{100 * mean('cured_first'):.0f} %", "given up": f"{100 - 100 * mean('cured'):.0f} %",
           "twice": f"{100 * mean('twice'):.0f} %",
           "false ordered": f"{100 * np.mean(false):.0f} %" if false else "-", "cause first": "-", "ECE": "-", "ECE of first": "-"}
    if any(r["causes"] for r in results):
        row["cause first"] = f"{100 * np.mean([right_first(r['causes'], m.cause) for r, m in zip(results, machines)]):.0f} %"
        pairs = [(share, label == m.cause) for r, m in zip(results, machines) if r["causes"]
                 for label, share in r["causes"].items()]
        row["ECE"] = f"{calibration(pairs):.3f}"
        tops = [(max(r["causes"].values()), max(r["causes"], key=r["causes"].get) == m.cause)
                for r, m in zip(results, machines) if r["causes"]]
        row["ECE of first"] = f"{calibration(tops):.3f}"
    return row


def print_table(rows):
    keys = list(rows[0])
    text = [keys] + [[f"{r[k]:.1f}" if isinstance(r[k], float) else str(r[k]) for k in keys] for r in rows]
    width = [max(len(line[i]) for line in text) for i in range(len(keys))]
    for n, line in enumerate(text):
        print("| " + " | ".join(c.ljust(w) for c, w in zip(line, width)) + " |")
        if n == 0:
            print("|" + "|".join("-" * (w + 2) for w in width) + "|")
    print(flush=True)


WRONG = [("limits x2", 1, 2), ("limits /2", 1, 0.5), ("sound sizes x2", 2, 1), ("sound sizes /2", 0.5, 1)]


def engines(bench, wrong):
    """The engine told nothing but the maker's limit, then told the world's sizes; where it can be told."""
    model = engine.load(engine.with_limits(bench.subject.document, bench))
    made = [("faultodds, defaults", model or engine.load(bench.subject.document))]
    made.append(("faultodds, by grades",
                 engine.load(engine.by_grades(engine.with_limits(bench.subject.document, bench)))))
    made.append(("faultodds, true sizes", engine.load(engine.truth(bench))))
    if wrong:
        made += [(f"faultodds, {name}", engine.load(engine.truth(bench, sound, limit)))
                 for name, sound, limit in WRONG]
    return [engine.Engine(bench, model, name) for name, model in made if model]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--machines", type=int, default=100, help="per world, over the four circuits")
    parser.add_argument("--particles", type=int, default=60000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--worlds", default="0.5,4,12", help="sound spool clearance, mL/min at 100 bar")
    parser.add_argument("--wrong", action="store_true", help="limits and sound sizes wrong by two, too")
    options = parser.parse_args()
    subjects = circuits.all_subjects()
    for spool in map(float, options.worlds.split(",")):
        results, machines, by_circuit, drifts = {}, [], [], {}
        for at, subject in enumerate(subjects):
            started = time.process_time()
            plain = engine.load(subject.document)
            menu = engine.menu_of(plain, complaints_of(subject))
            bench = Bench(subject, spool, menu)
            share = options.machines // len(subjects) + (at < options.machines % len(subjects))
            here = machines_of(bench, share, options.seed + 10 * at)
            populations = ideal.draw(bench, options.particles, np.random.default_rng([options.seed, 31, at]))
            policies = [ideal.Ideal(bench, populations)] + engines(bench, options.wrong) + \
                [FlowChart(bench, populations), ideal.MostLikelyFirst(bench, populations)]
            for policy in policies:
                results.setdefault(policy.name, []).extend(play(policy, m) for m in here)
            machines += here
            for policy in policies:
                if isinstance(policy, engine.Engine):
                    for machine, speed in small_drifts(bench, min(max(share, 10), MOST_DRIFTS), options.seed):
                        reading = f"{speed:.4g} mm/min"
                        played = play(policy, machine, lambda job: policy.decide(job, reading))
                        drifts.setdefault(policy.name, []).append(played["parts"] == 0)
            line = {"circuit": subject.name, "machines": share}
            for policy in policies:
                line[policy.name] = f'{np.mean([r["cost"] for r in results[policy.name][-share:]]):.0f}'
            by_circuit.append(line)
            print(f"# {subject.name}: {time.process_time() - started:.0f} s of processor time", file=sys.stderr, flush=True)
        print(f"World: sound spools {spool:g} mL/min, {len(machines)} machines; "
              f"{sum(m.cause == 'nothing' for m in machines)} false reports, "
              f"{sum(m.cause == 'by_design' for m in machines)} by design\n")
        ideal_results = results["ideal"]
        print_table([summary(n, r, ideal_results, machines) for n, r in results.items()])
        print_table(by_circuit)
        for name, kept in drifts.items():
            print(f"Drift up to half the maker's limit orders nothing, {name}: "
                  f"{100 * np.mean(kept):.0f} % of {len(kept)}")
        print(flush=True)
    if getattr(engine.load, "refused", None):
        print(f"Left out, for this engine refuses the document: {engine.load.refused}")


if __name__ == "__main__":
    main()
