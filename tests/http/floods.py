"""Clients that mean no good, in a process of their own, and honest ones beside them.

As a program it floods until its standard input ends, and says `ready` when the flood is whole:

    floods.py senders PORT COUNT SOURCES    each sends a byte a second of a request that never ends
    floods.py readers PORT COUNT SOURCES    each asks for PATH and never reads the answer

What the adapter closes is opened anew. SOURCES are addresses of 127.0.0.0/8, commas between, taken in turn.
"""

import http.client
import json
import os
import resource
import select
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any, Dict, List, NamedTuple, Optional

PATH = "/v1/cases/wide"  # read from the store for each request
REOPENED_A_SECOND = 2000  # at most, so that the flood leaves some of the machine to the measurement


def allow_descriptors(count: int) -> bool:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard != resource.RLIM_INFINITY and hard < count:
        return False
    if soft < count:
        resource.setrlimit(resource.RLIMIT_NOFILE, (count, hard))
    return True


class Flood:
    """In this process, by one epoll set."""

    def __init__(self, port: int, count: int, sources: "list[str]", reads: bool) -> None:
        self.port, self.count, self.sources, self.reads = port, count, sources, reads
        self.poll = select.epoll()
        self.open: Dict[int, socket.socket] = {}
        self.made = 0

    def connect(self) -> None:
        made = socket.socket()
        made.setblocking(False)
        if not self.reads:
            made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        made.bind((self.sources[self.made % len(self.sources)], 0))
        self.made += 1
        try:
            made.connect(("127.0.0.1", self.port))
        except BlockingIOError:
            pass
        self.open[made.fileno()] = made
        # A reader is told of the end of its connection and not of what it could read.
        self.poll.register(made.fileno(), select.EPOLLOUT | select.EPOLLRDHUP)

    def close(self, file: int) -> None:
        self.poll.unregister(file)
        self.open.pop(file).close()

    def first(self, file: int) -> None:
        """It is connected: says how a request begins, or all of it."""
        text = "G" if self.reads else f"GET {PATH} HTTP/1.1\r\nHost: x\r\n\r\n"
        self.open[file].send(text.encode())
        events = select.EPOLLIN if self.reads else 0
        self.poll.modify(file, events | select.EPOLLRDHUP)

    def turn(self) -> None:
        for file, events in self.poll.poll(0.05):
            try:
                if events & (select.EPOLLHUP | select.EPOLLERR | select.EPOLLRDHUP):
                    self.close(file)
                elif events & select.EPOLLOUT:
                    self.first(file)
                elif not self.open[file].recv(65536):
                    self.close(file)
            except OSError:
                self.close(file)

    def run(self) -> None:
        ended = threading.Event()
        threading.Thread(target=lambda: (sys.stdin.read(), ended.set()), daemon=True).start()
        told, last_byte, last_open = False, time.monotonic(), time.monotonic()
        while not ended.is_set():
            now = time.monotonic()
            room = int((now - last_open) * REOPENED_A_SECOND)
            if room > 0:
                last_open = now
                for _ in range(min(room, self.count - len(self.open))):
                    self.connect()
            self.turn()
            if not told and self.made >= self.count:
                told = True
                print("ready", flush=True)
            if self.reads and now - last_byte > 1:
                last_byte = now
                for file in list(self.open):
                    try:
                        self.open[file].send(b"E")
                    except BlockingIOError:
                        pass
                    except OSError:
                        self.close(file)


class Flooding:
    """A flood in a process of its own, for the time of a `with`."""

    def __init__(self, kind: str, port: int, count: int, sources: "list[str]") -> None:
        self.process = subprocess.Popen(
            [sys.executable, __file__, kind, str(port), str(count), ",".join(sources)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        if self.process.stdout.readline().strip() != "ready":
            raise AssertionError("the flood did not begin")

    def __enter__(self) -> "Flooding":
        return self

    def __exit__(self, *_: Any) -> None:
        self.process.stdin.close()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process.stdout.close()


class Outcome(NamedTuple):
    status: int  # 0: no answer
    seconds: float


def ask(port: int, source: str, method: str, path: str, body: Optional[bytes] = None,
        patience: float = 5) -> Outcome:
    begin = time.monotonic()
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=patience, source_address=(source, 0))
    try:
        connection.request(method, path, body, {"Content-Type": "application/json"} if body else {})
        answer = connection.getresponse()
        answer.read()
        return Outcome(answer.status, time.monotonic() - begin)
    except (OSError, http.client.HTTPException):
        return Outcome(0, time.monotonic() - begin)
    finally:
        connection.close()


def honest(port: int, source: str, seconds: float, pause: float = 0.1) -> "list[Outcome]":
    """Questions one after the other, each another case, on a connection of its own."""
    out: List[Outcome] = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        case = {"format": "faultodds-case/1", "title": f"{source} {len(out)}",
                "observations": [{"observation": "drift/cylinder/retract", "outcome": "fast"}]}
        body = json.dumps({"circuit": "lift", "case": case}).encode()
        out.append(ask(port, source, "POST", "/v1/assess", body))
        time.sleep(pause)
    return out


def memory(process: int, name: str = "VmHWM") -> float:
    """MiB."""
    for line in Path(f"/proc/{process}/status").read_text(encoding="ascii").splitlines():
        if line.startswith(name + ":"):
            return int(line.split()[1]) / 1024
    raise AssertionError("no " + name)


def processor_seconds(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def wide_case(size: int = 1_000_000) -> str:
    """A body for PATH of that many bytes."""
    case = {"format": "faultodds-case/1", "observations": []}
    text = json.dumps({"circuit": "lift", "case": case})
    return text[:-1] + " " * (size - len(text)) + "}"


def many_names(count: int = 90_000) -> str:
    """A large object of which every name must be compared with those before."""
    return "{" + ",".join(f'"{i}":0' for i in range(count)) + "}"


def costly() -> "dict[str, bytes]":
    """Requests within every limit that made 0.1 work for minutes, or that look as if they could."""
    case = '{"format":"faultodds-case/1","observations":[]}'
    names = many_names()
    repeated = ",".join('{"observation":"drift/cylinder/retract","outcome":"fast"}' for _ in range(15_000))
    return {
        "many names in the body": names.encode(),
        "many names in the case": f'{{"circuit":"lift","case":{names}}}'.encode(),
        "many names in the circuit": f'{{"circuit":{names},"case":{case}}}'.encode(),
        "many names in the priors": f'{{"circuit":"lift","case":{case},"priors":{names}}}'.encode(),
        "many observations":
            f'{{"circuit":"lift","case":{{"format":"faultodds-case/1","observations":[{repeated}]}}}}'.encode(),
    }


def main() -> None:
    kind, port, count, sources = sys.argv[1:]
    allow_descriptors(int(count) + 100)
    Flood(int(port), int(count), sources.split(","), kind == "senders").run()


if __name__ == "__main__":
    main()
