"""The floors: one durable row per commit with nothing around it, and the bytes of an answer read off a socket."""

import contextlib
import os
import socket
import time
from pathlib import Path

from benchapp.store.engine import sqlite3

HTTP = "HTTP/1.1"


class BareJournal:
    """A table of bodies in a database of its own, beside the one that is measured, as durable as that."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "floor.sqlite3"
        self.connection = sqlite3.connect(str(self.path), isolation_level=None)
        self.connection.execute("PRAGMA journal_mode = WAL")
        self.connection.execute("PRAGMA synchronous = FULL")
        self.connection.execute("CREATE TABLE IF NOT EXISTS bare (seq INTEGER PRIMARY KEY, body BLOB NOT NULL)")

    def insert(self, count: int, size: int) -> list[float]:
        """Commit `count` rows of `size` bytes one by one; return the seconds that each took."""
        seconds = []
        for _ in range(count):
            body = os.urandom(size)
            began = time.perf_counter()
            self.connection.execute("INSERT INTO bare (body) VALUES (?)", (body,))
            seconds.append(time.perf_counter() - began)
        return seconds

    def close(self) -> None:
        """Close and remove it."""
        self.connection.close()
        for ending in ("", "-wal", "-shm"):
            with contextlib.suppress(FileNotFoundError):
                self.path.with_name(self.path.name + ending).unlink()


def read_answer(connection: socket.socket) -> tuple[str, bytes]:
    """Read one HTTP answer with a Content-Length; return head and body."""
    data = b""
    while b"\r\n\r\n" not in data:
        more = connection.recv(65536)
        if not more:
            raise ConnectionError("the server closed the connection")
        data += more
    head, _, body = data.partition(b"\r\n\r\n")
    text = head.decode("latin-1")
    length = next(int(line[15:]) for line in text.split("\r\n") if line.lower().startswith("content-length:"))
    while len(body) < length:
        body += connection.recv(65536)
    return text, body
