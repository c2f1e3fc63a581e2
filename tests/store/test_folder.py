"""The data folder: made once, held by one program, and never touched when it is not what it should be."""

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchapp.store import folder, schema
from benchapp.store.engine import sqlite3
from benchapp.store.errors import (
    FolderDamaged,
    FolderLocked,
    FolderMissing,
    FolderNewer,
    FolderOlder,
    NotEmpty,
    NotWritable,
    SchemaChanged,
    StoreError,
)
from benchapp.store.verify import verify

from .conftest import LAB, append, fill, tags_of

HOLD = """
import sys
from pathlib import Path
from benchapp.store import folder
store = folder.open_for_writing(Path(sys.argv[1]), "https://bench.invalid:8443")
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def holder(place: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds the data folder."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(place)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None and process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.communicate()


def test_a_new_folder_has_its_places_and_a_whole_schema(place: Path) -> None:
    """A new folder holds the database and a place for backups, and nothing unfinished."""
    assert sorted(item.name for item in place.iterdir()) == ["backups", "bench.sqlite3"]
    with folder.open_for_writing(place) as store:
        assert store.lab_id == LAB
        with store.reading() as reader:
            assert schema.version_of(reader.connection) == schema.VERSION
            assert reader.connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_the_writer_waits_for_the_disk(place: Path) -> None:
    """The writer connection syncs fully at each commit, overwrites what is erased, and waits for others."""
    with folder.open_for_writing(place) as store, store.writing() as writer:
        settings = [
            writer.connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("synchronous", "secure_delete", "recursive_triggers", "busy_timeout", "fullfsync")
        ]
    assert settings == [2, 1, 1, 10_000, 1]


def test_one_sqlite_in_the_process() -> None:
    """sqlite-utils works with the very module that this software opens its connections with."""
    from sqlite_utils import utils

    assert utils.dbapi2.connect is sqlite3.connect


def test_a_folder_is_made_only_where_nothing_is(place: Path, tmp_path: Path) -> None:
    """A folder with anything in it, or a file of that name, is refused and left as it was."""
    with pytest.raises(NotEmpty, match="nothing was changed"):
        folder.create(place, "another")
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotEmpty, match="is a file"):
        folder.create(tmp_path / "file", LAB)
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "note.txt").write_text("x")
    with pytest.raises(NotEmpty):
        folder.create(tmp_path / "other", LAB)
    assert [item.name for item in (tmp_path / "other").iterdir()] == ["note.txt"]
    with folder.open_for_reading(place) as store:
        assert store.lab_id == LAB


def test_a_broken_off_start_is_cleared(tmp_path: Path) -> None:
    """What a killed attempt left behind does not stand in the way of the next."""
    begun = tmp_path / "data"
    (begun / "backups").mkdir(parents=True)
    (begun / "bench.sqlite3.new").write_bytes(b"half")
    (begun / "bench.sqlite3.new-journal").write_bytes(b"half")
    folder.create(begun, LAB)
    assert sorted(item.name for item in begun.iterdir()) == ["backups", "bench.sqlite3"]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    """Opening what is not there says so, and makes nothing."""
    for opened in (folder.open_for_writing, folder.open_for_reading):
        with pytest.raises(FolderMissing, match="benchapp lab"):
            opened(tmp_path / "nowhere")
    assert list(tmp_path.iterdir()) == []


def test_a_second_program_is_told_who_holds_the_folder(place: Path, holder: subprocess.Popen[str]) -> None:
    """While another process serves the folder, opening it for writing names that process and its address."""
    with pytest.raises(FolderLocked, match=f"process {holder.pid} at https://bench.invalid:8443"):
        folder.open_for_writing(place)


def test_the_same_program_cannot_open_it_twice(place: Path) -> None:
    """A second opening for writing inside one process is refused too, until the first is closed."""
    with folder.open_for_writing(place), pytest.raises(FolderLocked, match=str(os.getpid())):
        folder.open_for_writing(place)
    folder.open_for_writing(place).close()


def test_a_killed_holder_frees_the_folder(place: Path, holder: subprocess.Popen[str]) -> None:
    """The lock does not outlive its process, even one that was killed."""
    holder.kill()
    holder.wait()
    with folder.open_for_writing(place) as store:
        assert append(store, "a").seq == 1


def test_reading_beside_a_server(place: Path, holder: subprocess.Popen[str]) -> None:
    """While another process serves, a reader sees the data, sees new entries, and can write nothing."""
    with folder.open_for_reading(place) as store:
        assert store.tip().seq == 0
        with pytest.raises(NotWritable, match="for reading only"), store.writing():
            pass
        with store.reading() as reader, pytest.raises(sqlite3.OperationalError, match="readonly"):
            try:
                reader.connection.execute("INSERT INTO tries VALUES ('p', 1, 1, 1)")
            finally:
                assert reader.tries("p").wrong == 0
                reader.connection.execute("ROLLBACK")


def test_a_reader_sees_what_is_written_later(place: Path) -> None:
    """A store that was opened for reading follows what the writer commits."""
    with folder.open_for_writing(place) as writer, folder.open_for_reading(place) as reader:
        append(writer, "a")
        assert reader.tip() == writer.tip()
        append(writer, "b")
        assert reader.tip() == writer.tip()


def test_a_newer_folder_is_refused_untouched(place: Path) -> None:
    """A folder of a newer version is not opened by this one, in either way, and stays as it was."""
    raw = sqlite3.connect(place / "bench.sqlite3")
    raw.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    raw.close()
    before = (place / "bench.sqlite3").read_bytes()
    for opened in (folder.open_for_writing, folder.open_for_reading):
        with pytest.raises(FolderNewer, match="install the newer software"):
            opened(place)
    assert (place / "bench.sqlite3").read_bytes() == before


def newer_software(monkeypatch: pytest.MonkeyPatch, sql: str) -> None:
    """Make this software one version newer, with a table more and a migration that runs `sql`."""
    version = schema.VERSION
    migrations = {version: lambda connection: connection.execute(sql)}
    monkeypatch.setattr(
        schema, "SCHEMA", schema.SCHEMA + "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT;"
    )
    monkeypatch.setattr(schema, "VERSION", version + 1)
    monkeypatch.setattr(schema, "MIGRATIONS", migrations)


def test_an_older_folder_is_brought_up_to_date(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of the version before keeps its entries and gains the new table; a copy from before stays."""
    with folder.open_for_writing(place) as store:
        fill(store, 5)
        tip = store.tip()
    newer_software(monkeypatch, "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT")
    with pytest.raises(FolderOlder, match="start the server on it once"):
        folder.open_for_reading(place)
    with folder.open_for_writing(place) as store:
        assert verify(store, tags_of, tip) == tip
    folder.open_for_reading(place).close()
    monkeypatch.undo()
    kept = place / "backups" / f"before-version-{schema.VERSION + 1}.sqlite3"
    folder.inspect(kept, may_be_older=False, mode="immutable")
    with pytest.raises(FolderNewer):
        folder.open_for_writing(place)


