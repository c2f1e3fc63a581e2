"""A backup is a verified copy made beside the work; a restore brings it back whole, into a new place only."""

import subprocess
import sys
import threading
from pathlib import Path

import pytest

from benchapp.core.seal import digest, text_id
from benchapp.store import folder
from benchapp.store.backup import backup, restore
from benchapp.store.engine import sqlite3
from benchapp.store.errors import (
    BackupRefused,
    FolderDamaged,
    FolderMissing,
    FolderNewer,
    NotEmpty,
    NotWritable,
)
from benchapp.store.journal import Store
from benchapp.store.verify import verify

from .conftest import LAB, append, body_of, fill, tags_of


def names(place: Path) -> list[str]:
    """Return the names in a folder, sorted."""
    return sorted(item.name for item in place.iterdir())


def test_a_backup_holds_everything_and_names_its_tip(store: Store, tmp_path: Path) -> None:
    """The copy has every entry, text, table and secret; the text beside it names lab, number and hash."""
    fill(store, 700)
    id = text_id(b"s", "words")
    with store.writing() as writer:
        writer.add_text(id, b"s", "words")
        writer.add_course(digest(b"table"), b"table")
        writer.put_secret("p", "pin", "h")
    made = backup(store, tmp_path / "out", "monday", 3, tags_of)
    assert made.checkpoint == store.tip()
    assert made.removed == ()
    assert names(tmp_path / "out") == ["monday.sqlite3", "monday.txt"]
    assert (tmp_path / "out" / "monday.txt").read_text() == f"lab {LAB}\nseq 700\nhash {store.tip().hash}\n"
    with Store(made.path, "immutable") as copy:
        assert list(copy.entries()) == list(store.entries())
        assert (copy.text(id), copy.course(digest(b"table")), copy.secret("p", "pin")) == (
            "words",
            b"table",
            "h",
        )


def test_a_restored_folder_goes_on_where_the_backup_stood(store: Store, tmp_path: Path) -> None:
    """After a restore the chain holds up to the backup's checkpoint; the next entry takes the next number."""
    fill(store, 60)
    made = backup(store, tmp_path / "out", "monday", 3, tags_of)
    append(store, "lost")
    assert restore(made.path, tmp_path / "new", tags_of) == made.checkpoint
    assert names(tmp_path / "new") == ["backups", "bench.sqlite3"]
    assert names(tmp_path / "out") == ["monday.sqlite3", "monday.txt"]
    with folder.open_for_writing(tmp_path / "new") as again:
        assert verify(again, tags_of, made.checkpoint) == made.checkpoint
        assert again.lab_id == LAB
        assert append(again, "next").seq == 61


def test_a_backup_while_others_write_is_one_moment(store: Store, tmp_path: Path) -> None:
    """Writers go on during a backup, and the copy holds one moment, chain and tags together."""
    fill(store, 6000)
    stop = threading.Event()
    failed: list[BaseException] = []

    def work(name: int) -> None:
        number = 0
        try:
            while not stop.is_set():
                append(store, f"w{name}-{number}")
                number += 1
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in range(3)]
    for thread in threads:
        thread.start()
    try:
        made = [backup(store, tmp_path / "out", f"b{number}", 9, tags_of) for number in range(4)]
    finally:
        stop.set()
        for thread in threads:
            thread.join()
    assert failed == []
    tips = [one.checkpoint.seq for one in made]
    assert tips == sorted(set(tips)) and tips[0] >= 6000
    assert verify(store, tags_of, [one.checkpoint for one in made]) == store.tip()


def test_progress_of_the_copy_is_told_and_writes_do_not_restart_it(store: Store, tmp_path: Path) -> None:
    """A long copy says how far it is; entries added meanwhile neither enter it nor make it begin again."""
    with store.writing() as writer:
        for seq in range(1, 3001):
            body = body_of(f"e{seq:06d}", seq, "c" * 4000)
            writer.add(f"e{seq:06d}", body, tags_of(body))
    before = store.tip()
    told: list[tuple[int, int]] = []

    def tell(done: int, total: int) -> None:
        told.append((done, total))
        assert len(told) < 100, "the copy begins again and again"
        append(store, f"late{len(told)}")

    made = backup(store, tmp_path / "out", "monday", 3, tags_of, tell)
    assert made.checkpoint == before
    assert len(told) >= 2 and told == sorted(set(told))
    assert told[-1][0] == told[-1][1]
    assert store.tip().seq == 3000 + len(told)


