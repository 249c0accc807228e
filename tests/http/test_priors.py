"""Prior packs put in force over HTTP: for all circuits or one, all or nothing, with the way back."""

import tempfile
import unittest
from pathlib import Path

from adapter import DRIFTS, LIFT, LIFT_TEXT, Adapter, AdapterTest, case


def pack(odds, name="yard"):
    """A pack with these odds that a port relief does not seat."""
    sound = 1 / (1 + odds)
    bad = (1 - sound) / 2
    return {
        "format": "faultodds-priors/1",
        "id": name,
        "modes": [{"type": "port_relief", "mode": "seat_leak", "grades": [sound, bad, bad]}],
    }


HOIST = {**LIFT, "id": "hoist"}
SPOILT = {**pack(1), "modes": [{"type": "port_relief", "mode": "seat_leak", "grades": [0.5, 0.5, 0.5]}]}


class Priors(unittest.TestCase):
    assert_problem = AdapterTest.assert_problem

    def start(self, *options):
        adapter = Adapter(*options)
        self.addCleanup(adapter.stop)
        adapter.put("/v1/circuits/lift", LIFT_TEXT)
        adapter.put("/v1/circuits/hoist", HOIST)
        return adapter

    def odds(self, adapter, circuit="lift"):
        answer = adapter.assess(circuit, case())
        self.assertEqual(answer.status, 200, answer.body)
        found = {f["mode"]: f["prior_odds"] for f in answer.json()["faults"]}
        return round(found["cap_relief.seat_leak"], 9)

    def rollback(self, adapter, id, **headers):
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        return adapter.request("POST", f"/v1/priors/{id}/rollback", b"", sent)

    def test_the_default_pack_is_in_force_for_every_circuit_and_those_sent_along(self):
        adapter = self.start()
        put = adapter.put("/v1/priors/default", pack(1))
        self.assertEqual(put.status, 201, put.body)
        self.assertEqual(put.headers["Location"], "/v1/priors/default")
        for circuit in ("lift", "hoist", LIFT):
            self.assertEqual(self.odds(adapter, circuit), 1)
        adapter.put("/v1/circuits/later", {**LIFT, "id": "later"})
        self.assertEqual(self.odds(adapter, "later"), 1)
        got = adapter.get("/v1/priors/default")
        self.assertEqual((got.json(), got.headers["ETag"]), (pack(1), put.headers["ETag"]))
        again = adapter.get("/v1/priors/default", If_None_Match=put.headers["ETag"])
        self.assertEqual((again.status, again.body), (304, b""))

    def test_a_pack_of_one_circuit_is_in_force_for_it_alone(self):
        adapter = self.start()
        before = self.odds(adapter)
        self.assertEqual(adapter.put("/v1/priors/hoist", pack(3)).status, 201)
        self.assertEqual((self.odds(adapter), self.odds(adapter, "hoist")), (before, 3))
        adapter.put("/v1/priors/default", pack(1))
        self.assertEqual((self.odds(adapter), self.odds(adapter, "hoist")), (1, 3))
        ids = [p["id"] for p in adapter.get("/v1/priors").json()["priors"]]
        self.assertEqual(ids, ["default", "hoist"])
        self.assert_problem(adapter.put("/v1/priors/nothing", pack(1)), 404, "unknown_circuit")

    def test_an_answer_has_the_same_form_whatever_pack_is_in_force(self):
        adapter = self.start()
        before = adapter.assess("lift", DRIFTS).json()
        adapter.put("/v1/priors/default", pack(1))
        after = adapter.assess("lift", DRIFTS).json()
        self.assertEqual(list(before), list(after))
        self.assertEqual([list(t) for t in before["faults"]], [list(t) for t in after["faults"]])
        self.assertNotEqual(before["log_evidence"], after["log_evidence"])

    def test_a_pack_that_is_refused_changes_nothing(self):
        adapter = self.start()
        etag = adapter.put("/v1/priors/default", pack(1)).headers["ETag"]
        refused = adapter.put("/v1/priors/default", SPOILT, If_Match=etag)
        self.assertEqual((refused.status, refused.json()["code"]), (422, "invalid_document"))
        self.assertTrue(refused.json()["pointer"].startswith("/modes/0"))
        refused = adapter.put("/v1/priors/default", {"format": "nonsense"}, If_Match=etag)
        self.assert_problem(refused, 422, "invalid_document", "/format")
        self.assert_problem(adapter.put("/v1/priors/default", "{", If_Match=etag), 400, "invalid_json")
        self.assertEqual(self.odds(adapter), 1)
        self.assertEqual(adapter.get("/v1/priors/default").headers["ETag"], etag)

    def test_one_circuit_that_refuses_a_pack_keeps_it_from_all(self):
        adapter = self.start()
        # Its sinking load is told as yes or no, where the pack has statistics for three outcomes.
        own = {"id": "drift/cylinder/retract", "outcomes": ["no", "yes"],
               "matrix": [[0.97, 0.03], [0.2, 0.8], [0.05, 0.95]]}
        odd = adapter.put("/v1/circuits/odd", {**LIFT, "id": "odd", "observations": [own]})
        self.assertEqual(odd.status, 201, odd.body)
        before = self.odds(adapter)
        statistics = {"observation": "drift/cylinder/retract", "outcomes": ["none", "slow", "fast"],
                      "matrix": [[0.9, 0.05, 0.05], [0.1, 0.8, 0.1], [0.05, 0.15, 0.8]]}
        fits_most = {**pack(1), "outcomes": [statistics]}
        refused = adapter.put("/v1/priors/default", fits_most)
        self.assertEqual((refused.status, refused.json()["code"]), (422, "invalid_priors"), refused.body)
        self.assertIn('circuit "odd"', refused.json()["detail"])
        self.assertEqual(self.odds(adapter), before)
        self.assertEqual(adapter.get("/v1/priors").json(), {"priors": []})
        # With a pack of its own it is no longer asked.
        self.assertEqual(adapter.put("/v1/priors/odd", pack(3)).status, 201)
        self.assertEqual(adapter.put("/v1/priors/default", fits_most).status, 201)
        self.assertEqual((self.odds(adapter), self.odds(adapter, "odd")), (1, 3))
        back = self.rollback(adapter, "odd", If_Match="*")  # the default does not fit it
        self.assertEqual((back.status, back.json()["code"]), (422, "invalid_priors"))
        self.assertEqual(self.odds(adapter, "odd"), 3)

    def test_a_write_needs_the_etag_of_what_it_replaces(self):
        adapter = self.start()
        etag = adapter.put("/v1/priors/default", pack(1)).headers["ETag"]
        self.assert_problem(adapter.put("/v1/priors/default", pack(2)), 428, "precondition_required")
        stale = adapter.put("/v1/priors/default", pack(2), If_Match='"stale"')
        self.assert_problem(stale, 412, "precondition_failed")
        none = adapter.put("/v1/priors/default", pack(2), If_None_Match="*")
        self.assert_problem(none, 412, "precondition_failed")
        for refused in (adapter.put("/v1/priors/default", pack(2), If_None_Match='"other"'),
                        self.rollback(adapter, "default", If_None_Match='"other"')):
            self.assert_problem(refused, 400, "bad_request")
        self.assert_problem(self.rollback(adapter, "default"), 428, "precondition_required")
        self.assert_problem(self.rollback(adapter, "default", If_Match='"stale"'), 412, "precondition_failed")
        self.assert_problem(self.rollback(adapter, "hoist", If_Match="*"), 404, "unknown_priors")
        self.assertEqual(self.odds(adapter), 1)
        self.assertEqual(adapter.put("/v1/priors/default", pack(2), If_Match=etag).status, 200)

    def test_rolling_back_goes_to_the_version_before_and_from_the_first_to_none(self):
        adapter = self.start()
        before = self.odds(adapter)
        etags = [adapter.put("/v1/priors/default", pack(1)).headers["ETag"]]
        for odds in (2, 3):
            etags.append(
                adapter.put("/v1/priors/default", pack(odds), If_Match=etags[-1]).headers["ETag"]
            )
        self.assertEqual(self.odds(adapter), 3)
        summary = adapter.get("/v1/priors").json()["priors"][0]
        self.assertEqual((summary["etag"], summary["before"]), (etags[2], [etags[1], etags[0]]))
        back = self.rollback(adapter, "default", If_Match=etags[2])
        self.assertEqual((back.status, back.headers["ETag"]), (200, etags[1]))
        self.assertEqual(self.odds(adapter), 2)
        self.assertEqual(self.rollback(adapter, "default", If_Match=etags[1]).status, 200)
        self.assertEqual(self.odds(adapter), 1)
        gone = self.rollback(adapter, "default", If_Match=etags[0])
        self.assertEqual((gone.status, gone.body), (204, b""))
        self.assertEqual(self.odds(adapter), before)
        self.assert_problem(adapter.get("/v1/priors/default"), 404, "unknown_priors")

    def test_the_pack_of_a_circuit_rolled_back_gives_way_to_the_default(self):
        adapter = self.start()
        adapter.put("/v1/priors/default", pack(1))
        adapter.put("/v1/priors/lift", pack(3))
        self.assertEqual(self.odds(adapter), 3)
        self.rollback(adapter, "lift", If_Match="*")
        self.assertEqual(self.odds(adapter), 1)

    def test_packs_and_their_versions_survive_a_restart_and_ten_are_kept(self):
        with tempfile.TemporaryDirectory() as folder:
            with Adapter("--circuits", folder) as adapter:
                adapter.put("/v1/circuits/lift", LIFT_TEXT)
                adapter.put("/v1/priors/default", pack(1))
                for odds in range(2, 14):
                    adapter.put("/v1/priors/default", pack(odds), If_Match="*")
                adapter.put("/v1/priors/lift", pack(50))
                told = adapter.get("/v1/priors").json()
            self.assertEqual(len(told["priors"][0]["before"]), 9)
            # What a crash may leave behind is not read, and goes.
            left = Path(folder) / "priors" / "default" / ".14.json.0123456789abcdef.new"
            left.write_text('{"format"')
            with Adapter("--circuits", folder) as adapter:
                self.assertEqual(adapter.get("/v1/priors").json(), told)
                self.assertFalse(left.exists())
                self.assertEqual(self.odds(adapter), 50)
                self.assertEqual(self.rollback(adapter, "lift", If_Match="*").status, 204)
                self.assertEqual(self.rollback(adapter, "default", If_Match="*").status, 200)
            with Adapter("--circuits", folder) as adapter:
                self.assertEqual(self.odds(adapter), 12)

    def test_a_pack_file_that_is_no_version_is_refused_at_the_start(self):
        with tempfile.TemporaryDirectory() as folder:
            with Adapter("--circuits", folder) as adapter:
                adapter.put("/v1/priors/default", pack(1))
            (Path(folder) / "priors" / "default" / "newest.json").write_text("{}")
            with self.assertRaisesRegex(AssertionError, "newest.json: the file's name is not a number"):
                Adapter("--circuits", folder)

    def test_a_pack_whose_file_cannot_be_written_or_removed_changes_nothing(self):
        with tempfile.TemporaryDirectory() as folder, Adapter("--circuits", folder) as adapter:
            adapter.put("/v1/circuits/lift", LIFT_TEXT)
            before = self.odds(adapter)
            history = Path(folder) / "priors" / "default"
            history.parent.mkdir(exist_ok=True)
            history.write_text("in the way")
            answer = adapter.put("/v1/priors/default", pack(1))
            self.assert_problem(answer, 500, "store_failed")
            self.assertEqual(self.odds(adapter), before)
            history.unlink()
            etag = adapter.put("/v1/priors/default", pack(2)).headers["ETag"]
            self.assertEqual(self.odds(adapter), 2)
            (history / "1.json").unlink()
            (history / "1.json").mkdir()
            answer = self.rollback(adapter, "default", If_Match=etag)
            detail = self.assert_problem(answer, 500, "store_failed")["detail"]
            self.assertIn("could not be read", detail)
            self.assertEqual(self.odds(adapter), 2)
            self.assertEqual(adapter.get("/v1/priors/default").headers["ETag"], etag)

    def test_answers_kept_are_not_those_of_another_pack(self):
        adapter = self.start()
        first = adapter.assess("lift", DRIFTS).body
        etag = adapter.put("/v1/priors/default", pack(1)).headers["ETag"]
        self.assertNotEqual(adapter.assess("lift", DRIFTS).body, first)
        self.rollback(adapter, "default", If_Match=etag)
        self.assertEqual(adapter.assess("lift", DRIFTS).body, first)


if __name__ == "__main__":
    unittest.main()
