"""The tables of the data folder: what each holds, what guards it, how older ones are brought up to date."""

from collections.abc import Callable
from pathlib import Path

from benchapp.store.engine import sqlite3
from benchapp.store.errors import FolderNewer, FolderOlder, SchemaChanged

VERSION = 1

# Triggers against UPDATE and DELETE do not stop INSERT OR REPLACE, which removes the old row without asking
# them: so what is already there, and any number but the next, is refused before the insert.
SCHEMA = """
-- The laboratory this folder belongs to: one row, its random id starts the chain.
CREATE TABLE lab (id TEXT NOT NULL PRIMARY KEY) STRICT;
CREATE TRIGGER lab_is_one BEFORE INSERT ON lab WHEN (SELECT count(*) FROM lab) > 0
BEGIN SELECT RAISE(ABORT, 'the folder already belongs to a lab'); END;
CREATE TRIGGER lab_stays BEFORE UPDATE ON lab
BEGIN SELECT RAISE(ABORT, 'the lab of a folder never changes'); END;
CREATE TRIGGER lab_kept BEFORE DELETE ON lab
BEGIN SELECT RAISE(ABORT, 'the lab of a folder is never removed'); END;

-- Everything that happened, in order; each hash covers the one before it and the stored bytes.
CREATE TABLE journal (
  seq INTEGER PRIMARY KEY,
  event_id TEXT NOT NULL UNIQUE,
  body BLOB NOT NULL,
  prev_hash TEXT NOT NULL,
  hash TEXT NOT NULL UNIQUE
) STRICT;
CREATE TRIGGER journal_next BEFORE INSERT ON journal
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM journal)
BEGIN SELECT RAISE(ABORT, 'an entry takes the next number, no other'); END;
CREATE TRIGGER journal_event_new BEFORE INSERT ON journal
WHEN EXISTS (SELECT 1 FROM journal WHERE event_id = NEW.event_id)
BEGIN SELECT RAISE(ABORT, 'this event is in the journal already'); END;
CREATE TRIGGER journal_hash_new BEFORE INSERT ON journal
WHEN EXISTS (SELECT 1 FROM journal WHERE hash = NEW.hash)
BEGIN SELECT RAISE(ABORT, 'this hash is in the journal already'); END;
CREATE TRIGGER journal_stays BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry of the journal never changes'); END;
CREATE TRIGGER journal_kept BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'an entry of the journal is never removed'); END;

-- Where to find entries: derived from the events, can be rebuilt at any time.
CREATE TABLE tag (
  name TEXT NOT NULL,
  value TEXT NOT NULL,
  seq INTEGER NOT NULL,
  PRIMARY KEY (name, value, seq)
) STRICT, WITHOUT ROWID;

-- Words that people wrote, apart from the events, so that they can be erased: then salt and text are NULL.
CREATE TABLE texts (id TEXT NOT NULL PRIMARY KEY, salt BLOB, text TEXT) STRICT;

-- Compiled tables of protocol and case, by the SHA-256 of their bytes, kept for ever.
CREATE TABLE course (hash TEXT NOT NULL PRIMARY KEY, body BLOB NOT NULL) STRICT;
CREATE TRIGGER course_new BEFORE INSERT ON course
WHEN EXISTS (SELECT 1 FROM course WHERE hash = NEW.hash)
BEGIN SELECT RAISE(ABORT, 'this compiled table is stored already'); END;
CREATE TRIGGER course_stays BEFORE UPDATE ON course
BEGIN SELECT RAISE(ABORT, 'a compiled table never changes'); END;
CREATE TRIGGER course_kept BEFORE DELETE ON course
BEGIN SELECT RAISE(ABORT, 'a compiled table is never removed'); END;

-- Facts that a tablet sent and nobody could read, byte for byte, for a supervisor.
CREATE TABLE parked (
  id INTEGER PRIMARY KEY,
  received INTEGER NOT NULL,
  tablet TEXT NOT NULL,
  why TEXT NOT NULL,
  body BLOB NOT NULL
) STRICT;

-- Enrolled tablets and the hash of the token each of them carries; times in UTC milliseconds.
CREATE TABLE tablet (
  id TEXT NOT NULL PRIMARY KEY,
  token_hash TEXT NOT NULL UNIQUE,
  since INTEGER NOT NULL,
  seen INTEGER NOT NULL
) STRICT;

-- Hashes of PINs and badges, and the wrong tries against them.
CREATE TABLE secret (
  holder TEXT NOT NULL,
  kind TEXT NOT NULL,
  hash TEXT NOT NULL,
  PRIMARY KEY (holder, kind)
) STRICT;
CREATE TABLE tries (
  holder TEXT NOT NULL PRIMARY KEY,
  wrong INTEGER NOT NULL,
  since INTEGER NOT NULL,
  locked_until INTEGER NOT NULL
) STRICT;
"""

