"""The journal only grows, one entry after another, whoever writes and however."""

import threading
from pathlib import Path

import pytest

from benchapp.core.seal import first_link, link
from benchapp.store import folder
from benchapp.store.engine import sqlite3
from benchapp.store.errors import NotAppended, NotWritable
from benchapp.store.journal import Store, Tip
from benchapp.store.verify import verify

from .conftest import LAB, append, body_of, fill, tags_of


def rows(store: Store) -> list[tuple[object, ...]]:
    """Return every row of journal and tag."""
    connection = sqlite3.connect(store.path)
    try:
        found: list[tuple[object, ...]] = connection.execute("SELECT * FROM journal").fetchall()
        return found + connection.execute("SELECT * FROM tag").fetchall()
    finally:
        connection.close()


def test_empty_tip_is_the_labs_first_link(store: Store) -> None:
    """An empty journal stands at number 0 and the link that comes from the lab's id."""
    assert store.tip() == Tip(0, first_link(LAB))
    assert store.lab_id == LAB
    assert list(store.entries()) == []


def test_an_entry_is_found_in_every_way(store: Store) -> None:
    """What was added is found by number, id and tag, byte for byte, linked to the entry before."""
    one, two = append(store, "a", "x1"), append(store, "b", "x2")
    assert (one.seq, two.seq) == (1, 2)
    assert two.prev_hash == one.hash == link(first_link(LAB), one.body)
    assert store.find("b") == store.entry(2) == store.last_tagged("first", "x") == two
    assert store.tagged("first", "x") == [one, two]
    assert store.tagged("first", "x", after=1) == [two]
    assert store.tagged("case", "nobody") == []
    assert store.last_tagged("case", "nobody") is store.find("z") is store.entry(3) is None
    assert store.tag_values("case") == ["x1", "x2"]
    assert store.tag_values("no such name") == []
    assert store.tip() == Tip(2, two.hash)


def test_entries_stream_in_order_over_several_pages(store: Store) -> None:
    """Streaming gives every entry once, in order, with a start and a limit, though it reads page by page."""
    fill(store, 1203)
    assert [entry.seq for entry in store.entries()] == list(range(1, 1204))
    assert [entry.seq for entry in store.entries(after=700, limit=502)] == list(range(701, 1203))
    assert list(store.entries(limit=0)) == []


INSERTS = [
    "INSERT OR REPLACE INTO journal VALUES (2, 'new', x'00', 'p', 'h')",
    "INSERT OR REPLACE INTO journal VALUES (4, 'e000002', x'00', 'p', 'h')",
    "INSERT OR REPLACE INTO journal SELECT 4, 'new', body, prev_hash, hash FROM journal WHERE seq = 2",
    "INSERT OR IGNORE INTO journal VALUES (2, 'new', x'00', 'p', 'h')",
    "REPLACE INTO journal VALUES (1, 'e000001', x'00', 'p', 'h')",
    "INSERT INTO journal VALUES (5, 'new', x'00', 'p', 'h')",
    "INSERT INTO journal VALUES (0, 'new', x'00', 'p', 'h')",
    "INSERT INTO journal VALUES (-1, 'new', x'00', 'p', 'h')",
    "INSERT INTO journal (event_id, body, prev_hash, hash) VALUES ('new', x'00', 'p', 'h')",
    "INSERT INTO journal VALUES (2, 'e000002', x'00', 'p', 'h') ON CONFLICT DO UPDATE SET body = x'00'",
    "UPDATE journal SET body = x'00' WHERE seq = 2",
    "UPDATE OR REPLACE journal SET seq = 1 WHERE seq = 2",
    "DELETE FROM journal WHERE seq = 3",
    "DELETE FROM journal",
    "INSERT OR REPLACE INTO lab VALUES ('lab-of-the-tests')",
    "INSERT INTO lab VALUES ('another')",
    "UPDATE lab SET id = 'another'",
    "DELETE FROM lab",
    "INSERT OR REPLACE INTO course VALUES ('aa', x'01')",
    "UPDATE course SET body = x'01'",
    "DELETE FROM course",
]


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.parametrize("sql", INSERTS)
def test_no_statement_alters_what_is_stored(store: Store, sql: str, recursive: str) -> None:
    """Every way of SQL to change, replace, remove or misplace a guarded row is refused, nothing changed."""
    fill(store, 3)
    raw = sqlite3.connect(store.path)
    raw.execute("INSERT INTO course VALUES ('aa', x'00')")
    raw.commit()
    raw.execute(f"PRAGMA recursive_triggers = {recursive}")
    before = rows(store)
    with pytest.raises(sqlite3.IntegrityError):
        raw.execute(sql)
    raw.commit()
    assert raw.execute("SELECT hash, body FROM course").fetchall() == [("aa", b"\0")]
    assert raw.execute("SELECT id FROM lab").fetchall() == [(LAB,)]
    raw.close()
    assert rows(store) == before


