"""Verify finds every change of what is stored, names the first place, and never raises."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.core.seal import digest, first_link, link, text_id
from benchapp.store import folder
from benchapp.store.engine import sqlite3
from benchapp.store.journal import Store, Tip
from benchapp.store.verify import Broken, Checkpoint, fault, verify

from .conftest import LAB, append, body_of, fill, tags_of

COLUMNS = ("seq", "event_id", "body", "prev_hash", "hash")
Edit = Callable[[sqlite3.Connection], object]
Row = tuple[int, str, bytes, str, str]


def edited(place: Path, edit: Edit) -> Store:
    """Alter a data folder as somebody without scruples would, put its guards back, and open it."""
    raw = sqlite3.connect(place / "bench.sqlite3")
    guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        raw.execute(f"DROP TRIGGER {name}")
    edit(raw)
    for _, sql in guards:
        raw.execute(sql)
    raw.commit()
    raw.close()
    return folder.open_for_reading(place)


def filled(place: Path, count: int) -> Checkpoint:
    """Fill a data folder with entries, two texts and a compiled table, and return its tip."""
    with folder.open_for_writing(place) as store:
        fill(store, count)
        with store.writing() as writer:
            writer.add_text(text_id(b"s", "erased"), b"s", "erased")
            writer.add_text(text_id(b"s", "kept"), b"s", "kept")
            writer.erase_text(text_id(b"s", "erased"))
            writer.add_course(digest(b"table"), b"table")
        assert verify(store, tags_of) == store.tip()
        return store.tip()


def altered(value: int | str | bytes, masks: tuple[int, ...] = (1,)) -> Iterator[int | str | bytes]:
    """Yield the value with one byte altered, at every position and by every mask; bytes keep their type."""
    stored = value.to_bytes(8, "big") if isinstance(value, int) else value
    raw = stored.encode() if isinstance(stored, str) else stored
    for position in range(len(raw)):
        for mask in masks:
            changed = raw[:position] + bytes([raw[position] ^ mask]) + raw[position + 1 :]
            if isinstance(value, int):
                yield int.from_bytes(changed, "big", signed=True)
            elif isinstance(value, str):
                yield changed.decode("utf-8", "surrogateescape")
            else:
                yield changed


def survivors(rows: list[Row], masks: tuple[int, ...]) -> tuple[int, list[tuple[int, str]]]:
    """Alter every byte of every column of every row; return how many changes there were and which held."""
    tried, held = 0, []
    before = Tip(0, first_link(LAB))
    for row in rows:
        assert fault(row, before) is None
        for index, column in enumerate(COLUMNS):
            for changed in altered(row[index], masks):
                tried += 1
                if fault((*row[:index], changed, *row[index + 1 :]), before) is None:
                    held.append((row[0], column))
        before = Tip(row[0], row[4])
    return tried, held


def stored_rows(place: Path) -> list[Row]:
    """Return the journal's rows as they are stored."""
    raw = sqlite3.connect(place / "bench.sqlite3")
    rows: list[Row] = raw.execute(f"SELECT {', '.join(COLUMNS)} FROM journal ORDER BY seq").fetchall()
    raw.close()
    return rows


def test_every_byte_of_every_column_of_200_entries_counts(place: Path) -> None:
    """One byte altered anywhere, in each column of each of 200 entries, is found at that very row."""
    filled(place, 200)
    rows = stored_rows(place)
    tried, held = survivors(rows, (1,))
    assert tried == sum(8 + len(row[1]) + len(row[2]) + 128 for row in rows) > 40_000
    assert held == []


def test_every_other_value_of_every_byte_of_an_entry_counts(place: Path) -> None:
    """Each of the 255 other values of each byte of an entry is found."""
    filled(place, 2)
    tried, held = survivors(stored_rows(place), tuple(range(1, 256)))
    assert tried > 100_000
    assert held == []