# From version n to n + 1, each in the transaction that also sets the new version.
MIGRATIONS: dict[int, Callable[[sqlite3.Connection], None]] = {}


def lay_out(connection: sqlite3.Connection, lab_id: str) -> None:
    """Make all tables in an empty database for the lab with this id."""
    connection.executescript(f"BEGIN; {SCHEMA} PRAGMA user_version = {VERSION};")
    connection.execute("INSERT INTO lab (id) VALUES (?)", (lab_id,))
    connection.execute("COMMIT")


def version_of(connection: sqlite3.Connection) -> int:
    """Return the version of the schema in a database, 0 for one that this software did not make."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


def _objects(connection: sqlite3.Connection) -> dict[tuple[str, str, str], str | None]:
    rows = connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")
    return {(kind, name, table): sql for kind, name, table, sql in rows}


def check(connection: sqlite3.Connection, path: Path, may_be_older: bool) -> None:
    """Compare every table, trigger and index of a database with this code's.

    Raises FolderNewer, FolderOlder (unless that is allowed) or SchemaChanged. A foreign table beside ours
    is let be; a foreign trigger or index on one of ours is not.
    """
    version = version_of(connection)
    if version > VERSION:
        raise FolderNewer(
            f"The data folder of {path} has version {version}, this software knows up to {VERSION}: "
            "install the newer software again; an older one would not understand what is in it."
        )
    if 0 < version < VERSION:
        if may_be_older:
            return
        raise FolderOlder(
            f"The data folder of {path} has version {version}, this software works with {VERSION}: start the "
            f"server on it once, which brings it up to date, then do this again."
        )
    with _fresh() as model:
        expected = _objects(model)
    ours = {table for _, _, table in expected}
    found = {key: sql for key, sql in _objects(connection).items() if key[2] in ours}
    for key in sorted(expected.keys() | found.keys()):
        if key not in found or key not in expected or found[key] != expected[key]:
            what = (
                "is missing"
                if key not in found
                else "does not belong there"
                if key not in expected
                else "differs"
            )
            raise SchemaChanged(
                f"In the database {path} the {key[0]} {key[1]} {what}: another program altered the file, "
                "so keep it and bring the newest backup back into a new folder with `benchapp restore "
                "BACKUP --data NEW_FOLDER`."
            )


class _fresh:
    """An in-memory database with the schema of this code, to compare with."""

    def __enter__(self) -> sqlite3.Connection:
        self.connection = sqlite3.connect(":memory:", isolation_level=None)
        self.connection.executescript(SCHEMA)
        return self.connection

    def __exit__(self, *_: object) -> None:
        self.connection.close()


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Bring an older database up to VERSION, one version in one transaction each, then compare it."""
    for version in range(version_of(connection), VERSION):
        connection.execute("BEGIN IMMEDIATE")
        try:
            MIGRATIONS[version](connection)
            connection.execute(f"PRAGMA user_version = {version + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
    check(connection, path, may_be_older=False)
