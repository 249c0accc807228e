"""Many clients and unfriendly ones: the adapter refuses what it must, goes on serving, and stays small."""

import os
import resource
import socket
import threading
import time
import unittest

from adapter import DRIFTS, LIFT_TEXT, AdapterTest, read_answer, rest_of

HOST = b"Host: x\r\n"
GET = b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n"


def megabytes(process):
    """Resident memory; 0 where it is a sanitizer's for the most part."""
    if "FAULTODDS_MEMORY_UNBOUNDED" in os.environ:
        return 0
    with open(f"/proc/{process.pid}/status", encoding="ascii") as status:
        for line in status:
            if line.startswith("VmRSS:"):
                return int(line.split()[1]) / 1024
    raise AssertionError("no VmRSS")


class Many(AdapterTest):
    options = ["--threads", "2", "--idle", "60", "--timeout", "60"]
    COUNT = 1000

    @classmethod
    def setUpClass(cls):
        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        if soft < 2 * cls.COUNT:
            if hard != resource.RLIM_INFINITY and hard < 2 * cls.COUNT:
                raise unittest.SkipTest(f"only {hard} descriptors")
            resource.setrlimit(resource.RLIMIT_NOFILE, (2 * cls.COUNT, hard))
        super().setUpClass()
        cls.adapter.put("/v1/circuits/lift", LIFT_TEXT)

    def setUp(self):
        self.connections = []
        self.addCleanup(lambda: [c.close() for c in self.connections])

    def open(self, data=b""):
        for _ in range(self.COUNT):
            connection = self.adapter.connect()
            self.connections.append(connection)
            connection.sendall(data)

    def serves(self):
        self.assertEqual(self.adapter.assess("lift", DRIFTS).status, 200)
        self.assertLess(megabytes(self.adapter.process), 200)

    def test_a_thousand_idle_connections_do_not_stop_the_service(self):
        self.open()
        for connection in self.connections:  # one request at a time: many at once may be turned away
            connection.sendall(GET)
            self.assertEqual(read_answer(connection).status, 200)
        self.serves()
        for connection in self.connections[::50]:  # and each is still there
            connection.sendall(GET)
            self.assertEqual(read_answer(connection).status, 200)

    def test_a_thousand_connections_that_say_nothing_do_not_stop_the_service(self):
        self.open()
        self.serves()

    def test_a_thousand_slow_heads_do_not_stop_the_service(self):
        self.open(b"GET /livez HTTP/1.1\r\nX: ")
        for connection in self.connections:
            connection.sendall(b"a")
        self.serves()

    def test_a_thousand_slow_bodies_do_not_stop_the_service(self):
        self.open(
            b"POST /v1/assess HTTP/1.1\r\n" + HOST + b"Content-Type: application/json\r\n"
            b"Content-Length: 1000000\r\n\r\n{"
        )
        self.serves()


class Slow(AdapterTest):
    options = ["--threads", "1", "--timeout", "0.5", "--idle", "0.5", "--max-connections", "20"]

    def test_slow_clients_are_let_go_and_leave_nothing(self):
        for data, status in (
            (b"GET /livez HTTP/1.1\r\nX: a", b"408"),
            (b"POST /v1/assess HTTP/1.1\r\n" + HOST + b"Content-Length: 9\r\n\r\n{", b"408"),
            (b"", b""),
            (GET, b"200"),
        ):
            with self.subTest(data):
                connections = [self.adapter.connect() for _ in range(10)]
                for connection in connections:
                    connection.sendall(data)
                for connection in connections:
                    self.assertEqual(rest_of(connection)[9:12], status)
                    connection.close()

    def test_the_connection_idle_longest_makes_room_for_a_new_one(self):
        connections = [self.adapter.connect() for _ in range(20)]
        try:
            time.sleep(0.2)
            for connection in connections[1:]:
                connection.sendall(GET)
                self.assertEqual(read_answer(connection).status, 200)
            self.assertEqual(self.adapter.get("/livez").status, 200)
            self.assertEqual(rest_of(connections[0]), b"")
        finally:
            for connection in connections:
                connection.close()

    def test_a_client_that_does_not_read_its_answers_takes_no_thread(self):
        deaf = socket.socket()
        deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        deaf.connect(("127.0.0.1", self.adapter.port))
        try:
            deaf.sendall(b"GET /openapi.json HTTP/1.1\r\n" + HOST + b"\r\n")
            begin = time.monotonic()
            self.assertEqual(self.adapter.get("/livez").status, 200)
            self.assertLess(time.monotonic() - begin, 10)
        finally:
            deaf.close()


