"""Whether everything stored still is what was stored: all columns of all rows, and the chain itself."""

import contextlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from benchapp.core.seal import digest, first_link, link, names
from benchapp.store.engine import connect, sqlite3
from benchapp.store.journal import Store
from benchapp.store.reads import Tip

# A tip that somebody wrote down elsewhere: a record, a backup, a tablet's acknowledgement.
Checkpoint = Tip
Tags = Iterable[tuple[str, str]]
Row = tuple[object, ...]

STEP = 1000


@dataclass(frozen=True)
class Broken:
    """The first place that does not hold: the entry (0 outside the journal), table, key, column, and why."""

    seq: int
    table: str
    key: str
    column: str
    why: str

    def __str__(self) -> str:
        where = f"entry {self.seq}" if self.table == "journal" else f"{self.table} {self.key}"
        return f"{where}, column {self.column}: {self.why}"


def verify(
    store: Store,
    tags_of: Callable[[bytes], Tags],
    expect: Checkpoint | Iterable[Checkpoint] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Checkpoint | Broken:
    """Check the whole store as it stands at one moment; return its tip or the first place that does not hold.

    `tags_of` derives the tags of a stored body; `expect` are the checkpoints that must be in the chain,
    which alone show that the end was cut off; `progress` is told (entries done, entries in all). Writes
    nothing, and reports damage of any kind instead of raising.
    """
    wanted = [expect] if isinstance(expect, Tip) else list(expect or ())
    try:
        with contextlib.closing(
            connect(store.path, "immutable" if store.mode == "immutable" else "ro")
        ) as connection:
            # Bytes that are not UTF-8 must arrive here to be reported, not stop the reading.
            connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
            connection.execute("BEGIN")
            return _Check(connection, store.lab_id, tags_of, wanted, progress).run()
    except sqlite3.Error as error:
        return Broken(0, "database", "", "", f"the file cannot be read: {error}")


def fault(row: Row, before: Tip) -> tuple[str, str] | None:
    """Return which column of a journal row does not hold after the entry `before`, and why, or None."""
    seq, event_id, body, prev_hash, hash = row
    if type(seq) is not int or seq != before.seq + 1:
        return "seq", f"{seq!r} stands where {before.seq + 1} belongs"
    if type(body) is not bytes:
        return "body", "it is not bytes"
    if prev_hash != before.hash:
        return "prev_hash", "it is not the hash of the entry before"
    if hash != link(before.hash, body):
        return "hash", "it is not the hash of the entry before and this body: one of the two was altered"
    try:
        named, numbered = names(body)
    except ValueError as error:
        return "body", str(error)
    if event_id != named:
        return "event_id", "it is not the id inside the body"
    if numbered != seq:
        return "body", f"server.seq is {numbered}, not {seq}"
    return None


class _Check:
    """One run over one state of the database."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        lab_id: str,
        tags_of: Callable[[bytes], Tags],
        wanted: list[Checkpoint],
        progress: Callable[[int, int], None] | None,
    ) -> None:
        self.connection = connection
        self.tip = Tip(0, first_link(lab_id))
        self.tags_of = tags_of
        self.wanted = wanted
        self.progress = progress
        self.tags = 0

    def run(self) -> Checkpoint | Broken:
        for part in (self.journal, self.spare_tags, self.texts, self.courses, self.file):
            try:
                broken = next(part(), None)
            except sqlite3.Error as error:
                broken = self.at(
                    "file", f"it cannot be read after entry {self.tip.seq}: {error}", self.tip.seq + 1
                )
            if broken is not None:
                return broken
        return self.tip

    def at(self, column: str, why: str, seq: int) -> Broken:
        return Broken(seq, "journal", str(seq), column, why)

    def journal(self) -> Iterator[Broken]:
        total = self.number("SELECT count(*) FROM journal")
        yield from self.checkpoints()
        for row in self.connection.execute(
            "SELECT seq, event_id, body, prev_hash, hash FROM journal ORDER BY seq"
        ):
            found = fault(row, self.tip)
            if found is not None:
                yield self.at(*found, self.tip.seq + 1)
            self.tip = Tip(row[0], row[4])
            yield from self.checkpoints()
            yield from self.own_tags(row[2])
            if self.progress is not None and (self.tip.seq % STEP == 0 or self.tip.seq == total):
                self.progress(self.tip.seq, total)
        for point in self.wanted:
            if not 0 <= point.seq <= self.tip.seq:
                why = f"the journal ends at {self.tip.seq}, but {point.seq} was known elsewhere: it was cut"
                yield self.at("seq", why, self.tip.seq + 1)

    def checkpoints(self) -> Iterator[Broken]:
        for point in self.wanted:
            if point.seq == self.tip.seq and point.hash != self.tip.hash:
                yield self.at(
                    "hash", "it is another than was known elsewhere: the chain was written anew", point.seq
                )

    def own_tags(self, body: bytes) -> Iterator[Broken]:
        try:
            derived = set(self.tags_of(body))
        except Exception as error:
            # Any failure of the deriving code is a finding about this body, not a reason to stop.
            yield self.at("body", f"no tags can be derived from it: {error!r}", self.tip.seq)
            return
        for name, value in derived:
            key = (name, value, self.tip.seq)
            sql = "SELECT count(*) FROM tag WHERE name = ? AND value = ? AND seq = ?"
            if self.number(sql, *key) != 1:
                yield Broken(self.tip.seq, "tag", f"{name} {value}", "name", f"entry {key[2]} lacks this tag")
        self.tags += len(derived)

    def spare_tags(self) -> Iterator[Broken]:
        # All derived tags are there, so as many rows as were derived means that there are no others.
        if self.number("SELECT count(*) FROM tag") == self.tags:
            return
        for name, value, seq in self.connection.execute("SELECT name, value, seq FROM tag"):
            row = self.connection.execute("SELECT body FROM journal WHERE seq = ?", (seq,)).fetchone()
            if row is None or (name, value) not in set(self.tags_of(row[0])):
                number = seq if type(seq) is int else 0
                yield Broken(number, "tag", f"{name} {value}", "seq", f"entry {seq!r} does not have this tag")
        yield Broken(0, "tag", "", "", "there are more tags than the entries have")

    def texts(self) -> Iterator[Broken]:
        for id, salt, text in self.connection.execute("SELECT id, salt, text FROM texts"):
            if salt is None and text is None:
                continue
            whole = type(salt) is bytes and type(text) is str
            if not whole or digest(salt + text.encode("utf-8", "surrogateescape")) != id:
                yield Broken(0, "texts", str(id), "text", "salt and text are not those of this id")

    def courses(self) -> Iterator[Broken]:
        for hash, body in self.connection.execute("SELECT hash, body FROM course"):
            if type(body) is not bytes or digest(body) != hash:
                yield Broken(0, "course", str(hash), "body", "the bytes are not those of this hash")

    def file(self) -> Iterator[Broken]:
        # The rows hold; this looks at what finds them, the indexes.
        for (found,) in self.connection.execute("PRAGMA integrity_check(1)"):
            if found != "ok":
                yield Broken(0, "database", "", "", str(found))

    def number(self, sql: str, *values: object) -> int:
        count: int = self.connection.execute(sql, values).fetchone()[0]
        return count
