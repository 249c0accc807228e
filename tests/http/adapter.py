"""Starts the adapter for a test and talks to it, by requests or by bare bytes."""

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import unittest
from pathlib import Path
from typing import Any, Dict, NamedTuple, Optional

TESTS = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(TESTS))

PROGRAM = os.environ["FAULTODDS_HTTP"]
LIFT_TEXT = (TESTS / "bindings" / "lift.json").read_text(encoding="utf-8")
LIFT = json.loads(LIFT_TEXT)
PATIENCE = 30  # seconds that nothing here should take


class Answer(NamedTuple):
    status: int
    headers: http.client.HTTPMessage
    body: bytes

    def json(self) -> Any:
        return json.loads(self.body)


class Adapter:
    """A running adapter on a free port of loopback."""

    def __init__(self, *options: str) -> None:
        self.process = subprocess.Popen(
            [PROGRAM, "--port", "0", *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        line = self.process.stdout.readline()
        found = re.search(r"listening on https?://127\.0\.0\.1:(\d+)$", line.strip())
        if not found:
            _, errors = self.process.communicate(timeout=PATIENCE)
            raise AssertionError(f"the adapter did not start: {line!r} {errors!r}")
        self.port = int(found.group(1))

    def __enter__(self) -> "Adapter":
        return self

    def __exit__(self, *_: Any) -> None:
        self.stop()

    def stop(self, by: int = signal.SIGTERM) -> int:
        """Stops it and returns its exit code; what it wrote to stderr fails the test."""
        if self.process.poll() is None:
            self.process.send_signal(by)
        try:
            _, errors = self.process.communicate(timeout=PATIENCE)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        if errors:
            raise AssertionError(f"the adapter wrote to stderr: {errors}")
        return self.process.returncode

    def request(
        self,
        method: str,
        path: str,
        body: Any = None,
        headers: Optional[Dict[str, str]] = None,
    ) -> Answer:
        """A body that is no bytes or text is sent as JSON."""
        sent = dict(headers or {})
        if body is not None:
            if not isinstance(body, (bytes, str)):
                body = json.dumps(body)
            if isinstance(body, str):
                body = body.encode("utf-8")
            sent.setdefault("Content-Type", "application/json")
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        try:
            connection.request(method, path, body, sent)
            response = connection.getresponse()
            return Answer(response.status, response.headers, response.read())
        finally:
            connection.close()

    def get(self, path: str, **headers: str) -> Answer:
        return self.request("GET", path, None, _dashed(headers))

    def put(self, path: str, body: Any, **headers: str) -> Answer:
        return self.request("PUT", path, body, _dashed(headers))

    def assess(self, circuit: Any, case: Any, **more: Any) -> Answer:
        return self.request("POST", "/v1/assess", {"circuit": circuit, "case": case, **more})

    def connect(self) -> socket.socket:
        return socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE)

    def raw(self, data: bytes, end: bool = False) -> Answer:
        """Sends bytes and reads one answer; `end` says that no more will come."""
        with self.connect() as connection:
            connection.sendall(data)
            if end:
                connection.shutdown(socket.SHUT_WR)
            return read_answer(connection)


def _dashed(headers: Dict[str, str]) -> Dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


def read_answer(connection: socket.socket) -> Answer:
    response = http.client.HTTPResponse(connection)
    response.begin()
    return Answer(response.status, response.headers, response.read())


def rest_of(connection: socket.socket) -> bytes:
    """Everything until the other side closes."""
    received = b""
    while True:
        chunk = connection.recv(65536)
        if not chunk:
            return received
        received += chunk


def case(*observations: "tuple[str, str]", **more: Any) -> "dict[str, Any]":
    seen = [{"observation": name, "outcome": outcome} for name, outcome in observations]
    return {"format": "faultodds-case/1", "detail": "full", "observations": seen, **more}


DRIFTS = case(("drift/cylinder/retract", "fast"))


class AdapterTest(unittest.TestCase):
    """One adapter for the tests of a class."""

    options: "list[str]" = []
    adapter: Adapter

    @classmethod
    def setUpClass(cls) -> None:
        cls.adapter = Adapter(*cls.options)

    @classmethod
    def tearDownClass(cls) -> None:
        cls.adapter.stop()

    def assert_problem(
        self, answer: Answer, status: int, code: str, pointer: str = ""
    ) -> "dict[str, Any]":
        """Problem details with exactly these."""
        self.assertEqual(answer.status, status, answer.body)
        self.assertEqual(answer.headers["Content-Type"], "application/problem+json")
        problem = answer.json()
        self.assertEqual(
            list(problem), ["type", "title", "status", "detail", "code", "pointer"]
        )
        self.assertEqual(problem["code"], code)
        self.assertEqual(problem["type"], "urn:faultodds:problem:" + code)
        self.assertEqual(problem["status"], status)
        self.assertEqual(problem["pointer"], pointer)
        self.assertNotEqual(problem["title"], "")
        self.assertNotEqual(problem["title"], "The request was refused")  # a code without a title
        self.assertNotEqual(problem["detail"], "")
        return problem
