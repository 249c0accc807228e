"""Short forms of flood_run: honest requests are answered while slow senders, deaf readers and costly requests are there."""

import os
import tempfile
import threading
import unittest

import floods
from adapter import LIFT_TEXT, Adapter

MANY = [f"127.0.0.{i}" for i in range(10, 20)]
HONEST = "127.0.0.9"
SECONDS = 3
# MiB beside those given on the command line: what the adapter is without clients, for the most part.
AT_REST = 60
GIVEN = ["--request-memory", "64", "--answer-memory", "64", "--answer-cache", "16"]
MEMORY = 64 + 64 + 16 + AT_REST


class Floods(unittest.TestCase):
    def setUp(self):
        if not floods.allow_descriptors(10_000):
            self.skipTest("needs 10,000 descriptors")

    def served_under(self, kind, count, sources):
        with tempfile.TemporaryDirectory() as folder, \
                Adapter(*GIVEN, "--cases", f"sqlite:{folder}/cases.db") as adapter:
            adapter.put("/v1/circuits/lift", LIFT_TEXT)
            adapter.put(floods.PATH, floods.wide_case())
            with floods.Flooding(kind, adapter.port, count, sources):
                outcomes = floods.honest(adapter.port, HONEST, SECONDS, 0.02)
                for path in ("/livez", "/readyz", "/metrics"):
                    self.assertEqual(floods.ask(adapter.port, HONEST, "GET", path).status, 200)
            answered = sum(outcome.status == 200 for outcome in outcomes)
            self.assertGreaterEqual(answered, 0.95 * len(outcomes), outcomes)
            if "FAULTODDS_MEMORY_UNBOUNDED" not in os.environ:
                self.assertLess(floods.memory(adapter.process.pid), MEMORY)

    def test_slow_senders_from_many_addresses(self):
        self.served_under("senders", 4200, MANY)

    def test_slow_senders_that_share_the_address_of_who_is_honest(self):
        self.served_under("senders", 4200, [HONEST])

    def test_readers_that_do_not_read_from_many_addresses(self):
        self.served_under("readers", 900, MANY)

    def test_readers_that_do_not_read_and_share_the_address_of_who_is_honest(self):
        self.served_under("readers", 900, [HONEST])


class Costly(unittest.TestCase):
    def test_large_documents_of_many_names_are_answered_and_leave_nothing_behind(self):
        for name, body in floods.costly().items():
            with self.subTest(name), Adapter("--threads", "2") as adapter:
                adapter.put("/v1/circuits/lift", LIFT_TEXT)
                outcomes = []
                senders = [threading.Thread(target=lambda body=body: outcomes.append(
                    floods.ask(adapter.port, HONEST, "POST", "/v1/assess", body, 25))) for _ in range(4)]
                for sender in senders:
                    sender.start()
                for path in ("/livez", "/readyz", "/metrics"):
                    self.assertEqual(adapter.get(path).status, 200)
                for sender in senders:
                    sender.join()
                self.assertLessEqual({outcome.status for outcome in outcomes}, {200, 422, 503})
                self.assertEqual(floods.honest(adapter.port, HONEST, 0.1)[0].status, 200)


class Classes(unittest.TestCase):
    def test_asset_classes_that_no_pack_knows_share_one_model(self):
        def ask(adapter, names):
            for name in names:
                case = {"format": "faultodds-case/1", "asset": {"class": name}, "observations": []}
                answer = adapter.assess("lift", case)
                self.assertEqual(answer.status, 200)
                self.assertEqual(answer.json()["faults"], self.faults)

        with Adapter("--answer-cache", "0") as adapter:
            adapter.put("/v1/circuits/lift", LIFT_TEXT)
            self.faults = adapter.assess("lift", {"format": "faultodds-case/1", "observations": []}).json()["faults"]
            rest = floods.memory(adapter.process.pid, "VmRSS")
            ask(adapter, [f"class-{i}" for i in range(300)])
            if "FAULTODDS_MEMORY_UNBOUNDED" not in os.environ:
                self.assertLess(floods.memory(adapter.process.pid, "VmRSS") - rest, 20)

    def test_names_that_mean_something_to_programs_are_only_text(self):
        names = ["toString", "constructor", "__proto__", "..", "hasOwnProperty", "null", "default"]
        with tempfile.TemporaryDirectory() as folder, Adapter("--circuits", folder) as adapter:
            adapter.put("/v1/circuits/lift", LIFT_TEXT)
            for name in names:
                with self.subTest(name):
                    case = {"format": "faultodds-case/1", "asset": {"class": name}, "observations": []}
                    self.assertEqual(adapter.assess("lift", case).status, 200)
                    self.assertEqual(adapter.assess(name, case).json()["code"], "unknown_circuit")
                    self.assertEqual(adapter.get("/v1/circuits/" + name).status, 404)
                    put = adapter.put("/v1/circuits/" + name, LIFT_TEXT.replace('"lift"', f'"{name}"', 1))
                    self.assertEqual(put.status, 400 if name == ".." else 201, put.body)
            stored = {circuit["id"] for circuit in adapter.get("/v1/circuits").json()["circuits"]}
            self.assertEqual(stored, {"lift", *names} - {".."})
            self.assertEqual(sorted(os.listdir(folder)), sorted(name + ".json" for name in stored))


if __name__ == "__main__":
    unittest.main()