def test_rotation_keeps_the_newest(store: Store, tmp_path: Path) -> None:
    """Of this lab's backups the last by name stay; other files, and those of other labs, are left alone."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "a-foreign.sqlite3").write_bytes(b"not ours")
    (out / "b-foreign.sqlite3").write_bytes(b"not ours")
    (out / "b-foreign.txt").write_text("lab another\nseq 3\nhash x\n")
    (out / "c-foreign.sqlite3").write_bytes(b"not ours")
    (out / "c-foreign.txt").write_bytes(b"\xff")
    foreign = names(out)
    removed = [
        [path.name for path in backup(store, out, f"day{number}", 3, tags_of).removed] for number in range(5)
    ]
    assert removed == [[], [], [], ["day0.sqlite3"], ["day1.sqlite3"]]
    kept = [f"day{number}.{ending}" for number in (2, 3, 4) for ending in ("sqlite3", "txt")]
    assert names(out) == sorted([*foreign, *kept])


def test_rotation_never_removes_the_one_just_made(store: Store, tmp_path: Path) -> None:
    """A backup whose name sorts before all others, because the clock was set back, stays all the same."""
    out = tmp_path / "out"
    for name in ("2030", "2031", "2032"):
        backup(store, out, name, 3, tags_of)
    made = backup(store, out, "1999", 1, tags_of)
    assert [path.name for path in made.removed] == ["2030.sqlite3", "2031.sqlite3", "2032.sqlite3"]
    assert names(out) == ["1999.sqlite3", "1999.txt"]


def test_a_name_is_used_once_and_is_a_plain_name(store: Store, tmp_path: Path) -> None:
    """A backup never overwrites another, and its name leads out of no folder."""
    made = backup(store, tmp_path / "out", "monday", 3, tags_of)
    before = made.path.read_bytes()
    append(store, "a")
    with pytest.raises(NotEmpty, match="another name"):
        backup(store, tmp_path / "out", "monday", 3, tags_of)
    assert made.path.read_bytes() == before
    for name in ("", "../x", "a/b", ".hidden"):
        with pytest.raises(ValueError, match="plain file name"):
            backup(store, tmp_path / "out", name, 3, tags_of)
    with pytest.raises(ValueError, match="at least 1"):
        backup(store, tmp_path / "out", "tuesday", 0, tags_of)


def test_a_store_that_does_not_verify_makes_no_backup(place: Path, tmp_path: Path) -> None:
    """A backup of a journal with an altered entry is refused and no file is left to be trusted."""
    with folder.open_for_writing(place) as store:
        fill(store, 5)
        with store.writing() as writer:
            writer.connection.execute("DELETE FROM tag WHERE seq = 3")
        with pytest.raises(BackupRefused, match="lacks this tag"):
            backup(store, tmp_path / "out", "monday", 3, tags_of)
    assert names(tmp_path / "out") == []


def test_a_place_that_cannot_be_written_is_named(store: Store, tmp_path: Path) -> None:
    """A backup into what is no folder says so in words."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotWritable, match="name another place"):
        backup(store, tmp_path / "file" / "out", "monday", 3, tags_of)


def made_backup(place: Path, out: Path) -> Path:
    """Make a backup of twenty entries and return its file."""
    with folder.open_for_writing(place) as store:
        fill(store, 20)
        return backup(store, out, "monday", 3, tags_of).path


