"""Stores of cases for a test: each is made empty, has a URL for --cases, and is removed afterwards."""

import atexit
import contextlib
import glob
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import tempfile
import time
from pathlib import Path

PATIENCE = 60  # seconds that no step of a database should take


class SqliteStore:
    def __init__(self):
        self._folder = tempfile.TemporaryDirectory()
        self.path = Path(self._folder.name) / "cases.db"
        self.url = f"sqlite:{self.path}"

    def remove(self):
        self._folder.cleanup()

    @contextlib.contextmanager
    def writes_blocked(self):
        """Nobody can write meanwhile."""
        connection = sqlite3.connect(self.path, isolation_level=None)
        try:
            connection.execute("BEGIN IMMEDIATE")
            yield
            connection.execute("ROLLBACK")
        finally:
            connection.close()


def _postgres_programs():
    found = sorted(glob.glob("/usr/lib/postgresql/*/bin/postgres"))
    if found:
        return Path(found[-1]).parent
    on_path = shutil.which("postgres")
    return Path(on_path).parent if on_path else None


POSTGRES = _postgres_programs()
WITHOUT_POSTGRES = None if POSTGRES else "the PostgreSQL server is not installed"


def _as_postgres():
    """The server refuses to run as root."""
    if os.geteuid() != 0:
        return {}
    return {"user": "postgres", "group": "postgres", "extra_groups": []}


class PostgresServer:
    """A server of its own on a free port of loopback, with the durability it comes with."""

    def __init__(self, *settings):
        self._folder = tempfile.mkdtemp(prefix="faultodds-postgres-")
        self.data = Path(self._folder) / "data"
        if os.geteuid() == 0:
            shutil.chown(self._folder, "postgres", "postgres")
        initdb = [POSTGRES / "initdb", "-D", self.data, "-U", "postgres", "-A", "trust", "-E", "UTF8"]
        subprocess.run(
            [*initdb, "--locale", "C", "--no-sync"], check=True, capture_output=True,
            cwd=self._folder, timeout=PATIENCE, **_as_postgres(),
        )  # fmt: skip
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._settings = ["listen_addresses=127.0.0.1", f"unix_socket_directories={self._folder}"]
        self._settings += ["max_connections=60", "shared_buffers=32MB", *settings]
        self._schemas = 0
        self.process = None
        self.start()

    def url(self, schema="public"):
        path = f"options=-c%20search_path%3D{schema}"
        return f"postgresql://postgres@127.0.0.1:{self.port}/postgres?{path}"

    def start(self, wait=True):
        settings = [part for setting in self._settings for part in ("-c", setting)]
        deadline = time.monotonic() + PATIENCE
        while True:
            with open(Path(self._folder) / "log", "ab") as log:
                self.process = subprocess.Popen(
                    [POSTGRES / "postgres", "-D", self.data, "-p", str(self.port), *settings],
                    stdout=log, stderr=log, cwd=self._folder, **_as_postgres(),
                )  # fmt: skip
            while wait and self.process.poll() is None:
                if self._accepts():
                    return
                if time.monotonic() > deadline:
                    raise AssertionError("the database did not start: " + self._log())
                time.sleep(0.1)
            if not wait:
                return
            # Processes of one that was killed may be there for a moment yet.
            if time.monotonic() > deadline:
                raise AssertionError("the database did not start: " + self._log())
            time.sleep(0.1)

    def _accepts(self):
        try:
            self.sql("SELECT 1")
            return True
        except subprocess.CalledProcessError:
            return False

    def _log(self):
        return (Path(self._folder) / "log").read_text(errors="replace")[-2000:]

    def _psql(self, schema):
        return [POSTGRES / "psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", self.url(schema)]

    def sql(self, text, schema="public"):
        done = subprocess.run(
            [*self._psql(schema), "-c", text],
            capture_output=True, text=True, check=True, timeout=PATIENCE,
        )  # fmt: skip
        return done.stdout.strip()

    def new_schema(self):
        self._schemas += 1
        name = f"cases{self._schemas}"
        self.sql(f"CREATE SCHEMA {name}")
        return name

    @contextlib.contextmanager
    def locked(self, schema):
        """Nobody can write to the tables meanwhile."""
        psql = subprocess.Popen(
            self._psql(schema), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        try:
            psql.stdin.write("BEGIN; LOCK TABLE faultodds_cases, faultodds_keys IN EXCLUSIVE MODE;\n")
            psql.stdin.write("\\echo locked\n")
            psql.stdin.flush()
            assert psql.stdout.readline() == "locked\n"
            yield
        finally:
            psql.communicate("ROLLBACK;\n", timeout=PATIENCE)

    def stop(self, by=signal.SIGINT):
        """SIGINT ends it in order, SIGQUIT at once, SIGKILL as when the power fails."""
        if self.process.poll() is None:
            self.process.send_signal(by)
        self.process.wait(PATIENCE)

    def remove(self):
        self.stop(signal.SIGQUIT)
        shutil.rmtree(self._folder, ignore_errors=True)


_shared_server = None


def shared_server():
    """One for all the tests of a run that leave it alone."""
    global _shared_server
    if _shared_server is None:
        _shared_server = PostgresServer()
        atexit.register(_shared_server.remove)
    return _shared_server


class PostgresStore:
    def __init__(self, server=None):
        self.server = server or shared_server()
        self.schema = self.server.new_schema()
        self.url = self.server.url(self.schema)

    def remove(self):
        self.server.sql(f"DROP SCHEMA {self.schema} CASCADE")

    def writes_blocked(self):
        return self.server.locked(self.schema)
