"""A jaw as the tools know it: its case, its parts, its table, and the state that its events fold to."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.lab import Person, check_pin
from benchapp.core import events, words
from benchapp.core.caseline import Body, case_now, moves, released
from benchapp.core.faults import read_toml
from benchapp.core.fold import Event, State, acts_of, fold, take
from benchapp.core.protocol import Protocol
from benchapp.core.protocol_words import spoken
from benchapp.core.seating_line import belongs
from benchapp.core.words import N_, _
from benchapp.store.journal import Entry, Store, Writer

REFUSALS = {
    "ended": N_("it is scrapped already"), "who": N_("that takes a supervisor"), "held": N_("it is on hold"),
}  # fmt: skip
AFTER = frozenset({"release", "amend", "sent", "back", "close", "remake"})
REMEMBERED = 500  # jaws whose state is kept at hand; more than a lab has open at once


@dataclass
class JawLine:
    """One jaw: what was accepted with its case, its table, and its events as far as `seq`."""

    code: str
    case: dict[str, Any]
    jaw: dict[str, Any]
    table_hash: str
    table: dict[str, Any]
    acts: dict[Any, Any]
    state: State
    seq: int = 0
    events: list[Event] = field(default_factory=list)
    charge: str = ""  # who has it in hand: the last person who confirmed, or to whom it was handed since
    handed: bool = False  # whether it was handed to them
    after: list[dict[str, Any]] = field(default_factory=list)  # bodies of what the fold does not ask: release …
    release: Body | None = None  # the one that stands, see `core.caseline`
    seating: list[dict[str, Any]] = field(default_factory=list)  # bodies of its seating check, see `core.seating_line`

    def add(self, body: dict[str, Any]) -> list[list[str]]:
        """Fold one more stored event in; return the marks that it got, as [why, grade]."""
        event = events.fold_event(body)
        self.events.append(event)
        self.seq = body["server"]["seq"]
        self.state = take(self.table, self.acts, self.state, event)
        marks = [[m["why"], m["grade"]] for m in self.state["marks"] if m["id"] == event["id"]]
        if moves(event["kind"], marks):
            self.release = None
        return marks


def line(bench: Bench, code: str) -> JawLine:
    """Return the line of a jaw as the journal stands now, to be read only; Unknown where no case has that jaw."""
    last = bench.store.last_tagged("jaw", code)
    kept: tuple[tuple[int, int], JawLine] | None = bench.lines.get(code)
    if kept and last and kept[0] == _stand(bench.store, last, kept[1].case["code"]):
        return kept[1]
    found = _open(code, bench.store)
    if last:
        bench.lines[code] = _stand(bench.store, last, found.case["code"]), found
    return found


def _stand(source: Store, last: Entry, case: str) -> tuple[int, int]:
    """Return the numbers of the last entries of a jaw and of changes of its case: until they grow, all stays."""
    changed = source.last_tagged("order", case)
    return last.seq, changed.seq if changed else 0


def line_for_writing(bench: Bench, code: str, writer: Writer) -> JawLine:
    """Return the remembered line of a jaw; only for the one who holds the writer, who alone may change it."""
    known: JawLine | None = bench.jaws.get(code)
    if known is None:
        if len(bench.jaws) >= REMEMBERED:
            bench.jaws.clear()
        known = bench.jaws[code] = _open(code, writer)
    return known


def _open(code: str, source: Store | Writer) -> JawLine:
    entries = source.tagged("jaw", code)
    bodies = [events.read_body(entry.body) for entry in entries]
    opened = next((b for b in bodies if b["event"]["kind"] in ("case", "successor")), None)
    if opened is None:
        raise Unknown(
            _("No jaw has the code {code} here. Read the label again, or add its case sheet first.", code=code)
        )
    case = case_as_it_is(source, opened["event"]["case"])
    jaw = next(j for j in case["jaws"] if j["code"] == code)
    body = source.course(jaw["table"])
    if body is None:
        raise Unknown(
            _("The table of jaw {code} is missing: run `benchapp verify`, then restore the last backup.", code=code)
        )
    table = json.loads(body)
    folded = [events.fold_event(b) for b in bodies if b["event"]["kind"] in events.FOLDED]
    after = [b for b in bodies if b["event"]["kind"] in AFTER]
    return JawLine(
        code, case, jaw, jaw["table"], table, acts_of(table), fold(table, folded), entries[-1].seq, folded,
        *_charge(bodies), after, released(bodies), [b for b in bodies if belongs(b)],
    )


def _charge(bodies: list[dict[str, Any]]) -> tuple[str, bool]:
    for body in reversed(bodies):
        event = body["event"]
        if event["kind"] == "hand":
            return str(event["picks"].get("to", "")), True
        if event["kind"] == "confirm":
            return str(event["by"]["person"]), False
    return "", False


def case_as_it_is(source: Store | Writer, code: str) -> dict[str, Any]:
    """Return the data of a case with all its changes (see `core.caseline`); Unknown where there is no such case."""
    first = source.first_tagged("case", code)
    body = events.read_body(first.body) if first else None
    if body is None or body["event"]["kind"] != "case":
        raise Unknown(
            _("No case has the code {code} here. Read the label again, or add its case sheet first.", code=code)
        )
    changes = [events.read_body(entry.body) for entry in source.tagged("order", code)]
    return case_now(body["event"]["data"], changes)


def entries_of(bench: Bench, code: str, after: int = 0) -> list[tuple[Entry, dict[str, Any]]]:
    """Return the journal entries of a jaw later than number `after` with their bodies, in order."""
    return [(entry, events.read_body(entry.body)) for entry in bench.store.tagged("jaw", code, after)]


def protocol_of(bench: Bench, found: JawLine) -> Protocol:
    """Return the protocol that a jaw was opened with, in the edition of that day and the language in use."""
    name = found.jaw["protocol"]
    key = f"{name} {words.in_use()}"
    if key not in bench.protocols:
        body = bench.store.course(name)
        if body is None:
            raise Unknown(_("The protocol of jaw {code} is missing: run `benchapp verify`, then restore a backup.",
                            code=found.code))
        # Its sense was checked when the case was accepted; walking the table again would cost half a second.
        bench.protocols[key] = spoken(read_toml(f"protocol of {found.code}", body.decode(), Protocol))
    return bench.protocols[key]


def texts_of(bench: Bench, ids: Iterable[str]) -> dict[str, str]:
    """Return the words behind text ids; an erased text reads "(erased)"."""
    wanted = [i for i in ids if i]
    known = bench.store.texts(wanted)
    return {i: known.get(i, _("(erased)")) for i in wanted}


def scrap(bench: Bench, code: str, person: str, pin: str, reason: str) -> None:
    """Scrap a jaw as a whole; Refused when the PIN is wrong, the person may not, or the jaw is scrapped already."""
    who = check_pin(bench, person, pin)
    _request_on(bench, code, "scrap", who, picks={"reason": reason})


def resolve(bench: Bench, code: str, person: str, pin: str, event_id: str, outcome: str) -> None:
    """A supervisor takes a refused event in ("in") or sets it aside ("aside")."""
    who = check_pin(bench, person, pin)
    if "supervisor" not in who.roles:
        raise Refused(_("Only a supervisor may decide on a marked entry."))
    if outcome not in ("in", "aside"):
        raise Refused(_("A marked entry is taken in or set aside."))
    if not any(m["id"] == event_id and not m["resolved"] for m in line(bench, code).state["marks"]):
        raise Refused(_("There is no open mark of that entry. Load the page again."))
    _request_on(bench, code, "resolve", who, outcome=outcome, allow=event_id)


def _request_on(bench: Bench, code: str, kind: str, who: Person, **what: Any) -> None:
    with bench.writing() as writer:
        store_on_jaw(bench, writer, code, kind, who, **what)


def store_on_jaw(bench: Bench, writer: Writer, code: str, kind: str, who: Person, **what: Any) -> None:
    """Store a request that moves a jaw, folded as every event of it is; `what` are keys of the event.

    Only inside `bench.writing()`. Raises Refused where the jaw does not take it now.
    """
    found, now, roles = line_for_writing(bench, code, writer), bench.received(writer), list(who.roles)
    event = bench.envelope(kind, who.id, now) | {"jaw": code, "round": found.state["round"]} | what
    marks = found.add({"event": event, "server": {"seq": found.seq, "when": now, "roles": roles}})
    if any(grade == "refused" for _why, grade in marks):
        why = _(REFUSALS.get(marks[0][0], marks[0][0]))
        raise Refused(_("This cannot be done to jaw {code} now: {why}.", code=code, why=why))
    found.seq = bench.write(writer, event, now, now, marks, roles).seq
