"""Ways of working played on a circuit's own machines."""

import json
import os
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import faultodds
from faultodds.policies import policies_page

EXAMPLES = Path(__file__).resolve().parents[3] / "examples"

# A part that leaks now and then and one that hardly does, behind one symptom, with a test of either.
CIRCUIT = {
    "format": "faultodds-circuit/1",
    "id": "two_parts",
    "title": "Two <parts>",
    "components": [
        {"id": "often", "type": "port_relief", "priors": {"seat_leak": [0.7, 0.2, 0.1]}, "part_cost": 400, "minutes": 60},
        {"id": "seldom", "type": "port_relief", "priors": {"seat_leak": [0.95, 0.03, 0.02]}, "part_cost": 50, "minutes": 30},
    ],
    "connections": [{"from": f"{c}.{p}", "to": "tank"} for c in ("often", "seldom") for p in ("in", "out")],
    "effects": "grades",
    "observations": [
        {"id": "sinks", "title": "sinks", "kind": "symptom", "outcomes": ["none", "slow", "fast"],
         "matrix": [[0.98, 0.015, 0.005], [0.1, 0.8, 0.1], [0.05, 0.15, 0.8]],
         "shows": [{"modes": ["often.seat_leak"]}, {"modes": ["seldom.seat_leak"]}]},
        {"id": "look_often", "title": "look at often", "kind": "test", "outcomes": ["dry", "wet", "pours"],
         "matrix": [[0.98, 0.015, 0.005], [0.02, 0.9, 0.08], [0.01, 0.09, 0.9]], "minutes": 6,
         "shows": [{"modes": ["often.seat_leak"]}]},
        {"id": "look_seldom", "title": "look at seldom", "kind": "test", "outcomes": ["dry", "wet", "pours"],
         "matrix": [[0.98, 0.015, 0.005], [0.02, 0.9, 0.08], [0.01, 0.09, 0.9]], "minutes": 6,
         "shows": [{"modes": ["seldom.seat_leak"]}]},
    ],
}
CHART = {
    "format": "faultodds-flow-chart/1",
    "start": "look",
    "steps": {
        "look": {"test": "look_often", "then": {"dry": "other", "wet": "this", "pours": "this"}},
        "this": {"replace": ["often"], "again": "other"},
        "other": {"replace": ["seldom"]},
    },
}


def compared(**more):
    return faultodds.compare_policies(CIRCUIT, **{"machines": 150, "seed": 5, "flow_chart": CHART, **more})


