"""The answer that a screen asks for, beside the whole one; titles in other languages."""

import json
import unittest
from pathlib import Path

import faultodds

ROOT = Path(__file__).resolve().parents[3]
CIRCUIT = json.loads((ROOT / "examples/refuse_truck/circuit.json").read_text(encoding="utf-8"))
CASE = json.loads((ROOT / "examples/refuse_truck/arm_sinks_1_complaint.json").read_text(encoding="utf-8"))


class Screen(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.model = faultodds.Model(CIRCUIT)
        cls.whole = cls.model.assess({**CASE, "detail": "full"})
        cls.screen = cls.model.assess({**CASE, "detail": "screen"})

    @classmethod
    def tearDownClass(cls):
        cls.model.close()

    def test_what_a_screen_needs_is_what_is_given_without_detail(self):
        self.assertEqual(self.model.assess(CASE), self.screen)

    def test_the_cautions_of_a_test_are_put_together_from_either_answer(self):
        for test, whole in zip(self.screen["tests"], self.whole["tests"]):
            self.assertEqual(faultodds.cautions_of(self.screen, test), whole["cautions"])
            self.assertEqual(faultodds.cautions_of(self.whole, whole), whole["cautions"])

    def test_every_caution_of_a_shown_test_is_in_the_answer_for_a_screen(self):
        whole = {test["observation"]: test for test in self.whole["tests"]}
        self.assertEqual(self.screen["cautions"], self.whole["cautions"])
        for test in self.screen["tests"]:
            told = self.screen["cautions"] + [self.screen["further_cautions"][i] for i in test["caution_ids"]]
            self.assertEqual(told, whole[test["observation"]]["cautions"], test["observation"])
        verified = {test["observation"]: test for test in self.whole["advice"]["verify"]}
        for test in self.screen["advice"]["verify"]:
            told = self.screen["cautions"] + [self.screen["further_cautions"][i] for i in test["caution_ids"]]
            self.assertEqual(told, verified[test["observation"]]["cautions"], test["observation"])

    def test_what_both_answers_say_is_the_same(self):
        for kept, test in zip(self.screen["tests"], self.whole["tests"]):
            for member in ("observation", "title", "minutes", "bring", "because", "because_said", "energised"):
                self.assertEqual(kept[member], test[member])
            self.assertEqual([step["id"] for step in kept["steps"]], [step["id"] for step in test["steps"]])
            self.assertEqual(kept.get("test_pressure"), test["test_pressure"])
            for outcome, probability in test["probability"].items():
                self.assertAlmostEqual(kept["probability"][outcome], probability, places=5)
        for member in ("stop", "reason", "reason_said", "test", "repair", "bring"):
            self.assertEqual(self.screen["advice"][member], self.whole["advice"][member])
        self.assertEqual(self.screen["complaint"], self.whole["complaint"])
        self.assertEqual(self.screen["test_count"], len(self.whole["tests"]))

    def test_the_shares_of_a_cause_and_the_rest_of_them_sum_to_one(self):
        for of in self.screen["causes"]:
            named = sum(share["probability"] for share in of["shares"])
            self.assertAlmostEqual(named + of["rest"] + of["by_design"] + of["elsewhere"] + of["nothing"], 1, places=5)

    def test_another_detail_is_refused_by_name(self):
        with self.assertRaises(faultodds.FaultoddsError) as refused:
            self.model.assess({**CASE, "detail": "short"})
        self.assertIn("expected `screen` or `full`", str(refused.exception))
        self.assertEqual(refused.exception.pointer, "/detail")

    def test_titles_in_other_languages_are_in_the_description_and_change_no_answer(self):
        titles = {"de": {"arm_section": "Ventilsektion des Arms", "line/arm_lift_hose_at_valve": "Schlauch am Ventil"}}
        with faultodds.Model({**CIRCUIT, "titles": titles}) as model:
            self.assertEqual(model.describe()["titles"], titles)
            self.assertEqual(model.assess({**CASE, "detail": "screen"}), self.screen)

    def test_a_title_for_what_the_circuit_has_not_is_refused(self):
        with self.assertRaises(faultodds.FaultoddsError) as refused:
            faultodds.Model({**CIRCUIT, "titles": {"de": {"arm_sektion": "x"}}})
        self.assertIn("did you mean `arm_section`", str(refused.exception))
        self.assertEqual(refused.exception.pointer, "/titles/de/arm_sektion")

    def test_titles_of_what_is_reported_only_of_solved_effects_are_read_by_grades_too(self):
        with faultodds.Model({**CIRCUIT, "effects": "grades"}) as model:
            self.assertEqual(model.describe()["titles"]["de"]["dip/lift_arm"], CIRCUIT["titles"]["de"]["dip/lift_arm"])
        with self.assertRaises(faultodds.FaultoddsError):
            faultodds.Model({**CIRCUIT, "effects": "grades", "titles": {"de": {"dip/lift_am": "x"}}})


if __name__ == "__main__":
    unittest.main()
