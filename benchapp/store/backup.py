"""Backups: a verified copy of the database beside a running server, and bringing one back into a new folder.

A backup is one SQLite file and beside it a small text with the number and hash of its last entry, the
checkpoint.
"""

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from benchapp.store.engine import connect, on_disk, sync_file, sync_folder
from benchapp.store.errors import BackupRefused, FolderMissing, NotEmpty, StoreError
from benchapp.store.folder import DataFolder, inspect
from benchapp.store.journal import Store
from benchapp.store.verify import Broken, Checkpoint, Tags, verify

TagsOf = Callable[[bytes], Tags]
Progress = Callable[[int, int], None]

ENDING = ".sqlite3"
PAGES = 2000


@dataclass(frozen=True)
class BackupResult:
    """The backup just made, its checkpoint, and the older ones that were removed to make room.

    `missing` names the design files of its journal that are not in the data folder as they were kept.
    """

    path: Path
    checkpoint: Checkpoint
    removed: tuple[Path, ...]
    missing: tuple[str, ...] = ()


def backup(
    store: Store, to_folder: Path, name: str, keep: int, tags_of: TagsOf, progress: Progress | None = None
) -> BackupResult:
    """Copy the store as it stands at one moment into `to_folder`, while others write on, and verify the copy.

    `name` is the file's name without ending; names sort by time, and of this lab's backups there the last
    `keep` stay, the new one always. `progress` is told (pages copied, pages in all). Raises NotEmpty when
    the name is taken, BackupRefused when the copy does not verify; then no file is left behind.
    """
    if keep < 1:
        raise ValueError("keep at least 1 backup")
    if Path(name).name != name or not name or name.startswith("."):
        raise ValueError(f"{name!r} is not a plain file name")
    path = to_folder / (name + ENDING)
    if path.exists():
        raise NotEmpty(
            f"There is a backup {path} already: give the new one another name; nothing was changed."
        )
    unfinished = path.with_name(path.name + ".new")
    with _unfinished(unfinished):
        to_folder.mkdir(parents=True, exist_ok=True)
        _copy(store.path, "immutable" if store.mode == "immutable" else "ro", unfinished, progress)
        checkpoint = _verified(unfinished, tags_of, None)
        sync_file(unfinished)
        _write_beside(path, store.lab_id, checkpoint)
        unfinished.replace(path)
        sync_folder(to_folder)
    return BackupResult(path, checkpoint, _rotate(path, store.lab_id, keep))


def restore(
    backup_file: Path, data_folder: Path, tags_of: TagsOf, progress: Progress | None = None
) -> Checkpoint:
    """Make a data folder from a backup, in an absent or empty place, and return the checkpoint it stands at.

    The backup is verified before anything is written. Raises FolderMissing, NotEmpty, FolderDamaged,
    FolderNewer, SchemaChanged or BackupRefused; the backup is only read.
    """
    folder = DataFolder(data_folder)
    if not backup_file.is_file():
        raise FolderMissing(f"There is no backup {backup_file}: name the {ENDING} file of a backup.")
    folder.must_be_new()
    checkpoint = _verified(backup_file, tags_of, _read_beside(backup_file))
    with _unfinished(folder.unfinished):
        folder.prepare()
        _copy(backup_file, _mode(backup_file), folder.unfinished, progress)
        with Store(folder.unfinished, "immutable") as copy:
            if copy.tip() != checkpoint:
                raise BackupRefused(f"The backup {backup_file} changed while it was copied: do it again.")
        folder.finish()
    return checkpoint


@contextlib.contextmanager
def _unfinished(path: Path) -> Iterator[None]:
    """Leave nothing of a file behind when making it fails."""
    try:
        with on_disk(path):
            yield
    except BaseException:
        for item in path.parent.glob(path.name + "*") if path.parent.is_dir() else ():
            with contextlib.suppress(OSError):
                item.unlink()
        raise


def _copy(source: Path, mode: str, target: Path, progress: Progress | None) -> None:
    """Copy a database page by page, from one state of it."""

    def tell(_status: int, left: int, total: int) -> None:
        if progress is not None:
            progress(total - left, total)

    target.unlink(missing_ok=True)
    target.touch()
    with contextlib.closing(connect(source, mode)) as old, contextlib.closing(connect(target, "rw")) as new:
        # Inside a read transaction the source stands still, so writers do not make the copy begin again.
        old.execute("BEGIN")
        old.execute("SELECT count(*) FROM lab").fetchone()
        old.backup(new, pages=PAGES, progress=tell)
        # One file that can be read from any medium: no write-ahead log beside it.
        new.execute("PRAGMA journal_mode = DELETE")


def _mode(file: Path) -> str:
    """Nothing is written beside a backup while it is read, unless a log lies there that belongs to it."""
    beside = [file.with_name(file.name + end) for end in ("-wal", "-journal")]
    return "ro" if any(log.exists() for log in beside) else "immutable"


def _verified(file: Path, tags_of: TagsOf, beside: tuple[str, Checkpoint] | None) -> Checkpoint:
    mode = _mode(file)
    inspect(file, may_be_older=True, mode=mode)
    with Store(file, mode) as store:
        if beside is not None and beside[0] != store.lab_id:
            raise BackupRefused(
                f"The backup {file} is another lab's than {_beside(file).name} says: use another one."
            )
        found = verify(store, tags_of, None if beside is None else beside[1])
    if isinstance(found, Broken):
        raise BackupRefused(
            f"The backup {file} does not hold ({found}): use another one; nothing was changed."
        )
    return found


def _beside(file: Path) -> Path:
    return file.with_suffix(".txt")


def _write_beside(file: Path, lab_id: str, checkpoint: Checkpoint) -> None:
    text = f"lab {lab_id}\nseq {checkpoint.seq}\nhash {checkpoint.hash}\n"
    unfinished = file.with_name(file.name + ".new.txt")
    unfinished.write_text(text, encoding="utf-8", newline="\n")
    sync_file(unfinished)
    unfinished.replace(_beside(file))


def _read_beside(file: Path) -> tuple[str, Checkpoint] | None:
    """Return the lab and the checkpoint in the text beside a backup; None when there is no text."""
    try:
        said = dict(line.split(" ", 1) for line in _beside(file).read_text(encoding="utf-8").splitlines())
        return said["lab"], Checkpoint(int(said["seq"]), said["hash"])
    except FileNotFoundError:
        return None
    except (ValueError, KeyError, OSError):
        raise BackupRefused(
            f"{_beside(file)} does not name lab, seq and hash of the backup's last entry: bring it back as "
            "it was, or take it away to do without that check."
        ) from None


def _rotate(made: Path, lab_id: str, keep: int) -> tuple[Path, ...]:
    """Remove this lab's oldest backups beyond `keep`; a file that is not surely one of them is left alone."""
    others = []
    for file in sorted(made.parent.glob("*" + ENDING)):
        try:
            beside = _read_beside(file)
        except StoreError:
            continue
        if file != made and beside is not None and beside[0] == lab_id:
            others.append(file)
    removed = []
    for file in others[: max(0, len(others) - (keep - 1))]:
        # A backup that somebody has open stays until the next time.
        with contextlib.suppress(OSError):
            file.unlink()
            _beside(file).unlink(missing_ok=True)
            removed.append(file)
    return tuple(removed)