def test_a_byte_altered_in_the_file_is_found_in_every_row_and_column(place: Path) -> None:
    """Verify names the row and column of a byte altered in each cell of 200 entries of a database."""
    filled(place, 200)
    database = sqlite3.connect(place / "bench.sqlite3", isolation_level=None)
    database.execute("PRAGMA synchronous = OFF")
    for name, _ in database.execute("SELECT name, 1 FROM sqlite_master WHERE type = 'trigger'").fetchall():
        database.execute(f"DROP TRIGGER {name}")
    with Store(place / "bench.sqlite3", "ro") as store:
        for row in stored_rows(place):
            for index, column in enumerate(COLUMNS):
                choices = list(altered(row[index], (0x40,)))
                if column == "seq":
                    # Its lowest byte would give another row's number, which the table refuses.
                    choices.pop()
                changed = choices[row[0] % len(choices)]
                # The row's number itself moves when seq is altered, so it is found again by its hash.
                where = ("hash", row[4]) if column != "hash" else ("seq", row[0])
                sql = f"UPDATE journal SET {column} = ? WHERE {where[0]} = ?"
                assert database.execute(sql, (changed, where[1])).rowcount == 1
                found = verify(store, tags_of)
                assert isinstance(found, Broken)
                assert (found.table, found.seq) == ("journal", row[0])
                assert found.column == column or (column, found.column) == ("body", "hash")
                assert database.execute(sql, (row[index], where[1])).rowcount == 1
        assert isinstance(verify(store, tags_of), Checkpoint)
    database.close()


EDITS: dict[str, tuple[str, str, int, str]] = {
    "a middle entry is gone": ("DELETE FROM journal WHERE seq = 5", "journal", 5, "seq"),
    "the first entry is gone": ("DELETE FROM journal WHERE seq = 1", "journal", 1, "seq"),
    "an entry before the first": (
        "INSERT INTO journal VALUES (0, 'x', x'00', 'p', 'h')",
        "journal",
        1,
        "seq",
    ),
    "an entry after the last": (
        "INSERT INTO journal VALUES (21, 'x', x'00', 'p', 'h')",
        "journal",
        21,
        "prev_hash",
    ),
    "a number below zero": ("UPDATE journal SET seq = -7 WHERE seq = 7", "journal", 1, "seq"),
    "an empty body": ("UPDATE journal SET body = x'' WHERE seq = 4", "journal", 4, "hash"),
    "a tag is gone": ("DELETE FROM tag WHERE seq = 6 AND name = 'case'", "tag", 6, "name"),
    "a tag is invented": ("INSERT INTO tag VALUES ('case', 'other', 6)", "tag", 6, "seq"),
    "a tag without an entry": ("INSERT INTO tag VALUES ('case', 'c1', 99)", "tag", 99, "seq"),
    "a tag moved": ("UPDATE tag SET seq = 8 WHERE seq = 6 AND name = 'case'", "tag", 6, "name"),
    "a text altered": ("UPDATE texts SET text = 'Kept' WHERE text = 'kept'", "texts", 0, "text"),
    "a salt altered": ("UPDATE texts SET salt = x'00' WHERE text = 'kept'", "texts", 0, "text"),
    "only the salt erased": ("UPDATE texts SET salt = NULL", "texts", 0, "text"),
    "only the words erased": ("UPDATE texts SET text = NULL", "texts", 0, "text"),
    "a text's id altered": ("UPDATE texts SET id = 'x' WHERE text = 'kept'", "texts", 0, "text"),
    "words that are not UTF-8": ("UPDATE texts SET text = CAST(x'ff' AS TEXT)", "texts", 0, "text"),
    "a compiled table altered": ("UPDATE course SET body = x'00'", "course", 0, "body"),
    "a compiled table's hash altered": ("UPDATE course SET hash = 'x'", "course", 0, "body"),
    "an id that is not UTF-8": (
        "UPDATE journal SET event_id = CAST(x'ff' AS TEXT) WHERE seq = 3",
        "journal",
        3,
        "event_id",
    ),
}


@pytest.mark.parametrize("name", EDITS)
def test_an_edit_is_found_and_named(place: Path, name: str) -> None:
    """Each kind of edit in any table is reported with its table, entry and column."""
    sql, table, seq, column = EDITS[name]
    filled(place, 20)
    with edited(place, lambda raw: raw.execute(sql)) as store:
        found = verify(store, tags_of)
    assert isinstance(found, Broken)
    assert (found.table, found.seq, found.column) == (table, seq, column)
    assert found.why and found.why in str(found)


