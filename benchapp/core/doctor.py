"""What is not right with a lab's PC and its data folder, judged from plain facts; a shell gathers them.

The limits are choices of this project (common practice, no source), but for the SQLite version: see `store/engine`.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Level = Literal["ok", "look", "wrong"]

HOUR = 3_600_000
DAY = 24 * HOUR
GB = 1_000_000_000
SILENT = 7 * DAY
NETWORK_TYPES = frozenset({"9p", "afs", "cifs", "davfs", "fuse.sshfs", "ncpfs", "nfs", "nfs4", "smb3", "smbfs"})
SYNC_WORDS = ("cloud", "drive", "sync")
SAFE_SQLITE = (3, 51, 3)
OLDEST_PYTHON = (3, 11)


@dataclass(frozen=True)
class Finding:
    """One line of the report: which check, how it stands, what was seen and, unless ok, the remedy.

    `hides` are those pieces of the words that may name a person, a firm or a place: they do not leave the lab.
    `about` is the kind of error, where all words are hidden.
    """

    check: str
    level: Level
    words: str
    hides: tuple[str, ...] = ()
    about: str = ""

    @property
    def outside(self) -> str:
        """The words as they may leave the lab."""
        words = self.words
        for piece in sorted(filter(None, self.hides), key=len, reverse=True):
            words = words.replace(piece, "…")
        return words


@dataclass(frozen=True)
class Copy:
    """The newest backup: its name, its time (UTC ms), what does not hold in it, whether it shares the data's disk."""

    name: str
    at: int
    broken: str
    same_disk: bool


@dataclass(frozen=True)
class Tablet:
    """A tablet: its name, or its id where it has none, and when it was last heard (UTC ms)."""

    id: str
    seen: int


def unopened(trouble: str, about: str = "") -> list[Finding]:
    """Return the findings on the database: `trouble` is why it cannot be opened, "" when it can, `about` its kind."""
    if trouble:
        return [Finding("database", "wrong", trouble, (trouble,), about)]
    return [Finding("database", "ok", "The database is whole and of this version.")]


def on_writing(reason: str, may_write: bool) -> Finding:
    """Judge whether this version and this user may write in the data folder."""
    if reason:
        return Finding("writing", "wrong", reason, (reason,))
    if not may_write:
        return Finding("writing", "wrong", "This user may not write in the data folder: give that right, or sign in to "
                                           "the PC as the user who runs the server.")
    return Finding("writing", "ok", "This version and this user may write in the data folder.")


def on_backup(copy: Copy | None, entries: int, now: int) -> list[Finding]:
    """Judge the newest backup in the data folder; `entries` counts the journal, `now` is UTC ms."""
    if copy is None:
        level: Level = "wrong" if entries else "look"
        return [Finding("backup", level, "There is no backup yet: let the server run for some minutes, or run "
                                         "`benchapp backup --data DIR --to FOLDER`.")]
    found = []
    hides = (copy.name, copy.broken)
    if copy.broken:
        found.append(Finding("backup", "wrong", f"The newest backup {copy.name} does not hold ({copy.broken}): make "
                                                "another with `benchapp backup`, and check the disk.", hides))
    elif now - copy.at > 2 * DAY:
        days = (now - copy.at) // DAY
        found.append(Finding("backup", "wrong", f"The newest backup {copy.name} is {days} days old: let the server "
                                                "run, or run `benchapp backup --data DIR --to FOLDER`.", hides))
    else:
        found.append(Finding("backup", "ok", f"The newest backup {copy.name} was verified now, and holds.", hides))
    if copy.same_disk:
        found.append(Finding("backup place", "look", "The backups lie on the disk of the data: when that disk fails, "
                             "both are gone. Copy them to another disk: `benchapp backup --data DIR --to FOLDER`."))
    return found


