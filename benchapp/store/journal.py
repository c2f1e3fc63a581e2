"""The store of one data folder: a single writer behind a lock, readers beside it, one growing journal.

One writer connection, because eight of them kept each other waiting many times longer; BEGIN IMMEDIATE,
because a transaction that begins by reading and then wants to write is refused when another came between.
"""

import threading
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType

from benchapp.core.words import N_, _
from benchapp.store.engine import BUSY_SECONDS, connect, damaged, explained, make_durable, sqlite3
from benchapp.store.errors import NotWritable
from benchapp.store.reads import Entry, Parked, Reader, Tablet, Tip, Tries
from benchapp.store.writes import Writer

__all__ = ["Entry", "Parked", "Reader", "Store", "Tablet", "Tip", "Tries", "Writer"]

PAGE = 500


class Store:
    """The data of one lab, for any number of threads; close it, or use it in a `with`."""

    def __init__(
        self, path: Path, mode: str, on_close: Callable[[], None] = lambda: None, before: Path | None = None
    ) -> None:
        """Open the database at `path` in mode "rw", "ro" or "immutable"; `on_close` runs when it closes.

        `before` is the copy of it from before it was brought up to this version just now.
        """
        self.path = path
        self.before = before
        self.mode = mode
        self._on_close = on_close
        self._lock = threading.Lock()
        self._owner: int | None = None
        self._idle: list[sqlite3.Connection] = []
        self._closed = False
        self._log_to_empty = False
        self._writer: sqlite3.Connection | None = None
        with explained(path):
            if mode == "rw":
                self._writer = self._open_writer()
            try:
                with self._borrowed() as connection:
                    rows = connection.execute("SELECT id FROM lab").fetchall()
                if len(rows) != 1:
                    raise damaged(path, f"it names {len(rows)} labs instead of one")
            except BaseException:
                self._close_connections()
                raise
        self.lab_id: str = rows[0][0]

    def _open_writer(self) -> sqlite3.Connection:
        connection = connect(self.path, "rw")
        try:
            make_durable(connection)
        except BaseException:
            connection.close()
            raise
        return connection

    @contextmanager
    def _borrowed(self) -> Iterator[sqlite3.Connection]:
        # Lent rather than one per thread: a thread that ends leaves no connection behind.
        if self._closed:
            raise NotWritable(_("The store {path} is closed: open the data folder again.", path=self.path))
        try:
            connection = self._idle.pop()
        except IndexError:
            connection = connect(self.path, "immutable" if self.mode == "immutable" else "ro")
        try:
            yield connection
        finally:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            self._idle.append(connection)
            if self._closed:
                self._close_idle()

    @contextmanager
    def reading(self) -> Iterator[Reader]:
        """Lend a reader that sees one state of everything, however much is written meanwhile."""
        with explained(self.path), self._borrowed() as connection:
            connection.execute("BEGIN")
            yield Reader(connection, self.lab_id)

    @contextmanager
    def _asking(self) -> Iterator[Reader]:
        with explained(self.path), self._borrowed() as connection:
            yield Reader(connection, self.lab_id)

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """Lend the one writer: all that it does is committed at the end, or nothing when anything was raised.

        Raises DiskFull when the disk takes no more, NotWritable when the store was opened for reading; in
        every case the store can be used again.
        """
        if self._owner == threading.get_ident():
            raise RuntimeError("writing() inside writing(): hand the writer on instead")
        with self._lock, explained(self.path):
            if self._closed or self.mode != "rw":
                why = (
                    N_("The store {path} is closed: open the data folder again.") if self._closed
                    else N_("The store {path} was opened for reading only.")
                )
                raise NotWritable(_(why, path=self.path))
            self._owner = threading.get_ident()
            try:
                if (yield from self._transaction()):
                    self._log_to_empty = True
                if self._log_to_empty:
                    self._empty_log()
            finally:
                self._owner = None

    def _connection(self) -> sqlite3.Connection:
        if self._writer is None:
            self._writer = self._open_writer()
        return self._writer

    def _transaction(self) -> Generator[Writer, None, bool]:
        connection = self._connection()
        connection.execute("BEGIN IMMEDIATE")
        writer = Writer(connection, self.lab_id)
        try:
            yield writer
            connection.execute("COMMIT")
        except BaseException:
            self._undo(connection)
            raise
        finally:
            writer.end()
        return writer.erased

    def _empty_log(self) -> None:
        """Take what was erased out of the write-ahead log too, or later when somebody reads just now."""
        connection = self._connection()
        # The commit stands whatever happens here, so nothing is raised and nobody waits.
        with suppress(sqlite3.Error):
            connection.execute("PRAGMA busy_timeout = 0")
            busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
            self._log_to_empty = bool(busy)
        connection.execute(f"PRAGMA busy_timeout = {int(BUSY_SECONDS * 1000)}")

    def _undo(self, connection: sqlite3.Connection) -> None:
        try:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
        except sqlite3.Error:
            # A connection that cannot even roll back is of no use; the next writing() opens another.
            self._writer = None
            with suppress(sqlite3.Error):
                connection.close()

    def tip(self) -> Tip:
        """Return the number and hash of the last entry."""
        with self._asking() as reader:
            return reader.tip()

    def find(self, event_id: str) -> Entry | None:
        """Return the entry of an event, if it is stored."""
        with self._asking() as reader:
            return reader.find(event_id)

    def entry(self, seq: int) -> Entry | None:
        """Return the entry with this number, if there is one."""
        with self._asking() as reader:
            return reader.entry(seq)

    def tagged(self, name: str, value: str, after: int = 0) -> list[Entry]:
        """Return the entries with this tag and a number above `after`, in order."""
        with self._asking() as reader:
            return reader.tagged(name, value, after)

    def first_tagged(self, name: str, value: str) -> Entry | None:
        """Return the first entry with this tag, if there is one."""
        with self._asking() as reader:
            return reader.first_tagged(name, value)

    def last_tagged(self, name: str, value: str) -> Entry | None:
        """Return the last entry with this tag, if there is one."""
        with self._asking() as reader:
            return reader.last_tagged(name, value)

    def tag_values(self, name: str) -> list[str]:
        """Return all values that a tag takes, sorted."""
        with self._asking() as reader:
            return reader.tag_values(name)

    def tag_counts(self, name: str) -> dict[str, int]:
        """Return how many entries carry each value of a tag."""
        with self._asking() as reader:
            return reader.tag_counts(name)

    def entries(self, after: int = 0, limit: int | None = None) -> Iterator[Entry]:
        """Yield the entries numbered above `after`, in order, at most `limit`, never holding up a writer."""
        left = limit
        while left is None or left > 0:
            with self._asking() as reader:
                page = reader.page(after, PAGE if left is None else min(PAGE, left))
            if not page:
                return
            yield from page
            after = page[-1].seq
            left = None if left is None else left - len(page)

    def text(self, id: str) -> str | None:
        """Return a text, or None when it was erased or never came."""
        with self._asking() as reader:
            return reader.text(id)

    def texts(self, ids: Iterable[str]) -> dict[str, str]:
        """Return those of the texts that exist and are not erased."""
        with self._asking() as reader:
            return reader.texts(ids)

    def course(self, hash: str) -> bytes | None:
        """Return the bytes of a compiled table, if it is stored."""
        with self._asking() as reader:
            return reader.course(hash)

    def parked(self) -> list[Parked]:
        """Return the facts that could not be read, oldest first."""
        with self._asking() as reader:
            return reader.parked()

    def tablets(self) -> list[Tablet]:
        """Return the enrolled tablets by id."""
        with self._asking() as reader:
            return reader.tablets()

    def tablet_by_token(self, token_hash: str) -> str | None:
        """Return the id of the tablet that carries the token with this hash, if it is enrolled."""
        with self._asking() as reader:
            return reader.tablet_by_token(token_hash)

    def secret(self, holder: str, kind: str) -> str | None:
        """Return the hash of a person's PIN or badge, if there is one."""
        with self._asking() as reader:
            return reader.secret(holder, kind)

    def holder(self, kind: str, hash: str) -> str | None:
        """Return whose secret has this hash, for badges, if it is exactly one person's."""
        with self._asking() as reader:
            return reader.holder(kind, hash)

    def tries(self, holder: str) -> Tries:
        """Return the wrong tries against a person's PIN, none when nothing is known."""
        with self._asking() as reader:
            return reader.tries(holder)

    def _close_idle(self) -> None:
        while self._idle:
            self._idle.pop().close()

    def _close_connections(self) -> None:
        self._closed = True
        self._close_idle()
        if self._writer is not None:
            # Closed last, so that SQLite empties the write-ahead log into the database.
            self._writer.close()
            self._writer = None

    def close(self) -> None:
        """Wait for the writer, close every connection and free the folder; a second time does nothing."""
        with self._lock:
            if self._closed:
                return
            self._close_connections()
        self._on_close()

    def __enter__(self) -> "Store":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None
    ) -> None:
        self.close()
