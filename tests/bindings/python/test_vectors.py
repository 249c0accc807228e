"""The Python binding answers tests/vectors/assessments.json: the one call, a model, and open cases."""

import json
import sys
import unittest
from pathlib import Path

import faultodds
from faultodds import FaultoddsError, Model

ROOT = Path(__file__).resolve().parents[3]
sys.path.insert(0, str(ROOT / "tests" / "vectors"))
from make_assessments import are_named, name_of, tell  # noqa: E402

TABLE = json.loads((ROOT / "tests" / "vectors" / "assessments.json").read_text(encoding="utf-8"))
ANSWERED = [vector for vector in TABLE["vectors"] if "expected" in vector]
REFUSED = [vector for vector in TABLE["vectors"] if "refusal" in vector]


def circuit_of(vector):
    return json.loads((ROOT / vector["circuit"]).read_text(encoding="utf-8"))


class Vectors(unittest.TestCase):
    def agree(self, expected, actual, place=""):
        if isinstance(expected, dict):
            for key, value in expected.items():
                if key == "among":
                    for name, items in value.items():
                        self.each_found(items, actual[name], f"{place}/{name}")
                else:
                    self.assertIn(key, actual, place)
                    self.agree(value, actual[key], f"{place}/{key}")
        elif isinstance(expected, list):
            self.assertEqual(len(expected), len(actual), place)
            if are_named(expected):
                self.each_found(expected, actual, place)
                return
            for index, (wanted, got) in enumerate(zip(expected, actual)):
                self.agree(wanted, got, f"{place}/{index}")
        elif isinstance(expected, (int, float)) and not isinstance(expected, bool):
            self.assertIsInstance(actual, (int, float), place)
            self.assertLessEqual(
                abs(expected - actual), TABLE["tolerance"] * max(1, abs(expected)), place
            )
        else:
            self.assertEqual(expected, actual, place)

    def each_found(self, expected, actual, place):
        by_name = {name_of(item): item for item in actual}
        for item in expected:
            self.assertIn(name_of(item), by_name, place)
            self.agree(item, by_name[name_of(item)], f"{place}/{name_of(item)}")

    def test_the_one_call_and_a_model_give_what_is_expected(self):
        for vector in ANSWERED:
            with self.subTest(vector["name"]), Model(circuit_of(vector)) as model:
                self.agree(vector["expected"], faultodds.assess(circuit_of(vector), vector["case"]))
                self.agree(vector["expected"], model.assess(vector["case"]))

    def test_an_open_case_gives_the_same_from_its_events(self):
        told = 0
        for vector in ANSWERED:
            if "events" not in vector:
                continue
            with self.subTest(vector["name"]), Model(circuit_of(vector)) as model:
                with model.open_case() as case:
                    for event in vector["events"]:
                        tell(case, event)
                    case.assess()
                    expected = vector["expected"]
                    self.agree(expected, case.answer())
                    self.agree(expected["log_evidence"], case.log_evidence())
                    grades = case.posteriors()
                    for fault in expected["faults"]:
                        self.agree(fault["grades"], list(grades[fault["mode"]]), fault["mode"])
                    ranking = [test._asdict() for test in case.tests()]
                    # A second look at the complaint is advice; the ranking is of what was not made yet.
                    wanted = [
                        {key: test[key] for key in ranking[0]}
                        for test in expected["tests"]
                        if not test.get("again")
                    ]
                    self.agree(wanted, ranking, "tests")
                    answer = case.answer()
                    first = answer.get("advice", {}).get("test")
                    order = [test["observation"] for test in ranking]
                    order.sort(key=lambda observation: observation != first)
                    listed = [test["observation"] for test in answer["tests"] if not test.get("again")]
                    self.assertEqual(listed, order)
                    causes = case.causes()
                    self.assertEqual(
                        [of["observation"] for of in expected["causes"]],
                        [of.observation for of in causes],
                    )
                    for wanted, of in zip(expected["causes"], causes):
                        shares = [
                            {"components": list(share.components), "probability": share.probability}
                            for share in of.shares
                        ]
                        self.agree(wanted, {**of._asdict(), "shares": shares}, "causes")
            told += 1
        self.assertGreater(told, 8)

    def test_what_is_refused_is_refused_with_code_place_and_words(self):
        for vector in REFUSED:
            refusal = vector["refusal"]
            with self.subTest(vector["name"]), Model(circuit_of(vector)) as model:
                with self.assertRaises(FaultoddsError) as caught:
                    model.assess(vector["case"])
                self.assertEqual(caught.exception.code, refusal["code"])
                self.assertEqual(caught.exception.pointer, refusal["pointer"])
                self.assertIn(refusal["message"], caught.exception.message)

                with self.assertRaises(FaultoddsError) as caught:
                    faultodds.assess(circuit_of(vector), vector["case"])
                self.assertEqual(caught.exception.pointer, "/case" + refusal["pointer"])

    def test_an_open_case_refuses_the_event_or_to_assess_it_and_can_take_it_back(self):
        for vector in REFUSED:
            if not vector.get("events"):
                continue
            with self.subTest(vector["name"]), Model(circuit_of(vector)) as model:
                with model.open_case() as case:
                    for event in vector["events"][:-1]:
                        tell(case, event)
                    case.assess()
                    before = case.log_evidence()
                    wrong = vector["events"][-1]
                    with self.assertRaises(FaultoddsError) as caught:
                        tell(case, wrong)
                        case.assess()
                    self.assertEqual(caught.exception.code, vector["refusal"]["event_code"])
                    if wrong["observe"]["observation"] in model.observations():
                        case.retract(wrong["observe"]["observation"])
                    case.assess()
                    self.assertEqual(case.log_evidence(), before)


if __name__ == "__main__":
    unittest.main()
