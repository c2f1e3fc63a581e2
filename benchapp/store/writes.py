"""Every change to the tables, inside one transaction."""

from collections.abc import Callable, Iterable
from dataclasses import asdict

from benchapp.core.seal import digest, link, names, text_id
from benchapp.store.engine import sqlite3
from benchapp.store.errors import CourseMismatch, NotAppended, TextsMismatch
from benchapp.store.reads import Entry, Reader, Tries

Tags = Iterable[tuple[str, str]]


class Writer(Reader):
    """The changes, and all the questions, inside the transaction that `Store.writing()` opened."""

    erased = False

    def end(self) -> None:
        """Make this writer useless, since what it wrote later would belong to no transaction."""
        del self.connection

    def add(self, event_id: str, body: bytes, tags: Tags) -> Entry:
        """Append one event as `tip().seq + 1` and write its tags.

        Raises NotAppended when the body names another id or number, or when the event is stored already.
        """
        tip = self.tip()
        entry = Entry(tip.seq + 1, event_id, body, tip.hash, link(tip.hash, body))
        try:
            named = names(body)
        except ValueError as error:
            raise NotAppended(f"The body of event {event_id} cannot be stored: {error}.") from None
        if named != (event_id, entry.seq):
            raise NotAppended(
                f"The body names event {named[0]} with number {named[1]}, but it would become event "
                f"{event_id} with number {entry.seq}: make the body inside writing(), from tip()."
            )
        try:
            self.connection.execute(
                "INSERT INTO journal (seq, event_id, body, prev_hash, hash) VALUES (?, ?, ?, ?, ?)",
                (entry.seq, entry.event_id, entry.body, entry.prev_hash, entry.hash),
            )
        except sqlite3.IntegrityError as error:
            raise NotAppended(
                f"Event {event_id} cannot be stored: {error}; look it up with find()."
            ) from error
        self._tag(entry.seq, tags)
        return entry

    def _tag(self, seq: int, tags: Tags) -> None:
        rows = [(name, value, seq) for name, value in dict.fromkeys(tags)]
        self.connection.executemany("INSERT INTO tag (name, value, seq) VALUES (?, ?, ?)", rows)

    def rebuild_tags(self, tags_of: Callable[[bytes], Tags]) -> int:
        """Throw all tags away, derive them again from the entries, and return how many there are now."""
        self.connection.execute("DELETE FROM tag")
        for seq, body in self.connection.execute("SELECT seq, body FROM journal ORDER BY seq"):
            self._tag(seq, tags_of(body))
        count: int = self.connection.execute("SELECT count(*) FROM tag").fetchone()[0]
        return count

    def add_text(self, id: str, salt: bytes, text: str) -> None:
        """Store a text under the id of its salt and words; one that is there, or was erased, stays as it is.

        Raises TextsMismatch when the id is another text's.
        """
        if text_id(salt, text) != id:
            raise TextsMismatch(
                f"The text handed in is not the one with id {id}: send salt and text as they were."
            )
        self.connection.execute(
            "INSERT INTO texts (id, salt, text) VALUES (?, ?, ?) ON CONFLICT (id) DO NOTHING",
            (id, salt, text),
        )

    def erase_text(self, id: str) -> bool:
        """Erase the words of a text for ever and return whether there were any; its id stays."""
        sql = "UPDATE texts SET salt = NULL, text = NULL WHERE id = ? AND text IS NOT NULL"
        gone = self.connection.execute(sql, (id,)).rowcount > 0
        self.erased = self.erased or gone
        return gone

    def add_course(self, hash: str, body: bytes) -> None:
        """Store a compiled table once, by the SHA-256 of its bytes; raises CourseMismatch if that differs."""
        if digest(body) != hash:
            raise CourseMismatch(
                f"The compiled table handed in does not have the hash {hash}: hash the stored bytes."
            )
        if self.course(hash) is None:
            self.connection.execute("INSERT INTO course (hash, body) VALUES (?, ?)", (hash, body))

    def park(self, received: int, tablet: str, why: str, body: bytes) -> int:
        """Keep a fact that could not be read, byte for byte, and return its number."""
        row = {"received": received, "tablet": tablet, "why": why, "body": body}
        return int(self.database.table("parked").insert(row).last_rowid or 0)

    def add_tablet(self, id: str, token_hash: str, now: int) -> None:
        """Enrol a tablet, or give one that is enrolled another token."""
        row = {"id": id, "token_hash": token_hash, "since": now, "seen": now}
        self.database.table("tablet").upsert(row, pk="id")

    def seen_tablet(self, id: str, now: int) -> None:
        """Note that a tablet was heard at `now`, never earlier than noted before."""
        self.connection.execute("UPDATE tablet SET seen = max(seen, ?) WHERE id = ?", (now, id))

    def remove_tablet(self, id: str) -> bool:
        """Forget a tablet, so that its token opens nothing, and return whether it was enrolled."""
        return self.connection.execute("DELETE FROM tablet WHERE id = ?", (id,)).rowcount > 0

    def put_secret(self, holder: str, kind: str, hash: str) -> None:
        """Set the hash of a person's PIN or badge."""
        row = {"holder": holder, "kind": kind, "hash": hash}
        self.database.table("secret").upsert(row, pk=("holder", "kind"))

    def drop_secret(self, holder: str, kind: str) -> bool:
        """Forget a person's PIN or badge, and return whether there was one."""
        sql = "DELETE FROM secret WHERE holder = ? AND kind = ?"
        return self.connection.execute(sql, (holder, kind)).rowcount > 0

    def put_tries(self, tries: Tries) -> None:
        """Set the wrong tries against a person's PIN."""
        self.database.table("tries").upsert(asdict(tries), pk="holder")
