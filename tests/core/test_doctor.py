"""What the doctor finds, by tables: every level of every check, and the edges of each limit."""

import pytest

from benchapp.core import doctor

NOW = 1_800_000_000_000
MIN = 60_000
# As proc_mounts(5) of the Linux manual describes: device, point, type, options; a blank is written as \040.
MOUNTS = (
    "/dev/sda1 / ext4 rw 0 0\nnas:/x /srv nfs4 rw 0 0\n/dev/sdb1 /srv/own ext4 rw 0 0\n"
    "//nas/y /mnt/two\\040words cifs rw 0 0\nbroken\n"
)


def levels(found: list[doctor.Finding]) -> list[str]:
    """Return check and level of each finding."""
    return [f"{one.check}: {one.level}" for one in found]


@pytest.mark.parametrize(("copy", "entries", "expected"), [
    (None, 0, ["backup: look"]),
    (None, 1, ["backup: wrong"]),
    (doctor.Copy("b", NOW - 2 * doctor.DAY, "", False), 1, ["backup: ok"]),
    (doctor.Copy("b", NOW - 2 * doctor.DAY - 1, "", False), 1, ["backup: wrong"]),
    (doctor.Copy("b", NOW, "entry 7", False), 1, ["backup: wrong"]),
    (doctor.Copy("b", NOW, "", True), 1, ["backup: ok", "backup place: look"]),
])
def test_backup(copy: doctor.Copy | None, entries: int, expected: list[str]) -> None:
    """No backup, an old one and one that does not hold are wrong; one on the same disk is looked at."""
    assert levels(doctor.on_backup(copy, entries, NOW)) == expected


@pytest.mark.parametrize(("free", "database", "level"), [
    (499_999_999, 0, "wrong"), (500_000_000, 0, "look"), (5_000_000_000, 0, "ok"),
    (1_999_999_999, 1_000_000_000, "wrong"),
    (14_999_999_999, 1_000_000_000, "look"), (15_000_000_000, 1_000_000_000, "ok"),
])
def test_disk(free: int, database: int, level: str) -> None:
    """A disk must hold two copies of the database, and better fifteen."""
    assert doctor.on_disk(free, database).level == level


def test_clock_names_what_lies_ahead() -> None:
    """A clock before the last entry or the newest backup is wrong, by how many minutes is said."""
    assert doctor.on_clock(NOW, NOW, NOW).level == "ok"
    assert doctor.on_clock(NOW, 0, 0).level == "ok"
    entry = doctor.on_clock(NOW, NOW + 90 * MIN, 0)
    assert entry.level == "wrong" and "90 min before the last entry" in entry.words
    backup = doctor.on_clock(NOW, NOW, NOW + 1)
    assert backup.level == "wrong" and "1 min before the newest backup" in backup.words


@pytest.mark.parametrize(("path", "kind"), [
    ("/srv/data", "nfs4"), ("/srv", "nfs4"), ("/srvx", "ext4"), ("/srv/own/data", "ext4"), ("/home", "ext4"),
    ("/mnt/two words/data", "cifs"),
])
def test_mount_type(path: str, kind: str) -> None:
    """The longest mount point above a path says its type; a name that only begins alike does not."""
    assert doctor.mount_type(path, MOUNTS) == kind


@pytest.mark.parametrize(("path", "kind", "level"), [
    ("/home/lab/data", "ext4", "ok"), ("C:\\Lab\\data", "", "ok"), ("\\\\nas\\lab", "", "wrong"),
    ("/srv/data", "cifs", "wrong"),
    ("C:\\Users\\lab\\MyCloudDrive\\data", "", "look"), ("/home/lab/Sync/data", "ext4", "look"),
])
def test_place(path: str, kind: str, level: str) -> None:
    """A network drive is wrong; a path that reads like a synced folder is looked at."""
    assert doctor.on_place(path, kind).level == level


def test_port() -> None:
    """Ours or free is fine; anything else is wrong, and another port is named."""
    assert doctor.on_port(8321, True, False).level == "ok"
    assert doctor.on_port(8321, False, True).level == "ok"
    taken = doctor.on_port(8321, False, False)
    assert taken.level == "wrong" and "--port 8322" in taken.words


def test_tablets() -> None:
    """Only a tablet that was silent for more than a week is named."""
    old = doctor.Tablet("old", NOW - 9 * doctor.DAY)
    found = doctor.on_tablets([doctor.Tablet("new", NOW - doctor.SILENT), old], NOW)
    assert [one.level for one in found] == ["look"]
    assert "old was last heard 9 days ago" in found[0].words
    assert levels(doctor.on_tablets([], NOW)) == ["tablets: ok"]


def test_the_rest() -> None:
    """Database, writing, zone, unread facts and SQLite each know their good and their bad state."""
    assert [one.level for one in (*doctor.unopened(""), *doctor.unopened("cut short"))] == ["ok", "wrong"]
    writing = [doctor.on_writing("", True), doctor.on_writing("newer", True), doctor.on_writing("", False)]
    assert [one.level for one in writing] == ["ok", "wrong", "wrong"]
    zones = [doctor.on_zone("", False), doctor.on_zone("Nowhere/Else", False), doctor.on_zone("Europe/Madrid", True)]
    assert [one.level for one in zones] == ["look", "wrong", "ok"]
    assert [doctor.on_parked(0).level, doctor.on_parked(2).level] == ["ok", "look"]
    assert [doctor.on_sqlite((3, 51, 2)).level, doctor.on_sqlite((3, 51, 3)).level] == ["look", "ok"]
