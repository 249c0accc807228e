"""Learning and assessing on Spark and Dask (pyspark, pyarrow, dask[dataframe]) through the Python binding: the same as in
one process, bit for bit. Where an engine is not installed its tests are skipped. The records are invented."""

import json
import os
import random
import sys
import unittest
from pathlib import Path

import faultodds

try:
    import pandas
    from faultodds import distributed
except ImportError:
    pandas = None
try:
    import pyspark
except ImportError:
    pyspark = None
try:
    import dask.dataframe
except ImportError:
    dask = None

LIFT = json.loads((Path(__file__).resolve().parents[1] / "lift.json").read_text(encoding="utf-8"))


def orders(count, seed=1):
    """Orders of some machines as dictionaries; two rows are none that can be used, and one is said twice."""
    draw = random.Random(seed)
    rows = []
    for number in range(count):
        kind, modes = draw.choice([("port_relief", ["seat_leak"]), ("single_rod_cylinder", ["piston_seal_leak", "rod_seal_leak"])])
        found = draw.choice(["none", *modes, "UNK"])
        rows.append({
            "work_order": f"W-{number}", "line": 1, "closed": f"2024-{draw.randint(1, 12):02}-{draw.randint(1, 28):02}",
            "asset": f"L{number % 17}", "asset_class": draw.choice(["loader", "lift"]), "component": kind, "finding": found,
            "grade": "" if found == "none" else draw.choice(["worn", "failed"]),
            "hours": draw.choice([None, round(draw.expovariate(1 / 3000), 1)]),
        })
    rows.append(dict(rows[5]))
    rows.append(dict(rows[0], work_order="W-x", closed="2024-02-30"))
    rows.append(dict(rows[0], work_order="W-y", component="warp_drive"))
    return rows


def lift_orders(count, seed=1):
    """Orders of a lift that came in because its cylinder drifts. Many are alike, some are the same failure again within two
    weeks, one says a test twice, and one is no order that can be used."""
    draw = random.Random(seed)
    with faultodds.Model(LIFT) as model:
        parts = [(part["id"], part["type"]) for part in model.describe()["components"]]
    rows = []
    for number in range(count):
        name, kind = draw.choice(parts)
        rows.append({
            "work_order": f"W-{number}", "line": 1, "closed": f"2024-0{1 + number * 9 // count}-{draw.randint(1, 5):02}",
            "asset": f"L{draw.randint(1, 9)}", "site": draw.choice(["north", "south"]), "component": kind, "position": name,
            "finding": draw.choice(["none", "none", "UNK"]), "complaint": "drift/cylinder/retract=" + draw.choice(["slow", "fast"]),
            "tests": draw.choice(["", "drift/cylinder/extend=none; drift/cylinder/extend=none"]),
        })
    rows.append(dict(rows[0], work_order="W-y", component="warp_drive"))
    return rows


EXPOSURE = ("component,asset_class,in_service,hours,age\nport_relief,loader,40,90000,2250\n"
            "single_rod_cylinder,lift,25,50000,2000\n")


def frame(rows):
    return pandas.DataFrame(rows)


class Engine:
    """What holds on either. More would hold on Spark too, but its workers are long in starting."""

    partitions = (1, 2, 7)

    def learned(self, rows, **more):
        raise NotImplementedError

    def assert_as_one_process(self, rows, **more):
        pack, summary = self.learned(rows, **more)
        alone = faultodds.learn_priors(frame(rows), source="depot", **more)
        self.assertEqual(json.dumps(pack), json.dumps(alone.pack))
        for name in ("rows", "used", "rejected", "reasons"):
            self.assertEqual(summary["work_orders"][name], alone.summary["work_orders"][name])

    def test_the_pack_is_that_of_one_process_bit_for_bit_and_exposure_counts_once(self):
        self.assert_as_one_process(orders(400), title="Depot", exposure=EXPOSURE)

    def test_learning_through_the_circuit_is_that_of_one_process_bit_for_bit_however_many_partitions(self):
        rows = lift_orders(240)
        alone = faultodds.learn_priors(frame(rows), source="depot", circuit=LIFT, through_circuit=True)
        self.assertGreater(alone.summary["repeats"], 0)
        self.assertGreater(alone.summary["said_before"], 0)
        for partitions in self.partitions:
            pack, summary = self.learned(rows, circuit=LIFT, through_circuit=True, partitions=partitions)
            self.assertEqual(json.dumps(pack), json.dumps(alone.pack), partitions)
            self.assertEqual(summary["record_errors"], alone.summary["record_errors"])
            for name in ("repeats", "said_before", "not_understood", "not_looked_at"):
                self.assertEqual(summary[name], alone.summary[name], name)

    def test_a_fleet_is_assessed_as_case_by_case(self):
        def case(outcome):
            return {"format": "faultodds-case/1", "observations": [{"observation": "drift/cylinder/retract", "outcome": outcome}]}

        cases = [{"id": f"L{i}", "case": json.dumps(case("fast" if i % 2 else "slow"))} for i in range(8)]
        cases.append({"id": "odd", "case": json.dumps(case("purple"))})
        answers = {row["id"]: row for row in self.assessed(cases)}
        self.assertEqual(len(answers), 9)
        with faultodds.Model(LIFT) as model:
            alone = model.assess(case("fast"))
        self.assertEqual(json.loads(answers["L1"]["assessment"]), alone)
        share = alone["causes"][0]["shares"][0]
        self.assertEqual(answers["L1"]["causes"], " ".join(share["components"]))
        self.assertAlmostEqual(answers["L1"]["probability"], share["probability"])
        self.assertEqual(answers["odd"]["code"], "invalid_case")
        self.assertIn("purple", answers["odd"]["message"])


