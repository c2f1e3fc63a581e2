"""Keeping the journal safe: verified, copied, brought back."""

from collections.abc import Callable
from pathlib import Path

from benchapp.core.events import newer, tags_of
from benchapp.store import backup as copies
from benchapp.store.journal import Store
from benchapp.store.verify import Broken, Checkpoint, verify

Progress = Callable[[int, int], None]


def check_journal(
    store: Store, expect: Checkpoint | None = None, progress: Progress | None = None
) -> Checkpoint | Broken:
    """Verify every column of every row; return the checkpoint, or the first entry that does not hold."""
    return verify(store, tags_of, expect, progress)


def make_backup(
    store: Store, to: Path, name: str, keep: int, progress: Progress | None = None
) -> copies.BackupResult:
    """Copy the journal while it is in use, verify the copy, keep the newest `keep`."""
    return copies.backup(store, to, name, keep, tags_of, progress)


def bring_back(backup_file: Path, data: Path, progress: Progress | None = None) -> Checkpoint:
    """Make a data folder from a backup, verified first."""
    return copies.restore(backup_file, data, tags_of, progress)


def read_only_reason(store: Store) -> str:
    """Say why this version may only read the journal ("" when it may write): entries of a newer version."""
    for entry in store.entries():
        if newer(entry.body):
            return f"Entry {entry.seq} was written by a newer version of Seat & Cure: install that version."
    return ""
