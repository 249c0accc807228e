#!/usr/bin/env python3
"""How much a process grows by while it answers late in a job: two functions complained of and a dozen tests, of machines drawn
from each circuit's own network, each case in a process of its own, under several memory budgets.

usage: budget.py [--histories N] [--entries N] [--seed N] [--budgets MIB...]

Fails where a process grows by more than its budget and SLACK, and where the default budget gives no answer. Expects
FAULTODDS_LIBRARY where the library is not installed."""
import argparse
import json
import os
import pathlib
import random
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "benchmarks"), str(ROOT / "tests" / "benchmarks" / "machines"),
                str(ROOT / "bindings" / "python")]
import circuits  # noqa: E402
import jobs  # noqa: E402
from faultodds import FaultoddsError, Model, _policies as policies  # noqa: E402

MIB = 1 << 20
SLACK = 4  # MiB: the case, the answer, and what the allocator keeps
DEFAULT = 128


def documents():
    for subject in circuits.all_subjects():
        yield subject.name, subject.document
    for demo in ("refuse_truck", "veneer_press"):
        yield demo, json.loads((ROOT / "examples" / demo / "circuit.json").read_text(encoding="utf-8"))


def histories(document, count, entries, seed):
    """Cases with a complaint, another function as it is, and tests drawn at random, as a drawn machine shows them."""
    with Model(document) as model:
        network = policies._Network(model.describe())
        drawn = jobs.Drawn(network, policies._Prices(document, network, {}), seed)
        cases = []
        for i in range(count):
            machine, complaint, outcome = drawn.next()
            chance = random.Random(f"{seed}/{i}")
            others = [s for s in network.symptoms if s != complaint]
            tests = [o for o in network.observations if o not in network.symptoms]
            looked = chance.sample(others, min(1, len(others)))
            looked += chance.sample(tests, min(entries - 1 - len(looked), len(tests)))
            seen = [(complaint, outcome)] + [(o, machine.look(o)) for o in looked]
            cases.append(policies.Job(complaint, tuple(("seen", one) for one in seen), frozenset()).case({}))
        return cases


def resident(what):
    for line in pathlib.Path("/proc/self/status").read_text(encoding="utf-8").splitlines():
        if line.startswith(what):
            return int(line.split()[1]) / 1024
    raise RuntimeError("no " + what)


def in_child(document, case, budget):
    """MiB that the process grows by, processor time, and what became of it."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            with Model(document, memory_budget=budget * MIB) as model:
                pathlib.Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
                before, began = resident("VmRSS:"), time.process_time()
                try:
                    method = model.assess({**case, "detail": "screen"}).get("method", "exact")
                    became = method if isinstance(method, str) else method["name"]
                except FaultoddsError as error:
                    became = error.code
                took = time.process_time() - began
                told = json.dumps([resident("VmHWM:") - before, took, became])
            os.write(writer, told.encode())
        finally:
            os._exit(0)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        told = pipe.read()
    os.waitpid(child, 0)
    return json.loads(told) if told else [float("inf"), 0, "died"]


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--histories", type=int, default=4, help="of each circuit")
    arguments.add_argument("--entries", type=int, default=13)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--budgets", type=int, nargs="*", default=[16, DEFAULT], help="MiB")
    given = arguments.parse_args()
    bad = 0
    for name, document in documents():
        cases = histories(document, given.histories, given.entries, given.seed)
        for budget in given.budgets:
            answers = [in_child(document, case, budget) for case in cases]
            grown, took = max(a[0] for a in answers), max(a[1] for a in answers)
            became = {how: sum(a[2] == how for a in answers) for how in sorted({a[2] for a in answers})}
            wrong = grown > budget + SLACK or set(became) - ({"limit_exceeded"} if budget < DEFAULT else set()) - {
                "exact", "most probable hypotheses", "bounded conditioning"}
            bad += bool(wrong)
            print(f"{name:36s} budget {budget:4d} MiB, grown by {grown:6.1f} MiB, {took:6.2f} s, "
                  f"{', '.join(f'{n} {how}' for how, n in became.items())}{'  WRONG' if wrong else ''}", flush=True)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
