"""What operating the adapter needs: tokens and their scopes, TLS, metrics, the access log, remembered answers."""

import datetime
import hashlib
import json
import re
import shutil
import signal
import ssl
import subprocess
import tempfile
import time
import unittest
from pathlib import Path

from adapter import DRIFTS, LIFT_TEXT, PATIENCE, PROGRAM, Adapter, AdapterTest, case, read_answer

READ, WRITE, LATER = "reads-0123456789abcdef", "writes-0123456789abcdef", "later-0123456789abcdef"


class Scratch(unittest.TestCase):
    assert_problem = AdapterTest.assert_problem

    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)

    def file(self, name, text):
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    def eventually(self, holds):
        deadline = time.monotonic() + PATIENCE
        while not holds():
            self.assertLess(time.monotonic(), deadline)
            time.sleep(0.05)


def bearer(token):
    return {"Authorization": "Bearer " + token}


class Tokens(Scratch):
    def lines(self):
        hashed = hashlib.sha256(WRITE.encode()).hexdigest()
        return f"# who may what\n\nread {READ} work-orders\nwrite sha256:{hashed}\n"

    def test_everything_but_the_health_checks_needs_a_token(self):
        with Adapter("--tokens", self.file("tokens", self.lines())) as adapter:
            for path in ("/livez", "/healthz", "/readyz"):
                self.assertEqual(adapter.get(path).status, 200)
            answer = adapter.get("/v1/circuits")
            self.assert_problem(answer, 401, "unauthorized")
            self.assertEqual(answer.headers["WWW-Authenticate"], "Bearer")
            wrong = ["Bearer", "Bearer " + READ[:-1], "Bearer " + READ + "x", "Basic eDp5"]
            wrong += ["Bearer  " + READ, READ, "Bearer sha256:" + hashlib.sha256(WRITE.encode()).hexdigest()]
            for value in wrong:
                answer = adapter.get("/v1/circuits", Authorization=value)
                self.assert_problem(answer, 401, "unauthorized")
                self.assertEqual(answer.headers["WWW-Authenticate"], 'Bearer error="invalid_token"')
            for path in ("/nowhere", "/metrics", "/openapi.json", "/v1/circuits?access_token=" + READ):
                self.assert_problem(adapter.get(path), 401, "unauthorized")
            for scheme in ("Bearer ", "bearer ", "BEARER "):
                answer = adapter.get("/v1/circuits", Authorization=scheme + READ)
                self.assertEqual(answer.status, 200)

    def test_reading_does_not_allow_writing_and_writing_allows_reading(self):
        with Adapter("--tokens", self.file("tokens", self.lines())) as adapter:
            put = lambda token: adapter.request("PUT", "/v1/circuits/lift", LIFT_TEXT, bearer(token))
            refused = put(READ)
            self.assert_problem(refused, 403, "insufficient_scope")
            self.assertEqual(
                refused.headers["WWW-Authenticate"],
                'Bearer error="insufficient_scope", scope="write"',
            )
            self.assertEqual(put(WRITE).status, 201)
            for token in (READ, WRITE):
                question = {"circuit": "lift", "case": DRIFTS}
                for path in ("/v1/assess", "/v1/note", "/v1/plan"):
                    self.assertEqual(adapter.request("POST", path, question, bearer(token)).status, 200)

    def test_a_body_without_a_token_is_not_read(self):
        with Adapter("--tokens", self.file("tokens", self.lines())) as adapter:
            with adapter.connect() as connection:
                connection.sendall(
                    b"POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
                    b"Content-Length: 1000000\r\nExpect: 100-continue\r\n\r\n"
                )
                answer = read_answer(connection)
                self.assert_problem(answer, 401, "unauthorized")
                self.assertEqual(answer.headers["Connection"], "close")

    def test_tokens_change_on_sighup_and_stay_when_the_file_is_wrong(self):
        name = self.file("tokens", self.lines())
        adapter = Adapter("--tokens", name)
        status = lambda token: adapter.get("/v1/circuits", **bearer(token)).status
        self.assertEqual((status(READ), status(LATER)), (200, 401))
        self.file("tokens", f"read {READ}\nread {LATER}\n")
        adapter.process.send_signal(signal.SIGHUP)
        self.eventually(lambda: status(LATER) == 200)
        self.assertEqual((status(READ), status(WRITE)), (200, 401))
        self.file("tokens", f"read {LATER}\n")
        adapter.process.send_signal(signal.SIGHUP)
        self.eventually(lambda: status(READ) == 401)
        self.file("tokens", "all " + READ)
        adapter.process.send_signal(signal.SIGHUP)
        self.assertIn("line 1: expected `read` or `write`", adapter.process.stderr.readline())
        self.assertEqual((status(READ), status(LATER)), (401, 200))
        self.assertEqual(adapter.stop(), 0)

    def test_a_file_of_tokens_that_cannot_be_used_is_told_at_the_start(self):
        wrong = {
            "": "holds no token",
            "# nothing\n": "holds no token",
            "read short\n": "line 1: expected a token of 16 characters",
            f"\nread {READ} a b\n": "line 2: expected `read` or `write`",
            "read sha256:00\n": "line 1: expected 64 digits",
            READ + "\n": "line 1: expected `read` or `write`",
        }
        for text, words in wrong.items():
            with self.subTest(text):
                done = subprocess.run(
                    [PROGRAM, "--port", "0", "--tokens", self.file("tokens", text)],
                    capture_output=True, text=True, timeout=PATIENCE,
                )
                self.assertEqual(done.returncode, 1)
                self.assertIn(words, done.stderr)


