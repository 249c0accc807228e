"""HTTP as it should not be: what the adapter refuses before any route sees it, over bare sockets."""

import http.client
import json
import socket
import time
import unittest

from adapter import DRIFTS, LIFT_TEXT, AdapterTest, read_answer, rest_of

HOST = b"Host: x\r\n"
JSON = b"Content-Type: application/json\r\n"


def post(fields, body=b"{}", path=b"/v1/assess"):
    return b"POST " + path + b" HTTP/1.1\r\n" + HOST + JSON + fields + b"\r\n" + body


class Framing(AdapterTest):
    def refused(self, data, status, code="bad_request"):
        with self.subTest(data[:60]):
            answer = self.adapter.raw(data)
            self.assert_problem(answer, status, code)
            self.assertEqual(answer.headers["Connection"], "close")

    def test_two_content_lengths_are_refused(self):
        self.refused(post(b"Content-Length: 2\r\nContent-Length: 2\r\n"), 400)
        self.refused(post(b"Content-Length: 2\r\ncontent-length: 3\r\n"), 400)

    def test_a_content_length_that_is_no_number_is_refused(self):
        for value in (b"", b"-1", b"+2", b"2 2", b"2, 2", b"0x2", b"2.0", b"two"):
            self.refused(post(b"Content-Length: " + value + b"\r\n"), 400)

    def test_a_content_length_beyond_any_number_is_too_large(self):
        self.refused(post(b"Content-Length: " + b"9" * 40 + b"\r\n"), 413, "body_too_large")

    def test_a_body_without_content_length_is_refused(self):
        self.refused(post(b""), 411)
        self.refused(b"PUT /v1/circuits/a HTTP/1.1\r\n" + HOST + JSON + b"\r\n", 411)

    def test_transfer_encoding_is_refused_whatever_it_says(self):
        chunked = b"2\r\n{}\r\n0\r\n\r\n"
        for value in (b"chunked", b"identity", b"gzip, chunked", b"xchunked", b""):
            self.refused(post(b"Transfer-Encoding: " + value + b"\r\n", chunked), 411)

    def test_transfer_encoding_with_content_length_is_refused(self):
        chunked = b"2\r\n{}\r\n0\r\n\r\n"
        self.refused(post(b"Transfer-Encoding: chunked\r\nContent-Length: 2\r\n", chunked), 400)
        self.refused(post(b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n", chunked), 400)

    def test_content_encoding_is_refused(self):
        gzip = b"Content-Encoding: gzip\r\nContent-Length: 2\r\n"
        self.refused(post(gzip), 415, "unsupported_media_type")
        identity = self.adapter.raw(post(b"Content-Encoding: identity\r\nContent-Length: 2\r\n"))
        self.assertEqual(identity.status, 422)  # {} lacks its members

    def test_a_request_without_host_or_with_two_is_refused(self):
        self.refused(b"GET /livez HTTP/1.1\r\n\r\n", 400)
        self.refused(b"GET /livez HTTP/1.1\r\n" + HOST + b"host: y\r\n\r\n", 400)
        answer = self.adapter.raw(b"GET /livez HTTP/1.0\r\n\r\n")
        self.assertEqual(answer.status, 200)  # HTTP/1.0 may do without

    def test_a_request_line_that_is_not_http_is_refused(self):
        lines = [b"GET", b"GET /livez", b"/livez HTTP/1.1", b"GET livez HTTP/1.1"]
        lines += [b"G\x01T /livez HTTP/1.1", b"GET /live\x00z HTTP/1.1", b"GET /a b HTTP/1.1"]
        lines += [b"GET http://x/livez HTTP/1.1", b"GET * HTTP/1.1", b"G(T /livez HTTP/1.1"]
        lines += [b"GET /livez FTP/1.1", b"\x16\x03\x01\x02\x00\x01", b" GET /livez HTTP/1.1"]
        for line in lines:
            self.refused(line + b"\r\n" + HOST + b"\r\n", 400)

    def test_another_version_of_http_is_refused(self):
        for version in (b"HTTP/2.0", b"HTTP/1.2", b"HTTP/0.9", b"HTTP/1.1x"):
            self.refused(b"GET /livez " + version + b"\r\n" + HOST + b"\r\n", 505)

    def test_a_header_line_that_proxies_read_differently_is_refused(self):
        lines = [b"X: a\nY: b", b"X : a", b" X: a", b"X: a\r\n folded", b"X", b": a", b"X: a\x00b"]
        lines += [b"X: a\rY: b", b"X\x7f: a", b"X\xe4: a"]
        for line in lines:
            self.refused(b"GET /livez HTTP/1.1\r\n" + HOST + line + b"\r\n\r\n", 400)

    def test_a_long_target_many_fields_and_a_long_head_are_refused(self):
        self.refused(b"GET /" + b"a" * 3000 + b" HTTP/1.1\r\n" + HOST + b"\r\n", 414)
        fields = b"".join(b"X%d: a\r\n" % i for i in range(200))
        self.refused(b"GET /livez HTTP/1.1\r\n" + HOST + fields + b"\r\n", 431)
        self.refused(b"GET /livez HTTP/1.1\r\nX: " + b"a" * 20000 + b"\r\n\r\n", 431)
        self.refused(b"GET /livez HTTP/1.1\r\nX: " + b"a" * 4_000_000, 431)

    def test_an_expectation_it_does_not_know_is_refused(self):
        self.refused(post(b"Content-Length: 2\r\nExpect: wonders\r\n"), 417)

    def test_a_body_cut_short_is_refused(self):
        answer = self.adapter.raw(post(b"Content-Length: 10\r\n", b"{}"), end=True)
        self.assert_problem(answer, 400, "bad_request")

    def test_the_client_is_told_to_go_on_before_it_sends_its_body(self):
        with self.adapter.connect() as connection:
            connection.sendall(post(b"Content-Length: 2\r\nExpect: 100-continue\r\n", b""))
            told = connection.recv(1024)
            self.assertEqual(told, b"HTTP/1.1 100 Continue\r\n\r\n")
            connection.sendall(b"{}")
            self.assertEqual(read_answer(connection).status, 422)

    def test_a_body_that_would_be_refused_is_not_asked_for(self):
        with self.adapter.connect() as connection:
            connection.sendall(post(b"Content-Length: 99999999\r\nExpect: 100-continue\r\n", b""))
            self.assert_problem(read_answer(connection), 413, "body_too_large")


class OneRequestAfterAnother(AdapterTest):
    SECOND = b"PUT /v1/circuits/lift HTTP/1.1\r\n" + HOST + JSON + (
        b"Content-Length: %d\r\n\r\n" % len(LIFT_TEXT.encode()) + LIFT_TEXT.encode()
    )

    def nothing_stored(self):
        self.assertEqual(self.adapter.get("/v1/circuits").json(), {"circuits": []})

    def test_a_connection_carries_many_requests_each_with_its_own_answer(self):
        with self.adapter.connect() as connection:
            for _ in range(20):
                connection.sendall(b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n")
                alive = read_answer(connection)
                self.assertEqual(alive.json()["status"], "ok")
                self.assertEqual(alive.headers["Keep-Alive"], "timeout=5")
                connection.sendall(post(b"Content-Length: 2\r\n"))
                self.assert_problem(read_answer(connection), 422, "invalid_document", "/circuit")
                connection.sendall(b"GET /nowhere HTTP/1.1\r\n" + HOST + b"\r\n")
                self.assert_problem(read_answer(connection), 404, "not_found")
                connection.sendall(b"HEAD /livez HTTP/1.1\r\n" + HOST + b"\r\n")
                head = http.client.HTTPResponse(connection, method="HEAD")
                head.begin()
                self.assertEqual((head.status, head.read()), (200, b""))

    def test_what_is_sent_along_with_a_request_is_never_executed(self):
        firsts = [
            b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n",
            b"GET /livez HTTP/1.1\r\n" + HOST + b"Connection: keep-alive\r\n\r\n",
            b"GET /livez HTTP/1.1\r\n" + HOST + b"Content-Length: 3\r\n\r\nabc",
            b"GET /nowhere HTTP/1.1\r\n" + HOST + b"\r\n",
            post(b"Content-Length: 2\r\n"),
            post(b"Content-Length: 2\r\nContent-Length: 2\r\n"),
            post(b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n", b"0\r\n\r\n"),
            post(b"Content-Length: 0\r\nTransfer-Encoding:\tchunked\r\n", b"0\r\n\r\n"),
            post(b"Transfer-Encoding: chunked\r\n", b"0\r\n\r\n"),
            post(b"Content-Length: 2\r\nContent-Encoding: gzip\r\n"),
            post(b"Content-Length: 99999999\r\n"),
        ]
        for first in firsts:
            with self.subTest(first[:60]), self.adapter.connect() as connection:
                connection.sendall(first + self.SECOND)
                received = rest_of(connection)
                self.assertEqual(received.count(b"HTTP/1.1 "), 1)
                self.assertIn(b"\r\nConnection: close\r\n", received)
                self.nothing_stored()

    def test_bytes_glued_to_a_later_request_are_never_executed(self):
        with self.adapter.connect() as connection:
            connection.sendall(b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n")
            self.assertEqual(read_answer(connection).status, 200)
            connection.sendall(post(b"Content-Length: 2\r\n") + self.SECOND)
            received = rest_of(connection)
        self.assertEqual(received.count(b"HTTP/1.1 "), 1)
        self.nothing_stored()

    def test_a_body_that_looks_like_a_request_is_a_body(self):
        # Refused by method, path and type; the body belongs to the request whatever it says.
        for line, fields in (
            (b"DELETE /v1/circuits/lift", JSON),
            (b"POST /nowhere", JSON),
            (b"POST /v1/assess", b"Content-Type: text/plain\r\n"),
            (b"GET /livez", JSON),
        ):
            head = line + b" HTTP/1.1\r\n" + HOST + fields
            head += b"Content-Length: %d\r\n\r\n" % len(self.SECOND)
            for end in (b"", b"Connection: close\r\n"):
                with self.subTest(line), self.adapter.connect() as connection:
                    connection.sendall(head[:-2] + end + b"\r\n" + self.SECOND)
                    self.assertGreater(read_answer(connection).status, 199)
                    if not end:  # and what follows is the next request
                        connection.sendall(b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n")
                        self.assertEqual(read_answer(connection).json()["status"], "ok")
                    self.nothing_stored()

    def test_close_and_http_1_0_are_respected(self):
        for data in (
            b"GET /livez HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n",
            b"GET /livez HTTP/1.1\r\n" + HOST + b"Connection: keep-alive, close\r\n\r\n",
            b"GET /livez HTTP/1.0\r\n\r\n",
            b"GET /livez HTTP/1.0\r\nConnection: keep-alive\r\n\r\n",
        ):
            with self.subTest(data), self.adapter.connect() as connection:
                connection.sendall(data)
                received = rest_of(connection)
                self.assertTrue(received.startswith(b"HTTP/1.1 200 OK\r\n"))
                self.assertIn(b"\r\nConnection: close\r\n", received)
                self.assertNotIn(b"Keep-Alive", received)

    def test_traceparent_is_passed_on_if_well_formed_and_ignored_if_not(self):
        good = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"
        self.assertEqual(self.adapter.get("/livez", traceparent=good).headers["traceparent"], good)
        bad = [good[:-1], "01" + good[2:], good.upper(), good.replace("4", "g"), good + "-00"]
        bad += ["00-" + "0" * 32 + good[35:], good.replace("00f067aa0ba902b7", "0" * 16), ""]
        for value in bad:
            answer = self.adapter.get("/livez", traceparent=value)
            self.assertEqual((answer.status, answer.headers["traceparent"]), (200, None), value)

    def test_an_early_refusal_reaches_a_client_that_is_still_sending(self):
        big = 900_000
        head = b"POST /nowhere HTTP/1.1\r\n" + HOST + JSON + b"Content-Length: %d\r\n\r\n" % big
        with self.adapter.connect() as connection:
            connection.sendall(head)
            connection.sendall(b" " * big)
            self.assert_problem(read_answer(connection), 404, "not_found")

    def test_headers_cannot_change_what_the_library_does(self):
        answer = self.adapter.get("/livez", Range="bytes=0-1", REMOTE_ADDR="10.0.0.1")
        self.assertEqual(answer.status, 200)
        self.assertEqual(answer.json()["status"], "ok")
        answer = self.adapter.get("/openapi.json", Accept_Encoding="gzip, br")
        self.assertNotIn("Content-Encoding", answer.headers)

    def test_a_request_may_come_byte_by_byte(self):
        body = json.dumps({"circuit": json.loads(LIFT_TEXT), "case": DRIFTS}).encode()
        data = post(b"Content-Length: %d\r\n" % len(body), body)
        with self.adapter.connect() as connection:
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            for i in range(150):
                connection.sendall(data[i : i + 1])
            connection.sendall(data[150:])
            self.assertEqual(read_answer(connection).status, 200)


class Patience(AdapterTest):
    options = ["--timeout", "0.5"]

    def test_a_head_that_does_not_come_is_given_up(self):
        with self.adapter.connect() as connection:
            connection.sendall(b"GET /livez HTT")
            self.assert_problem(read_answer(connection), 408, "request_timeout")

    def test_a_trickle_does_not_extend_the_time(self):
        with self.adapter.connect() as connection:
            connection.sendall(b"GET /livez HTTP/1.1\r\n")
            try:
                for _ in range(100):
                    connection.sendall(b"X: a\r\n")
                    time.sleep(0.05)
                    connection.setblocking(False)
                    try:
                        if connection.recv(1, socket.MSG_PEEK):
                            break
                    except BlockingIOError:
                        pass
                    finally:
                        connection.settimeout(10)
                else:
                    self.fail("the adapter still waits")
            except ConnectionError:
                return
            self.assert_problem(read_answer(connection), 408, "request_timeout")

    def test_a_body_that_does_not_come_is_given_up(self):
        with self.adapter.connect() as connection:
            connection.sendall(post(b"Content-Length: 10\r\n", b"{"))
            self.assert_problem(read_answer(connection), 408, "request_timeout")

    def test_a_connection_that_says_nothing_is_closed(self):
        with self.adapter.connect() as connection:
            self.assertEqual(rest_of(connection), b"")


class Overload(AdapterTest):
    options = ["--threads", "1", "--queue", "1"]

    def test_more_than_can_wait_is_answered_503_and_service_goes_on(self):
        body = json.dumps({"circuit": json.loads(LIFT_TEXT), "case": DRIFTS}).encode()
        data = post(b"Content-Length: %d\r\n" % len(body), body)
        connections = [self.adapter.connect() for _ in range(60)]
        try:
            for connection in connections:
                connection.sendall(data[:-1])
            time.sleep(0.3)
            for connection in connections:  # all at once
                connection.sendall(data[-1:])
            answers = [read_answer(connection) for connection in connections]
            refused = [a for a in answers if a.status != 200]
            self.assertGreater(len(refused), 0)
            self.assertLess(len(refused), len(connections))
            for answer in refused:
                self.assert_problem(answer, 503, "overloaded")
                self.assertEqual(answer.headers["Retry-After"], "1")
            for connection in connections:  # who was turned away may ask again
                connection.sendall(b"GET /livez HTTP/1.1\r\n" + HOST + b"\r\n")
                self.assertEqual(read_answer(connection).status, 200)
        finally:
            for connection in connections:
                connection.close()


if __name__ == "__main__":
    unittest.main()
