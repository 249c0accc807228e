"""score.py FAULTODDS-PRIORS [--answers FILE]... [--asset A]...: what `code` makes of the hand-labelled excavator orders.

Prints how many rows that concern the catalogue are coded, how many of the coded are right, and every row that is not as
labelled. It shares nothing with the program but the files.
"""

import argparse
import csv
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
# What a label of the text allows: a text does not tell the types of a family apart.
KINDS = {
    "hose": {"hose"},
    "tube": {"tube"},
    "line": {"line", "hose", "tube"},
    "pump": {"pump", "fixed_pump", "variable_pump"},
    "motor": {"rotary_motor"},
    "cylinder": {"cylinder", "single_rod_cylinder", "double_rod_cylinder"},
    "valve": {"valve", "closed_centre_section", "open_centre_section"},
    "relief": {"relief", "main_relief", "port_relief"},
    "filter": {"return_filter", "filter"},
    "brake": {"spring_applied_brake"},
}


def code(command, orders, answers=(), sure=None, extra=()):
    """{line: (component, finding, grade, where)} of every row."""
    with tempfile.TemporaryDirectory() as folder:
        files = {name: f"{folder}/{name}.csv" for name in ("out", "review", "not-ours")}
        arguments = [command, "code", "--orders", str(orders)]
        for name, path in files.items():
            arguments += [f"--{name}", path]
        for path in answers:
            arguments += ["--answers", str(path)]
        if sure:
            arguments += ["--sure", str(sure)]
        done = subprocess.run([*arguments, *extra], capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(done.stderr)
        rows = {}
        for name, path in files.items():
            with open(path, newline="", encoding="utf-8") as file:
                for row in csv.DictReader(file):
                    line = int(row["work_order"].split()[1])
                    rows[line] = (row["component"], row["finding"], row["grade"], name, row["text"], row["because"],
                                  row["certainty"])
        return rows


def labels(assets=None, path=HERE / "excavator_labels.csv"):
    with open(path, newline="", encoding="utf-8") as file:
        return [row for row in csv.DictReader(file) if not assets or row["asset"] in assets]


def kinds_of(command):
    """The kinds of which this catalogue has a type; a label of another is none."""
    printed = subprocess.run([command, "code", "--choices"], capture_output=True, text=True, check=True).stdout
    components = {line.split(":")[0] for line in printed.splitlines()}
    return {kind: names for kind, names in KINDS.items() if names & components}


class Score:
    def __init__(self, labelled, coded, kinds):
        self.ours = self.ours_coded = self.coded = self.right = self.others = self.others_let_go = 0
        self.lost = self.grades = self.grades_right = 0
        self.misses = []
        for label in labelled:
            component, finding, grade, where, text, because, sure = coded[int(label["line"])]
            ours = label["component"] in kinds
            told = f"{label['line']}: {text!r} is {label['component']} {label['finding']} {label['grade']}; " \
                   f"{where}: {component} {finding} {grade} {sure} ({because})"
            if where == "out":
                self.coded += 1
                right = ours and component in kinds[label["component"]] and finding == label["finding"]
                self.right += right
                if right:
                    self.grades += 1
                    self.grades_right += grade == label["grade"]
                if not right or grade != label["grade"]:
                    self.misses.append(("wrong " if not right else "grade ") + told)
            if ours:
                self.ours += 1
                self.ours_coded += where == "out"
                if where == "not-ours":
                    self.lost += 1
                if where != "out":
                    self.misses.append(("lost  " if where == "not-ours" else "unsure ") + told)
            elif label["component"] != "unclear":
                self.others += 1
                self.others_let_go += where == "not-ours"

    def __str__(self):
        return (f"concern the catalogue {self.ours}, coded {self.ours_coded} ({100 * self.ours_coded / max(1, self.ours):.0f} %), "
                f"called none {self.lost}; coded in all {self.coded}, right {self.right} "
                f"({100 * self.right / max(1, self.coded):.1f} %), grade too {self.grades_right}; "
                f"of no concern {self.others}, let go {self.others_let_go}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("command")
    parser.add_argument("--answers", action="append", default=[])
    parser.add_argument("--asset", action="append")
    parser.add_argument("--sure", type=float)
    parser.add_argument("--quiet", action="store_true")
    given = parser.parse_args()
    score = Score(labels(given.asset), code(given.command, HERE / "excavator_orders.csv", given.answers, given.sure),
                  kinds_of(given.command))
    if not given.quiet:
        print("\n".join(score.misses))
    print(score)
    sys.exit(0)
