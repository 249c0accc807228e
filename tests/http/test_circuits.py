"""Circuits stored by PUT and by directory: revisions, names, files."""

import copy
import json
import os
import resource
import stat
import tempfile
import threading
import unittest
from pathlib import Path

from adapter import DRIFTS, LIFT, LIFT_TEXT, Adapter, AdapterTest


def titled(title, id="lift"):
    return json.dumps({**copy.deepcopy(LIFT), "title": title, "id": id})


class Store(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.path = Path(self.folder.name)
        self.adapter = Adapter("--circuits", self.folder.name)
        self.addCleanup(lambda: self.adapter.stop())

    assert_problem = AdapterTest.assert_problem

    def restart(self):
        self.assertEqual(self.adapter.stop(), 0)
        self.adapter = Adapter("--circuits", self.folder.name)

    def test_a_new_circuit_is_created(self):
        answer = self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        self.assertEqual(answer.status, 201, answer.body)
        self.assertEqual(answer.headers["Location"], "/v1/circuits/lift")
        summary = answer.json()
        self.assertEqual(summary["id"], "lift")
        self.assertEqual(summary["title"], LIFT["title"])
        self.assertEqual(summary["etag"], answer.headers["ETag"])
        self.assertGreater(summary["modes"], 0)
        self.assertGreater(summary["observations"], 0)
        self.assertEqual(self.adapter.get("/v1/circuits").json(), {"circuits": [summary]})

    def test_what_was_put_is_got_byte_for_byte(self):
        text = LIFT_TEXT.replace("  ", "\t").replace("\n", "\r\n")
        put = self.adapter.put("/v1/circuits/lift", text)
        got = self.adapter.get("/v1/circuits/lift")
        self.assertEqual(got.status, 200)
        self.assertEqual(got.body, text.encode("utf-8"))
        self.assertEqual(got.headers["ETag"], put.headers["ETag"])

    def test_circuits_survive_a_restart(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        before = self.adapter.assess("lift", DRIFTS).body
        self.restart()
        self.assertEqual(self.adapter.get("/v1/circuits/lift").headers["ETag"], etag)
        self.assertEqual(self.adapter.assess("lift", DRIFTS).body, before)

    def test_only_the_circuits_own_file_is_left_behind(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        self.adapter.put("/v1/circuits/lift", titled("new"), If_Match=etag)
        self.adapter.put("/v1/circuits/lift", "{}", If_Match="*")
        self.assertEqual(os.listdir(self.path), ["lift.json"])
        self.assertEqual(json.loads((self.path / "lift.json").read_text())["title"], "new")

    def test_replacing_needs_the_etag_of_what_is_replaced(self):
        first = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        self.assert_problem(
            self.adapter.put("/v1/circuits/lift", titled("b")), 428, "precondition_required"
        )
        self.assert_problem(
            self.adapter.put("/v1/circuits/lift", titled("b"), If_Match='"other"'),
            412,
            "precondition_failed",
        )
        answer = self.adapter.put("/v1/circuits/lift", titled("b"), If_Match=first)
        self.assertEqual(answer.status, 200)
        self.assertNotIn("Location", answer.headers)
        second = answer.headers["ETag"]
        self.assertNotEqual(second, first)
        self.assert_problem(
            self.adapter.put("/v1/circuits/lift", titled("c"), If_Match=first),
            412,
            "precondition_failed",
        )
        self.assertEqual(self.adapter.get("/v1/circuits/lift").json()["title"], "b")

    def test_if_none_match_star_never_replaces(self):
        self.assertEqual(
            self.adapter.put("/v1/circuits/lift", LIFT_TEXT, If_None_Match="*").status, 201
        )
        self.assert_problem(
            self.adapter.put("/v1/circuits/lift", titled("b"), If_None_Match="*"),
            412,
            "precondition_failed",
        )

    def test_another_if_none_match_of_a_put_is_refused(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        answer = self.adapter.put("/v1/circuits/lift", titled("t"), If_None_Match='"other"')
        self.assert_problem(answer, 400, "bad_request")
        self.assertEqual(self.adapter.get("/v1/circuits/lift").headers["ETag"], etag)

    def test_if_match_never_creates(self):
        self.assert_problem(
            self.adapter.put("/v1/circuits/lift", LIFT_TEXT, If_Match="*"),
            412,
            "precondition_failed",
        )
        self.assert_problem(
            self.adapter.get("/v1/circuits/lift"), 404, "unknown_circuit"
        )

    def test_a_known_revision_is_304_without_a_body(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        for value in (etag, '"x", ' + etag, "*"):
            answer = self.adapter.get("/v1/circuits/lift", If_None_Match=value)
            self.assertEqual((answer.status, answer.body), (304, b""))
            self.assertEqual(answer.headers["ETag"], etag)
        self.assertEqual(self.adapter.get("/v1/circuits/lift", If_None_Match='"x"').status, 200)

    def test_a_refused_circuit_leaves_the_stored_one_as_it_was(self):
        self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        broken = copy.deepcopy(LIFT)
        broken["components"][0]["type"] = "teapot"
        answer = self.adapter.put("/v1/circuits/lift", broken, If_Match="*")
        self.assert_problem(answer, 422, "invalid_circuit", "/components/0/type")
        self.assertEqual(self.adapter.get("/v1/circuits/lift").body, LIFT_TEXT.encode("utf-8"))
        self.assertEqual((self.path / "lift.json").read_text(encoding="utf-8"), LIFT_TEXT)

    def test_the_id_inside_is_the_one_of_the_path(self):
        answer = self.adapter.put("/v1/circuits/hoist", LIFT_TEXT)
        problem = self.assert_problem(answer, 422, "invalid_circuit", "/id")
        self.assertIn("hoist", problem["detail"])
        self.assertEqual(os.listdir(self.path), [])

    def test_a_new_revision_is_what_the_next_case_is_assessed_with(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        before = self.adapter.assess("lift", DRIFTS).json()["log_evidence"]
        changed = copy.deepcopy(LIFT)
        changed["components"][4]["priors"] = {"seat_leak": [0.5, 0.3, 0.2]}
        self.adapter.put("/v1/circuits/lift", changed, If_Match=etag)
        self.assertGreater(self.adapter.assess("lift", DRIFTS).json()["log_evidence"], before)

    def test_the_model_of_a_circuit_is_described(self):
        self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        answer = self.adapter.get("/v1/circuits/lift/model")
        self.assertEqual(answer.status, 200)
        self.assertEqual(answer.json()["format"], "faultodds-model/1")
        self.assert_problem(
            self.adapter.get("/v1/circuits/hoist/model"), 404, "unknown_circuit"
        )

    def test_no_name_leads_out_of_the_directory(self):
        outside = ["%2e%2e", "..", ".", "%2e", "..%2f..%2fetc%2fpasswd", "a%2fb", "a%00b", "a b", "ä"]
        outside += ["a%0ab", "%5c..%5ca", "x" * 129]
        for name in outside:
            with self.subTest(name):
                path = "/v1/circuits/" + name.replace(" ", "%20").replace("ä", "%c3%a4")
                answer = self.adapter.put(path, titled("t", id="lift"))
                self.assertIn(answer.status, (400, 404))
                self.assertEqual(answer.headers["Content-Type"], "application/problem+json")
                self.assertEqual(self.adapter.get(path).status, 404)
        self.assertEqual(os.listdir(self.path), [])

    def test_names_may_have_points_and_dashes(self):
        for name in ("a", "a.b", ".hidden", "...", "-x", "A_1.2-3"):
            self.assertEqual(
                self.adapter.put("/v1/circuits/" + name, titled("t", id=name)).status, 201, name
            )
        self.restart()
        ids = [c["id"] for c in self.adapter.get("/v1/circuits").json()["circuits"]]
        self.assertEqual(ids, sorted(["a", "a.b", ".hidden", "...", "-x", "A_1.2-3"]))

    @unittest.skipIf(os.geteuid() == 0, "nothing is forbidden to root")
    def test_a_directory_that_cannot_be_written_is_told(self):
        self.path.chmod(stat.S_IRUSR | stat.S_IXUSR)
        try:
            self.assert_problem(self.adapter.get("/readyz"), 503, "store_failed")
            self.assert_problem(
                self.adapter.put("/v1/circuits/lift", LIFT_TEXT), 500, "store_failed"
            )
        finally:
            self.path.chmod(stat.S_IRWXU)

    def test_a_directory_that_is_gone_is_told_and_nothing_is_stored(self):
        self.path.rename(str(self.path) + ".away")
        try:
            self.assert_problem(self.adapter.get("/readyz"), 503, "store_failed")
            self.assert_problem(
                self.adapter.put("/v1/circuits/lift", LIFT_TEXT), 500, "store_failed"
            )
            self.assertEqual(self.adapter.get("/v1/circuits").json(), {"circuits": []})
        finally:
            Path(str(self.path) + ".away").rename(self.path)

    def test_a_file_that_cannot_be_replaced_is_told_and_nothing_is_left_behind(self):
        (self.path / "lift.json").mkdir()
        answer = self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        detail = self.assert_problem(answer, 500, "store_failed")["detail"]
        self.assertIn("could not be read", detail)
        self.assertEqual(self.adapter.get("/v1/circuits").json(), {"circuits": []})
        self.assertEqual(os.listdir(self.path), ["lift.json"])


LONG = {"format": "faultodds-circuit/1", "id": "long_lift", "extends": "lift", "title": "Long lift",
        "overrides": {"components": {LIFT["components"][0]["id"]: {"title": "the long one"}},
                      "functions": {LIFT["functions"][0]["id"]: {"title": "Lift high"}}}}


class Variants(unittest.TestCase):
    """A circuit that extends a stored one by its id."""

    setUp, restart, assert_problem = Store.setUp, Store.restart, AdapterTest.assert_problem

    def test_it_is_stored_as_it_was_put_and_asked_as_what_it_stands_for(self):
        self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        text = json.dumps(LONG)
        self.assertEqual(self.adapter.put("/v1/circuits/long_lift", text).status, 201)
        self.assertEqual(self.adapter.get("/v1/circuits/long_lift").body.decode(), text)
        self.assertIn("the long one", self.adapter.get("/v1/circuits/long_lift/model").body.decode())
        stored = self.adapter.assess("long_lift", {**DRIFTS, "circuit": "long_lift"})
        self.assertEqual(stored.status, 200, stored.body)
        sent = self.adapter.assess(LONG, {**DRIFTS, "circuit": "long_lift"})
        self.assertEqual(stored.body, sent.body)
        out = self.adapter.request("POST", "/v1/expand", {"circuit": "long_lift"}).json()
        self.assertNotIn("extends", out)
        self.assertEqual(out["components"][0]["title"], "the long one")
        self.assertEqual(self.adapter.request("POST", "/v1/check", {"circuit": LONG}).json()["errors"], 0)
        self.restart()
        self.assertEqual(self.adapter.assess("long_lift", {**DRIFTS, "circuit": "long_lift"}).body, stored.body)

    def test_a_change_of_the_base_reaches_it_at_once(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        self.adapter.put("/v1/circuits/long_lift", json.dumps(LONG))
        base = copy.deepcopy(LIFT)
        base["components"][1]["title"] = "another second part"
        self.assertEqual(self.adapter.put("/v1/circuits/lift", json.dumps(base), If_Match=etag).status, 200)
        self.assertIn("another second part", self.adapter.get("/v1/circuits/long_lift/model").body.decode())

    def test_a_change_of_the_base_that_it_refuses_changes_nothing(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        self.adapter.put("/v1/circuits/long_lift", json.dumps(LONG))
        base = copy.deepcopy(LIFT)
        base["functions"][0]["id"] = "another_name"
        answer = self.adapter.put("/v1/circuits/lift", json.dumps(base), If_Match=etag)
        problem = self.assert_problem(answer, 422, "invalid_document")
        self.assertIn('circuit "long_lift", which extends it', problem["detail"])
        self.assertEqual(self.adapter.get("/v1/circuits/lift").headers["ETag"], etag)

    def test_a_base_that_is_not_stored_and_a_circle_are_refused_where_they_are_named(self):
        self.assert_problem(self.adapter.put("/v1/circuits/long_lift", json.dumps(LONG)), 422, "invalid_circuit", "/extends")
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        self.adapter.put("/v1/circuits/long_lift", json.dumps(LONG))
        circle = json.dumps({"format": "faultodds-circuit/1", "id": "lift", "extends": "long_lift"})
        self.assert_problem(self.adapter.put("/v1/circuits/lift", circle, If_Match=etag), 422, "invalid_circuit",
                            "/extends")
        self.assert_problem(self.adapter.assess({**LONG, "extends": "nothing"}, DRIFTS), 422, "invalid_circuit",
                            "/circuit/extends")

    def test_another_adapter_takes_up_a_change_of_the_base(self):
        self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        self.adapter.put("/v1/circuits/long_lift", json.dumps(LONG))
        with Adapter("--circuits", str(self.path)) as other:
            base = copy.deepcopy(LIFT)
            base["components"][1]["title"] = "another second part"
            self.assertEqual(self.adapter.put("/v1/circuits/lift", json.dumps(base), If_Match="*").status, 200)
            self.assertEqual(other.get("/v1/circuits/long_lift").status, 200)
            self.assertIn("another second part", other.get("/v1/circuits/long_lift/model").body.decode())


class Shared(unittest.TestCase):
    """Two adapters on one directory."""

    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.path = Path(scratch.name)
        self.adapters = []
        for _ in range(2):
            adapter = Adapter("--circuits", scratch.name)
            self.addCleanup(adapter.stop)
            self.adapters.append(adapter)

    def put_at_once(self, texts, **headers):
        """Each by an adapter of its own; their answers."""
        answers = [None, None]
        barrier = threading.Barrier(2)

        def put(i):
            barrier.wait()
            answers[i] = self.adapters[i].put("/v1/circuits/lift", texts[i], **headers)

        threads = [threading.Thread(target=put, args=(i,)) for i in range(2)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return answers

    def test_of_two_writes_at_once_one_is_acknowledged_and_on_the_disk_and_one_refused(self):
        etag = self.adapters[0].put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        for pair in range(40):
            texts = [json.dumps({**LIFT, "title": f"pair {pair} of adapter {i}"}) for i in range(2)]
            answers = self.put_at_once(texts, If_Match=etag)
            self.assertEqual(sorted(answer.status for answer in answers), [200, 412], answers)
            won = 0 if answers[0].status == 200 else 1
            self.assertEqual((self.path / "lift.json").read_text(encoding="utf-8"), texts[won])
            etag = answers[won].headers["ETag"]
            for adapter in self.adapters:  # who was refused reads what there is and its ETag
                read = adapter.get("/v1/circuits/lift")
                self.assertEqual((read.body.decode(), read.headers["ETag"]), (texts[won], etag))
        self.assertEqual(os.listdir(self.path), ["lift.json"])

    def test_of_two_that_store_a_circuit_first_one_is_told_that_it_is_there(self):
        for pair in range(10):
            texts = [json.dumps({**LIFT, "title": f"pair {pair} of adapter {i}"}) for i in range(2)]
            (self.path / "lift.json").unlink(missing_ok=True)
            self.adapters.clear()
            for _ in range(2):
                self.adapters.append(Adapter("--circuits", str(self.path)))
                self.addCleanup(self.adapters[-1].stop)
            answers = self.put_at_once(texts, If_None_Match="*")
            self.assertEqual(sorted(answer.status for answer in answers), [201, 412])
            won = 0 if answers[0].status == 201 else 1
            self.assertEqual((self.path / "lift.json").read_text(encoding="utf-8"), texts[won])

    def test_a_prior_pack_put_by_the_other_is_not_overwritten_unknowingly(self):
        pack = {"format": "faultodds-priors/1", "id": "own", "title": "Own", "modes": []}
        first = self.adapters[0].put("/v1/priors/default", {**pack, "title": "First"})
        self.assertEqual(first.status, 201, first.body)
        other = self.adapters[1].put("/v1/priors/default", {**pack, "title": "Other"})
        self.assertEqual(other.status, 428)
        other = self.adapters[1].put("/v1/priors/default", {**pack, "title": "Other"}, If_Match=first.headers["ETag"])
        self.assertEqual(other.status, 200)
        stale = self.adapters[0].put("/v1/priors/default", {**pack, "title": "Stale"}, If_Match=first.headers["ETag"])
        self.assertEqual(stale.status, 412)

    def test_what_a_writer_that_was_killed_left_is_removed_and_nothing_else(self):
        (self.path / ".lift.json.0123456789abcdef.new").write_text("half of a docu")
        (self.path / ".keep").write_text("somebody else's")
        with Adapter("--circuits", str(self.path)):
            self.assertEqual(os.listdir(self.path), [".keep"])


class FullDisk(unittest.TestCase):
    def test_a_circuit_that_does_not_fit_is_507_and_the_old_one_stays(self):
        with tempfile.TemporaryDirectory() as folder, Adapter("--circuits", folder) as adapter:
            etag = adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
            unlimited = resource.prlimit(adapter.process.pid, resource.RLIMIT_FSIZE)
            resource.prlimit(adapter.process.pid, resource.RLIMIT_FSIZE, (100, unlimited[1]))
            larger = json.dumps({**LIFT, "title": "Larger than the disk"})
            answer = adapter.put("/v1/circuits/lift", larger, If_Match=etag)
            self.assertEqual((answer.status, answer.json()["code"]), (507, "disk_full"))
            self.assertEqual(adapter.get("/v1/circuits/lift").headers["ETag"], etag)
            self.assertEqual(os.listdir(folder), ["lift.json"])
            self.assertEqual((Path(folder) / "lift.json").read_text(encoding="utf-8"), LIFT_TEXT)
            resource.prlimit(adapter.process.pid, resource.RLIMIT_FSIZE, unlimited)
            self.assertEqual(adapter.put("/v1/circuits/lift", larger, If_Match=etag).status, 200)


class Memory(AdapterTest):
    options = ["--max-circuits", "1"]

    def test_without_a_directory_circuits_live_in_memory_up_to_the_limit(self):
        self.assertEqual(self.adapter.put("/v1/circuits/lift", LIFT_TEXT).status, 201)
        self.assert_problem(
            self.adapter.put("/v1/circuits/b", titled("t", id="b")), 507, "store_full"
        )
        self.assertEqual(
            self.adapter.put("/v1/circuits/lift", titled("t"), If_Match="*").status, 200
        )


class Directory(unittest.TestCase):
    """What the directory may hold at the start."""

    def refusal(self, files, *options):
        with tempfile.TemporaryDirectory() as folder:
            for name, text in files.items():
                (Path(folder) / name).write_text(text, encoding="utf-8")
            with self.assertRaises(AssertionError) as caught:
                with Adapter("--circuits", folder, *options):
                    pass
            return str(caught.exception)

    def test_more_circuits_than_may_be_are_refused(self):
        two = {"lift.json": LIFT_TEXT, "hoist.json": titled("Hoist", id="hoist")}
        self.assertIn("more than 1 circuits", self.refusal(two, "--max-circuits", "1"))

    def test_a_bad_circuit_file_is_named_with_the_place_in_it(self):
        broken = copy.deepcopy(LIFT)
        broken["components"][2]["type"] = "teapot"
        told = self.refusal({"lift.json": json.dumps(broken)})
        self.assertIn("lift.json", told)
        self.assertIn("/components/2/type", told)

    def test_a_file_named_otherwise_than_its_circuit_is_refused(self):
        told = self.refusal({"hoist.json": LIFT_TEXT})
        self.assertIn("hoist.json", told)
        self.assertIn("lift", told)

    def test_other_files_are_left_alone(self):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "lift.json").write_text(LIFT_TEXT, encoding="utf-8")
            (Path(folder) / "README.txt").write_text("not a circuit", encoding="utf-8")
            (Path(folder) / ".lift.json.0123456789abcdef.new").write_text("{ cut off by a cra", encoding="utf-8")
            with Adapter("--circuits", folder) as adapter:
                ids = [c["id"] for c in adapter.get("/v1/circuits").json()["circuits"]]
                self.assertEqual(ids, ["lift"])
                # What a crash left behind does not stand in the way.
                answer = adapter.put("/v1/circuits/lift", titled("t"), If_Match="*")
                self.assertEqual(answer.status, 200)
            self.assertEqual(sorted(os.listdir(folder)), ["README.txt", "lift.json"])


if __name__ == "__main__":
    unittest.main()