def test_a_failed_migration_leaves_the_old_version(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A migration that fails changes nothing: the folder still opens with the software before it."""
    newer_software(monkeypatch, "INSERT INTO nowhere VALUES (1)")
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        folder.open_for_writing(place)
    monkeypatch.undo()
    with folder.open_for_writing(place) as store:
        assert append(store, "a").seq == 1


CHANGES = [
    "DROP TRIGGER journal_stays",
    "DROP TRIGGER journal_hash_new",
    "DROP TABLE course",
    "DROP TABLE texts",
    "ALTER TABLE journal ADD COLUMN note TEXT",
    "CREATE INDEX more ON journal (body)",
    "CREATE TRIGGER spy AFTER INSERT ON journal BEGIN DELETE FROM tag; END",
    "DROP TRIGGER course_kept; CREATE TRIGGER course_kept BEFORE DELETE ON course BEGIN SELECT 1; END",
    "PRAGMA user_version = 0; DROP TABLE tag",
]


@pytest.mark.parametrize("sql", CHANGES)
def test_a_changed_schema_is_refused(place: Path, sql: str) -> None:
    """A table, index or trigger that is missing, altered or added on a guarded table is named at opening."""
    raw = sqlite3.connect(place / "bench.sqlite3")
    raw.executescript(sql)
    raw.close()
    for opened in (folder.open_for_writing, folder.open_for_reading):
        with pytest.raises(SchemaChanged, match="another program altered the file"):
            opened(place)


def test_a_foreign_table_beside_ours_is_let_be(place: Path) -> None:
    """A table that somebody's reporting tool added, and SQLite's own statistics, do not stop the work."""
    raw = sqlite3.connect(place / "bench.sqlite3")
    raw.executescript("CREATE TABLE report (a); CREATE VIEW v AS SELECT 1; ANALYZE;")
    raw.close()
    folder.open_for_writing(place).close()


def assert_damaged(place: Path) -> None:
    """The folder is refused both ways, the message names the remedy, and its file is as before."""
    database = place / "bench.sqlite3"
    before = database.read_bytes()
    for opened in (folder.open_for_writing, folder.open_for_reading):
        with pytest.raises(FolderDamaged, match="benchapp restore"):
            opened(place)
    assert database.read_bytes() == before


def test_random_bytes_over_any_page_are_refused(place: Path) -> None:
    """Random bytes over any single page of the database are found at opening, and the file is left alone."""
    with folder.open_for_writing(place) as store:
        fill(store, 300)
    database = place / "bench.sqlite3"
    whole = database.read_bytes()
    noise = random.Random(20)
    pages = len(whole) // 4096
    assert pages > 20
    for page in range(pages):
        database.write_bytes(whole[: page * 4096] + noise.randbytes(4096) + whole[(page + 1) * 4096 :])
        assert_damaged(place)
    database.write_bytes(whole)
    with folder.open_for_writing(place) as store:
        assert verify(store, tags_of) == store.tip()


@pytest.mark.parametrize("keep", [0, 1, 15, 100, 4095, 4096, 20_000])
def test_a_truncated_file_is_refused(place: Path, keep: int) -> None:
    """A database cut at any length, to nothing too, is refused and left as it is."""
    with folder.open_for_writing(place) as store:
        fill(store, 100)
    database = place / "bench.sqlite3"
    assert database.stat().st_size > keep
    database.write_bytes(database.read_bytes()[:keep])
    assert_damaged(place)


def test_a_file_that_is_no_database_is_refused(place: Path) -> None:
    """A text under the database's name is refused and left as it is."""
    (place / "bench.sqlite3").write_text("This is a letter, not a database. " * 400)
    assert_damaged(place)


def test_another_programs_database_is_refused(place: Path) -> None:
    """A whole SQLite file of another program is not taken for ours."""
    (place / "bench.sqlite3").unlink()
    raw = sqlite3.connect(place / "bench.sqlite3")
    raw.execute("CREATE TABLE songs (title)")
    raw.commit()
    raw.close()
    with pytest.raises(SchemaChanged):
        folder.open_for_writing(place)


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    """Where no folder can be made, the error says so in words instead of the system's."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotWritable, match="name another place"):
        folder.create(tmp_path / "file" / "data", LAB)


def test_every_error_says_more_than_its_name() -> None:
    """Each kind of error is one of ours and is defined by a sentence."""
    for kind in StoreError.__subclasses__():
        assert kind.__doc__ is not None and kind.__doc__.endswith(".") and len(kind.__doc__) > 40
