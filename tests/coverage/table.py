"""table.py [--files N] TRACE MISSED: lines and branches reached by folder, from what llvm-cov exports as lcov; to
the file MISSED each line that was not run and each condition that was only ever true or only ever false. Fails below
the least shares of `run`; with --files, the N files of which the least share of lines was reached instead."""

import argparse
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# The first that begins a path is its folder.
FOLDERS = ["core/network", "core/circuit", "core/hydraulics", "core/diagnosis", "core/reading", "core/wording", "core", "priors",
           "capi/documents", "capi", "bindings/http", "bindings/priors"]  # fmt: skip
LEAST_LINES_OF_ALL = 0.90
LEAST_BRANCHES_OF_CORE = 0.85


def folder_of(path):
    if not path.is_relative_to(ROOT):
        return None
    inside = path.relative_to(ROOT).as_posix()
    return next((folder for folder in FOLDERS if inside.startswith(folder + "/")), None)


def share(covered, total):
    return covered / total if total else 1.0


def print_row(name, counts):
    lines, branches = (counts["LH"], counts["LF"]), (counts["BRH"], counts["BRF"])
    print(f"{name:40}{'%d/%d' % lines:>14}{share(*lines):>8.1%} {'%d/%d' % branches:>14}{share(*branches):>8.1%}")


def main(trace, missed, files):
    totals = {folder: Counter() for folder in FOLDERS}
    by_file = {}
    path = folder = None
    for line in trace:
        key, _, value = line.rstrip("\n").partition(":")
        if key == "SF":
            path = Path(value)
            folder = folder_of(path)
        if folder is None:
            continue
        where = path.relative_to(ROOT)
        if key in ("LF", "LH", "BRF", "BRH"):
            totals[folder][key] += int(value)
            by_file.setdefault(where.as_posix(), Counter())[key] += int(value)
        elif key == "DA" and value.endswith(",0"):
            missed.write(f"{where}:{value[:-2]}: not run\n")
        elif key == "BRDA":
            at, _, way, taken = value.split(",")
            if taken == "0":
                missed.write(f"{where}:{at}: never {'false' if way == '1' else 'true'}\n")

    rest = {"core": "core, the rest", "capi": "capi, the rest"}
    rows = {rest.get(name, name): counts for name, counts in totals.items() if counts["LF"]}
    rows["core"] = sum((totals[name] for name in FOLDERS if name.startswith("core")), Counter())
    rows["all"] = sum(totals.values(), Counter())
    print(f"{'':40}{'lines':>14}{'':9}{'branches':>14}")
    for name, counts in rows.items():
        print_row(name, counts)
    if files:
        print("least of:")
        for name in sorted(by_file, key=lambda f: share(by_file[f]["LH"], by_file[f]["LF"]))[:files]:
            print_row(name, by_file[name])
        return 0
    enough = True
    for what, covered, total, least in (
        ("lines of all", rows["all"]["LH"], rows["all"]["LF"], LEAST_LINES_OF_ALL),
        ("branches of core", rows["core"]["BRH"], rows["core"]["BRF"], LEAST_BRANCHES_OF_CORE),
    ):
        if total == 0 or covered / total < least:
            print(f"{what}: {covered} of {total}, expected at least {least:.0%}")
            enough = False
    return 0 if enough else 1


if __name__ == "__main__":
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--files", type=int, default=0)
    arguments.add_argument("trace")
    arguments.add_argument("missed")
    given = arguments.parse_args()
    with open(given.trace, encoding="utf-8") as trace, open(given.missed, "w", encoding="utf-8") as missed:
        raise SystemExit(main(trace, missed, given.files))
