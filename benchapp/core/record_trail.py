"""The entries of a jaw folded one by one with the one fold, so that a record can say what each one did."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

from benchapp.core.clocks import clocks as running
from benchapp.core.events import FOLDED, fold_event
from benchapp.core.fold import State, acts_of, start, take

Entry = tuple[int, str, dict[str, Any]]
"""Number, hash and body of a journal entry."""


@dataclass
class Deed:
    """One folded entry: what it said, the step that was on before it, its act, and what became of it."""

    seq: int
    event: dict[str, Any]
    server: dict[str, Any]
    t: int
    stood: str
    act: dict[str, Any] | None
    fate: Literal["counts", "taken back", "not taken", "taken in"] = "counts"
    marks: list[dict[str, Any]] = field(default_factory=list)
    taken_back_by: "Deed | None" = None

    @property
    def id(self) -> str:
        """Id of the event."""
        return str(self.event["id"])

    @property
    def kind(self) -> str:
        """Kind of the event."""
        return str(self.event["kind"])

    @property
    def effective(self) -> bool:
        """Whether the state of the jaw rests on it."""
        return self.fate in ("counts", "taken in")

    @property
    def claimed(self) -> bool:
        """Whether no PIN stands behind the person named."""
        return ["claimed", "note"] in self.server["marks"]


@dataclass
class Hold:
    """One stretch for which the jaw was held; `end` is None while it still is."""

    start: Deed
    end: Deed | None = None


@dataclass(frozen=True)
class Handed:
    """One time at which the jaw was handed to a colleague: to whom (id), and the step that was on."""

    seq: int
    server: dict[str, Any]
    to: str
    stood: str


@dataclass(frozen=True)
class Ran:
    """One clock that ran: which, between which times (UTC ms), lengths asked (ms), ended by which deed."""

    kind: Literal["floor", "ceiling"]
    since: str
    step: str
    started: int
    ended: int | None
    asked: int
    grace: int
    grade: str
    deed: Deed | None


@dataclass
class Trail:
    """All deeds of a jaw in order, its holds, its clocks, the state at the end, and to whom it was handed."""

    deeds: list[Deed]
    holds: list[Hold]
    clocks: list[Ran]
    state: State
    handed: list[Handed] = field(default_factory=list)


def follow(table: dict[str, Any], entries: Iterable[Entry]) -> Trail:
    """Fold the entries of a jaw one after the other and note what each of them changed."""
    acts = acts_of(table)
    trail = Trail([], [], [], start(table))
    by_id: dict[str, Deed] = {}
    for seq, _, body in entries:
        if body["event"]["kind"] == "hand" and body["event"]["picks"].get("to"):
            trail.handed.append(Handed(seq, body["server"], body["event"]["picks"]["to"], trail.state["now"]))
        if body["event"]["kind"] not in FOLDED or body["event"]["id"] in by_id:
            continue
        event = fold_event(body)
        act = acts.get((event["kind"], event["step"], event["outcome"]))
        deed = Deed(seq, body["event"], body["server"], event["t"], trail.state["now"], act)
        by_id[deed.id] = deed
        trail.deeds.append(deed)
        _one(table, acts, trail, by_id, deed, event)
    _last_fates(trail)
    trail.clocks = [*_distinct(trail.clocks), *_running(table, trail.state)]
    return trail


def _one(
    table: dict[str, Any],
    acts: dict[Any, Any],
    trail: Trail,
    by_id: dict[str, Deed],
    deed: Deed,
    event: dict[str, Any],
) -> None:
    before, stamps, held = _log(trail.state), dict(trail.state["stamps"]), trail.state["held"]
    trail.state = take(table, acts, trail.state, event)
    after = _log(trail.state)
    for gained in sorted(after - before):
        if gained != deed.id:
            by_id[gained].fate = "taken in"
        trail.clocks += _ended(by_id[gained], stamps)
    for lost in before - after:
        by_id[lost].fate, by_id[lost].taken_back_by = "taken back", deed
    marks: dict[str, list[dict[str, Any]]] = {}
    for mark in trail.state["marks"]:
        marks.setdefault(mark["id"], []).append(dict(mark))
    for of, found in marks.items():
        by_id[of].marks = found  # a deed that was taken back keeps the marks it had
    if trail.state["held"] and not held:
        trail.holds.append(Hold(deed))
    elif held and trail.holds and (not trail.state["held"] or trail.state["ended"]):
        trail.holds[-1].end = trail.holds[-1].end or deed


def _log(state: State) -> set[str]:
    return {event["id"] for event in state["log"]}


def _ended(deed: Deed, stamps: dict[str, int]) -> list[Ran]:
    """Return the clocks that a deed ended; `stamps` are those from before it."""
    if deed.act is None or deed.act["kind"] != "confirm":
        return []
    found: list[Ran] = []
    for since, asked, grace, grade in deed.act["floors"]:
        if since in stamps:
            found.append(Ran("floor", since, deed.act["step"], stamps[since], deed.t, asked, grace, grade, deed))
    for since, asked, grace, grade in deed.act["ceilings"]:
        if since in stamps:
            found.append(Ran("ceiling", since, deed.act["step"], stamps[since], deed.t, asked, grace, grade, deed))
    return found


def _distinct(clocks: list[Ran]) -> list[Ran]:
    """Of a step confirmed in groups a floor ends with the first group, a ceiling with the last one."""
    kept: dict[tuple[Any, ...], Ran] = {}
    for clock in clocks:
        if clock.deed is not None and clock.deed.effective:
            key = (clock.kind, clock.since, clock.step, clock.started, clock.asked, clock.grade)
            if clock.kind == "ceiling" or key not in kept:
                kept[key] = clock
    return sorted(kept.values(), key=lambda c: (c.ended or 0, c.started, c.kind))


def _running(table: dict[str, Any], state: State) -> list[Ran]:
    return [
        Ran(c["kind"], c["since"], c["step"], c["ends"] - c["ms"], None, c["ms"], 0, c["grade"], None)
        for c in running(table, state)
    ]


def _last_fates(trail: Trail) -> None:
    """What the fold refused and nobody took in since is not taken; acts on other entries are in no log."""
    log = _log(trail.state)
    for deed in trail.deeds:
        refused = any(mark["grade"] == "refused" for mark in deed.marks)
        if deed.fate == "counts" and refused and deed.id not in log:
            deed.fate = "not taken"