@unittest.skipIf(shutil.which("openssl") is None, "no openssl to make a certificate with")
class Tls(Scratch):
    def certificate(self, name):
        """A certificate for `name` in certificate.pem and key.pem."""
        made = subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
             "-nodes", "-keyout", str(self.folder / "key.pem"), "-out", str(self.folder / "certificate.pem"),
             "-days", "2", "-subj", "/CN=" + name, "-addext", "subjectAltName=DNS:" + name],
            capture_output=True, timeout=PATIENCE,
        )
        self.assertEqual(made.returncode, 0, made.stderr)

    def start(self, *options):
        adapter = Adapter("--tls-certificate", str(self.folder / "certificate.pem"), "--tls-key",
                          str(self.folder / "key.pem"), *options)
        self.addCleanup(adapter.stop)
        return adapter

    def context(self, trusted=None):
        return ssl.create_default_context(cafile=trusted or str(self.folder / "certificate.pem"))

    def ask(self, adapter, name, context=None):
        with adapter.connect() as plain:
            with (context or self.context()).wrap_socket(plain, server_hostname=name) as connection:
                answers = []
                for _ in range(3):
                    connection.sendall(b"GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n")
                    answers.append(read_answer(connection))
                return answers, connection.version()

    def test_requests_are_answered_over_tls_one_after_another_on_a_connection(self):
        self.certificate("press.example")
        answers, version = self.ask(self.start(), "press.example")
        self.assertEqual([a.status for a in answers], [200] * 3)
        self.assertEqual(answers[0].json()["openapi"], "3.1.0")
        self.assertEqual(version, "TLSv1.3")

    def test_tls_1_2_is_spoken_and_nothing_older(self):
        self.certificate("press.example")
        adapter = self.start()
        context = self.context()
        context.maximum_version = ssl.TLSVersion.TLSv1_2
        self.assertEqual(self.ask(adapter, "press.example", context)[1], "TLSv1.2")
        old = self.context()
        old.set_ciphers("ALL:@SECLEVEL=0")
        old.minimum_version = ssl.TLSVersion.TLSv1
        old.maximum_version = ssl.TLSVersion.TLSv1_1
        with self.assertRaises((ssl.SSLError, ConnectionError)):
            self.ask(adapter, "press.example", old)

    def test_what_is_no_tls_is_closed_and_a_handshake_has_its_time(self):
        self.certificate("press.example")
        adapter = self.start("--timeout", "0.5", "--threads", "1")
        with adapter.connect() as plain:
            plain.sendall(b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n")
            try:
                self.assertNotIn(b"200", plain.recv(1000))
            except ConnectionError:
                pass
        silent = [adapter.connect() for _ in range(20)]
        for connection in silent:
            connection.sendall(b"\x16\x03\x01")
        self.assertEqual(self.ask(adapter, "press.example")[0][0].status, 200)
        for connection in silent:
            try:
                self.assertEqual(connection.recv(1), b"")
            except ConnectionError:
                pass
            connection.close()

    def test_large_bodies_and_bytes_beyond_a_request_are_as_without_tls(self):
        self.certificate("press.example")
        adapter = self.start()
        with adapter.connect() as plain:
            with self.context().wrap_socket(plain, server_hostname="press.example") as connection:
                body = b" " * 900_000
                connection.sendall(b"POST /v1/assess HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
                                   b"Content-Length: %d\r\n\r\n" % len(body) + body)
                self.assert_problem(read_answer(connection), 400, "invalid_json")
                request = b"GET /livez HTTP/1.1\r\nHost: x\r\n\r\n"
                connection.sendall(request + request)
                received = b""
                while chunk := connection.recv(65536):
                    received += chunk
                self.assertEqual(received.count(b"HTTP/1.1 200"), 1)

    def test_a_new_certificate_is_read_on_sighup(self):
        self.certificate("press.example")
        adapter = self.start()
        self.assertEqual(self.ask(adapter, "press.example")[0][0].status, 200)
        self.certificate("veneer.example")
        adapter.process.send_signal(signal.SIGHUP)

        def renewed():
            try:
                return self.ask(adapter, "veneer.example")[0][0].status == 200
            except ssl.SSLError:
                return False

        self.eventually(renewed)

    def test_a_certificate_that_cannot_be_used_is_told_at_the_start(self):
        self.certificate("press.example")
        self.file("other.pem", "no key")
        done = subprocess.run(
            [PROGRAM, "--port", "0", "--tls-certificate", str(self.folder / "certificate.pem"),
             "--tls-key", str(self.folder / "other.pem")],
            capture_output=True, text=True, timeout=PATIENCE,
        )
        self.assertEqual(done.returncode, 1)
        self.assertIn("other.pem: no private key in PEM", done.stderr)
        done = subprocess.run(
            [PROGRAM, "--port", "0", "--tls-certificate", str(self.folder / "other.pem"),
             "--tls-key", str(self.folder / "key.pem")],
            capture_output=True, text=True, timeout=PATIENCE,
        )
        self.assertEqual(done.returncode, 1)
        self.assertIn("other.pem: no certificate in PEM", done.stderr)


def sample(text, name):
    """The value of one line of metrics."""
    found = re.search("^" + re.escape(name) + r" (\S+)$", text, re.MULTILINE)
    return float(found.group(1)) if found else None


class Metrics(AdapterTest):
    def metrics(self):
        answer = self.adapter.get("/metrics")
        self.assertEqual(answer.headers["Content-Type"], "text/plain; version=0.0.4")
        return answer.body.decode("utf-8")

    def test_requests_are_counted_by_route_method_and_class_of_status(self):
        for id in ("one", "two", "%ff%0a\"", "three"):
            self.adapter.get("/v1/circuits/" + id)
        for path in ("/wp-login.php", "/x", "/v1/circuits/a/b/c"):
            self.adapter.get(path)
        self.adapter.raw(b"nonsense\r\n\r\n")
        self.adapter.assess(json.loads(LIFT_TEXT), DRIFTS)
        text = self.metrics()
        total = "faultodds_http_requests_total"
        self.assertEqual(sample(text, total + '{route="/v1/circuits/{id}",method="GET",status="4xx"}'), 4)
        self.assertEqual(sample(text, total + '{route="none",method="GET",status="4xx"}'), 3)
        self.assertEqual(sample(text, total + '{route="none",method="other",status="4xx"}'), 1)
        duration = "faultodds_http_request_duration_seconds"
        self.assertEqual(sample(text, duration + '_count{route="/v1/assess"}'), 1)
        self.assertEqual(sample(text, duration + '_bucket{route="/v1/assess",le="+Inf"}'), 1)
        self.assertGreater(sample(text, duration + '_sum{route="/v1/assess"}'), 0)

    def test_every_line_is_prometheus_text(self):
        comment = re.compile(r"# (HELP \w+ .+|TYPE \w+ (counter|gauge|histogram))")
        line = re.compile(r'\w+(\{\w+="[^"\\\n]*"(,\w+="[^"\\\n]*")*\})? [0-9.e+-]+')
        for each in self.metrics().splitlines():
            self.assertTrue(comment.fullmatch(each) or line.fullmatch(each), each)

    def test_the_connection_that_asks_is_open_and_no_worker_is_taken_by_it(self):
        deadline = time.monotonic() + PATIENCE
        # A thread that has answered another request may be counted a moment longer.
        while sample(text := self.metrics(), "faultodds_http_requests_in_flight") != 0:
            self.assertLess(time.monotonic(), deadline)
        self.assertGreaterEqual(sample(text, "faultodds_http_connections"), 1)
        self.assertEqual(sample(text, "faultodds_http_requests_waiting"), 0)


class AnswersKept(Scratch):
    def count(self, adapter):
        text = adapter.get("/metrics").body.decode("utf-8")
        prefix = "faultodds_http_answer_cache_"
        return tuple(int(sample(text, prefix + kind)) for kind in ("hits_total", "misses_total", "bytes"))

    def test_the_same_question_again_gets_the_same_bytes_from_memory(self):
        with Adapter() as adapter, Adapter("--answer-cache", "0") as without:
            for each in (adapter, without):
                each.put("/v1/circuits/lift", LIFT_TEXT)
            ask = lambda to, path, **headers: to.request(
                "POST", path, {"circuit": "lift", "case": DRIFTS}, headers)
            for path, headers in (("/v1/assess", {}), ("/v1/note", {}), ("/v1/note", {"Accept": "text/html"})):
                first, again = ask(adapter, path, **headers), ask(adapter, path, **headers)
                self.assertEqual(first.status, 200)
                self.assertEqual(first.body, again.body)
                self.assertEqual(first.body, ask(without, path, **headers).body)
                self.assertEqual(first.headers["Content-Type"], again.headers["Content-Type"])
            self.assertEqual(self.count(adapter)[:2], (3, 3))
            self.assertEqual(self.count(without), (0, 0, 0))

    def test_every_byte_of_the_case_counts_and_own_priors_are_never_kept(self):
        with Adapter() as adapter:
            adapter.put("/v1/circuits/lift", LIFT_TEXT)
            adapter.assess("lift", DRIFTS)
            adapter.assess("lift", case())
            adapter.request("POST", "/v1/assess",
                            '{"circuit":"lift","case": ' + json.dumps(DRIFTS).replace(":", " :") + "}")
            self.assertEqual(self.count(adapter)[:2], (0, 3))
            adapter.assess("lift", DRIFTS, priors={"format": "faultodds-priors/1", "id": "p"})
            adapter.assess(json.loads(LIFT_TEXT), DRIFTS)
            self.assertEqual(self.count(adapter)[:2], (0, 3))
            adapter.assess("lift", case(("drift/cylinder/retract", "nonsense")))  # no answer to keep
            adapter.assess("lift", case(("drift/cylinder/retract", "nonsense")))
            self.assertEqual(self.count(adapter)[:2], (0, 5))

    def test_a_replaced_circuit_answers_anew(self):
        circuit = json.loads(LIFT_TEXT)
        with Adapter() as adapter:
            etag = adapter.put("/v1/circuits/lift", circuit).headers["ETag"]
            adapter.assess("lift", DRIFTS)
            circuit["title"] = "changed"
            put = adapter.put("/v1/circuits/lift", circuit, If_Match=etag)
            self.assertEqual(put.status, 200, put.body)
            adapter.assess("lift", DRIFTS)
            self.assertEqual(self.count(adapter)[:2], (0, 2))

    def test_memory_is_bounded_and_what_was_used_last_stays(self):
        with Adapter("--answer-cache", "1") as adapter:
            adapter.put("/v1/circuits/lift", LIFT_TEXT)
            for i in range(200):
                adapter.assess("lift", {**DRIFTS, "note": f"{i}"})
                adapter.assess("lift", {**DRIFTS, "note": "0"})
            hits, misses, size = self.count(adapter)
            self.assertEqual((hits, misses), (200, 200))
            self.assertLessEqual(size, 1 << 20)
            self.assertGreater(size, 1 << 19)


class AccessLog(Scratch):
    def lines(self, path):
        return [json.loads(line) for line in Path(path).read_text(encoding="utf-8").splitlines()]

    def test_each_request_is_a_line_without_ids_cases_or_tokens(self):
        log = str(self.folder / "access.log")
        tokens = self.file("tokens", f"write {WRITE} yard\n")
        with Adapter("--access-log", log, "--tokens", tokens) as adapter:
            trace = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"
            adapter.request("PUT", "/v1/circuits/lift", LIFT_TEXT, bearer(WRITE))
            adapter.request("POST", "/v1/assess", {"circuit": "lift", "case": {**DRIFTS, "note": "s3cret"}},
                            {**bearer(WRITE), "traceparent": trace})
            adapter.get("/v1/circuits/private-name?q=s3cret", Authorization="Bearer wrong")
            adapter.raw(b"s3cret\r\n\r\n")
        lines = self.lines(log)
        self.assertEqual(
            [(l["method"], l["route"], l["status"], l.get("token")) for l in lines],
            [("PUT", "/v1/circuits/{id}", 201, "yard"), ("POST", "/v1/assess", 200, "yard"),
             ("GET", "/v1/circuits/{id}", 401, None), ("", "", 400, None)],
        )
        self.assertEqual(lines[1]["trace"], "4bf92f3577b34da6a3ce929d0e0e4736")
        self.assertNotIn("trace", lines[0])
        for line in lines:
            datetime.datetime.strptime(line["time"], "%Y-%m-%dT%H:%M:%S.%fZ")
            self.assertGreater(line["bytes"], 100)
            self.assertGreaterEqual(line["ms"], 0)
        text = Path(log).read_text(encoding="utf-8")
        for secret in ("s3cret", "private-name", WRITE, "lift", "drift"):
            self.assertNotIn(secret, text)

    def test_the_log_is_opened_again_on_sighup(self):
        log = self.folder / "access.log"
        with Adapter("--access-log", str(log)) as adapter:
            adapter.get("/livez")
            log.rename(self.folder / "access.log.1")
            adapter.process.send_signal(signal.SIGHUP)
            self.eventually(log.exists)
            adapter.get("/healthz")
            self.eventually(lambda: log.stat().st_size > 0)
        self.assertEqual([l["route"] for l in self.lines(self.folder / "access.log.1")], ["/livez"])
        self.assertEqual([l["route"] for l in self.lines(log)], ["/healthz"])

    def test_the_log_may_go_to_standard_output(self):
        adapter = Adapter("--access-log", "-")
        adapter.get("/livez")
        line = json.loads(adapter.process.stdout.readline())
        self.assertEqual((line["route"], line["status"]), ("/livez", 200))
        adapter.stop()


if __name__ == "__main__":
    unittest.main()
