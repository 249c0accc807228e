#!/usr/bin/env python3
"""How large the answers on the demo cases are, whole and as they are given where nothing is asked for, and models.

answer_sizes.py --library libfaultodds.so.2 [--check]

Prints, per case, bytes as JSON and gzipped, and the share of the whole that is cautions said again. --check fails
where an answer for a screen is over 15 kB, a test in it has no cautions, or one refers to a caution that is not there.
It reads answers through the Python binding and shares no code with what writes them.
"""

import argparse
import copy
import gzip
import json
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MOST = 15_000


def cases():
    for circuit in sorted((ROOT / "examples").glob("*/circuit.json")):
        yield circuit, f"{circuit.parent.name}: nothing seen", {"format": "faultodds-case/1"}
        for path in sorted(circuit.parent.glob("*.json")):
            if path.name == "circuit.json":
                continue
            yield circuit, f"{circuit.parent.name}: {path.stem}", json.loads(path.read_text(encoding="utf-8"))


def repeated_cautions(node, seen):
    """Bytes of cautions that an answer says once more."""
    if isinstance(node, list):
        return sum(repeated_cautions(item, seen) for item in node)
    if not isinstance(node, dict):
        return 0
    total = 0
    for key, value in node.items():
        if key == "cautions" and all(isinstance(item, str) for item in value):
            for item in value:
                size = len(json.dumps(item, ensure_ascii=False).encode()) + 1
                total += size if item in seen else 0
                seen.add(item)
        else:
            total += repeated_cautions(value, seen)
    return total


def wrong_with(answer):
    known = set(answer["further_cautions"])
    for test in answer["tests"] + answer.get("advice", {}).get("verify", []):
        if not set(test["caution_ids"]) <= known:
            yield f"{test['observation']} refers to cautions that are not there"
        if not test["caution_ids"]:
            yield f"{test['observation']} has no cautions of its own kind"
    if len(answer["cautions"]) < 6:
        yield "the cautions for all work are not whole"


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--library", required=True)
    arguments.add_argument("--check", action="store_true")
    given = arguments.parse_args()
    os.environ["FAULTODDS_LIBRARY"] = given.library
    sys.path.insert(0, str(ROOT / "bindings" / "python"))
    import faultodds

    failures, models = [], []
    print(f"{'case':46}{'full':>9}{'cautions again':>16}{'screen':>9}{'gzip':>7}")
    for circuit, name, case in cases():
        with faultodds.Model(json.loads(circuit.read_text(encoding="utf-8"))) as model:
            whole = model.assess({**copy.deepcopy(case), "detail": "full"})
            screen = model.assess(copy.deepcopy(case))
            if "nothing seen" in name:
                models.append((circuit.parent.name, model.describe(), model.describe(detail="screen")))
        sizes = [len(json.dumps(one, ensure_ascii=False, separators=(",", ":")).encode()) for one in (whole, screen)]
        packed = len(gzip.compress(json.dumps(screen, ensure_ascii=False, separators=(",", ":")).encode()))
        again = repeated_cautions(whole, set()) / sizes[0]
        print(f"{name:46}{sizes[0]:9,}{again:16.0%}{sizes[1]:9,}{packed:7,}")
        if sizes[1] > MOST:
            failures.append(f"{name}: {sizes[1]:,} bytes, over {MOST:,}")
        failures += [f"{name}: {problem}" for problem in wrong_with(screen)]
    for name, whole, screen in models:
        texts = [json.dumps(one, ensure_ascii=False, separators=(",", ":")).encode() for one in (whole, screen)]
        print(f"{name + ': the model':46}{len(texts[0]):9,}{'':16}{len(texts[1]):9,}{len(gzip.compress(texts[1])):7,}")
    if given.check and failures:
        sys.exit("\n".join(failures))


if __name__ == "__main__":
    main()