def test_an_event_is_stored_once(store: Store) -> None:
    """Adding an id again is refused in words, and the transaction around it leaves nothing."""
    append(store, "a")
    before = rows(store)
    with pytest.raises(NotAppended, match="already"), store.writing() as writer:
        writer.add("b", body_of("b", 2), [])
        writer.add("a", body_of("a", 3), [])
    assert rows(store) == before


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (body_of("b", 1), "names event b"),
        (body_of("a", 2), "number 2"),
        (b"{", "not JSON"),
        (b"\xff", "not UTF-8"),
        (b"[]", "lacks event.id"),
        (b'{"event":{"id":1},"server":{"seq":1}}', "event.id is not a text"),
        (b'{"event":{"id":"a"},"server":{"seq":true}}', "not a whole number"),
        (b"[" * 100_000, "nested too deeply"),
    ],
)
def test_a_body_that_contradicts_its_row_is_refused(store: Store, body: bytes, why: str) -> None:
    """A body whose own id or number differs, or that cannot be read, never enters the journal."""
    with pytest.raises(NotAppended, match=why), store.writing() as writer:
        writer.add("a", body, [])
    assert rows(store) == []


def test_an_exception_undoes_everything(store: Store) -> None:
    """Whatever is raised inside writing() takes all of it back, and the next writing() works."""
    with pytest.raises(ZeroDivisionError), store.writing() as writer:
        writer.add("a", body_of("a", 1), [("case", "c1")])
        writer.park(1, "t", "why", b"x")
        writer.put_secret("p", "pin", "h")
        raise ZeroDivisionError
    assert rows(store) == []
    assert store.parked() == []
    assert store.secret("p", "pin") is None
    assert append(store, "a").seq == 1


def test_a_writer_is_of_no_use_afterwards(store: Store) -> None:
    """A writer kept beyond its block cannot write outside a transaction."""
    with store.writing() as writer:
        pass
    with pytest.raises(AttributeError):
        writer.add("a", body_of("a", 1), [])
    assert rows(store) == []


def test_readers_see_only_what_is_committed(store: Store) -> None:
    """Inside writing() the writer sees its own entry, the store does not before the end."""
    with store.writing() as writer:
        writer.add("a", body_of("a", 1), [("case", "c1")])
        assert writer.find("a") is not None
        assert writer.last_tagged("case", "c1") == writer.entry(1)
        assert store.find("a") is None
    assert store.find("a") is not None


def test_one_reading_is_one_state(store: Store) -> None:
    """A reader sees the same tip until it ends, though entries are added meanwhile."""
    append(store, "a")
    with store.reading() as reader:
        first = reader.tip()
        append(store, "b")
        assert reader.tip() == first
    assert store.tip().seq == 2


def test_writing_inside_writing_is_refused_not_awaited(store: Store) -> None:
    """The same thread asking for the writer twice is told so; it would wait for itself for ever."""
    with pytest.raises(RuntimeError, match="hand the writer on"), store.writing(), store.writing():
        pass
    assert append(store, "a").seq == 1


