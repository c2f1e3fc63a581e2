"""One SQLite for the whole process, how its connections are opened, and what its errors mean to a person.

Everybody imports `sqlite3` from here. SQLite up to 3.51.2 can lose a commit when two connections commit and
checkpoint at once, so the newer one that pysqlite3 carries goes before the standard library's; sqlite-utils
chooses in the same order, so there is never a second one in the process.
"""

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from benchapp.core.words import _
from benchapp.store.errors import DiskFull, FolderBusy, FolderDamaged, NotWritable, StoreError

if TYPE_CHECKING:
    import sqlite3
else:
    try:
        from pysqlite3 import dbapi2 as sqlite3
    except ImportError:
        import sqlite3

__all__ = [
    "connect",
    "damaged",
    "explained",
    "make_durable",
    "on_disk",
    "sqlite3",
    "sync_file",
    "sync_folder",
]

BUSY_SECONDS = 10.0


def connect(path: Path, mode: str) -> sqlite3.Connection:
    """Open an existing database: `mode` is "rw", "ro", or "immutable" for a file that nobody writes.

    The connection has no implicit transactions and may be used by any thread, one at a time. Never makes a
    file.
    """
    query = "mode=ro&immutable=1" if mode == "immutable" else f"mode={mode}"
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{query}",
        uri=True,
        timeout=BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def make_durable(connection: sqlite3.Connection) -> None:
    """Set a writer connection up: a commit is on the disk when it returns, erased bytes are overwritten."""
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    # Plain fsync on macOS leaves the bytes in the drive's cache; elsewhere these two do nothing.
    connection.execute("PRAGMA fullfsync = ON")
    connection.execute("PRAGMA checkpoint_fullfsync = ON")
    connection.execute("PRAGMA secure_delete = ON")
    # Makes the DELETE trigger see rows that REPLACE would remove; the INSERT triggers hold without it too.
    connection.execute("PRAGMA recursive_triggers = ON")


def damaged(path: Path, why: str) -> FolderDamaged:
    """Return the error for a database file that is not whole."""
    return FolderDamaged(_(
        "The database {path} is damaged ({why}) and was left as it is: keep it, and bring the newest "
        "backup back into a new folder with `benchapp restore BACKUP --data NEW_FOLDER`.", path=path, why=why,
    ))


def _disk_full(path: Path, why: str) -> DiskFull:
    return DiskFull(_(
        "The disk that holds {path} took nothing more ({why}): free some space or check the disk, "
        "then do it again; all that was stored before is still there.", path=path, why=why,
    ))


def _meaning(error: sqlite3.Error, path: Path) -> StoreError | None:
    code = getattr(error, "sqlite_errorcode", None)
    primary = None if code is None else code & 0xFF
    if primary in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR):
        return _disk_full(path, str(error))
    if primary in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return damaged(path, str(error))
    if primary in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return NotWritable(_(
            "The database {path} cannot be opened or written ({error}): give this user the right to write "
            "in its folder, then do it again.", path=path, error=error,
        ))
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return FolderBusy(_(
            "Another program keeps {path} locked: close whatever has the file open (a database viewer, a "
            "copy that is running), then do it again.", path=path,
        ))
    if "Could not decode to UTF-8" in str(error):
        return damaged(path, str(error))
    return None


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn SQLite's errors about the file at `path` into a StoreError that names the remedy."""
    try:
        yield
    except sqlite3.Error as error:
        meaning = _meaning(error, path)
        if meaning is None:
            raise
        raise meaning from error


@contextmanager
def on_disk(path: Path) -> Iterator[None]:
    """As `explained`, and the system's own errors about files and folders too."""
    try:
        with explained(path):
            yield
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG):
            raise _disk_full(path, str(error.strerror)) from error
        raise NotWritable(_(
            "{path} cannot be made or written ({error}): name another place, or give this user the "
            "right to write there, then do it again.", path=path, error=error.strerror,
        )) from error


def sync_folder(folder: Path) -> None:
    """Make renames inside `folder` durable, where the system can (Windows orders them by itself)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_file(path: Path) -> None:
    """Make the bytes of a closed file durable."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())