@unittest.skipIf(pandas is None or pyspark is None, "pyspark, pandas and pyarrow are not installed")
class Spark(Engine, unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        import warnings

        from pyspark.sql import SparkSession

        warnings.simplefilter("ignore", FutureWarning)  # of pandas and pyspark on each other
        os.environ["PYSPARK_PYTHON"] = sys.executable
        os.environ["PYTHONPATH"] = os.pathsep.join(os.path.abspath(path) for path in sys.path)
        os.environ["SPARK_LOCAL_IP"] = "127.0.0.1"
        cls.session = (SparkSession.builder.master("local[2]").appName("faultodds")
                       .config("spark.ui.enabled", "false").config("spark.driver.bindAddress", "127.0.0.1")
                       .config("spark.ui.showConsoleProgress", "false").getOrCreate())
        cls.session.sparkContext.setLogLevel("ERROR")

    @classmethod
    def tearDownClass(cls):
        cls.session.stop()

    def dataframe(self, rows):
        return self.session.createDataFrame(frame(rows).astype(object).where(frame(rows).notna(), None))

    def learned(self, rows, **more):
        return distributed.learn(self.dataframe(rows), source="depot", **{"partitions": 2, **more})

    def assessed(self, cases):
        answered = distributed.assess(self.session.createDataFrame(pandas.DataFrame(cases)), LIFT)
        return [row.asDict() for row in answered.collect()]


@unittest.skipIf(pandas is None or dask is None, "dask[dataframe] is not installed")
class Dask(Engine, unittest.TestCase):
    def setUp(self):
        import dask

        setting = dask.config.set(scheduler="threads", num_workers=2)
        setting.__enter__()
        self.addCleanup(setting.__exit__, None, None, None)

    def learned(self, rows, **more):
        return distributed.learn(dask.dataframe.from_pandas(frame(rows), npartitions=4), source="depot", **more)

    def assessed(self, cases):
        table = dask.dataframe.from_pandas(pandas.DataFrame(cases), npartitions=3)
        return distributed.assess(table, LIFT).compute().to_dict("records")

    def test_settings_a_mapping_and_a_judgement_reach_the_workers(self):
        renamed = [{"Auftrag" if name == "work_order" else name: value for name, value in row.items()}
                   for row in orders(120)]
        mapping = {"format": "faultodds-records/1", "columns": {"work_order": "Auftrag"}}
        judgement = {"format": "faultodds-priors/1", "id": "own", "modes": [
            {"type": "port_relief", "mode": "seat_leak", "grades": [0.9, 0.06, 0.04]}]}
        self.assert_as_one_process(renamed, mapping=mapping, judgement=judgement, pool_classes=False, worth_jobs=7)

    def test_partitions_without_a_usable_row_are_no_mistake(self):
        rows = orders(40)[:1] + [dict(row, closed="2024-02-30") for row in orders(40)[1:40]]
        self.assert_as_one_process(rows)

    def test_no_usable_row_at_all_is_refused_with_what_became_of_them(self):
        rows = [dict(row, closed="2024-02-30") for row in orders(30)]
        with self.assertRaisesRegex(ValueError, "no row of the orders was used, of 33.*impossible_date"):
            self.learned(rows)

    def test_a_judgement_with_records_is_refused(self):
        pack = faultodds.learn_priors(frame(orders(30)), source="before").pack
        with self.assertRaisesRegex(ValueError, "judgement holds records already"):
            self.learned(orders(30), judgement=pack)


if __name__ == "__main__":
    unittest.main()
