"""What waits for a supervisor over all jaws: entries not taken, breaches to close, facts that nobody could read."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import Any

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.desk import Seat, store
from benchapp.actions.jaws import entries_of, line, resolve
from benchapp.core import events
from benchapp.core.codes import CodeError, read_code
from benchapp.core.fold import State
from benchapp.core.matters import Closing, Matter, if_taken_in, matters
from benchapp.core.words import N_, _
from benchapp.store.journal import Store, Writer

OUTCOMES = {"accepted": N_("accepted as it is"), "followed-up": N_("followed up")}
MOST_WORDS = 600
_GRADES = (b'"refused"]', b'"deviation"]', b'"stop"]')  # as a mark of the server ends in a stored body


@dataclass
class Watch:
    """Which jaws ever had a mark that a supervisor looks at, and their matters; each entry is read once.

    Kept by whoever serves many requests, since years of finished jaws need not be folded for each of them.
    """

    seq: int = 0
    jaws: dict[str, list[Matter] | None] = field(default_factory=dict)
    strays: list[str] = field(default_factory=list)  # ids of entries about jaws that are not known here
    lock: Lock = field(default_factory=Lock)

    def matters(self, bench: Bench) -> dict[str, list[Matter]]:
        """Return the matters of every jaw that has any, as the journal stands now."""
        with self.lock:
            self._catch_up(bench.store)
            for code, kept in self.jaws.items():
                if kept is None:
                    self.jaws[code] = matters_of(bench, code)
            return {code: list(kept) for code, kept in self.jaws.items() if kept}

    def _catch_up(self, source: Store) -> None:
        for entry in source.entries(self.seq):
            self.seq = entry.seq
            marked = any(grade in entry.body for grade in _GRADES)
            if not marked and not self.jaws:
                continue
            body = events.read_body(entry.body)
            code = _known(body["event"]["jaw"])
            if ["jaw", "refused"] in body["server"]["marks"]:
                self.strays.append(entry.event_id)
            elif code in self.jaws or (marked and body["server"]["marks"] and code):
                self.jaws[code] = None


def _known(code: str) -> str:
    try:
        return read_code(code).code if code else ""
    except CodeError:
        return ""


def matters_of(bench: Bench, code: str) -> list[Matter]:
    """Return the matters of one jaw, open and closed, in the order of their entries."""
    seldom = code not in bench.lines
    found = line(bench, code)
    if seldom and found.state["ended"]:
        bench.lines.pop(code, None)  # jaws that were done long ago need not stay at hand
    return matters(found.table, found.state, found.events, [body for _entry, body in entries_of(bench, code)])


def open_matters_of(bench: Bench, code: str) -> list[Matter]:
    """Return the matters of one jaw about which nobody has decided yet."""
    return [matter for matter in matters_of(bench, code) if matter.open]


@dataclass(frozen=True)
class Unread:
    """An entry that belongs to no jaw: a parked fact, or one about a jaw that is not known here.

    `key` names it when somebody has seen it; `body` are its first bytes as text.
    """

    key: str
    received: int
    tablet: str
    why: str
    body: str
    length: int
    seen: Closing | None


def unread(bench: Bench, watch: Watch, most: int = 2000) -> list[Unread]:
    """Return what nobody could put to a jaw, newest first, with the first `most` characters of its bytes."""
    watch.matters(bench)
    seen = _closings(bench.store)
    found = [
        _unread(f"parked-{one.id}", one.received, one.tablet, _(one.why), one.body, most, seen)
        for one in bench.store.parked()
    ]
    for event_id in watch.strays:
        entry = bench.store.find(event_id)
        if entry:
            server = events.read_body(entry.body)["server"]
            why = _("names a jaw that is not known here")
            found.append(_unread(event_id, server["received"], server["tablet"], why, entry.body, most, seen))
    return sorted(found, key=lambda one: (-one.received, one.key))


def _unread(
    key: str, received: int, tablet: str, why: str, body: bytes, most: int, seen: dict[str, Closing]
) -> Unread:
    text = body.decode("utf-8", "replace")[:most]
    shown = "".join(c if c.isprintable() or c in "\n\t" else "\N{REPLACEMENT CHARACTER}" for c in text)
    return Unread(key, received, tablet, why, shown, len(body), seen.get(key))


def _closings(source: Store | Writer) -> dict[str, Closing]:
    found: dict[str, Closing] = {}
    for entry in source.tagged("kind", "close"):
        body = events.read_body(entry.body)
        event = body["event"]
        closing = Closing(event["id"], event["outcome"], event["by"]["person"], body["server"]["when"])
        found.setdefault(event.get("allow", ""), closing)
    return found


def see(bench: Bench, seat: Seat, key: str) -> None:
    """A supervisor has seen what nobody could put to a jaw; Refused the second time, Unknown where there is none."""
    seat.must("supervisor")
    with bench.store.writing() as writer:
        if key in _closings(writer):
            raise Refused(_("Somebody has seen this one already. Load the page again."))
        parked = {f"parked-{one.id}": one.id for one in writer.parked()}
        if key not in parked and not _stray(writer, key):
            raise Unknown(_("There is no such entry. Load the page again."))
        data = {"parked": parked[key]} if key in parked else {}
        store(bench, writer, seat, "close", allow=key, outcome="seen", data=data)


def _stray(writer: Writer, key: str) -> bool:
    entry = writer.find(key) if key.isascii() else None
    return bool(entry) and ["jaw", "refused"] in events.read_body(entry.body)["server"]["marks"]  # type: ignore[union-attr]


def close(bench: Bench, seat: Seat, code: str, event_id: str, outcome: str, words: str = "") -> None:
    """A supervisor has read a breach of a jaw and closes it; Refused where there is none that is open."""
    seat.must("supervisor")
    said = " ".join(words.split())
    if outcome not in OUTCOMES:
        raise Refused(_("Say what came of it: accepted as it is or followed up."))
    if len(said) > MOST_WORDS:
        raise Refused(_("These are {n} characters; at most {most} fit. Say it in fewer words.",
                        n=len(said), most=MOST_WORDS))
    with bench.store.writing() as writer:
        found = [m for m in matters_of(bench, code) if m.id == event_id and m.kind == "breach"]
        if not found:
            raise Refused(_("There is no such deviation any more: the entry was taken back. Load the page again."))
        if not found[0].open:
            raise Refused(_("Somebody has closed this deviation already. Load the page again."))
        data = {"texts": {"words": bench.text(writer, said)}} if said else {}
        case = line(bench, code).case["code"]
        store(bench, writer, seat, "close", jaw=code, case=case, allow=event_id, outcome=outcome, data=data)


def what_if(bench: Bench, code: str, event_id: str) -> State | None:
    """Return the state of a jaw if a refused entry was taken in; None where that would change nothing."""
    found = line(bench, code)
    return if_taken_in(found.table, found.state, event_id)


def decide(bench: Bench, seat: Seat, pin: str, code: str, event_id: str, outcome: str) -> bool:
    """Take a refused entry in or set it aside, in the name of who sits there; return whether the jaw changed."""
    seat.must("supervisor")
    before = _log(line(bench, code).state["log"])
    resolve(bench, code, seat.person.id, pin, event_id, outcome)
    return _log(line(bench, code).state["log"]) != before


def _log(events_done: Sequence[dict[str, Any]]) -> list[str]:
    return [event["id"] for event in events_done]
