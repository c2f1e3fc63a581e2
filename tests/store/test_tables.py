"""The tables beside the journal: texts, compiled tables, parked facts, tablets, secrets, tries, tags."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.core.seal import digest, text_id
from benchapp.store.engine import sqlite3
from benchapp.store.errors import CourseMismatch, TextsMismatch
from benchapp.store.journal import Parked, Store, Tablet, Tries
from benchapp.store.verify import verify

from .conftest import fill, tags_of

WORDS = "Zweiter Guss, Rand nachgesetzt – siehe Foto"


def test_sha256_of_abc() -> None:
    """The digest of "abc" is the one that FIPS 180-4's example prints."""
    assert digest(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@given(st.binary(max_size=40), st.text(max_size=40))
def test_a_texts_id_is_the_digest_of_salt_and_utf8(salt: bytes, text: str) -> None:
    """A text's id is SHA-256 over its salt and its UTF-8 bytes, for any salt and any text."""
    assert text_id(salt, text) == digest(salt + text.encode("utf-8"))


def test_texts_come_back_and_an_erased_one_stays_erased(store: Store) -> None:
    """A text is read by its id; erased it is gone for good, even when it is sent again."""
    id, other = text_id(b"salt", WORDS), text_id(b"pepper", "kept")
    with store.writing() as writer:
        writer.add_text(id, b"salt", WORDS)
        writer.add_text(id, b"salt", WORDS)
        writer.add_text(other, b"pepper", "kept")
    assert store.texts([id, other, "unknown"]) == {id: WORDS, other: "kept"}
    with store.writing() as writer:
        assert writer.erase_text(id) is True
        assert writer.erase_text(id) is False
        assert writer.erase_text("unknown") is False
    with store.writing() as writer:
        writer.add_text(id, b"salt", WORDS)
    assert store.text(id) is None
    assert store.texts([id, other]) == {other: "kept"}
    assert verify(store, tags_of) == store.tip()


def test_an_erased_text_is_in_no_file_of_the_folder(store: Store) -> None:
    """After erasing, neither the database nor its write-ahead log holds the words any more."""
    id = text_id(b"salt", WORDS)
    with store.writing() as writer:
        writer.add_text(id, b"salt", WORDS)
    # The log only: closing the database or its -shm here would drop the locks that SQLite holds on them.
    log = store.path.with_name(store.path.name + "-wal")
    assert WORDS.encode() in log.read_bytes()
    with store.writing() as writer:
        writer.erase_text(id)
    assert WORDS.encode() not in log.read_bytes()
    store.close()
    assert WORDS.encode() not in store.path.read_bytes()


def test_erasing_while_somebody_reads_is_finished_later(store: Store) -> None:
    """A long reader delays emptying the write-ahead log, not the writer; the next commit does it."""
    id = text_id(b"salt", WORDS)
    log = store.path.with_name(store.path.name + "-wal")
    with store.writing() as writer:
        writer.add_text(id, b"salt", WORDS)
    with store.reading() as reader:
        assert reader.text(id) == WORDS
        with store.writing() as writer:
            writer.erase_text(id)
        assert reader.text(id) == WORDS
        assert WORDS.encode() in log.read_bytes()
    with store.writing() as writer:
        writer.seen_tablet("t", 1)
    assert WORDS.encode() not in log.read_bytes()


def test_a_text_under_a_wrong_id_is_refused(store: Store) -> None:
    """Salt and words that do not give the id are not stored."""
    with pytest.raises(TextsMismatch), store.writing() as writer:
        writer.add_text(text_id(b"salt", "one"), b"salt", "two")
    assert store.text(text_id(b"salt", "one")) is None


def test_a_compiled_table_is_kept_by_its_hash(store: Store) -> None:
    """A compiled table is stored once under its own hash and comes back byte for byte."""
    body = bytes(range(256))
    with store.writing() as writer:
        writer.add_course(digest(body), body)
        writer.add_course(digest(body), body)
    assert store.course(digest(body)) == body
    assert store.course("0" * 64) is None
    with pytest.raises(CourseMismatch), store.writing() as writer:
        writer.add_course(digest(body), body + b"\n")


def test_parked_facts_keep_their_bytes(store: Store) -> None:
    """Bytes that nobody can read are kept as they came, in the order they came."""
    with store.writing() as writer:
        first = writer.park(1700, "T1", "not JSON", b"\xff\x00{")
        second = writer.park(1800, "T2", "no id", b"")
    assert store.parked() == [
        Parked(first, 1700, "T1", "not JSON", b"\xff\x00{"),
        Parked(second, 1800, "T2", "no id", b""),
    ]


def test_tablets_are_known_by_their_token(store: Store) -> None:
    """A token opens the tablet it was given to, until the tablet is given another or is removed."""
    with store.writing() as writer:
        writer.add_tablet("T1", "hash1", 10)
        writer.add_tablet("T2", "hash2", 11)
        writer.seen_tablet("T1", 30)
        writer.seen_tablet("T1", 20)
    assert store.tablet_by_token("hash1") == "T1"
    assert store.tablets() == [Tablet("T1", 10, 30), Tablet("T2", 11, 11)]
    with store.writing() as writer:
        writer.add_tablet("T1", "hash3", 40)
        assert writer.remove_tablet("T2") is True
        assert writer.remove_tablet("T2") is False
    assert [store.tablet_by_token(hash) for hash in ("hash1", "hash2", "hash3")] == [None, None, "T1"]


def test_two_tablets_never_share_a_token(store: Store) -> None:
    """Enrolling a tablet with another's token is refused, and the other keeps its own."""
    with store.writing() as writer:
        writer.add_tablet("T1", "hash1", 10)
    with pytest.raises(sqlite3.IntegrityError), store.writing() as writer:
        writer.add_tablet("T2", "hash1", 11)
    assert store.tablet_by_token("hash1") == "T1"


def test_secrets_are_set_replaced_found_and_dropped(store: Store) -> None:
    """A person has one hash of each kind; a badge leads to its person only while it is one person's."""
    with store.writing() as writer:
        writer.put_secret("p1", "pin", "a")
        writer.put_secret("p1", "pin", "b")
        writer.put_secret("p1", "badge", "c")
    assert (store.secret("p1", "pin"), store.secret("p1", "badge")) == ("b", "c")
    assert store.secret("p2", "pin") is None
    assert store.holder("badge", "c") == "p1"
    assert store.holder("pin", "c") is store.holder("badge", "b") is None
    with store.writing() as writer:
        writer.put_secret("p2", "badge", "c")
    assert store.holder("badge", "c") is None
    with store.writing() as writer:
        assert writer.drop_secret("p2", "badge") is True
        assert writer.drop_secret("p2", "badge") is False
    assert store.holder("badge", "c") == "p1"


def test_tries_are_none_until_set(store: Store) -> None:
    """Wrong tries begin at none and are what was put last."""
    assert store.tries("p1") == Tries("p1", 0, 0, 0)
    with store.writing() as writer:
        writer.put_tries(Tries("p1", 2, 100, 0))
        assert writer.tries("p1").wrong == 2
        writer.put_tries(Tries("p1", 3, 100, 900))
    assert store.tries("p1") == Tries("p1", 3, 100, 900)


def test_tags_can_be_thrown_away_and_derived_again(store: Store) -> None:
    """Tags that were lost, altered or invented are as before after rebuilding them."""
    fill(store, 20)
    with store.reading() as reader:
        before = reader.connection.execute("SELECT * FROM tag").fetchall()
    with store.writing() as writer:
        writer.connection.execute("DELETE FROM tag WHERE seq < 9")
        writer.connection.execute("INSERT INTO tag VALUES ('case', 'invented', 12)")
        assert writer.rebuild_tags(tags_of) == 40
    with store.reading() as reader:
        assert reader.connection.execute("SELECT * FROM tag").fetchall() == before
    assert verify(store, tags_of) == store.tip()
