"""table.py TRACE MISSED: lines and branches reached by folder, from what llvm-cov exports as lcov; to the file
MISSED each line that was not run and each condition that was only ever true or only ever false. Fails below the
least shares of `run`."""

import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# The first that begins a path is its folder.
FOLDERS = ["core/network", "core/circuit", "core/diagnosis", "core", "priors", "capi", "bindings/http",
           "bindings/priors"]  # fmt: skip
LEAST_LINES_OF_ALL = 0.90
LEAST_BRANCHES_OF_CORE = 0.85


def folder_of(path):
    if not path.is_relative_to(ROOT):
        return None
    inside = path.relative_to(ROOT).as_posix()
    return next((folder for folder in FOLDERS if inside.startswith(folder + "/")), None)


def share(covered, total):
    return covered / total if total else 1.0


def main(trace, missed):
    totals = {folder: Counter() for folder in FOLDERS}
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
        elif key == "DA" and value.endswith(",0"):
            missed.write(f"{where}:{value[:-2]}: not run\n")
        elif key == "BRDA":
            at, _, way, taken = value.split(",")
            if taken == "0":
                missed.write(f"{where}:{at}: never {'false' if way == '1' else 'true'}\n")

    rows = {(name if name != "core" else "core, the rest"): counts for name, counts in totals.items()}
    rows["core"] = sum((totals[name] for name in FOLDERS if name.startswith("core")), Counter())
    rows["all"] = sum(totals.values(), Counter())
    print(f"{'':16}{'lines':>16}{'':9}{'branches':>16}")
    for name, counts in rows.items():
        lines, branches = (counts["LH"], counts["LF"]), (counts["BRH"], counts["BRF"])
        print(f"{name:16}{'%d/%d' % lines:>16}{share(*lines):>8.1%} {'%d/%d' % branches:>16}{share(*branches):>8.1%}")
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
    with open(sys.argv[1], encoding="utf-8") as trace, open(sys.argv[2], "w", encoding="utf-8") as missed:
        sys.exit(main(trace, missed))
