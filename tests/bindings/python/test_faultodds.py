"""The Python binding, through a built library (FAULTODDS_LIBRARY)."""

import copy
import csv
import gc
import io
import json
import math
import os
import resource
import subprocess
import sys
import threading
import time
import unittest
from pathlib import Path

import faultodds
from faultodds import FaultoddsError, Model

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1]))  # tests/
from bad_documents import bad_inputs, good_documents  # noqa: E402

RAM = json.loads((HERE.parent / "ram.json").read_text(encoding="utf-8"))
LIFT = json.loads((HERE.parent / "lift.json").read_text(encoding="utf-8"))


def case(*observations, **more):
    return {"format": "faultodds-case/1", "detail": "full", "circuit": "lift", "observations": list(observations), **more}


def seen(observation, outcome):
    return {"observation": observation, "outcome": outcome}


DRIFTS = case(seen("drift/cylinder/retract", "fast"))


CLOSED = {
    "format": "faultodds-closing/1",
    "work_order": "WO 7",
    "closed": "2026-03-31",
    "found": [{"component": "cap_relief", "mode": "seat_leak", "grade": "failed"}],
    "sound": ["cylinder"],
    "parts": [{"component": "cap_relief", "cost": 90}],
    "minutes": 95,
}


class NotesAndRecords(unittest.TestCase):
    def setUp(self):
        self.model = Model(LIFT)
        self.addCleanup(self.model.close)

    def test_a_note_says_the_cautions_before_the_test(self):
        note = self.model.note(DRIFTS)
        self.assertLess(note.index("Lock out and tag out"), note.index("Next test"))
        self.assertTrue(self.model.note(DRIFTS, html=True).startswith("<!DOCTYPE html>"))

    def test_words_of_a_complaint_propose_symptoms_that_the_circuit_has(self):
        truck = Path(__file__).resolve().parents[3] / "examples" / "refuse_truck" / "circuit.json"
        with Model(truck.read_text(encoding="utf-8")) as model:
            first = model.propose("the arm comes down by itself between houses")["proposals"][0]
            self.assertEqual((first["observation"], first["outcome"]), ("drift/arm_cylinder/retract", "slow"))
            self.assertIn("by itself", first["because"])
            self.assertEqual(
                model.propose("der Arm sinkt", "de")["proposals"][0]["observation"], "drift/arm_cylinder/retract")
            self.assertEqual(model.propose("radio dead")["proposals"], [])
            with self.assertRaises(FaultoddsError) as refused:
                model.propose("arm", "tlh")
            self.assertEqual(refused.exception.code, "invalid_argument")

    def test_a_plan_begins_with_the_test_of_the_advice_and_its_card_with_the_cautions(self):
        plan = self.model.plan(DRIFTS)
        self.assertEqual(plan["tree"]["test"], self.model.assess(DRIFTS)["advice"]["test"])
        branches = plan["tree"]["branches"]
        self.assertAlmostEqual(sum(branch["probability"] for branch in branches), 1)
        card = self.model.plan_card(DRIFTS)
        self.assertLess(card.index("Lock out and tag out"), card.index("<svg"))

    def test_a_test_that_cannot_be_made_is_in_no_plan(self):
        first = self.model.assess(DRIFTS)["advice"]["test"]
        without = {**DRIFTS, "not_possible": [{"observation": first, "reason": "no room"}]}
        answer = self.model.assess(without)
        self.assertEqual(answer["not_possible"][0]["reason"], "no room")
        self.assertNotIn(first, [test["observation"] for test in answer["tests"]])
        self.assertNotIn(f'"{first}"', json.dumps(self.model.plan(without)["tree"]))

    def test_a_closed_work_order_is_a_record_and_rows_to_learn_from(self):
        record = self.model.record(DRIFTS, CLOSED)
        self.assertEqual(record["format"], "faultodds-record/1")
        self.assertEqual(record["found"][0]["mode"], "seat_leak")
        rows = self.model.record_rows(DRIFTS, CLOSED)
        headed = self.model.record_rows(DRIFTS, CLOSED, header=True)
        self.assertTrue(headed.endswith(rows))
        read = list(csv.DictReader(io.StringIO(headed, newline="")))
        self.assertEqual([row["position"] for row in read], ["cap_relief", "cylinder"])
        self.assertEqual(read[0]["finding"], "seat_leak")
        self.assertEqual(read[0]["complaint"], "drift/cylinder/retract=fast")

    def test_what_was_found_must_be_of_the_circuit(self):
        wrong = {**CLOSED, "found": [{"component": "mast"}]}
        with self.assertRaises(FaultoddsError) as caught:
            self.model.record(DRIFTS, wrong)
        self.assertEqual(caught.exception.pointer, "/found/0/component")


