"""The loop over HTTP: cases are closed, become records, a pack is learned from them, compared, put in force, and the next
case is assessed with it; which orders moved which mode is told."""

import csv
import io
import tempfile
import unittest
from pathlib import Path

import case_stores
from adapter import DRIFTS, LIFT, LIFT_TEXT, Adapter, AdapterTest, case

STAR = {"If-Match": "*"}


def closing(number, *found, sound=(), **more):
    return {"format": "faultodds-closing/1", "work_order": f"WO-{number}", "opened": f"2026-03-{number + 1:02}",
            "closed": f"2026-03-{number + 2:02}", "minutes": 60,
            "found": [{"component": component, "mode": mode, "grade": "failed"} for component, mode in found],
            "sound": list(sound), **more}


SEAT = ("cap_relief", "seat_leak")


class Loop(unittest.TestCase):
    assert_problem = AdapterTest.assert_problem

    def setUp(self):
        self.store = case_stores.SqliteStore()
        self.addCleanup(self.store.remove)
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        (Path(folder.name) / "lift.json").write_text(LIFT_TEXT, encoding="utf-8")
        self.options = ("--cases", self.store.url, "--circuits", folder.name)
        self.adapter = Adapter(*self.options)
        self.addCleanup(lambda: self.adapter.stop())

    def post(self, path, body, **headers):
        return self.adapter.request("POST", path, body, {k.replace("_", "-"): v for k, v in headers.items()})

    def close(self, number, *found, sound=(), the_case=None):
        the_case = the_case or {**case(("drift/cylinder/retract", "fast"), ("static/section.a", "bled_down")),
                                "asset": {"id": f"L{number % 4}"}}
        self.assertEqual(self.adapter.put(f"/v1/cases/c{number:02}", {"circuit": "lift", "case": the_case}).status, 201)
        answer = self.post(f"/v1/cases/c{number:02}/close", closing(number, *found, sound=sound), If_Match="*")
        self.assertEqual(answer.status, 200, answer.body)
        return answer

    def fleet(self, count=14):
        for number in range(count):
            if number % 7 == 3:
                self.close(number, ("cylinder", "piston_seal_leak"), sound=["cap_relief"])
            else:
                self.close(number, SEAT, sound=["cylinder"])

    def prior_odds(self):
        faults = self.adapter.assess("lift", case()).json()["faults"]
        return {f["mode"]: f["prior_odds"] for f in faults}["cap_relief.seat_leak"]

    def test_from_closed_cases_to_a_pack_in_force_and_back(self):
        before = self.prior_odds()
        self.fleet()
        learned = self.post("/v1/priors/lift/learn", {"source": "yard", "audit_orders": 3}).json()
        self.assertEqual((learned["format"], learned["cases"], learned["left_out"]), ("faultodds-learned/1", 14, 0))
        self.assertEqual(learned["summary"]["work_orders"]["used"], 28)
        self.assertEqual(self.prior_odds(), before)  # nothing is in force that nobody put there

        # Which orders moved the mode: the latest three by name, the others counted.
        audit = {(m["type"], m["mode"]): m for m in learned["summary"]["audit"]["modes"]}
        seat = audit["port_relief", "seat_leak"]
        self.assertEqual((seat["found"], seat["one_of_several"], seat["sound"]), (12, 0, 2))
        self.assertEqual([order["work_order"] for order in seat["orders"]], ["WO-13", "WO-12", "WO-11"])
        self.assertEqual({order["said"] for order in seat["orders"]}, {"failed"})
        self.assertEqual(seat["left_out"], 9)
        # Of four machines: the same failure again within two weeks is the same failure.
        self.assertEqual(learned["summary"]["repeats"], 8)
        self.assertEqual((seat["before"]["counts"], seat["after"]["counts"]), ([0, 0, 0], [2, 0, 4]))
        self.assertLess(seat["before"]["not_sound"], seat["after"]["not_sound"])

        changed = {(c["type"], c["mode"]): c for c in learned["difference"]["changes"]}
        self.assertEqual(changed["port_relief", "seat_leak"]["after"]["jobs"], 6)  # 2 sound and 4 failures

        compared = self.post("/v1/priors/lift/compare", learned["pack"]).json()
        self.assertEqual(compared["difference"], learned["difference"])
        self.assertEqual(compared["backtest"]["jobs"], 14)
        self.assertIn(compared["backtest"]["verdict"], ("better", "cannot_tell", "worse"))
        self.assertEqual(compared["backtest"]["machines"], 4)

        adopted = self.adapter.put("/v1/priors/lift", learned["pack"])
        self.assertEqual(adopted.status, 201, adopted.body)
        after = self.prior_odds()
        self.assertAlmostEqual(after, seat["after"]["not_sound"] / (1 - seat["after"]["not_sound"]), 9)
        self.assertGreater(after, before)
        # Learned anew it is the same pack, and nothing is left to change.
        again = self.post("/v1/priors/lift/learn", {"source": "yard", "audit_orders": 3}).json()
        self.assertEqual(again["pack"], learned["pack"])
        self.assertEqual(again["difference"]["changes"], [])
        self.assertEqual(self.post("/v1/priors/lift/rollback", b"", If_Match=adopted.headers["ETag"]).status, 204)
        self.assertEqual(self.prior_odds(), before)

    def test_through_the_circuit_and_for_all_circuits(self):
        self.fleet()
        through = self.post("/v1/priors/lift/learn", {"through_circuit": True})
        self.assertEqual(through.status, 200, through.body)
        modes = {(m["type"], m["mode"]): m for m in through.json()["summary"]["audit"]["modes"]}
        self.assertEqual(modes["port_relief", "seat_leak"]["found"], 12)
        self.assertEqual(self.post("/v1/priors/default/learn", {}).json()["cases"], 14)
        refused = self.post("/v1/priors/default/learn", {"through_circuit": True})
        self.assert_problem(refused, 422, "invalid_document")
        self.assertIsNone(self.post("/v1/priors/default/compare", through.json()["pack"]).json()["backtest"])

    def test_a_record_is_json_or_rows_and_the_file_of_all_has_one_header(self):
        self.close(1, SEAT, sound=["cylinder"])
        self.close(2, SEAT)
        record = self.adapter.get("/v1/cases/c01/record")
        self.assertEqual(record.json()["work_order"], "WO-1")
        self.assertIn("Case-ETag", record.headers)
        rows = list(csv.DictReader(io.StringIO(self.adapter.get("/v1/cases/c01/record", Accept="text/csv").body.decode())))
        self.assertEqual({(row["component"], row["finding"]) for row in rows},
                         {("port_relief", "seat_leak"), ("single_rod_cylinder", "none")})
        every = self.adapter.get("/v1/records?circuit=lift")
        self.assertEqual(every.headers["Cases-Left-Out"], "0")
        rows = list(csv.DictReader(io.StringIO(every.body.decode())))
        self.assertEqual([row["work_order"] for row in rows], ["WO-1", "WO-1", "WO-2"])
        self.assertEqual(self.adapter.get("/v1/records?circuit=hoist").body, b"")
        # What POST /v1/close says of a case that is kept elsewhere is the same.
        stored = self.adapter.get("/v1/cases/c01").json()
        self.assertEqual(self.post("/v1/close", stored).json(), record.json())

    def test_what_is_closed_stays_after_a_restart(self):
        self.close(1, SEAT)
        self.assertEqual(self.adapter.stop(), 0)
        self.adapter = Adapter(*self.options)
        self.assertEqual(self.adapter.get("/v1/cases/c01/record").json()["found"][0]["mode"], "seat_leak")

    def test_a_closed_case_takes_no_observation_until_it_is_opened_again(self):
        etag = self.close(1, SEAT).headers["ETag"]
        entry = {"observation": "static/section.a", "outcome": "held"}
        self.assert_problem(self.post("/v1/cases/c01/observations", entry, If_Match=etag), 409, "case_closed")
        self.assert_problem(self.post("/v1/cases/c01/close", closing(1, SEAT), If_Match=etag), 409, "case_closed")
        stored = self.adapter.get("/v1/cases/c01").json()
        del stored["closing"]
        self.assertEqual(self.adapter.put("/v1/cases/c01", stored, If_Match=etag).status, 200)
        self.assert_problem(self.adapter.get("/v1/cases/c01/record"), 404, "not_closed")
        self.assertEqual(self.post("/v1/cases/c01/observations", entry, If_Match="*").status, 200)

    def test_a_closing_that_is_refused_leaves_the_case_open_and_points_into_the_body(self):
        self.adapter.put("/v1/cases/c01", {"circuit": "lift", "case": DRIFTS})
        wrong = closing(1, ("cap_relief", "rust"))
        self.assert_problem(self.post("/v1/cases/c01/close", wrong, If_Match="*"), 422, "invalid_case", "/found/0/mode")
        self.assert_problem(self.post("/v1/cases/c01/close", "[]", If_Match="*"), 400, "invalid_json")
        self.assert_problem(self.post("/v1/cases/c01/close", closing(1, SEAT)), 428, "precondition_required")
        self.assert_problem(self.post("/v1/cases/c02/close", closing(1, SEAT), If_Match="*"), 404, "unknown_case")
        self.assert_problem(self.adapter.get("/v1/cases/c01/record"), 404, "not_closed")
        answer = self.post("/v1/close", {"circuit": "lift", "case": DRIFTS, "closing": wrong})
        self.assert_problem(answer, 422, "invalid_case", "/closing/found/0/mode")
        answer = self.post("/v1/close", {"circuit": "lift", "case": {"format": 7}, "closing": closing(1)})
        self.assert_problem(answer, 422, "invalid_document", "/case/format")
        self.assert_problem(self.post("/v1/close", {"circuit": LIFT, "case": DRIFTS}), 422, "invalid_document", "/closing")

    def test_a_closing_sent_again_with_its_key_is_closed_once(self):
        etag = self.adapter.put("/v1/cases/c01", {"circuit": "lift", "case": DRIFTS}).headers["ETag"]
        first = self.post("/v1/cases/c01/close", closing(1, SEAT), If_Match=etag, Idempotency_Key="k")
        again = self.post("/v1/cases/c01/close", closing(1, SEAT), If_Match=etag, Idempotency_Key="k")
        self.assertEqual((first.status, first.body), (again.status, again.body))

    def test_learning_needs_a_closed_case_and_a_circuit_and_words_it_knows(self):
        self.assert_problem(self.post("/v1/priors/lift/learn", {}), 409, "no_closed_case")
        self.assert_problem(self.post("/v1/priors/hoist/learn", {}), 404, "unknown_circuit")
        self.close(1, SEAT)
        for body, pointer in (({"judgment": {}}, "/judgment"), ({"source": 7}, "/source"),
                              ({"through_circuit": "yes"}, "/through_circuit"), ({"audit_orders": -1}, "/audit_orders"),
                              ({"judgement": {"format": "nonsense"}}, "/judgement/format")):
            self.assert_problem(self.post("/v1/priors/lift/learn", body), 422, "invalid_document", pointer)
        self.assert_problem(self.post("/v1/priors/lift/compare", {"format": "nonsense"}), 422, "invalid_document", "/format")

    def test_a_case_that_its_circuit_no_longer_understands_is_left_out_and_counted(self):
        self.fleet(4)
        etag = self.adapter.get("/v1/circuits/lift").headers["ETag"]
        renamed = LIFT_TEXT.replace('"cap_relief"', '"bore_relief"').replace("cap_relief.", "bore_relief.")
        self.assertEqual(self.adapter.put("/v1/circuits/lift", renamed, If_Match=etag).status, 200)
        self.close(9, ("bore_relief", "seat_leak"))
        learned = self.post("/v1/priors/lift/learn", {}).json()
        self.assertEqual((learned["cases"], learned["left_out"]), (1, 4))


class WithoutStore(unittest.TestCase):
    assert_problem = AdapterTest.assert_problem

    def test_only_closing_is_offered(self):
        adapter = Adapter()
        self.addCleanup(adapter.stop)
        adapter.put("/v1/circuits/lift", LIFT_TEXT)
        body = {"circuit": "lift", "case": DRIFTS, "closing": closing(1, SEAT)}
        self.assertEqual(adapter.request("POST", "/v1/close", body).status, 200)
        for path in ("/v1/priors/lift/learn", "/v1/priors/lift/compare"):
            self.assert_problem(adapter.request("POST", path, {}), 404, "not_found")
        self.assert_problem(adapter.get("/v1/records"), 404, "not_found")