def test_a_restore_goes_only_into_an_empty_place(place: Path, tmp_path: Path) -> None:
    """A folder with anything in it is refused and left as it was; an empty one is taken."""
    file = made_backup(place, tmp_path / "out")
    with pytest.raises(NotEmpty):
        restore(file, place, tags_of)
    (tmp_path / "some").mkdir()
    (tmp_path / "some" / "note.txt").write_text("x")
    with pytest.raises(NotEmpty):
        restore(file, tmp_path / "some", tags_of)
    assert names(tmp_path / "some") == ["note.txt"]
    (tmp_path / "empty").mkdir()
    assert restore(file, tmp_path / "empty", tags_of).seq == 20
    with pytest.raises(FolderMissing):
        restore(tmp_path / "out" / "sunday.sqlite3", tmp_path / "new", tags_of)


TAMPERED = {
    "an entry": "UPDATE journal SET body = CAST(replace(body, 'tap', 'top') AS BLOB) WHERE seq = 7",
    "the tail": "DELETE FROM journal WHERE seq > 18; DELETE FROM tag WHERE seq > 18",
    "a tag": "DELETE FROM tag WHERE seq = 4",
    "the lab": "UPDATE lab SET id = 'another'",
}


@pytest.mark.parametrize("what", TAMPERED)
def test_a_tampered_backup_is_refused(place: Path, tmp_path: Path, what: str) -> None:
    """A backup with an altered entry, a cut tail, a missing tag or another lab is refused, nothing made."""
    file = made_backup(place, tmp_path / "out")
    raw = sqlite3.connect(file)
    guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        raw.execute(f"DROP TRIGGER {name}")
    raw.executescript(TAMPERED[what])
    for _, sql in guards:
        raw.execute(sql)
    raw.commit()
    raw.close()
    with pytest.raises(BackupRefused, match="use another one"):
        restore(file, tmp_path / "new", tags_of)
    assert not (tmp_path / "new").exists()


def test_a_damaged_or_newer_backup_is_refused(place: Path, tmp_path: Path) -> None:
    """A backup that is cut short, no database, or of a newer version is refused before anything is made."""
    file = made_backup(place, tmp_path / "out")
    whole = file.read_bytes()
    for bad in (b"", whole[: len(whole) // 2], b"x" * 5000):
        file.write_bytes(bad)
        with pytest.raises(FolderDamaged):
            restore(file, tmp_path / "new", tags_of)
    file.write_bytes(whole[:60] + (99).to_bytes(4, "big") + whole[64:])
    with pytest.raises(FolderNewer):
        restore(file, tmp_path / "new", tags_of)
    assert not (tmp_path / "new").exists()


def test_the_text_beside_a_backup_counts_when_it_is_there(place: Path, tmp_path: Path) -> None:
    """Another hash or nonsense in the text refuses the restore; without a text the chain alone counts."""
    file = made_backup(place, tmp_path / "out")
    beside = file.with_suffix(".txt")
    good = beside.read_text()
    beside.write_text(good.replace("seq 20", "seq 19"))
    with pytest.raises(BackupRefused, match="written anew"):
        restore(file, tmp_path / "new", tags_of)
    for nonsense in (b"", b"\xff\xfe", b"seq\nhash", b"lab x\nseq many\nhash y\n"):
        beside.write_bytes(nonsense)
        with pytest.raises(BackupRefused, match="bring it back as it was"):
            restore(file, tmp_path / "new", tags_of)
    assert not (tmp_path / "new").exists()
    beside.unlink()
    assert restore(file, tmp_path / "new", tags_of).seq == 20


def test_a_plain_copy_of_a_data_folder_restores_with_its_log(place: Path, tmp_path: Path) -> None:
    """A database copied by hand together with its write-ahead log brings back the log's entries too."""
    (tmp_path / "copied").mkdir()
    # Another process copies: closing the database's file in this one would drop the locks that SQLite holds.
    code = "import shutil, sys; [shutil.copy(file, sys.argv[1]) for file in sys.argv[2:]]"
    with folder.open_for_writing(place) as store:
        fill(store, 20)
        tip = store.tip()
        files = [str(store.path), f"{store.path}-wal"]
        subprocess.run([sys.executable, "-c", code, str(tmp_path / "copied"), *files], check=True)
    assert restore(tmp_path / "copied" / "bench.sqlite3", tmp_path / "new", tags_of) == tip
    assert tip.seq == 20
