"""bindings/http/nginx.conf with the nginx that is installed: what it promises, through a real proxy."""

import http.client
import json
import os
import shutil
import socket
import ssl
import subprocess
import tempfile
import threading
import time
import unittest
from pathlib import Path

from adapter import DRIFTS, LIFT_TEXT, PATIENCE, TESTS, Adapter, rest_of

NGINX = shutil.which("nginx", path=os.environ.get("PATH", "") + ":/usr/sbin")
CONF = TESTS.parent / "bindings" / "http" / "nginx.conf"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@unittest.skipIf(NGINX is None or shutil.which("openssl") is None, "nginx or openssl is not installed")
class Proxy(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        folder = Path(scratch.name)
        folder.chmod(0o755)
        subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
             "-nodes", "-keyout", str(folder / "key.pem"), "-out", str(folder / "certificate.pem"),
             "-days", "2", "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"],
            check=True, capture_output=True, timeout=PATIENCE)
        self.adapter = Adapter("--access-log", str(folder / "access.log"))
        self.addCleanup(self.adapter.stop)
        self.adapter.put("/v1/circuits/lift", LIFT_TEXT)
        self.port = free_port()
        text = CONF.read_text(encoding="utf-8")
        for what, instead in (("127.0.0.1:8642", f"127.0.0.1:{self.adapter.port}"),
                              ("listen 443 ssl", f"listen 127.0.0.1:{self.port} ssl"),
                              ("/etc/faultodds/", f"{folder}/")):
            self.assertIn(what, text)
            text = text.replace(what, instead)
        temporary = "".join(
            f"{kind}_temp_path {folder}/{kind};\n"
            for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi"))
        (folder / "nginx.conf").write_text(
            f"daemon off; worker_processes 1; pid {folder}/pid; error_log stderr crit;\n"
            f"events {{ worker_connections 256; }}\nhttp {{ access_log off; {temporary} {text} }}\n",
            encoding="utf-8")
        self.nginx = subprocess.Popen([NGINX, "-p", str(folder), "-c", str(folder / "nginx.conf")])
        self.addCleanup(self.nginx.wait)
        self.addCleanup(self.nginx.terminate)
        self.context = ssl.create_default_context(cafile=str(folder / "certificate.pem"))
        deadline = time.monotonic() + PATIENCE
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except ConnectionRefusedError:
                self.assertLess(time.monotonic(), deadline)
                self.assertIsNone(self.nginx.poll())
                time.sleep(0.05)

    def connect(self):
        connection = http.client.HTTPSConnection(
            "localhost", self.port, context=self.context, timeout=PATIENCE)
        self.addCleanup(connection.close)
        return connection

    def ask(self, connection, method="POST", path="/v1/assess", body=None, **headers):
        connection.request(method, path, body, {"Content-Type": "application/json", **headers})
        response = connection.getresponse()
        return response.status, response.read()

    def test_answers_come_through_as_they_are_on_kept_connections(self):
        question = json.dumps({"circuit": "lift", "case": DRIFTS})
        expected = self.adapter.assess("lift", DRIFTS).body
        before = self.adapter.get("/metrics").body.decode()
        connection = self.connect()
        for _ in range(10):
            self.assertEqual(self.ask(connection, body=question), (200, expected))
        after = self.adapter.get("/metrics").body.decode()
        total = lambda text: int(text.split("\nfaultodds_http_connections_total ")[1].split()[0])
        # One connection of the proxy for ten requests; one more is this test's.
        self.assertLessEqual(total(after) - total(before), 3)

    def test_a_chunked_body_reaches_the_adapter_with_its_length(self):
        question = json.dumps({"circuit": "lift", "case": DRIFTS}).encode()
        connection = self.connect()
        connection.request("POST", "/v1/assess", iter([question[:20], question[20:]]),
                           {"Content-Type": "application/json"}, encode_chunked=True)
        self.assertEqual(connection.getresponse().status, 200)

    def test_what_could_be_read_in_two_ways_never_becomes_two_requests(self):
        second = b"PUT /v1/circuits/smuggled HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n"
        head = b"POST /v1/assess HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        for fields in (b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n",
                       b"Content-Length: 2\r\nContent-Length: 90\r\n",
                       b"Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n",
                       b"Transfer-Encoding : chunked\r\n",
                       b"Content-Length: +2\r\n"):
            with self.subTest(fields):
                plain = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE)
                with self.context.wrap_socket(plain, server_hostname="localhost") as connection:
                    connection.sendall(head + fields + b"\r\n0\r\n\r\n" + second)
                    self.assertIn(b" 400 ", rest_of(connection)[:20])
        self.assertNotIn(b"smuggled", self.adapter.get("/v1/circuits").body)

    def test_bodies_over_the_limit_and_metrics_stop_at_the_proxy(self):
        self.assertEqual(self.ask(self.connect(), body=b" " * 1_100_000)[0], 413)
        self.assertEqual(self.ask(self.connect(), "GET", "/metrics")[0], 404)

    def test_a_client_that_asks_without_pause_is_told_so(self):
        statuses = []

        def work():
            connection = self.connect()
            statuses.extend(self.ask(connection, "GET", "/livez")[0] for _ in range(40))

        threads = [threading.Thread(target=work) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        self.assertEqual(set(statuses), {200, 429})


if __name__ == "__main__":
    unittest.main()
