"""The program: its command line, its start and its end."""

import contextlib
import json
import os
import resource
import signal
import subprocess
import tempfile
import time
import unittest
from pathlib import Path

from adapter import LIFT, PATIENCE, PROGRAM, Adapter, case, read_answer
from limits import hostile


def run(*options):
    return subprocess.run([PROGRAM, *options], capture_output=True, text=True, timeout=PATIENCE)


class CommandLine(unittest.TestCase):
    def test_version_and_help_end_well(self):
        done = run("--version")
        self.assertEqual(done.returncode, 0)
        self.assertEqual(done.stdout.strip(), "faultodds-http " + os.environ["FAULTODDS_VERSION"])
        done = run("--help")
        self.assertEqual(done.returncode, 0)
        for option in ("--listen", "--port", "--circuits", "--threads", "--max-body"):
            self.assertIn(option, done.stdout)

    def test_a_wrong_command_line_is_code_2(self):
        wrong = [["--no-such"], ["--port", "70000"], ["--port", "x"], ["--threads", "0"]]
        wrong += [["--circuits", "/no/such/directory"], ["--timeout", "nan"], ["stray"]]
        for options in wrong:
            with self.subTest(options):
                done = run(*options)
                self.assertEqual(done.returncode, 2)
                self.assertNotEqual(done.stderr, "")


class Start(unittest.TestCase):
    def test_a_port_that_is_taken_is_told(self):
        with Adapter() as adapter:
            done = run("--port", str(adapter.port))
            self.assertEqual(done.returncode, 1)
            self.assertIn(str(adapter.port), done.stderr)
            self.assertIn("in use", done.stderr)

    def test_an_address_that_is_none_is_told(self):
        done = run("--listen", "203.0.113.77", "--port", "0")
        self.assertEqual(done.returncode, 1)
        self.assertIn("203.0.113.77", done.stderr)

    def test_an_access_log_or_a_store_that_is_a_file_it_reads_is_refused_naming_both_and_the_file_stays(self):
        with tempfile.TemporaryDirectory() as folder:
            read = {"--tokens": "tokens", "--tls-certificate": "certificate.pem", "--tls-key": "key.pem",
                    "--priors": "pack.json", "--circuits": "circuits/lift.json"}
            (Path(folder) / "circuits").mkdir()
            given = []
            for option, name in read.items():
                (Path(folder) / name).write_text("as it was", encoding="utf-8")
                given += [option, f"{folder}/{'circuits' if option == '--circuits' else name}"]
            for option, name in read.items():
                os.link(f"{folder}/{name}", f"{folder}/hard")
                os.symlink("hard", f"{folder}/link")
                for writing in (["--access-log", f"{folder}/link"], ["--cases", f"sqlite:{folder}/hard"]):
                    with self.subTest(option, writing=writing):
                        done = run("--port", "0", *given, *writing)
                        self.assertEqual(done.returncode, 1)
                        self.assertIn(writing[0], done.stderr)
                        self.assertIn(option, done.stderr)
                        self.assertEqual((Path(folder) / name).read_text(encoding="utf-8"), "as it was")
                os.unlink(f"{folder}/link")
                os.unlink(f"{folder}/hard")

    def test_a_prior_pack_for_all_requests_comes_from_a_file(self):
        with tempfile.TemporaryDirectory() as folder:
            pack = Path(folder) / "pack.json"
            pack.write_text(
                '{"format": "faultodds-priors/1", "id": "yard", "modes": '
                '[{"type": "port_relief", "mode": "seat_leak", "grades": [0.5, 0.25, 0.25]}]}'
            )
            with Adapter("--priors", str(pack)) as adapter:
                answer = adapter.assess(LIFT, case())
            odds = {f["mode"]: f["prior_odds"] for f in answer.json()["faults"]}
            self.assertAlmostEqual(odds["cap_relief.seat_leak"], 1, places=12)


    def test_a_prior_pack_that_cannot_be_read_is_told(self):
        with tempfile.TemporaryDirectory() as folder:
            empty = Path(folder) / "empty.json"
            empty.write_text("")
            done = run("--port", "0", "--priors", str(empty))
            self.assertEqual(done.returncode, 1)
            self.assertIn(f"{empty}: could not be read or is empty", done.stderr)

    def test_it_takes_the_descriptors_that_its_connections_need(self):
        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        if hard != resource.RLIM_INFINITY and hard < 500:
            self.skipTest(f"only {hard} descriptors")
        resource.setrlimit(resource.RLIMIT_NOFILE, (100, hard))
        try:
            adapter = Adapter("--max-connections", "300")
        finally:
            resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, 500), hard))
        with adapter, contextlib.ExitStack() as open_ones:
            connections = [open_ones.enter_context(adapter.connect()) for _ in range(200)]
            for connection in (*connections, connections[0]):
                connection.sendall(b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
                self.assertEqual(read_answer(connection).status, 200)

    def test_where_descriptors_run_out_the_connection_idle_longest_makes_room(self):
        with Adapter() as adapter, contextlib.ExitStack() as open_ones:
            resource.prlimit(adapter.process.pid, resource.RLIMIT_NOFILE, (40, 40))
            connections = []
            for _ in range(60):
                connections.append(open_ones.enter_context(adapter.connect()))
                connections[-1].sendall(b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
                self.assertEqual(read_answer(connections[-1]).status, 200)
            self.assertEqual(connections[0].recv(1), b"")  # it had to go
            connections[-1].sendall(b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
            self.assertEqual(read_answer(connections[-1]).status, 200)


class Time(unittest.TestCase):
    def test_work_that_takes_too_long_is_ended(self):
        with Adapter("--timeout", "0.5") as adapter:
            body = {
                "circuit": json.loads(hostile.mesh(30)),  # seconds, until it is refused
                "case": case(),
            }
            answer = adapter.request("POST", "/v1/assess", body)
            self.assertEqual(answer.status, 503)
            self.assertEqual(answer.json()["code"], "cancelled")
            self.assertEqual(adapter.assess(LIFT, case()).status, 200)


class Stop(unittest.TestCase):
    def test_both_signals_end_it_well(self):
        for by in (signal.SIGTERM, signal.SIGINT):
            self.assertEqual(Adapter().stop(by), 0)

    def test_a_request_at_hand_is_answered_first(self):
        adapter = Adapter()
        with adapter.connect() as connection:
            connection.sendall(b"GET /livez HTTP/1.1\r\n")
            time.sleep(0.3)
            adapter.process.send_signal(signal.SIGTERM)
            time.sleep(0.3)
            connection.sendall(b"Host: x\r\n\r\n")
            self.assertEqual(read_answer(connection).status, 200)
        self.assertEqual(adapter.stop(), 0)

    def test_a_connection_that_says_nothing_does_not_delay_the_end(self):
        adapter = Adapter("--timeout", "600")
        with adapter.connect():
            time.sleep(0.3)
            self.assertEqual(adapter.stop(), 0)

    def test_the_port_is_free_at_once_afterwards(self):
        adapter = Adapter()
        adapter.get("/livez")
        port = adapter.port
        self.assertEqual(adapter.stop(), 0)
        again = subprocess.Popen(
            [PROGRAM, "--port", str(port)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.assertIn(str(port), again.stdout.readline())
        again.send_signal(signal.SIGTERM)
        again.communicate(timeout=PATIENCE)
        self.assertEqual(again.returncode, 0)


if __name__ == "__main__":
    unittest.main()
