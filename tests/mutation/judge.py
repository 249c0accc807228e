#!/usr/bin/env python3
"""Runs the tests against each mutant that choose.py wrote.

usage: judge.py MUTANTS EXPLAINED PROGRAM...

Each PROGRAM is a Catch2 test program of the mutated library. Every test case is run once as it is,
to see which mutants it reaches and how long it takes; then each mutant is put in force for the test
cases that reach it, the quick ones first, until one fails, crashes or takes ten times as long.
Which one it was is kept beside MUTANTS in found.json, and tried first the next time.
What none finds survives. EXPLAINED lists mutants that change nothing one can see, each with the
reason; they are not run. A survivor fails the command.
"""
import concurrent.futures
import json
import os
import pathlib
import re
import resource
import subprocess
import sys
import tempfile
import time

MOST_BYTES = 8 << 30


def limit_memory():
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def run(program, name, mutant, seconds=None, reached=None):
    """Whether the test case passes; the seconds it took."""
    environment = dict(os.environ, FAULTODDS_MUTANT=str(mutant))
    if reached is not None:
        environment["FAULTODDS_MUTANTS_REACHED"] = reached
    exact = re.sub(r'([\\,\[\]"~*])', r"\\\1", name)
    process = subprocess.Popen([program, exact], env=environment, preexec_fn=limit_memory,
                               stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    started = time.monotonic()
    try:
        said, _ = process.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate()
        return False, time.monotonic() - started
    if process.returncode == 0 and b"No test cases matched" in said:
        sys.exit(f"{program} does not know the test case it listed: {name}")
    return process.returncode == 0, time.monotonic() - started


def names_of(program):
    told = subprocess.run([program, "--list-test-names-only"], capture_output=True, text=True)
    return [line for line in told.stdout.splitlines() if line]


def trace(case):
    program, name = case
    with tempfile.NamedTemporaryFile("r") as file:
        passed, took = run(program, name, -1, reached=file.name)
        if not passed:
            sys.exit(f"Fails without any mutant: {name}")
        return case, took, {int(line) for line in file}


def judge(mutant, cases, before):
    """Of one mutant: the name of the test case that finds it, or None; `before`, the one that did."""
    for took, (program, name) in sorted(cases, key=lambda case: (case[1][1] != before, case)):
        passed, _ = run(program, name, mutant["number"], seconds=20 + 10 * took)
        if not passed:
            return mutant, name
    return mutant, None


def explained_by(path):
    """name_of() of each mutant that is explained: lines that start with '- '."""
    return {line[2:].strip() for line in path.read_text().splitlines() if line.startswith("- ")}


def name_of(mutant):
    return " | ".join(str(mutant[k]) for k in ("file", "kind", "what", "nth", "row"))


def main():
    mutants = json.loads(pathlib.Path(sys.argv[1]).read_text())
    explained = explained_by(pathlib.Path(sys.argv[2]))
    cases = [(program, name) for program in sys.argv[3:] for name in names_of(program)]
    workers = os.cpu_count() or 1
    finders = {m["number"]: [] for m in mutants}
    memory = pathlib.Path(sys.argv[1]).with_name("found.json")
    before = json.loads(memory.read_text()) if memory.exists() else {}
    with concurrent.futures.ThreadPoolExecutor(workers) as pool:
        for case, took, reached in pool.map(trace, cases):
            for number in reached & finders.keys():
                finders[number].append((took, case))
        print(f"{len(cases)} test cases reach {sum(1 for f in finders.values() if f)} of {len(mutants)} "
              "mutants", flush=True)
        judged = [(m, None) for m in mutants if name_of(m) in explained]
        others = [m for m in mutants if name_of(m) not in explained]
        for mutant, by in pool.map(
                lambda m: judge(m, finders[m["number"]], before.get(name_of(m))), others):
            judged.append((mutant, by))
            if by is None:
                print(f"survives: {mutant['file']}:{mutant['line']}: {mutant['what']}; reached by "
                      f"{len(finders[mutant['number']])} test cases\n    {mutant['row']}", flush=True)
    memory.write_text(json.dumps({name_of(m): by for m, by in judged if by is not None}, indent=1))
    survivors = [m for m, by in judged if by is None and name_of(m) not in explained]
    for folder in sorted({m["file"].rsplit("/", 1)[0] for m in mutants}) + [""]:
        here = [(m, by) for m, by in judged if m["file"].startswith(folder)]
        found = sum(1 for _, by in here if by is not None)
        known = sum(1 for m, by in here if by is None and name_of(m) in explained)
        print(f"{folder or 'all':16} {len(here):5} mutants, {found:5} found, {known:4} explained, "
              f"{len(here) - found - known:4} not")
    pathlib.Path(sys.argv[1]).with_name("survivors.txt").write_text(
        "".join(f"- {name_of(m)}\n" for m in survivors))
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())
