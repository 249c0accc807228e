"""Networks, and many cases at once, through the Python binding (FAULTODDS_LIBRARY)."""

import json
import math
import threading
import unittest
from pathlib import Path

import faultodds
from faultodds import FaultoddsError

ROOT = Path(__file__).resolve().parents[3]
TABLE = json.loads((ROOT / "tests/vectors/networks.json").read_text(encoding="utf-8"))
LIFT = json.loads((ROOT / "tests/bindings/lift.json").read_text(encoding="utf-8"))


def load(entry):
    return faultodds.Network("\n".join(entry["text"]), format=entry["format"])


class Networks(unittest.TestCase):
    def test_every_query_of_the_table_is_answered_as_expected(self):
        for entry in TABLE["networks"]:
            with load(entry) as network:
                self.assertEqual(network.variables(), entry["variables"])
                for query in entry["queries"]:
                    with self.subTest(query["name"]):
                        log_evidence, posteriors = network.query(query["evidence"])
                        self.assertAlmostEqual(math.exp(log_evidence), query["evidence_probability"], delta=1e-9)
                        self.assertEqual(list(posteriors), entry["variables"])
                        for variable, expected in query.get("posteriors", {}).items():
                            self.assertEqual(len(network.states(variable)), len(posteriors[variable]))
                            for wanted, got in zip(expected, posteriors[variable]):
                                self.assertAlmostEqual(got, wanted, delta=TABLE["tolerance"])

    def test_impossible_and_unknown_evidence_is_refused_with_its_name(self):
        for entry in TABLE["networks"]:
            with load(entry) as network:
                for refusal in entry["refusals"]:
                    with self.subTest(refusal["name"]), self.assertRaises(FaultoddsError) as caught:
                        network.query(refusal["evidence"])
                    self.assertEqual(caught.exception.code, refusal["code"])
                    self.assertIn(refusal["message"], caught.exception.message)

    def test_a_text_that_is_no_network_is_refused_with_its_line(self):
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.Network("network x {\n}\nvariable")
        self.assertEqual(caught.exception.code, "invalid_document")
        self.assertTrue(caught.exception.message.startswith("line 3: "))
        bif = "\n".join(TABLE["networks"][0]["text"])
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.Network(bif, memory_budget=1)
        self.assertEqual(caught.exception.code, "limit_exceeded")
        for wrong in ({"format": "net"}, {"memory_budget": -1}):
            with self.assertRaises(ValueError):
                faultodds.Network(bif, **wrong)

    def test_threads_share_a_network_and_closing_waits_for_them(self):
        network, answers = load(TABLE["networks"][0]), []

        def ask():
            try:
                for _ in range(200):
                    answers.append(network.query({"dyspnoea": "yes"}).posteriors["lung"])
            except ValueError as closed:
                self.assertIn("closed", str(closed))

        threads = [threading.Thread(target=ask) for _ in range(4)]
        for thread in threads:
            thread.start()
        network.close()
        network.close()
        for thread in threads:
            thread.join()
        self.assertLessEqual(len(set(answers)), 1)
        with self.assertRaises(ValueError):
            network.query()


class Batches(unittest.TestCase):
    def cases(self, model, count):
        outcomes, cases = ("none", "slow", "fast"), []
        for i in range(count):
            cases.append(model.open_case())
            cases[-1].observe("drift/cylinder/retract", outcomes[i % 3])
            if i % 2:
                cases[-1].observe("static/section.a", "held" if i % 4 == 1 else "would_not_build")
        return cases

    def test_together_as_one_by_one_to_the_bit(self):
        with faultodds.Model(LIFT) as model:
            for threads in (1, 3):
                together = self.cases(model, 30)
                faultodds.assess_cases(together, threads=threads)
                for one, other in zip(self.cases(model, 30), together):
                    one.assess()
                    self.assertEqual(one.log_evidence(), other.log_evidence())
                    self.assertEqual(one.posteriors(), other.posteriors())
                    self.assertEqual(one.answer(), other.answer())
            faultodds.assess_cases([])

    def test_the_first_that_cannot_be_assessed_is_told_and_the_others_are_assessed(self):
        with faultodds.Model(LIFT) as model:
            cases = self.cases(model, 3)
            cases[1].observe_likelihood("static/section.a", (0, 0, 1))
            cases[1].observe_likelihood("static/section.a", (1, 0, 0))
            with self.assertRaises(FaultoddsError) as caught:
                faultodds.assess_cases(cases)
            self.assertEqual(caught.exception.code, "conflicting_evidence")
            self.assertTrue(caught.exception.pointer.startswith("/cases/1"))
            self.assertLessEqual(cases[2].log_evidence(), 0)
            with self.assertRaises(FaultoddsError):
                cases[1].log_evidence()

    def test_one_case_twice_and_a_closed_one_are_refused(self):
        with faultodds.Model(LIFT) as model:
            one, two = self.cases(model, 2)
            with self.assertRaises(FaultoddsError):
                faultodds.assess_cases([one, one])
            two.close()
            for wrong in ({"cases": [one, two]}, {"cases": [one], "threads": 0}):
                with self.assertRaises(ValueError):
                    faultodds.assess_cases(**wrong)


if __name__ == "__main__":
    unittest.main()