class OneCall(unittest.TestCase):
    def test_answers_with_an_assessment_document(self):
        answer = faultodds.assess(LIFT, DRIFTS)
        self.assertEqual(answer["format"], "faultodds-assessment/1")
        self.assertEqual(answer["complaint"], ["drift/cylinder/retract"])
        self.assertLess(answer["log_evidence"], 0)
        self.assertEqual(answer["method"], "exact")

    def test_grades_of_every_mode_are_a_distribution(self):
        for fault in faultodds.assess(LIFT, DRIFTS)["faults"]:
            with self.subTest(fault["mode"]):
                self.assertEqual(len(fault["grades"]), 3)
                self.assertAlmostEqual(sum(fault["grades"]), 1, places=12)

    def test_a_drifting_load_raises_the_odds_of_what_lets_it_down(self):
        faults = {f["mode"]: f for f in faultodds.assess(LIFT, DRIFTS)["faults"]}
        self.assertGreater(faults["cap_relief.seat_leak"]["decibans"], 3)
        self.assertLess(faults["pump.internal_wear"]["decibans"], 1)

    def test_every_test_comes_with_cautions(self):
        tests = faultodds.assess(LIFT, DRIFTS)["tests"]
        self.assertGreater(len(tests), 0)
        for test in tests:
            with self.subTest(test["observation"]):
                self.assertGreater(len(test["cautions"]), 0)

    def test_the_document_with_the_error_is_named_in_the_pointer(self):
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.assess(LIFT, case(seen("drift/cylinder/retract", "tepid")))
        self.assertEqual(caught.exception.code, "invalid_case")
        self.assertEqual(caught.exception.pointer, "/case/observations/0/outcome")
        self.assertIn("tepid", caught.exception.message)

        broken = copy.deepcopy(LIFT)
        broken["components"][3]["type"] = "teapot"
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.assess(broken, DRIFTS)
        self.assertTrue(caught.exception.pointer.startswith("/circuit/components/3"))

        with self.assertRaises(FaultoddsError) as caught:
            faultodds.assess(LIFT, DRIFTS, priors={"format": "nonsense"})
        self.assertTrue(caught.exception.pointer.startswith("/priors"))

    def test_an_error_prints_its_code_its_sentence_and_its_place(self):
        error = FaultoddsError("invalid_case", "a sentence", "/observations/0")
        self.assertEqual(str(error), "invalid_case: a sentence (at /observations/0)")
        self.assertEqual(str(FaultoddsError("internal", "a sentence")), "internal: a sentence")


class StrictJson(unittest.TestCase):
    def test_nan_and_infinity_never_reach_the_library(self):
        for number in (math.nan, math.inf, -math.inf):
            entry = {"observation": "drift/cylinder/retract", "likelihood": [1, number, 0]}
            with self.assertRaises(ValueError):
                faultodds.assess(LIFT, case(entry))

    def test_text_that_is_no_unicode_is_refused(self):
        with self.assertRaises(ValueError):
            faultodds.assess({**LIFT, "title": "\ud800"}, DRIFTS)

    def test_json_text_is_taken_as_it_is(self):
        answer = faultodds.assess(json.dumps(LIFT), json.dumps(DRIFTS).encode("utf-8"))
        self.assertEqual(answer, faultodds.assess(LIFT, DRIFTS))

    def test_text_of_any_language_comes_through(self):
        titled = copy.deepcopy(LIFT)
        titled["components"][5]["title"] = "Hubzylinder – 缸 🛢"
        with Model(titled) as model:
            self.assertIn("Hubzylinder – 缸 🛢", json.dumps(model.assess(DRIFTS), ensure_ascii=False)
                          + json.dumps(model.describe(), ensure_ascii=False))


