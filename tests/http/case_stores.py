"""Stores of cases for a test: each is made empty, has a URL for --cases, and is removed afterwards."""

import contextlib
import sqlite3
import tempfile
from pathlib import Path


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