def test_a_second_writer_waits_for_the_first(store: Store) -> None:
    """A writer in another thread begins only when the first has committed, and sees its entry."""
    seen: list[int] = []
    started = threading.Event()

    def second() -> None:
        started.set()
        with store.writing() as writer:
            seen.append(writer.tip().seq)

    thread = threading.Thread(target=second)
    with store.writing() as writer:
        thread.start()
        started.wait()
        assert seen == []
        writer.add("a", body_of("a", 1), [])
    thread.join()
    assert seen == [1]


def test_a_writer_holds_its_place_from_the_beginning(store: Store) -> None:
    """From the start of writing(), before anything is written, no foreign connection can come between."""
    raw = sqlite3.connect(store.path, timeout=0, isolation_level=None)
    with store.writing() as writer:
        tip = writer.tip()
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            raw.execute("BEGIN IMMEDIATE")
        assert writer.add("a", body_of("a", tip.seq + 1), []).seq == tip.seq + 1
    raw.execute("BEGIN IMMEDIATE")
    raw.close()


def test_a_writer_in_another_program_is_waited_for(store: Store) -> None:
    """Entries of a foreign connection and of the store, both with BEGIN IMMEDIATE, all go in, one by one."""
    raw = sqlite3.connect(store.path, timeout=30, isolation_level=None, check_same_thread=False)

    def foreign() -> None:
        for number in range(40):
            raw.execute("BEGIN IMMEDIATE")
            seq, prev = raw.execute("SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1").fetchone()
            body = body_of(f"f{number}", seq + 1)
            values = (seq + 1, f"f{number}", body, prev, link(prev, body))
            raw.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?)", values)
            raw.executemany("INSERT INTO tag VALUES (?, ?, ?)", [(*tag, seq + 1) for tag in tags_of(body)])
            raw.execute("COMMIT")

    append(store, "first")
    thread = threading.Thread(target=foreign)
    thread.start()
    for number in range(40):
        append(store, f"s{number}")
    thread.join()
    raw.close()
    assert store.tip().seq == 81
    assert verify(store, tags_of) == store.tip()


def test_400_appends_from_8_threads_are_all_there(store: Store) -> None:
    """Eight threads append fifty each while reading: none is lost, none is refused, the chain holds."""
    failed: list[BaseException] = []

    def work(name: int) -> None:
        try:
            for number in range(50):
                entry = append(store, f"t{name}-{number}", f"c{name}")
                assert store.find(f"t{name}-{number}") == entry
                assert len(store.tagged("case", f"c{name}")) == number + 1
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert {entry.event_id for entry in store.entries()} == {
        f"t{name}-{number}" for name in range(8) for number in range(50)
    }
    assert verify(store, tags_of) == store.tip() == Tip(400, store.tip().hash)


def test_a_closed_store_says_so(place: Path) -> None:
    """After close() both reading and writing are refused in words, and closing again does nothing."""
    store = folder.open_for_writing(place)
    store.close()
    store.close()
    with pytest.raises(NotWritable, match="closed"):
        store.tip()
    with pytest.raises(NotWritable, match="closed"), store.writing():
        pass


@pytest.mark.parametrize("method", ["find", "tagged", "last", "entry", "tip", "value"])
def test_questions_use_an_index(store: Store, method: str) -> None:
    """No question that the bench asks reads a whole table, whatever its size."""
    seen: list[str] = []
    with store.reading() as reader:
        reader.connection.set_trace_callback(seen.append)
        {
            "find": lambda: reader.find("e"),
            "tagged": lambda: reader.tagged("case", "c", 5),
            "last": lambda: reader.last_tagged("case", "c"),
            "entry": lambda: reader.entry(4),
            "tip": lambda: reader.tip(),
            "value": lambda: reader.tag_values("case"),
        }[method]()
        reader.connection.set_trace_callback(None)
        assert len(seen) == 1
        plan = [row[3] for row in reader.connection.execute("EXPLAIN QUERY PLAN " + seen[0])]
    scans = [step for step in plan if step.startswith("SCAN") and step != "SCAN v"]
    # The tip reads the table from its end and stops after one row.
    assert scans == (["SCAN journal"] if method == "tip" else [])
    assert not any("TEMP B-TREE" in step for step in plan)