class Models(unittest.TestCase):
    def test_a_model_answers_as_the_one_call_does(self):
        with Model(LIFT) as model:
            self.assertEqual(model.assess(DRIFTS), faultodds.assess(LIFT, DRIFTS))

    def test_a_pointer_of_a_model_leads_into_the_case(self):
        with Model(LIFT) as model, self.assertRaises(FaultoddsError) as caught:
            model.assess(case(seen("no/such", "fast")))
        self.assertEqual(caught.exception.code, "invalid_case")
        self.assertEqual(caught.exception.pointer, "/observations/0/observation")

    def test_describe_lists_what_can_be_observed(self):
        with Model(LIFT) as model:
            described = model.describe()
        self.assertEqual(described["format"], "faultodds-model/1")
        self.assertIn("drift/cylinder/retract", json.dumps(described))

    def test_a_closed_model_refuses_and_may_be_closed_again(self):
        model = Model(LIFT)
        model.close()
        model.close()
        with self.assertRaisesRegex(ValueError, "closed"):
            model.assess(DRIFTS)
        with self.assertRaisesRegex(ValueError, "closed"):
            model.describe()

    def test_a_refused_circuit_raises_from_the_constructor(self):
        with self.assertRaises(FaultoddsError) as caught:
            Model({"format": "faultodds-circuit/1"})
        self.assertIn(caught.exception.code, ("invalid_document", "invalid_circuit"))

    def test_a_memory_budget_that_is_too_small_is_announced(self):
        with self.assertRaises(FaultoddsError) as caught:
            Model(LIFT, memory_budget=1).assess(DRIFTS)
        self.assertEqual(caught.exception.code, "limit_exceeded")
        with self.assertRaises(ValueError):
            Model(LIFT, memory_budget=-1)

    def test_a_reading_is_taken_in_the_units_of_the_trade(self):
        reading = {"distance": "20 mm", "time": "5 min"}
        with Model(LIFT) as model:
            answer = model.assess(case({"observation": "drift/cylinder/retract", "reading": reading}))
        self.assertEqual(answer["complaint"], ["drift/cylinder/retract"])

    def test_a_reading_without_its_time_is_refused_by_field(self):
        entry = {"observation": "drift/cylinder/retract", "reading": {"distance": "20 mm"}}
        with Model(LIFT) as model, self.assertRaises(FaultoddsError) as caught:
            model.assess(case(entry))
        self.assertEqual(caught.exception.code, "invalid_case")
        self.assertEqual(caught.exception.pointer, "/observations/0/reading/time")

    def test_many_threads_share_one_model(self):
        with Model(LIFT) as model:
            expected = model.assess(DRIFTS)
            wrong = []

            def work():
                for _ in range(20):
                    if model.assess(DRIFTS) != expected:
                        wrong.append(1)

            threads = [threading.Thread(target=work) for _ in range(4)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        self.assertEqual(wrong, [])

    def test_closing_waits_for_calls_of_other_threads(self):
        model = Model(LIFT)
        outcomes = []

        def work():
            for _ in range(50):
                try:
                    outcomes.append(model.assess(DRIFTS)["format"])
                except ValueError:
                    return

        threads = [threading.Thread(target=work) for _ in range(3)]
        for thread in threads:
            thread.start()
        model.close()
        for thread in threads:
            thread.join()
        self.assertLessEqual(set(outcomes), {"faultodds-assessment/1"})


class Cases(unittest.TestCase):
    def setUp(self):
        self.model = Model(LIFT)
        self.addCleanup(self.model.close)

    def test_a_model_names_its_modes_observations_and_outcomes(self):
        self.assertIn("cap_relief.seat_leak", self.model.modes())
        self.assertIn("static/section.a", self.model.observations())
        self.assertEqual(self.model.outcomes("drift/cylinder/retract"), ["none", "slow", "fast"])
        with self.assertRaises(FaultoddsError) as caught:
            self.model.outcomes("drift/cylinder/sideways")
        self.assertEqual(caught.exception.code, "invalid_argument")

    def test_a_case_outlives_its_model(self):
        case = self.model.open_case()
        self.model.close()
        with case:
            case.observe("drift/cylinder/retract", "fast")
            case.assess()
            self.assertLess(case.log_evidence(), 0)
            self.assertEqual(case.error_bound(), 0)

    def test_a_closed_case_refuses_and_may_be_closed_again(self):
        case = self.model.open_case()
        case.close()
        case.close()
        with self.assertRaisesRegex(ValueError, "closed"):
            case.assess()

    def test_results_are_refused_until_the_case_is_assessed(self):
        with self.model.open_case() as case:
            with self.assertRaises(FaultoddsError) as caught:
                case.posteriors()
            self.assertEqual(caught.exception.code, "invalid_argument")
            case.assess()
            case.observe("drift/cylinder/retract", "fast")
            with self.assertRaises(FaultoddsError):
                case.answer()

    def test_a_likelihood_has_three_numbers(self):
        with self.model.open_case() as case, self.assertRaisesRegex(ValueError, "expected 3"):
            case.observe_likelihood("drift/cylinder/retract", [1, 0])

    def test_threads_that_share_a_case_take_turns(self):
        with self.model.open_case() as case:
            case.observe("drift/cylinder/retract", "fast")
            case.assess()
            expected, wrong = case.posteriors(), []

            def work():
                for _ in range(200):
                    case.assess()
                    if case.posteriors() != expected:
                        wrong.append(1)

            threads = [threading.Thread(target=work) for _ in range(4)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        self.assertEqual(wrong, [])


def grid(side):
    """A network (BIF) of which even the size of its tables takes long to find out."""
    text = []
    for i in range(side * side):
        parents = [f"v{i - 1}"] * (i % side > 0) + [f"v{i - side}"] * (i >= side)
        given = " | " + ", ".join(parents) if parents else ""
        table = "default 0.3 0.7;" if parents else "table 0.4 0.6;"
        text.append(f"variable v{i} {{ type discrete [ 2 ] {{ x, y }}; }}\nprobability ( v{i}{given} ) {{ {table} }}\n")
    return "".join(text)


class Cancelling(unittest.TestCase):
    def test_a_spent_cancel_ends_every_call_it_is_given_to(self):
        model = Model(LIFT)
        case = {"format": "faultodds-case/1", "detail": "full", "circuit": LIFT["id"], "observations": []}
        opened = model.open_case()
        network = faultodds.Network(grid(2))
        orders = "work_order,closed,component,finding\n"
        with faultodds.Cancel() as cancel:
            cancel.now()
            for call in (
                lambda: faultodds.assess(LIFT, case, cancel=cancel),
                lambda: Model(LIFT, cancel=cancel),
                lambda: model.assess(case, cancel=cancel),
                lambda: model.note(case, cancel=cancel),
                lambda: model.plan(case, cancel=cancel),
                lambda: opened.assess(cancel=cancel),
                lambda: faultodds.assess_cases([opened], cancel=cancel),
                lambda: faultodds.Network(grid(2), cancel=cancel),
                lambda: network.query(cancel=cancel),
                lambda: faultodds.learn_priors(orders, source="depot", cancel=cancel),
                lambda: faultodds.backtest_priors(LIFT, orders, cancel=cancel),
            ):
                with self.assertRaises(FaultoddsError) as raised:
                    call()
                self.assertEqual(raised.exception.code, "cancelled")
            cancel.reset()
            cancel.after(3600)
            opened.assess(cancel=cancel)
            self.assertEqual(
                opened.answer(cancel=cancel)["log_evidence"],
                model.assess(case, cancel=cancel)["log_evidence"],
            )

    def test_time_that_is_over_ends_a_call(self):
        with self.assertRaises(FaultoddsError) as raised:
            Model(LIFT, cancel=faultodds.Cancel(seconds=0))
        self.assertEqual(raised.exception.message, "the call's time is over")

    def test_a_closed_cancel_and_a_negative_time_are_refused(self):
        cancel = faultodds.Cancel()
        with self.assertRaises(ValueError):
            cancel.after(-1)
        cancel.close()
        cancel.close()
        for call in (lambda: Model(LIFT, cancel=cancel), cancel.now, cancel.reset, lambda: cancel.after(1)):
            with self.assertRaisesRegex(ValueError, "the Cancel is closed"):
                call()

    def test_closing_it_ends_the_calls_that_have_it_and_waits_for_them(self):
        cancel, text, told = faultodds.Cancel(), grid(25), []

        def load():
            try:
                faultodds.Network(text, memory_budget=2**40, cancel=cancel)
            except FaultoddsError as error:
                told.append(error.message)

        thread = threading.Thread(target=load)
        thread.start()
        while not cancel._users:
            time.sleep(0.01)
        cancel.close()
        thread.join()
        self.assertEqual(told, ["the call was cancelled"])

    def test_a_callback_may_end_its_call_but_not_close_what_the_call_has(self):
        cancel = faultodds.Cancel()
        rows = "work_order,closed,component,finding\n" + "1,2024-03-05,pump,haunted\n"
        with self.assertRaisesRegex(ValueError, "a call of this thread has the Cancel"):
            faultodds.learn_priors(rows, source="depot", reject=lambda row: cancel.close(), cancel=cancel)
        cancel.close()

    def test_a_limit_of_the_search_is_kept(self):
        with self.assertRaises(FaultoddsError) as raised:
            Model(LIFT, search_steps=1)
        self.assertEqual(raised.exception.code, "limit_exceeded")


def resident():
    """Bytes of memory this process has now."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()


@unittest.skipIf("LD_PRELOAD" in os.environ, "a sanitizer keeps freed memory for a while")
class Lifetime(unittest.TestCase):
    def test_a_hundred_thousand_calls_leave_nothing_behind(self):
        good = json.dumps(
            {"format": "faultodds-case/1", "detail": "full", "advice": False, "observations": [seen("static/ram.cap", "held")]}
        )
        with Model(RAM) as model:

            def five_calls():
                model.assess(good)
                try:
                    model.assess("{}")
                except FaultoddsError:
                    pass
                with model.open_case() as case:
                    case.observe("static/ram.cap", "bled_down")
                    case.assess()
                    case.posteriors()

            for _ in range(1000):
                five_calls()
            before = resident()
            for _ in range(20000):
                five_calls()
            self.assertLess(resident() - before, 2 * 1024 * 1024)

    def test_models_are_freed_with_and_without_close(self):
        def two_models():
            Model(LIFT).close()
            model = Model(LIFT)
            model.open_case()  # neither is closed

        for _ in range(50):
            two_models()
        before = resident()
        for _ in range(500):
            two_models()
        self.assertLess(resident() - before, 4 * 1024 * 1024)


class Loading(unittest.TestCase):
    def test_a_library_that_is_not_there_is_named(self):
        code = "import faultodds\ntry:\n  faultodds.library_version()\nexcept ImportError as e:\n  print(e)"
        env = {**os.environ, "FAULTODDS_LIBRARY": "/nowhere/libfaultodds.so.2"}
        done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True)
        self.assertIn("/nowhere/libfaultodds.so.2", done.stdout)
        self.assertIn("FAULTODDS_LIBRARY", done.stdout)

    def test_the_library_tells_its_version(self):
        self.assertEqual(faultodds.library_version(), os.environ["FAULTODDS_VERSION"])


class BadDocuments(unittest.TestCase):
    def test_the_documents_are_good_before_they_are_spoilt(self):
        good = good_documents()
        answer = faultodds.assess(good["circuit"], good["case"], good["priors"])
        self.assertEqual(answer["format"], "faultodds-assessment/1")

    def test_each_is_refused_with_its_code_its_place_and_its_words(self):
        replayed = 0
        for entry in bad_inputs():
            with self.subTest(entry.name):
                texts = entry.documents
                with self.assertRaises(FaultoddsError) as caught:
                    faultodds.assess(texts["circuit"], texts["case"], texts["priors"])
                self.assertEqual(caught.exception.code, entry.code)
                if entry.pointer is not None:
                    self.assertEqual(caught.exception.pointer, entry.pointer)
                for words in entry.message:
                    self.assertIn(words, caught.exception.message)
            replayed += 1
        self.assertGreater(replayed, 50)


if __name__ == "__main__":
    unittest.main()
