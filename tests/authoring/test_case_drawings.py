"""What the drawing of a case promises: it fits a phone and a page, nothing lies on anything, and it shows what the
answer says. Environment: FAULTODDS_PROJECT."""

import json
import os
import pathlib
import re
import unittest

import drawing
from assemblies import case as loader_case
from assemblies import with_assemblies
from families import correct_circuits

import faultodds

PROJECT = pathlib.Path(os.environ["FAULTODDS_PROJECT"])
PHONE, PAGE = 360, 700


def load(path):
    return json.loads((PROJECT / path).read_text(encoding="utf-8"))


TRUCK, PRESS = load("examples/refuse_truck/circuit.json"), load("examples/veneer_press/circuit.json")


def size(svg):
    return tuple(float(one) for one in re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())


def complaints(model):
    """A case for each symptom that can be complained of, with its mildest abnormal outcome."""
    for one in model.describe()["observations"]:
        if one["symptom"] and not one.get("written"):
            yield {"format": "faultodds-case/1",
                   "observations": [{"observation": one["observation"], "outcome": one["outcomes"][1]}]}


class CaseDrawings(unittest.TestCase):
    def drawn(self):
        """(circuit, case, answer, drawings by width) of the demo machines and one of each family."""
        for circuit in (TRUCK, PRESS, with_assemblies(), *correct_circuits()[::8]):
            with faultodds.Model(circuit) as model:
                for case in list(complaints(model))[:4]:
                    answer = model.assess({**case, "detail": "full"})
                    yield circuit, case, answer, {width: model.draw(case, width=width) for width in (PHONE, PAGE)}

    def test_it_fits_and_nothing_lies_on_anything_and_what_is_suspected_is_shaded(self):
        drawn = wide = 0
        for circuit, case, answer, by_width in self.drawn():
            suspects = {}
            for share in answer["causes"][0]["shares"]:
                for component in share["components"]:
                    suspects[component] = suspects.get(component, 0) + share["probability"]
            tanks = {one["id"] for one in circuit["components"] if one["type"] == "tank"}
            for width, svg in by_width.items():
                name = (circuit["id"], case["observations"][0]["observation"], width)
                with self.subTest(name):
                    self.assertEqual(drawing.overlaps(drawing.read(svg)), [])
                    for component, probability in suspects.items():
                        if probability >= 0.02 and component not in tanks:
                            self.assertIn(f'class="suspect" data-part="{component}"', svg)
                            self.assertIn(f">{round(100 * probability)} %<", svg)
                    drawn += 1
                    wide += size(svg)[0] > width
        self.assertGreater(drawn, 40)
        # A part whose symbol is wide, between lines that pass it, may need more than a phone has.
        self.assertEqual(wide, 0)

    def test_the_leak_path_of_the_first_suspect_and_the_port_of_the_next_test_are_shown(self):
        case = load("examples/refuse_truck/arm_sinks_2_valve_port.json")
        with faultodds.Model(TRUCK) as model:
            answer, svg = model.assess(case), model.draw(case, width=PHONE)
        for component in answer["causes"][0]["shares"][0]["components"]:
            self.assertIn(f'class="leak" data-through="{component}"', svg)
        port = answer["tests"][0]["observation"].split("/")[1]
        self.assertIn(f'class="mark" data-port="{port}"', svg)

    def test_only_what_the_case_concerns_is_drawn(self):
        with faultodds.Model(TRUCK) as model:
            svg = model.draw(load("examples/refuse_truck/arm_sinks_1_complaint.json"), width=PAGE)
        parts = set(re.findall(r'<g data-part="([^"]+)"', svg))
        self.assertIn("arm_cylinder", parts)
        self.assertLess(len(parts), len(TRUCK["components"]) / 2)
        self.assertFalse([one for one in parts if "tailgate" in one])

    def test_parts_are_called_as_the_language_does(self):
        circuit = with_assemblies()
        circuit["titles"] = {"de": {"bank": "Ventilblock", "axis_1": "Achse 1"}}
        with faultodds.Model(circuit) as model:
            svg = model.draw(loader_case(), width=PAGE, language="de-AT")
            self.assertIn("Achse 1", svg)
            self.assertNotIn("Achse", model.draw(loader_case(), width=PAGE))

    def test_there_is_none_where_nothing_is_complained_of(self):
        with faultodds.Model(TRUCK) as model:
            self.assertEqual(model.draw({"format": "faultodds-case/1"}, width=PHONE), "")

    def test_the_printed_card_has_it_on_a_page_behind_the_cautions(self):
        case = load("examples/refuse_truck/arm_sinks_1_complaint.json")
        with faultodds.Model(TRUCK) as model:
            card = model.plan_card(case)
        figure = card.index('<figure style="break-before:page')
        self.assertLess(card.index("Lock out and tag out"), figure)
        width, height = size(card[figure:])
        self.assertLessEqual(width, PAGE)
        self.assertLessEqual(height, 1000)  # of 1,062 px that a page of A4 has within its margins


if __name__ == "__main__":
    unittest.main()
