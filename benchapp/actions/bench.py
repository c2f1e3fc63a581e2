"""The bench: one store with its clock and its randomness, and the one way in which an event gets into the journal."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import Any

from benchapp.core import events, seal
from benchapp.core.codes import make_code
from benchapp.core.protocol import Protocol
from benchapp.store.journal import Entry, Store, Writer


class Refused(Exception):
    """A request cannot be met; the message says why and what to do, and nothing was changed."""

    status = 409


class Unknown(Refused):
    """There is no such case, jaw, person or label here."""

    status = 404


@dataclass(frozen=True)
class Chance:
    """Where ids, salts and codes come from."""

    new_id: Callable[[], str]
    random_bytes: Callable[[int], bytes]
    choose: Callable[[str], str]


@dataclass
class Bench:
    """A store together with the clock (UTC ms) and the chance that are handed in."""

    store: Store
    clock: Callable[[], int]
    chance: Chance
    version: str
    jaws: dict[str, Any] = field(default_factory=dict)
    lines: dict[str, Any] = field(default_factory=dict)  # for readers, each with the entries it stands on
    protocols: dict[str, Protocol] = field(default_factory=dict)  # by hash and catalogue, so they never grow stale
    checks: Any = None  # the seating checks of this data folder, see `actions.seating`
    reports: dict[str, Any] = field(default_factory=dict)  # their reports by hash, so they never grow stale
    running: tuple[tuple[int, str], list[Any]] | None = None  # clocks that run, with what they hang on, see `due`
    last_received: int = -1
    last_when: dict[str, int] = field(default_factory=dict)
    waiting: deque[Any] = field(default_factory=deque)  # lists of facts, see `facts.take_facts`
    unsent: dict[str, int] = field(default_factory=dict)  # what each tablet said last that waits on it
    enrolments: dict[str, Any] = field(default_factory=dict)  # codes that a tablet may be enrolled by, see `tablets`
    turn: Lock = field(default_factory=Lock)

    def received(self, writer: Writer) -> int:
        """Return the PC's time, never below that of the last entry (the PC's clock may be set back)."""
        if self.last_received < 0:
            tip = writer.tip()
            entry = writer.entry(tip.seq)
            self.last_received = events.read_body(entry.body)["server"]["received"] if entry else 0
        return max(self.clock(), self.last_received)

    def forget(self) -> None:
        """Drop what was remembered of the journal, after a transaction that failed."""
        self.jaws.clear()
        self.last_when.clear()
        self.last_received = -1

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """Lend the one writer; when anything was raised, what was remembered meanwhile is dropped as well."""
        try:
            with self.store.writing() as writer:
                yield writer
        except BaseException:
            self.forget()
            raise

    def text(self, writer: Writer, text: str) -> str:
        """Store a name or free words apart from the journal; return the hash that stands for them in events."""
        salt = self.chance.random_bytes(16)
        name = seal.text_id(salt, text)
        writer.add_text(name, salt, text)
        return name

    def code(self, kind: str) -> str:
        """Draw a fresh code of a kind (see `benchapp.core.codes`)."""
        return make_code(kind, self.chance.choose)

    def envelope(self, kind: str, person: str, now: int) -> dict[str, Any]:
        """Return the envelope of a request made at the PC."""
        return {
            "v": events.VERSION, "kind": kind, "id": self.chance.new_id(), "case": "", "jaw": "", "round": 0,
            "step": "", "places": [], "outcome": "", "values": [], "picks": {},
            "by": {"person": person, "how": "pc", "signin": ""},
            "from": {"tablet": "", "boot": "", "n": 0, "app": self.version},
            "at": {"wall": now, "offset": 0, "age": 0, "mono": 0},
            "saw": {"seq": 0, "ms": 0},
        }

    def request(
        self, writer: Writer, kind: str, person: str = "", roles: Iterable[str] = (), **what: Any
    ) -> Entry:
        """Store a request that was granted; `what` are keys of the event, `roles` those of the person now."""
        now = self.received(writer)
        event = self.envelope(kind, person, now) | what
        if kind in events.OF_CASE:
            self.jaws.clear()  # their case is another one now
        # Not counted as the tablet's: what it did before and sends only now would be pushed to this moment.
        return self.write(writer, event, now, now, [], list(roles))

    def write(
        self, writer: Writer, event: dict[str, Any], received: int, when: int, marks: list[Any], roles: list[str],
        tablet: str = "",
    ) -> Entry:
        """Append one event with what the server adds; every entry of the journal is written here."""
        seq = writer.tip().seq + 1
        server = {"seq": seq, "received": received, "when": when, "marks": marks, "roles": roles, "tablet": tablet}
        body = events.body_bytes(event, server)
        entry = writer.add(event["id"], body, events.tags_of(body))
        self.last_received = received
        return entry
