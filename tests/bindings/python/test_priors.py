"""Prior packs through the Python binding (FAULTODDS_LIBRARY). The records are invented."""

import json
import tempfile
import unittest
from pathlib import Path

import faultodds
from faultodds import FaultoddsError

LIFT = json.loads((Path(__file__).resolve().parents[1] / "lift.json").read_text(encoding="utf-8"))
HEADER = "work_order,opened,closed,asset_class,component,position,finding,grade,complaint,tests\n"


def order(number, finding="none", *, grade="", closed="2024-03-05", tests=""):
    return (f"W-{number},2024-03-01,{closed},loader,port_relief,cap_relief,{finding},{grade},"
            f"drift/cylinder/retract=fast,{tests}\n")


def seat_leak(pack):
    return [mode for mode in pack["modes"]
            if (mode["type"], mode["mode"], mode.get("asset_class")) ==
            ("port_relief", "seat_leak", "loader")][0]


class Learning(unittest.TestCase):
    RECORDS = HEADER + "".join(
        order(i, "seat_leak", grade="failed") if i % 3 == 0 else order(i) for i in range(30))

    def test_what_is_learned_is_a_pack_that_a_model_takes(self):
        pack, summary = faultodds.learn_priors(self.RECORDS, source="depot", title="Depot")
        self.assertEqual(summary["work_orders"]["used"], 30)
        self.assertEqual(summary["work_orders"]["reasons"], {})
        self.assertEqual(seat_leak(pack)["counts"], {"sound": 20, "worn": 0, "failed": 10})
        case = {"format": "faultodds-case/1", "detail": "full", "observations": []}
        with faultodds.Model(LIFT, pack, asset_class="loader") as model:
            fault, = (f for f in model.assess(case)["faults"] if f["mode"] == "cap_relief.seat_leak")
        self.assertAlmostEqual(1 - fault["grades"][0], 1 - seat_leak(pack)["grades"][0], places=9)

    def test_a_path_is_a_file_and_text_is_text(self):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "orders.csv"
            path.write_text(self.RECORDS, encoding="utf-8")
            self.assertEqual(faultodds.learn_priors(path, source="depot"),
                             faultodds.learn_priors(self.RECORDS.encode(), source="depot"))
            with self.assertRaises(FaultoddsError) as caught:
                faultodds.learn_priors(Path(folder) / "no.csv", source="depot")
        self.assertIn("no.csv", caught.exception.message)

    def test_rows_that_cannot_be_used_are_handed_over_with_their_reason(self):
        rows = []
        records = self.RECORDS + order(99, closed="2024-02-30") + order(1)
        _, summary = faultodds.learn_priors(records, source="depot", reject=rows.append)
        self.assertEqual(summary["work_orders"]["reasons"], {"duplicate": 1, "impossible_date": 1})
        self.assertEqual([row.split(",")[2] for row in rows], ["impossible_date", "duplicate"])

    def test_false_from_a_callback_cancels_and_an_exception_comes_through(self):
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.learn_priors(self.RECORDS, source="depot", progress=lambda rows: False)
        self.assertEqual(caught.exception.code, "cancelled")

        def refuse(row):
            raise KeyError(row)

        with self.assertRaises(KeyError):
            faultodds.learn_priors(HEADER + order(1, "haunted"), source="depot", reject=refuse)

    def test_a_file_without_a_row_that_can_be_used_is_refused(self):
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.learn_priors(HEADER + order(1, "haunted"), source="depot")
        self.assertEqual(caught.exception.code, "invalid_argument")
        self.assertIn("no row of `orders` was used", caught.exception.message)
        self.assertIn("unknown_finding 1", caught.exception.message)
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.learn_priors(self.RECORDS, source="depot", exposure="component,in_service\n")
        self.assertIn("no row of `exposure` was used", caught.exception.message)

    def test_what_a_row_says_twice_counts_once_and_the_summary_says_so(self):
        def learned(tests):
            rows = HEADER + "".join(order(i, tests=tests) for i in range(30))
            return faultodds.learn_priors(rows, source="depot", circuit=LIFT, through_circuit=True)

        once = learned("static/section.a=held")
        twice = learned("static/section.a=held; static/section.a=held")
        again = learned("static/section.a=held; static/section.a=held again")
        self.assertEqual(twice.pack, once.pack)
        self.assertNotEqual(again.pack, once.pack)
        self.assertEqual([one.summary["said_before"] for one in (once, twice, again)], [0, 30, 0])

    def test_the_audit_names_the_latest_orders_of_each_mode_and_counts_the_others(self):
        records = self.RECORDS + "".join(
            order(100 + i, "seat_leak", grade="worn", closed=f"2024-04-{i + 1:02}") for i in range(3))
        self.assertNotIn("audit", faultodds.learn_priors(records, source="depot").summary)
        _, summary = faultodds.learn_priors(records, source="depot", audit_orders=4)
        mode, = (m for m in summary["audit"]["modes"] if m["mode"] == "seat_leak")
        self.assertEqual((mode["found"], mode["one_of_several"], mode["sound"], mode["left_out"]), (13, 0, 20, 9))
        self.assertEqual([(o["work_order"], o["closed"], o["said"]) for o in mode["orders"]],
                         [("W-102", "2024-04-03", "worn"), ("W-101", "2024-04-02", "worn"),
                          ("W-100", "2024-04-01", "worn"), ("W-0", "2024-03-05", "failed")])
        self.assertEqual((mode["before"]["counts"], mode["after"]["counts"]), ([0, 0, 0], [20, 3, 10]))
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.learn_priors(records, source="depot", audit_orders=1001)
        self.assertIn("expected at most 1000", caught.exception.message)

    def test_the_audit_of_what_was_learned_through_a_circuit_names_the_orders_it_took(self):
        records = self.RECORDS + order(99, "seat_leak", tests="static/nowhere=held")  # which the circuit has not
        _, summary = faultodds.learn_priors(records, source="depot", circuit=LIFT, through_circuit=True, audit_orders=2)
        self.assertEqual(summary["not_understood"], 1)
        mode, = (m for m in summary["audit"]["modes"] if (m["type"], m["mode"]) == ("port_relief", "seat_leak"))
        self.assertEqual((mode["found"], mode["sound"], mode["left_out"]), (10, 20, 8))
        self.assertNotIn("asset_class", mode)
        # A third of the complaints, and judgement says more than half.
        self.assertLess(mode["after"]["not_sound"], mode["before"]["not_sound"])

    def test_from_a_closed_case_to_a_pack_that_the_next_is_assessed_with(self):
        def closed(model, number, found):
            the_case = {"format": "faultodds-case/1", "asset": {"id": f"L{number}", "class": "loader"},
                        "observations": [{"observation": "drift/cylinder/retract", "outcome": "fast"}]}
            closing = {"format": "faultodds-closing/1", "work_order": f"W-{number}", "opened": "2026-03-01",
                       "closed": f"2026-03-{2 + number:02}",
                       "found": [{"component": found, "mode": "seat_leak", "grade": "failed"}]}
            return model.record_rows(the_case, closing, header=number == 0)

        with faultodds.Model(LIFT) as model:
            records = "".join(closed(model, number, "cap_relief") for number in range(12))
            before = model.assess({"format": "faultodds-case/1", "observations": [], "detail": "full"})
        pack, summary = faultodds.learn_priors(records, source="yard", audit_orders=1)
        self.assertEqual(summary["audit"]["modes"][0]["orders"][0]["work_order"], "W-11")
        change = faultodds.diff_priors(None, pack)[0]
        self.assertEqual((change["type"], change["after"]["jobs"]), ("port_relief", 12))
        self.assertIn(faultodds.backtest_priors(LIFT, records, after=pack)["verdict"],
                      ("better", "cannot_tell", "worse"))
        with faultodds.Model(LIFT, pack, asset_class="loader") as model:
            after = model.assess({"format": "faultodds-case/1", "observations": [], "detail": "full"})

        def odds(answer):
            return next(f["prior_odds"] for f in answer["faults"] if f["mode"] == "cap_relief.seat_leak")

        self.assertGreater(odds(after), odds(before))

    def test_exposure_gives_rates(self):
        exposure = "component,asset_class,in_service,hours\nport_relief,loader,12,60000\n"
        pack, summary = faultodds.learn_priors(self.RECORDS, source="depot", exposure=exposure)
        self.assertEqual(summary["exposure"]["used"], 1)
        rate = seat_leak(pack)["posterior"]["rate_per_hour"]
        self.assertEqual((rate["alpha"], rate["beta"]), (10.5, 60000))

    def test_through_the_circuit_tests_count_and_complaints_are_corrected_for(self):
        opened = HEADER + "".join(
            order(i, "seat_leak", grade="failed", tests="static/section.a=would_not_build")
            if i % 3 == 0 else order(i, tests="static/section.a=held") for i in range(30))
        counted = faultodds.learn_priors(opened, source="depot").pack
        pack, summary = faultodds.learn_priors(
            opened, source="depot", circuit=LIFT, through_circuit=True)
        self.assertEqual((summary["work_orders"]["used"], summary["not_understood"]), (30, 0))
        learned, = (m for m in pack["modes"] if (m["type"], m["mode"]) == ("port_relief", "seat_leak"))
        self.assertIn("30 work orders of depot through circuit lift", learned["source"])
        # One in three of the machines that complained, far fewer of all machines.
        self.assertEqual(seat_leak(counted)["counts"], {"sound": 20, "worn": 0, "failed": 10})
        self.assertLess(1 - learned["grades"][0], 0.75 * (1 - seat_leak(counted)["grades"][0]))
        again = faultodds.learn_priors(
            opened, source="depot", circuit=LIFT, through_circuit=True, threads=2).pack
        self.assertEqual(again, pack)
        with faultodds.Model(LIFT, pack):
            pass
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.learn_priors(opened, source="depot", through_circuit=True)
        self.assertIn("no circuit to learn through", caught.exception.message)

    def test_outcome_statistics_are_learned_where_asked_for(self):
        opened = HEADER + "".join(order(i, tests="static/section.a=held") for i in range(40))
        pack, _ = faultodds.learn_priors(
            opened, source="depot", circuit=LIFT, through_circuit=True, learn_outcomes=True)
        static, = (o for o in pack["outcomes"] if o.get("kind") == "static")
        self.assertGreater(static["matrix"][0][0], 0.96)
        more, _ = faultodds.learn_priors(HEADER + order(77), source="more", judgement=pack)
        self.assertEqual(more["outcomes"], pack["outcomes"])


