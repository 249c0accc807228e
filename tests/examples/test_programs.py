"""The example programs do what they say, run as anyone would run them."""

import json
import os
import re
import shutil
import subprocess
import sys
import unittest

from adapter import EXAMPLES, SOURCE, running_adapter

TRUCK = EXAMPLES / "refuse_truck"
CIRCUIT = TRUCK / "circuit.json"
CASES = sorted(TRUCK.glob("arm_sinks_*.json"))


def run(*command, **more):
    return subprocess.run([str(part) for part in command], capture_output=True, text=True, **more)


class WorkOrder(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.done = run(os.environ["FAULTODDS_WORK_ORDER"], CIRCUIT, *CASES)
        cls.pages = cls.done.stdout.split("WORK ORDER ")[1:]

    def test_prints_a_page_for_each_case(self):
        self.assertEqual(self.done.returncode, 0, self.done.stderr)
        self.assertEqual(len(self.pages), len(CASES))

    def test_fits_in_eighty_columns(self):
        self.assertEqual([line for line in self.done.stdout.splitlines() if len(line) > 80], [])

    def test_shows_the_causes_before_the_faults(self):
        for page in self.pages:
            self.assertLess(page.index("PROBABLE CAUSE"), page.index("SUSPECTS"))
            self.assertIn("Everything else together", page)

    def test_the_readme_shows_what_it_prints_of_the_first_complaint(self):
        shown = re.search(r"```\n(SEEN SO FAR\n.*?)```", (SOURCE / "README.md").read_text(encoding="utf-8"), re.DOTALL)
        self.assertIn(shown.group(1), next(page for page in self.pages if "SEEN SO FAR" in page))

    def test_shows_the_cautions_before_the_first_test(self):
        for page in self.pages:
            first_test = page.index("    Time   ")
            for caution in ("Lock out and tag out", "verify zero pressure", "goes through skin"):
                self.assertLess(page.index(caution), first_test)

    def test_every_test_names_its_cautions_minutes_and_reason(self):
        for page in self.pages:
            count = page.count("\n    Why    ")
            self.assertGreater(count, 0)
            general = re.findall(r"\n    Heed   cautions 1-(\d+)", page)
            self.assertEqual(len(general), count)
            self.assertTrue(all(int(last) >= 6 for last in general))
            self.assertEqual(page.count("\n    Time   "), count)

    def test_ends_with_the_repair_and_what_to_see_again(self):
        self.assertNotIn("REPAIR", self.pages[0])
        last = " ".join(self.pages[-1].split())
        self.assertIn("REPAIR Arm lift port relief (arm_lift_relief): seat leaks", last)
        self.assertIn("Then see again: Arm sinks with the lever released; cautions 1-6", last)

    def test_repeats_readings_in_the_units_they_were_taken_in(self):
        self.assertIn("55 mL/min at 1750 psi", " ".join(self.pages[1].split()))

    def test_refuses_a_bad_case_and_names_the_place(self):
        done = run(os.environ["FAULTODDS_WORK_ORDER"], CIRCUIT, CIRCUIT)
        self.assertEqual(done.returncode, 1)
        self.assertIn("unknown key `components`", done.stderr)
        self.assertIn("(at /components)", done.stderr)


class Embedding(unittest.TestCase):
    def test_c_prints_the_assessment(self):
        done = run(os.environ["FAULTODDS_EMBED"], CIRCUIT, CASES[0])
        self.assertEqual(done.returncode, 0)
        self.assertEqual(json.loads(done.stdout)["format"], "faultodds-assessment/1")

    def test_c_prints_the_error_object_of_a_bad_case(self):
        done = run(os.environ["FAULTODDS_EMBED"], CIRCUIT, CIRCUIT)
        self.assertEqual(done.returncode, 1)
        self.assertEqual(set(json.loads(done.stdout)), {"code", "message", "pointer"})

    def test_cxx_prints_a_note_per_case_cautions_first(self):
        done = run(os.environ["FAULTODDS_EMBED_CPP"], CIRCUIT, *CASES)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertEqual(done.stdout.count("\nCautions\n"), len(CASES))
        self.assertLess(done.stdout.index("Lock out and tag out"), done.stdout.index("\nNext test\n"))

    def test_cxx_says_what_is_wrong_with_a_bad_case(self):
        done = run(os.environ["FAULTODDS_EMBED_CPP"], CIRCUIT, CIRCUIT)
        self.assertEqual(done.returncode, 1)
        self.assertIn("/components: ", done.stderr)

    def test_python_prints_causes_and_the_best_test_with_its_cautions(self):
        environment = dict(os.environ, PYTHONPATH=str(SOURCE / "bindings" / "python"))
        if "FAULTODDS_PRELOAD" in os.environ:
            environment["LD_PRELOAD"] = os.environ["FAULTODDS_PRELOAD"]
            environment["ASAN_OPTIONS"] = "detect_leaks=0"
        done = run(sys.executable, EXAMPLES / "embed.py", CIRCUIT, CASES[1], env=environment)
        self.assertEqual(done.returncode, 0, done.stderr)
        lines = done.stdout.splitlines()
        self.assertTrue(lines[0].endswith("  arm_lift_relief"), lines[0])
        self.assertIn("something else", lines[3])
        self.assertIn("Lock out and tag out", lines[4])
        self.assertTrue(lines[-2].endswith(" min"))


@unittest.skipUnless(shutil.which("curl"), "curl is not installed")
class Http(unittest.TestCase):
    def test_curl_gets_the_assessment_the_library_gives(self):
        with running_adapter() as url:
            done = run("sh", EXAMPLES / "http.sh", url, CASES[0])
        self.assertEqual(done.returncode, 0, done.stderr)
        direct = run(os.environ["FAULTODDS_EMBED"], CIRCUIT, CASES[0])
        self.assertEqual(json.loads(done.stdout), json.loads(direct.stdout))

    def test_curl_fails_on_a_bad_case_and_shows_the_problem(self):
        with running_adapter() as url:
            done = run("sh", EXAMPLES / "http.sh", url, CIRCUIT)
        self.assertNotEqual(done.returncode, 0)
        self.assertTrue(json.loads(done.stdout)["pointer"].startswith("/case"))


if __name__ == "__main__":
    unittest.main()
