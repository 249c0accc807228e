#!/usr/bin/env python3
"""The order of a document changes nothing: a circuit whose lists are shuffled gives the answers, byte for byte, that it
gives as written, and a case whose findings are shuffled has the same causes, tests and advice.

FAULTODDS_LIBRARY=<libfaultodds.so.2> tests/determinism/document_order_test.py [--rounds N]

Lists whose order means something stay: outcomes (the normal one is first), rows of a matrix, cautions and setup as they
are to be read, directions.
"""

import argparse
import copy
import json
import random
import sys
import unittest
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "bindings" / "python"))
import faultodds  # noqa: E402

CIRCUITS = ["examples/refuse_truck/circuit.json", "examples/veneer_press/circuit.json", "tests/bindings/lift.json"]
ROUNDS = 2


def shuffled(value, dice):
    """The value with every list of objects in another order, and the members of every object too."""
    if isinstance(value, dict):
        members = [(key, shuffled(member, dice)) for key, member in value.items()]
        dice.shuffle(members)
        return dict(members)
    if isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        items = [shuffled(item, dice) for item in value]
        dice.shuffle(items)
        return items
    return copy.deepcopy(value)


def cases_of(model, dice, count):
    """Cases of one complaint and up to three further findings, as `describe` lists them."""
    described = model.describe()["observations"]
    symptoms = [o for o in described if o["kind"] in ("drift", "delivery", "symptom")]
    for _ in range(count):
        complaint = dice.choice(symptoms)
        seen = [{"observation": complaint["observation"], "outcome": complaint["outcomes"][-1]}]
        for o in dice.sample(described, dice.randint(0, 3)):
            if o["observation"] != complaint["observation"]:
                seen.append({"observation": o["observation"], "outcome": dice.choice(o["outcomes"])})
        yield {"format": "faultodds-case/1", "observations": seen, "focus": complaint["observation"], "detail": "full"}


class DocumentOrder(unittest.TestCase):
    """The order of a document changes nothing."""

    def test_a_shuffled_circuit_gets_the_same_answers(self):
        for path in CIRCUITS:
            text = (ROOT / path).read_text()
            dice = random.Random(path)
            written = faultodds.Model(text)
            cases = list(cases_of(written, dice, 6 * ROUNDS))
            for _ in range(ROUNDS):
                other = faultodds.Model(json.dumps(shuffled(json.loads(text), dice)))
                self.assertEqual(json.dumps(written.describe()), json.dumps(other.describe()), path)
                for case in cases:
                    with self.subTest(path=path, case=json.dumps(case)):
                        self.assertEqual(json.dumps(written.assess(case)), json.dumps(other.assess(case)))

    def test_a_shuffled_case_gets_the_same_causes_and_the_same_next_step(self):
        # The order of a case is the order of the work: what each finding added is told in it. What is the case is not.
        for path in CIRCUITS:
            model = faultodds.Model((ROOT / path).read_text())
            dice = random.Random("case " + path)
            for case in cases_of(model, dice, 8 * ROUNDS):
                with self.subTest(path=path, case=json.dumps(case)):
                    one, other = (model.assess(c) for c in (case, shuffled(case, dice)))
                    for answer in (one, other):
                        answer["tests"] = [test["observation"] for test in answer["tests"]]
                        answer["faults"] = [fault["mode"] for fault in answer["faults"]]
                        answer["causes"] = [[cause["observation"], [[share["components"], round(share["probability"], 9)]
                                                                    for share in cause["shares"]]] for cause in answer["causes"]]
                        answer["advice"] = {key: answer["advice"][key] for key in ("stop", "test", "repair")
                                            if key in answer["advice"]}
                    for key in ("tests", "faults", "causes", "advice"):
                        self.assertEqual(one[key], other[key], key)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="shuffles of each circuit")
    arguments, rest = parser.parse_known_args()
    ROUNDS = arguments.rounds
    unittest.main(argv=[sys.argv[0], *rest])
