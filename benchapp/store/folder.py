"""The data folder: what lies where, who may open it, and that only one program writes in it.

`bench.sqlite3` is the database, `lock` is held by the program that serves, `backups/` takes the backups.
"""

import contextlib
import os
from dataclasses import dataclass
from io import BufferedRandom
from pathlib import Path

from benchapp.store import schema
from benchapp.store.engine import connect, damaged, explained, on_disk, sync_file, sync_folder
from benchapp.store.errors import FolderLocked, FolderMissing, NotEmpty
from benchapp.store.journal import Store
from benchapp.store.locks import free, hold


@dataclass(frozen=True)
class DataFolder:
    """The places inside a data folder."""

    path: Path

    @property
    def database(self) -> Path:
        """The SQLite file."""
        return self.path / "bench.sqlite3"

    @property
    def unfinished(self) -> Path:
        """Where a database lies until it is whole."""
        return self.path / "bench.sqlite3.new"

    @property
    def lock(self) -> Path:
        """The file that the serving program keeps locked."""
        return self.path / "lock"

    @property
    def backups(self) -> Path:
        """Where backups go unless another place is named."""
        return self.path / "backups"

    def must_be_new(self) -> None:
        """Raise NotEmpty when the folder holds anything but the start of an attempt that was broken off."""
        if self.path.exists() and not self.path.is_dir():
            raise NotEmpty(f"{self.path} is a file, not a folder: name a new or an empty folder.")
        if self.path.is_dir() and any(not _left_over(item, self) for item in self.path.iterdir()):
            raise NotEmpty(
                f"The folder {self.path} is not empty: name a new or an empty folder; nothing was changed."
            )

    def prepare(self) -> None:
        """Make the folder and its backups folder, and clear what a broken-off attempt left."""
        self.path.mkdir(parents=True, exist_ok=True)
        for item in self.path.iterdir():
            if item.is_file() and _left_over(item, self):
                item.unlink()
        self.backups.mkdir(exist_ok=True)

    def finish(self) -> None:
        """Put the whole database in its place, durably and at once."""
        sync_file(self.unfinished)
        self.unfinished.replace(self.database)
        sync_folder(self.path)


def _left_over(item: Path, folder: DataFolder) -> bool:
    if item == folder.backups:
        return item.is_dir() and not any(item.iterdir())
    return item.name.startswith(folder.unfinished.name)


def create(path: Path, lab_id: str) -> DataFolder:
    """Make a data folder for the lab with this id, in an absent or empty place; raises NotEmpty otherwise."""
    folder = DataFolder(path)
    folder.must_be_new()
    with on_disk(folder.database):
        folder.prepare()
        folder.unfinished.touch()
        with contextlib.closing(connect(folder.unfinished, "rw")) as connection:
            schema.lay_out(connection, lab_id)
        folder.finish()
    return folder


def open_for_writing(path: Path, address: str = "", looked_through: bool = False) -> Store:
    """Open a data folder as the one program that writes in it, after looking whether it is whole.

    `address` is what another program is told when it finds the folder locked; `looked_through` says that this
    was done a moment ago, and need not be done again (seconds at a million entries). Raises FolderMissing,
    FolderLocked, FolderDamaged, FolderNewer or SchemaChanged; the folder is then as it was. An older folder
    is brought up to date, and the store's `before` is the copy of it as it was.
    """
    folder = _existing(path)
    lock = _take_lock(folder, address)
    try:
        if not looked_through:
            inspect(folder.database, may_be_older=True)
        before = _bring_up_to_date(folder)
        return Store(folder.database, "rw", on_close=lambda: free(lock), before=before)
    except BaseException:
        free(lock)
        raise


def open_for_reading(path: Path) -> Store:
    """Open a data folder for questions only, also while a server writes in it.

    Raises FolderMissing, FolderDamaged, FolderNewer, FolderOlder or SchemaChanged.
    """
    folder = _existing(path)
    inspect(folder.database, may_be_older=False)
    return Store(folder.database, "ro")


def _existing(path: Path) -> DataFolder:
    folder = DataFolder(path)
    if not folder.database.is_file():
        raise FolderMissing(
            f"There is no {folder.database.name} in {path}: name the right data folder, or make one with "
            f"`benchapp lab SHEET --data {path}`."
        )
    return folder


def inspect(database: Path, may_be_older: bool, mode: str = "ro") -> None:
    """Look through a database without writing; raises FolderDamaged, Newer or Older, or SchemaChanged."""
    # Only SQLite opens the file: closing it here would drop the locks that this process's connections hold
    # on it.
    # A file shorter than the smallest page would be taken for a new, empty database.
    if database.stat().st_size < 512:
        raise damaged(database, "it is cut short or empty")
    with explained(database), contextlib.closing(connect(database, mode)) as connection:
        if schema.version_of(connection) > schema.VERSION:
            schema.check(connection, database, may_be_older)
        faults = [row[0] for row in connection.execute("PRAGMA quick_check(3)")]
        if faults != ["ok"]:
            raise damaged(database, "; ".join(str(fault).replace("\n", " ") for fault in faults))
        schema.check(connection, database, may_be_older)


def _bring_up_to_date(folder: DataFolder) -> Path | None:
    """Migrate an older database; return the copy of it as it was, None when it is of this version already."""
    with explained(folder.database), contextlib.closing(connect(folder.database, "rw")) as connection:
        version = schema.version_of(connection)
        if version == schema.VERSION:
            return None
        folder.backups.mkdir(exist_ok=True)
        before = folder.backups / f"before-version-{schema.VERSION}.sqlite3"
        before.unlink(missing_ok=True)
        connection.execute("VACUUM INTO ?", (str(before),))
        sync_file(before)
        schema.migrate(connection, folder.database)
        return before


def _take_lock(folder: DataFolder, address: str) -> BufferedRandom:
    with on_disk(folder.lock):
        folder.lock.touch()
        file = folder.lock.open("r+b")
    try:
        hold(file)
    except OSError:
        said = file.read(200).decode("utf-8", "replace").split("\n")
        file.close()
        who = f"process {said[0]}" if said[0] else "another program"
        where = f" at {said[1]}" if len(said) > 1 and said[1] else ""
        raise FolderLocked(
            f"The data folder {folder.path} is in use by {who}{where}: use that one, or stop it and start "
            "again."
        ) from None
    file.truncate(0)
    file.write(f"{os.getpid()}\n{address}\n".encode())
    file.flush()
    return file
