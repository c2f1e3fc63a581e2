"""Every question that is put to the tables, on one connection."""

from collections.abc import Iterable
from dataclasses import dataclass

from sqlite_utils import Database

from benchapp.core.seal import first_link
from benchapp.store.engine import sqlite3


@dataclass(frozen=True)
class Entry:
    """One stored event: its number, its id, its bytes, and its link in the chain."""

    seq: int
    event_id: str
    body: bytes
    prev_hash: str
    hash: str


@dataclass(frozen=True)
class Tip:
    """The number and hash of the last entry; 0 and the lab's first link while there is none."""

    seq: int
    hash: str


@dataclass(frozen=True)
class Parked:
    """A fact that could not be read: when it came (UTC ms), from which tablet, why, and its bytes."""

    id: int
    received: int
    tablet: str
    why: str
    body: bytes


@dataclass(frozen=True)
class Tablet:
    """An enrolled tablet: since when and when last seen, UTC ms."""

    id: str
    since: int
    seen: int


@dataclass(frozen=True)
class Tries:
    """Wrong tries of a person's PIN: how many since when, and until when no more are taken (UTC ms)."""

    holder: str
    wrong: int = 0
    since: int = 0
    locked_until: int = 0


_ENTRY = "SELECT j.seq, j.event_id, j.body, j.prev_hash, j.hash FROM "
_JOURNAL = _ENTRY + "journal AS j "
# CROSS JOIN fixes the order: first the tag by its key, then the entry by its number.
_TAGGED = _ENTRY + "tag AS t CROSS JOIN journal AS j ON j.seq = t.seq WHERE t.name = ? AND t.value = ? "
# One step down the index per value, however many entries carry each of them.
_VALUES = """
WITH RECURSIVE v(value) AS (
  SELECT min(value) FROM tag WHERE name = :name
  UNION ALL
  SELECT (SELECT min(value) FROM tag WHERE name = :name AND value > v.value) FROM v WHERE v.value IS NOT NULL
) SELECT value FROM v WHERE value IS NOT NULL"""


class Reader:
    """The questions, answered from one connection: inside a transaction, from one state of everything."""

    def __init__(self, connection: sqlite3.Connection, lab_id: str) -> None:
        self.connection = connection
        self.lab_id = lab_id

    @property
    def database(self) -> Database:
        """The same connection as sqlite-utils sees it, for the tables beside the journal."""
        return Database(self.connection, recursive_triggers=False, execute_plugins=False)

    def _one(self, sql: str, *values: object) -> Entry | None:
        row = self.connection.execute(sql, values).fetchone()
        return None if row is None else Entry(*row)

    def _value(self, sql: str, *values: object) -> object:
        row = self.connection.execute(sql, values).fetchone()
        return None if row is None else row[0]

    def tip(self) -> Tip:
        """Return the number and hash of the last entry."""
        row = self.connection.execute("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1").fetchone()
        return Tip(0, first_link(self.lab_id)) if row is None else Tip(*row)

    def find(self, event_id: str) -> Entry | None:
        """Return the entry of an event, if it is stored."""
        return self._one(_JOURNAL + "WHERE j.event_id = ?", event_id)

    def entry(self, seq: int) -> Entry | None:
        """Return the entry with this number, if there is one."""
        return self._one(_JOURNAL + "WHERE j.seq = ?", seq)

    def tagged(self, name: str, value: str, after: int = 0) -> list[Entry]:
        """Return the entries with this tag and a number above `after`, in order."""
        rows = self.connection.execute(_TAGGED + "AND t.seq > ? ORDER BY t.seq", (name, value, after))
        return [Entry(*row) for row in rows]

    def first_tagged(self, name: str, value: str) -> Entry | None:
        """Return the first entry with this tag, if there is one."""
        return self._one(_TAGGED + "ORDER BY t.seq LIMIT 1", name, value)

    def last_tagged(self, name: str, value: str) -> Entry | None:
        """Return the last entry with this tag, if there is one."""
        return self._one(_TAGGED + "ORDER BY t.seq DESC LIMIT 1", name, value)

    def tag_values(self, name: str) -> list[str]:
        """Return all values that a tag takes, sorted."""
        return [row[0] for row in self.connection.execute(_VALUES, {"name": name})]

    def tag_counts(self, name: str) -> dict[str, int]:
        """Return how many entries carry each value of a tag."""
        sql = "SELECT value, count(*) FROM tag WHERE name = ? GROUP BY value ORDER BY value"
        return dict(self.connection.execute(sql, (name,)).fetchall())

    def page(self, after: int, limit: int) -> list[Entry]:
        """Return up to `limit` entries with numbers above `after`, in order."""
        sql = _JOURNAL + "WHERE j.seq > ? ORDER BY j.seq LIMIT ?"
        return [Entry(*row) for row in self.connection.execute(sql, (after, limit))]

    def text(self, id: str) -> str | None:
        """Return a text, or None when it was erased or never came."""
        return self.texts([id]).get(id)

    def texts(self, ids: Iterable[str]) -> dict[str, str]:
        """Return those of the texts that exist and are not erased."""
        found: dict[str, str] = {}
        for id in ids:
            value = self._value("SELECT text FROM texts WHERE id = ?", id)
            if isinstance(value, str):
                found[id] = value
        return found

    def course(self, hash: str) -> bytes | None:
        """Return the bytes of a compiled table, if it is stored."""
        value = self._value("SELECT body FROM course WHERE hash = ?", hash)
        return value if isinstance(value, bytes) else None

    def parked(self) -> list[Parked]:
        """Return the facts that could not be read, oldest first."""
        return [Parked(**row) for row in self.database.table("parked").rows_where(order_by="id")]

    def tablets(self) -> list[Tablet]:
        """Return the enrolled tablets by id."""
        rows = self.database.table("tablet").rows_where(select="id, since, seen", order_by="id")
        return [Tablet(**row) for row in rows]

    def tablet_by_token(self, token_hash: str) -> str | None:
        """Return the id of the tablet that carries the token with this hash, if it is enrolled."""
        value = self._value("SELECT id FROM tablet WHERE token_hash = ?", token_hash)
        return value if isinstance(value, str) else None

    def secret(self, holder: str, kind: str) -> str | None:
        """Return the hash of a person's PIN or badge, if there is one."""
        value = self._value("SELECT hash FROM secret WHERE holder = ? AND kind = ?", holder, kind)
        return value if isinstance(value, str) else None

    def holder(self, kind: str, hash: str) -> str | None:
        """Return whose secret has this hash, for badges, if it is exactly one person's."""
        rows = self.connection.execute("SELECT holder FROM secret WHERE kind = ? AND hash = ?", (kind, hash))
        found: list[tuple[str]] = rows.fetchall()
        return found[0][0] if len(found) == 1 else None

    def tries(self, holder: str) -> Tries:
        """Return the wrong tries against a person's PIN, none when nothing is known."""
        rows = list(self.database.table("tries").rows_where("holder = ?", [holder]))
        return Tries(**rows[0]) if rows else Tries(holder)