def on_disk(free: int, database: int) -> Finding:
    """Judge the free bytes of the disk beside the bytes of the database, of which a backup is a whole copy."""
    said = f"{free / GB:.1f} GB are free"
    if free < max(GB // 2, 2 * database):
        return Finding("disk", "wrong", f"{said}: too little for a backup. Free some space now.")
    if free < max(5 * GB, 15 * database):
        return Finding("disk", "look", f"{said}: little for two weeks of backups. Free some space soon.")
    return Finding("disk", "ok", f"{said}.")


def on_clock(now: int, last_entry: int, backup: int) -> Finding:
    """Compare the PC's clock with the last entry and the newest backup; all UTC ms, 0 where there is none."""
    for before, what in ((last_entry, "the last entry of the journal"), (backup, "the newest backup")):
        if now < before:
            minutes = (before - now + 59_999) // 60_000
            return Finding("clock", "wrong", f"The PC's clock stands {minutes} min before {what}: set it right, and "
                                             "let the system set it by itself.")
    return Finding("clock", "ok", "The PC's clock stands after the last entry and the newest backup.")


def on_zone(zone: str, known: bool) -> Finding:
    """Judge the lab's time zone; "" while no lab was set up."""
    if not zone:
        return Finding("zone", "look", "No lab was set up in this folder yet: start `benchapp serve` and open it.")
    if not known:
        return Finding("zone", "wrong", f"This PC does not know the time zone {zone}: install the package tzdata anew.",
                       (zone,))
    return Finding("zone", "ok", f"The time zone {zone} is known.", (zone,))


def mount_type(path: str, mounts: str) -> str:
    """Return the file system type of the longest mount point above `path`; `mounts` is the text of /proc/mounts."""
    best, found = "", ""
    for line in mounts.splitlines():
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        point = fields[1].replace("\\040", " ")
        if (path == point or path.startswith(point.rstrip("/") + "/")) and len(point) >= len(best):
            best, found = point, fields[2]
    return found


def on_place(path: str, kind: str) -> Finding:
    """Judge where the data folder lies: its whole path as text, and its file system type ("" where not known)."""
    if path.startswith(("\\\\", "//")) or kind in NETWORK_TYPES:
        return Finding("place", "wrong", "The data folder lies on a network drive, where a database can be damaged: "
                                         "stop the server and move the folder to a disk in this PC.")
    parts = path.replace("\\", "/").lower().split("/")
    if any(word in part for part in parts for word in SYNC_WORDS):
        return Finding("place", "look", "The path of the data folder reads like one that another program copies to a "
                       "cloud, which can damage a database: if so, move it out, and let only backups be copied.")
    return Finding("place", "ok", "The data folder lies neither on a known network drive nor in a synced folder.")


def on_port(port: int, ours: bool, free: bool) -> Finding:
    """Judge the port: our server answers there, or nobody uses it."""
    if ours:
        return Finding("port", "ok", f"The server answers on port {port}.")
    if free:
        return Finding("port", "ok", f"No server runs; port {port} is free for it.")
    return Finding("port", "wrong", f"Another program uses port {port}, or the server hangs: stop that program, start "
                                    f"the server again, or add `--port {port + 1}`.")


def on_tablets(tablets: Iterable[Tablet], now: int) -> list[Finding]:
    """Name each tablet that was not heard for a week; `now` is UTC ms."""
    silent = [one for one in tablets if now - one.seen > SILENT]
    return [
        Finding("tablets", "look", f"Tablet {one.id} was last heard {(now - one.seen) // DAY} days ago: it may hold "
                                   "entries that are not here. Switch it on and open its first page.", (one.id,))
        for one in silent
    ] or [Finding("tablets", "ok", "Every known tablet was heard within a week.")]


def on_parked(count: int) -> Finding:
    """Judge the facts that nobody could read."""
    if count:
        return Finding("unread facts", "look", f"{count} could not be read: a supervisor sees them at /desk/marks.")
    return Finding("unread facts", "ok", "Every fact that came could be read.")


def on_meshes(missing: int) -> Finding:
    """Judge the design files that the journal names; whether each is as it was kept is for `benchapp verify`."""
    if missing:
        return Finding("design files", "look", f"{missing} design files are missing: copy them from `meshes` beside a "
                                               "backup. `benchapp verify` names each.")
    return Finding("design files", "ok", "Every design file is there.")


def on_python(version: tuple[int, ...]) -> Finding:
    """Judge the Python that runs."""
    said = f"Python {'.'.join(str(part) for part in version)}"
    if version < OLDEST_PYTHON:
        return Finding("python", "wrong", f"{said} is too old: install Python 3.11 or newer, and this program in it.")
    return Finding("python", "ok", f"{said} is in use.")


def on_packages(unfit: Iterable[str]) -> Finding:
    """Judge the libraries; `unfit` names those that are missing or of another version than is asked for."""
    if named := ", ".join(unfit):
        return Finding("packages", "wrong", f"These libraries are missing or do not fit: {named}. Install this program "
                                            "anew in a fresh virtual environment.")
    return Finding("packages", "ok", "Every library that is asked for is there in a version that fits.")


def on_sqlite(version: tuple[int, ...]) -> Finding:
    """Judge the SQLite in use."""
    said = f"SQLite {'.'.join(str(part) for part in version)}"
    if version < SAFE_SQLITE:
        return Finding("sqlite", "look", f"{said} can lose a commit in a rare case: where there is a wheel of "
                                         "pysqlite3 for this PC, install it.")
    return Finding("sqlite", "ok", f"{said} is in use.")
