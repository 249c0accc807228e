"""Which failure modes raise which report, as the engine has it and as reported_oracle.py derives it otherwise: report by report, set
by set, on the eight machines and on random circuits with every type of the catalogue. Environment: FAULTODDS_PROJECT."""

import json
import os
import pathlib
import unittest

import random_circuits
import reported_oracle
from test_machines import MACHINES, circuit

import faultodds

PROJECT = pathlib.Path(os.environ["FAULTODDS_PROJECT"])
CATALOGUE = json.loads((PROJECT / "core/circuit/catalogue.json").read_text(encoding="utf-8"))["types"]
FAMILIES = ("no_pressure", "hot", "noisy", "jerky", "moves", "dip", "uneven")
OF_EACH_TYPE, MOST_DRAWS = 4, 400


def told(model):
    """Report -> its sets of one and two modes, as the engine has them."""
    found = {}
    for one in model.describe()["observations"]:
        if one["observation"].split("/")[0] in FAMILIES and not one.get("written"):
            sets = {frozenset(each["modes"]) for each in one["sets"]}
            found[one["observation"]] = {each for each in sets if len(each) <= 2}
    return {report: sets for report, sets in found.items() if sets}


class Reported(unittest.TestCase):
    def compare(self, document, model):
        expected, found = reported_oracle.reports(document, CATALOGUE), told(model)
        for report in sorted(set(expected) | set(found)):
            with self.subTest(document["id"], report=report):
                self.assertEqual({tuple(sorted(one)) for one in found.get(report, ())},
                                 {tuple(sorted(one)) for one in expected.get(report, ())})
        return {report.split("/")[0]: len(sets) for report, sets in expected.items()}

    def test_on_the_eight_machines(self):
        families = set()
        for machine in MACHINES:
            document = json.loads(circuit(machine).read_text(encoding="utf-8"))
            with faultodds.Model(document) as model:
                families |= set(self.compare(document, model))
        self.assertEqual(families, set(FAMILIES))

    def test_on_random_circuits_with_every_type_of_the_catalogue(self):
        families = {}
        for number, wanted in enumerate(CATALOGUE):
            loaded = 0
            for draw in range(MOST_DRAWS):
                document = random_circuits.drawn(1000 * number + draw, CATALOGUE, wanted)
                try:
                    model = faultodds.Model(document)
                except faultodds.FaultoddsError:
                    continue  # a driven side out of reach, and the like
                with model:
                    for family, sets in self.compare(document, model).items():
                        families[family] = families.get(family, 0) + sets
                loaded += 1
                if loaded == OF_EACH_TYPE:
                    break
            self.assertEqual(loaded, OF_EACH_TYPE, wanted)
        for family in FAMILIES:
            self.assertGreater(families.get(family, 0), 20, families)


if __name__ == "__main__":
    unittest.main()