def loosened(raw: sqlite3.Connection) -> None:
    """Take STRICT and NOT NULL away from the journal, so that values of any kind fit."""
    raw.execute("ALTER TABLE journal RENAME TO old")
    raw.execute("CREATE TABLE journal (seq, event_id, body, prev_hash, hash)")
    raw.execute("INSERT INTO journal SELECT seq, event_id, body, prev_hash, hash FROM old")
    raw.execute("DROP TABLE old")


VALUES = st.one_of(st.none(), st.integers(-(2**63), 2**63 - 1), st.floats(), st.text(), st.binary())


@settings(max_examples=300)
@given(st.tuples(VALUES, VALUES, VALUES, VALUES, VALUES))
def test_a_row_of_anything_is_reported_not_raised(row: tuple[object, ...]) -> None:
    """A row of values of any kind in any column is reported as a fault in one of its columns."""
    found = fault(row, Tip(0, first_link(LAB)))
    assert found is not None and found[0] in COLUMNS


@settings(max_examples=300)
@given(st.one_of(st.binary(), st.text().map(str.encode), st.from_type(dict).map(repr).map(str.encode)))
def test_a_sealed_body_of_anything_is_reported_not_raised(body: bytes) -> None:
    """A body that is not an event is reported, even when it was sealed with a right hash."""
    before = Tip(0, first_link(LAB))
    found = fault((1, "a", body, before.hash, link(before.hash, body)), before)
    assert found is not None and found[0] == "body"


def test_a_sealed_body_with_another_number_or_id_is_reported() -> None:
    """A body sealed with a right hash still has to name its own row's number and id."""
    before = Tip(0, first_link(LAB))
    for event_id, seq, column in (("a", 1, None), ("a", 2, "body"), ("b", 1, "event_id")):
        body = body_of(event_id, seq)
        found = fault((1, "a", body, before.hash, link(before.hash, body)), before)
        assert (found and found[0]) == column


@pytest.mark.parametrize("value", [None, 3, 2.5, "text", b"bytes"])
@pytest.mark.parametrize("column", COLUMNS)
def test_wrong_kinds_in_the_database_are_reported(place: Path, column: str, value: object) -> None:
    """A NULL, number, text or bytes where it does not belong is found in a database that lost its types."""
    filled(place, 5)
    raw = sqlite3.connect(place / "bench.sqlite3")
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")
    loosened(raw)
    changed = raw.execute(
        f"UPDATE journal SET {column} = ? WHERE seq = 3 AND {column} IS NOT ?", (value, value)
    )
    raw.commit()
    raw.close()
    with Store(place / "bench.sqlite3", "ro") as store:
        found = verify(store, tags_of)
    if changed.rowcount == 0:
        assert (column, value, found) == ("seq", 3, Tip(5, found.hash if isinstance(found, Tip) else ""))
        return
    assert isinstance(found, Broken)
    assert found.table == "journal" and found.seq in (1, 3)


def test_an_index_that_lies_is_found(place: Path) -> None:
    """An index whose entry no longer leads to its row is found, though every row holds."""
    with folder.open_for_writing(place) as store:
        append(store, "needle-in-the-index")
        append(store, "another")
    database = place / "bench.sqlite3"
    raw = database.read_bytes()
    # The id stands three times: in the row, inside the body, and in the index.
    places = [at for at in range(len(raw)) if raw.startswith(b"needle-in-the-index", at)]
    assert len(places) == 3
    found = set()
    for at in places:
        database.write_bytes(raw[:at] + b"N" + raw[at + 1 :])
        with Store(database, "immutable") as store:
            broken = verify(store, tags_of)
        assert isinstance(broken, Broken)
        found.add(broken.table)
    assert found == {"journal", "database"}


def test_a_cut_tail_is_found_with_a_checkpoint_only(place: Path) -> None:
    """Without its last entries the chain still holds; the checkpoint of an acknowledgement shows the loss."""
    tip = filled(place, 20)
    with edited(
        place,
        lambda raw: raw.executescript("DELETE FROM journal WHERE seq > 17; DELETE FROM tag WHERE seq > 17"),
    ) as store:
        assert verify(store, tags_of) == store.tip() == Tip(17, store.tip().hash)
        found = verify(store, tags_of, tip)
    assert isinstance(found, Broken)
    assert (found.seq, found.column) == (18, "seq")
    assert "ends at 17" in found.why and "20" in found.why