class Ends(AdapterTest):
    options = ["--connection-requests", "3", "--idle", "600"]

    def test_a_connection_ends_after_as_many_requests_as_are_allowed(self):
        with self.adapter.connect() as connection:
            for last in (False, False, True):
                connection.sendall(GET)
                answer = read_answer(connection)
                self.assertEqual(answer.headers["Connection"] == "close", last)
            self.assertEqual(rest_of(connection), b"")

    def test_idle_connections_do_not_delay_the_end(self):
        from adapter import Adapter

        adapter = Adapter("--idle", "600")
        with adapter.connect() as connection:
            connection.sendall(GET)
            self.assertEqual(read_answer(connection).status, 200)
            begin = time.monotonic()
            self.assertEqual(adapter.stop(), 0)
            self.assertLess(time.monotonic() - begin, 20)
            self.assertEqual(rest_of(connection), b"")


class Large(AdapterTest):
    options = ["--max-body", "4000000"]

    def test_bodies_that_are_announced_and_never_end_are_bounded_together(self):
        head = b"POST /v1/assess HTTP/1.1\r\n" + HOST + b"Content-Type: application/json\r\n"
        head += b"Content-Length: 4000000\r\n\r\n"
        connections = []
        try:
            for _ in range(40):  # 160 MB where 64 are allowed
                connection = self.adapter.connect()
                connections.append(connection)
                try:
                    connection.sendall(head + b" " * 3_900_000)
                except ConnectionError:
                    pass  # it was turned away while it sent
            self.assertLess(megabytes(self.adapter.process), 250)
            statuses = set()
            for connection in connections:
                connection.settimeout(0.2)
                try:
                    statuses.add(read_answer(connection).status)
                except (TimeoutError, OSError):
                    pass
            self.assertIn(503, statuses)
            self.assertLessEqual(statuses, {503, 408})  # 408 where this took longer than --timeout
            self.assertEqual(self.adapter.get("/livez").status, 200)
        finally:
            for connection in connections:
                connection.close()


class AtOnce(AdapterTest):
    def test_circuits_are_replaced_while_cases_are_assessed(self):
        etag = self.adapter.put("/v1/circuits/lift", LIFT_TEXT).headers["ETag"]
        wrong, done = [], threading.Event()

        def assess():
            while not done.is_set():
                answer = self.adapter.assess("lift", DRIFTS)
                if answer.status != 200:
                    wrong.append(answer)

        threads = [threading.Thread(target=assess) for _ in range(4)]
        for thread in threads:
            thread.start()
        try:
            for _ in range(30):
                answer = self.adapter.put("/v1/circuits/lift", LIFT_TEXT, If_Match=etag)
                self.assertEqual(answer.status, 200)
        finally:
            done.set()
            for thread in threads:
                thread.join()
        self.assertEqual(wrong, [])

    def test_paths_in_ids_lead_nowhere(self):
        for path in ("..", "%2e%2e", "..%2f..%2fetc%2fpasswd", "%2fetc%2fpasswd", "a%00b", "a%2fb", "%"):
            for method in ("GET", "PUT"):
                with self.subTest(method + path):
                    body = LIFT_TEXT if method == "PUT" else None
                    answer = self.adapter.request(method, "/v1/circuits/" + path, body)
                    self.assertIn(answer.status, (400, 404))


if __name__ == "__main__":
    unittest.main()