class Packs(unittest.TestCase):
    def test_merging_is_pooling_and_the_difference_says_on_how_many_jobs(self):
        north = faultodds.learn_priors(HEADER + order(1) + order(2), source="north").pack
        south = faultodds.learn_priors(HEADER + order(3, "seat_leak"), source="south").pack
        pooled = faultodds.learn_priors(
            HEADER + order(1) + order(2) + order(3, "seat_leak"), source="all").pack
        merged = faultodds.merge_priors([north, south])
        self.assertEqual(seat_leak(merged)["grades"], seat_leak(pooled)["grades"])
        changes = faultodds.diff_priors(north, merged)
        self.assertEqual((changes[0]["before"]["jobs"], changes[0]["after"]["jobs"]), (2, 3))
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.merge_priors([north, north])
        self.assertEqual(caught.exception.code, "invalid_priors")


class Backtest(unittest.TestCase):
    RECORDS = HEADER + "".join(
        order(i, "seat_leak" if i % 4 else "none", grade="failed" if i % 4 else "",
              closed=f"2024-03-{2 + i:02}",
              tests="static/section.a=would_not_build" if i % 4 else "static/section.a=held")
        for i in range(16))

    def test_jobs_are_replayed_with_both_packs(self):
        told = []
        answer = faultodds.backtest_priors(LIFT, self.RECORDS, progress=told.append)
        self.assertEqual(answer["format"], "faultodds-backtest/1")
        self.assertEqual((answer["jobs"], answer["with_cause"]), (16, 12))
        self.assertIn(answer["verdict"], ("better", "cannot_tell", "worse"))
        self.assertEqual(told, [*range(1, 17), *range(1, 17)])
        self.assertEqual(answer, faultodds.backtest_priors(LIFT, self.RECORDS, threads=2))

    def test_a_pack_against_itself_is_no_different(self):
        pack = faultodds.learn_priors(HEADER + order(1), source="one").pack
        answer = faultodds.backtest_priors(LIFT, self.RECORDS, before=pack, after=pack)
        self.assertEqual(answer["verdict"], "cannot_tell")
        self.assertEqual(answer["difference"]["log_score"], {"mean": 0, "interval": [0, 0]})

    def test_a_number_that_c_has_no_room_for_is_refused(self):
        for wrong in ({"threads": 0}, {"threads": 2**32}, {"most_jobs": -1}):
            name, = wrong
            with self.assertRaisesRegex(ValueError, f"{name} is {wrong[name]}; expected"):
                faultodds.backtest_priors(LIFT, self.RECORDS, **wrong)
        with self.assertRaisesRegex(ValueError, "threads is -1"):
            faultodds.learn_priors(self.RECORDS, source="depot", threads=-1)

    def test_too_few_jobs_are_refused(self):
        with self.assertRaises(FaultoddsError) as caught:
            faultodds.backtest_priors(LIFT, self.RECORDS, most_jobs=4)
        self.assertIn("10 at least", caught.exception.message)


if __name__ == "__main__":
    unittest.main()