class Policies(unittest.TestCase):
    def test_every_policy_is_played_on_the_same_machines_and_the_same_seed_says_the_same(self):
        report = compared()
        self.assertEqual(json.dumps(report), json.dumps(compared()))
        self.assertNotEqual(report["policies"], compared(seed=6)["policies"])
        self.assertEqual(["advice", "most likely part first", "cheapest part first", "flow chart"],
                         [row["policy"] for row in report["policies"]])
        for row in report["policies"]:
            self.assertEqual(150, len(row["costs"]))
            self.assertAlmostEqual(sum(row["costs"]) / 150, row["cost"]["mean"])
            self.assertLessEqual(row["cost"]["low"], row["cost"]["mean"])
            self.assertLessEqual(row["cost"]["mean"], row["cost"]["high"])
            self.assertLessEqual(row["wrong"]["mean"], row["parts"]["mean"])

    def test_what_each_policy_does_shows_in_its_figures(self):
        by = {row["policy"]: row for row in compared()["policies"]}
        likeliest, cheapest, chart = by["most likely part first"], by["cheapest part first"], by["flow chart"]
        self.assertEqual(0, likeliest["minutes"]["mean"])
        self.assertEqual(0, likeliest["tests"]["mean"])
        self.assertEqual(6, chart["minutes"]["mean"])
        self.assertEqual(1, chart["tests"]["mean"])
        # The cheap part is hardly ever the one; looking first spares it.
        self.assertGreater(cheapest["wrong"]["mean"], 2 * likeliest["wrong"]["mean"])
        self.assertGreater(chart["cured_first"], cheapest["cured_first"])
        self.assertEqual(0, by["advice"]["dearer_than_advice"]["mean"])
        # Where nothing but these two can be the cause, the advice costs no more than any of the others.
        for row in (likeliest, cheapest, chart):
            self.assertGreater(row["dearer_than_advice"]["high"], 0)

    def test_the_machines_are_those_of_the_network(self):
        """Of machines that sink, the shares of causes are the engine's for the mean of both complaints."""
        report = compared(machines=1500, flow_chart=None)
        first = {row["policy"]: row for row in report["policies"]}["most likely part first"]
        with faultodds.Model(CIRCUIT) as model:
            answers = {o: model.assess({"format": "faultodds-case/1", "detail": "full", "advice": False,
                                        "observations": [{"observation": "sinks", "outcome": o}]})
                       for o in ("slow", "fast")}
            prior = next(t for t in model.assess({"format": "faultodds-case/1", "detail": "full", "observations": []})["tests"]
                         if t["observation"] == "sinks")["probability"]
        cured = total = 0
        for outcome, answer in answers.items():
            causes = answer["causes"][0]
            often = next(s["probability"] for s in causes["shares"] if s["components"] == ["often"])
            # The first part cures where it alone leaks, or nothing does.
            faults = {f["mode"]: 1 - f["grades"][0] for f in answer["faults"]}
            cured += prior[outcome] * (1 - faults["seldom.seat_leak"])
            total += prior[outcome]
            self.assertGreater(often, 0.5)
        self.assertAlmostEqual(0.99 * cured / total, first["cured_first"], delta=0.04)

    def test_a_flow_chart_that_names_what_is_not_there_is_refused_with_its_place(self):
        def refused(change, pointer):
            chart = json.loads(json.dumps(CHART))
            change(chart)
            with self.assertRaises(faultodds.FaultoddsError) as caught:
                compared(flow_chart=chart)
            self.assertEqual(pointer, caught.exception.pointer)
            self.assertIn("expected", caught.exception.message)
        refused(lambda c: c.update(format="chart"), "/format")
        refused(lambda c: c.update(start="begin"), "/start")
        refused(lambda c: c["steps"]["look"].update(test="look"), "/steps/look/test")
        refused(lambda c: c["steps"]["look"]["then"].update(damp="this"), "/steps/look/then/damp")
        refused(lambda c: c["steps"]["look"]["then"].update(wet="that"), "/steps/look/then/wet")
        refused(lambda c: c["steps"]["other"].update(replace=["pump"]), "/steps/other/replace/0")
        refused(lambda c: c["steps"].update(stop={}), "/steps/stop")

    def test_other_arguments_are_checked(self):
        for more in ({"machines": 1}, {"complaint": "look_often"}):
            with self.assertRaises(faultodds.FaultoddsError) as caught:
                compared(**more)
            self.assertIn("expected", caught.exception.message)

    def test_the_page_is_whole_and_says_the_cautions_first(self):
        report = compared(machines=20)
        page = policies_page(report)
        self.assertNotIn("<parts>", page)
        self.assertIn("Two &lt;parts&gt;", page)
        self.assertEqual(4, page.count("<svg"))
        self.assertNotIn("http", page.replace("http-equiv", ""))
        self.assertLess(page.index("Cautions"), page.index("What they cost"))
        for row in report["policies"]:
            self.assertIn(row["policy"], page)

    def test_the_command_writes_both_and_no_input_over(self):
        with tempfile.TemporaryDirectory() as folder:
            circuit, chart, page, data = (os.path.join(folder, n) for n in ("c.json", "f.json", "p.html", "d.json"))
            for path, document in ((circuit, CIRCUIT), (chart, CHART)):
                Path(path).write_text(json.dumps(document), encoding="utf-8")
            run = [sys.executable, "-m", "faultodds.policies", circuit, "--machines", "20", "--seed", "5",
                   "--flow-chart", chart]
            subprocess.run([*run, "--html", page, "--json", data], check=True)
            with open(data, encoding="utf-8") as file:
                self.assertEqual(compared(machines=20), json.load(file))
            self.assertIn("</html>", Path(page).read_text(encoding="utf-8"))
            done = subprocess.run([*run, "--json", circuit], capture_output=True, text=True)
            self.assertNotEqual(0, done.returncode)
            self.assertEqual(CIRCUIT, json.loads(Path(circuit).read_text(encoding="utf-8")))


if __name__ == "__main__":
    unittest.main()