def test_a_chain_written_anew_is_found_with_a_checkpoint_only(place: Path) -> None:
    """A forger who seals everything again from the altered entry on is betrayed by any later checkpoint."""
    tip = filled(place, 20)
    early = Tip(*stored_rows(place)[3][::4])

    def forge(raw: sqlite3.Connection) -> None:
        before = early.hash
        for seq, _, body, _, _ in stored_rows(place)[4:]:
            new = body.replace(b"c5", b"c6") if seq == 5 else body
            values = (new, before, link(before, new), seq)
            raw.execute("UPDATE journal SET body = ?, prev_hash = ?, hash = ? WHERE seq = ?", values)
            before = link(before, new)
            raw.execute("DELETE FROM tag WHERE seq = ?", (seq,))
            raw.executemany("INSERT INTO tag VALUES (?, ?, ?)", [(*tag, seq) for tag in tags_of(new)])

    with edited(place, forge) as store:
        assert isinstance(verify(store, tags_of), Checkpoint)
        assert isinstance(verify(store, tags_of, early), Checkpoint)
        found = verify(store, tags_of, [early, tip])
    assert isinstance(found, Broken)
    assert (found.seq, found.column) == (20, "hash")


@pytest.mark.parametrize("seq", [0, 1, 10, 20])
def test_checkpoints_along_the_chain_hold(place: Path, seq: int) -> None:
    """Any entry's number and hash is a checkpoint that holds, and with another hash one that does not."""
    tip = filled(place, 20)
    with folder.open_for_reading(place) as store:
        entry = store.entry(seq)
        point = Tip(0, first_link(LAB)) if entry is None else Tip(entry.seq, entry.hash)
        assert verify(store, tags_of, point) == tip
        assert isinstance(verify(store, tags_of, Tip(seq, "0" * 64)), Broken)
        assert isinstance(verify(store, tags_of, Tip(-1, "0" * 64)), Broken)


def test_another_labs_id_breaks_the_first_link(place: Path) -> None:
    """A chain moved under another lab's id is found at its first entry."""
    filled(place, 3)
    with edited(place, lambda raw: raw.execute("UPDATE lab SET id = 'another'")) as store:
        found = verify(store, tags_of)
    assert isinstance(found, Broken)
    assert (found.seq, found.column) == (1, "prev_hash")


def test_tags_that_cannot_be_derived_are_reported(place: Path) -> None:
    """A failure of the deriving code is a finding about the entry it failed on."""
    filled(place, 3)

    def fails_on_two(body: bytes) -> list[tuple[str, str]]:
        if json.loads(body)["server"]["seq"] == 2:
            raise KeyError("kind")
        return tags_of(body)

    with folder.open_for_reading(place) as store:
        found = verify(store, fails_on_two)
    assert isinstance(found, Broken)
    assert (found.seq, found.column) == (2, "body")
    assert "kind" in found.why


def test_progress_is_told_and_ends_at_the_end(place: Path) -> None:
    """Long work says how far it is: up to the number of entries, in rising steps."""
    filled(place, 2500)
    told: list[tuple[int, int]] = []
    with folder.open_for_reading(place) as store:
        verify(store, tags_of, progress=lambda done, total: told.append((done, total)))
    assert told == [(1000, 2500), (2000, 2500), (2500, 2500)]


def test_verify_while_others_write_stands_at_one_moment(store: Store) -> None:
    """Entries that come while verify runs are no fault, and not part of what it answers."""
    fill(store, 1000)
    before = store.tip()
    assert (
        verify(store, tags_of, progress=lambda done, total: append(store, f"late{done}") and None) == before
    )
    assert store.tip().seq == 1001


def test_a_body_is_as_long_as_the_tests_say() -> None:
    """The bodies damaged byte by byte have 60 to 100 bytes."""
    assert 60 <= len(body_of("e000200", 200, "c6")) <= 100
