"""Keeping the journal safe: verified, copied, brought back."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from benchapp.core.events import FACTS, REQUESTS, newer, read_body, tags_of
from benchapp.store import backup as copies
from benchapp.store.folder import open_for_reading
from benchapp.store.journal import Store
from benchapp.store.meshes import Meshes
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
    """Copy the journal while it is in use, verify the copy, keep the newest `keep`; then the design files.

    Design files go into `meshes` beside the backups, those that are not there yet; none is ever removed there.
    """
    made = copies.backup(store, to, name, keep, tags_of, progress)
    missing = Meshes(store.path.parent).copy_to(Meshes(to), mesh_names(store))
    return replace(made, missing=tuple(missing))


def mesh_names(store: Store) -> list[str]:
    """Return the SHA-256 of every design file that the journal names, sorted."""
    bodies = (read_body(entry.body) for entry in store.tagged("kind", "mesh"))
    return sorted({body["event"]["data"]["hash"] for body in bodies})


def wrong_meshes(store: Store, progress: Progress | None = None) -> list[tuple[str, bool]]:
    """Return the design files that are not as they were kept: (SHA-256, whether one of that name is there at all)."""
    return list(Meshes(store.path.parent).wrong(mesh_names(store), progress))


def bring_back(backup_file: Path, data: Path, progress: Progress | None = None) -> Checkpoint:
    """Make a data folder from a backup, verified first, with the design files that lie beside the backup."""
    found = copies.restore(backup_file, data, tags_of, progress)
    with open_for_reading(data) as store:
        Meshes(backup_file.parent).copy_to(Meshes(data), mesh_names(store))
    return found


def read_only_reason(store: Store) -> str:
    """Say why this version may only read the journal ("" when it may write): entries of a newer version.

    Kinds are looked up by their tags and the envelope's version in the last entry, since a newer version that
    wrote anything at all stands there; reading a million entries at each start would take minutes.
    """
    strange = sorted(set(store.tag_values("kind")) - set(FACTS) - set(REQUESTS))
    last = store.entry(store.tip().seq)
    if strange or (last is not None and newer(last.body)):
        what = f" ({', '.join(strange)})" if strange else ""
        return (
            f"{store.path.parent} holds entries of a newer version of Seat & Cure{what}: install that version. "
            "Until then the folder can be read (record, verify, backup), not written."
        )
    return ""
