"""What of a jaw waits for a supervisor: entries that were not taken, and breaches to be read and closed. Pure.

A body is a journal entry's plain data, {"event", "server"}; see `benchapp.core.events`.
"""

from collections.abc import Iterable, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Literal

from benchapp.core.fold import Event, State, acts_of, fold, take

Body = Mapping[str, Any]

READ_BY_SUPERVISOR = ("deviation", "stop")
NEVER_TAKEN_BACK = ("undo", "reason")  # they are not among the events that count, and stand all the same


@dataclass(frozen=True)
class Mark:
    """One thing out of the ordinary: why, its grade, and the limit that was missed.

    A clock: `since` the step that started it, `asked` and `took` in ms. A value: `name`, what was said, and its
    limits, as written.
    """

    why: str
    grade: str
    since: str = ""
    asked: int = 0
    took: int = 0
    name: str = ""
    said: str = ""
    least: str = ""
    most: str = ""


@dataclass(frozen=True)
class Closing:
    """Who decided about a matter, when (UTC ms), what came of it, and the text id of free words ("" without)."""

    id: str
    outcome: str
    person: str
    at: int
    words: str = ""


@dataclass(frozen=True)
class Matter:
    """One entry of a jaw that a supervisor has to look at, with all its marks; `closed` is None while it is open.

    A `refused` entry is taken in or set aside, a `breach` (grades deviation and stop) is read and closed.
    `reason` is the tile that was tapped for it, "" while none was.
    """

    kind: Literal["refused", "breach"]
    id: str
    marks: tuple[Mark, ...]
    what: str
    step: str
    outcome: str
    places: tuple[str, ...]
    t: int
    when: int
    person: str
    tablet: str
    reason: str
    closed: Closing | None

    @property
    def open(self) -> bool:
        """Whether nobody has decided yet."""
        return self.closed is None


def matters(
    table: dict[str, Any], state: State, events: Sequence[Event], bodies: Iterable[Body]
) -> list[Matter]:
    """Return the matters of a jaw, open and closed, in the order of their entries.

    `events` are its folded events and `state` what they fold to (see `core.fold`); `bodies` all its entries. A
    breach of an entry that was taken back is none any more.
    """
    known = {body["event"]["id"]: body for body in bodies}
    decided = _decided(known.values())
    counts = {event["id"] for event in state["log"]}
    found: list[Matter] = []
    for at, event in enumerate(events):
        marks = [mark for mark in state["marks"] if mark["id"] == event["id"]]
        body = known.get(event["id"])
        if any(mark["grade"] == "refused" for mark in marks):
            found.append(_refused(event, body, marks, decided))
        breaches = [mark for mark in marks if mark["grade"] in READ_BY_SUPERVISOR]
        stands = event["id"] in counts or event["kind"] in NEVER_TAKEN_BACK
        others = _servers(body, marks) if stands else []
        if breaches or others:
            found.append(_breach(table, events[:at], event, body, breaches, others, known.values(), decided))
    return found


def open_matters(
    table: dict[str, Any], state: State, events: Sequence[Event], bodies: Iterable[Body]
) -> list[Matter]:
    """Return those matters of a jaw about which nobody has decided yet."""
    return [matter for matter in matters(table, state, events, bodies) if matter.open]


def if_taken_in(table: dict[str, Any], state: State, event_id: str) -> State | None:
    """Return the state that a jaw would have if a refused entry was taken in; None where nothing would change."""
    before = len(state["log"])
    asked = {"id": "", "kind": "resolve", "allow": event_id, "outcome": "in"}
    after = take(table, acts_of(table), deepcopy(state), asked)
    return after if len(after["log"]) > before else None


def _refused(event: Event, body: Body | None, marks: list[dict[str, Any]], decided: dict[str, Closing]) -> Matter:
    refused = [mark for mark in marks if mark["grade"] == "refused"]
    settled = all(mark["resolved"] for mark in refused)
    closing = decided.get(f"resolve {event['id']}") if settled else None
    if settled and closing is None:  # decided by an entry that the caller did not hand in
        closing = Closing("", refused[0]["resolved"], "", 0)
    return _matter("refused", event, body, [Mark(m["why"], "refused") for m in refused], "", closing)


def _breach(
    table: dict[str, Any], before: Sequence[Event], event: Event, body: Body | None,
    marks: list[dict[str, Any]], others: list[Mark], bodies: Iterable[Body], decided: dict[str, Closing],
) -> Matter:
    act = acts_of(table).get((event["kind"], event["step"], event["outcome"]), {})
    stamps = fold(table, before)["stamps"] if any(m["why"] in ("early", "late") for m in marks) else {}
    told = _each(marks, act, stamps, event) + others
    reason = next((mark["reason"] for mark in marks if mark["reason"]), "") or _reason(event["id"], body, bodies)
    return _matter("breach", event, body, told, reason, decided.get(f"close {event['id']}"))


def _matter(
    kind: Literal["refused", "breach"], event: Event, body: Body | None, marks: list[Mark], reason: str,
    closing: Closing | None,
) -> Matter:
    who = body["event"]["by"]["person"] if body else ""
    tablet = body["server"].get("tablet", "") if body else ""
    return Matter(
        kind, event["id"], tuple(marks), event["kind"], event["step"], event["outcome"], tuple(event["places"]),
        event["t"], event["when"], who, tablet, reason, closing,
    )


def _each(marks: list[dict[str, Any]], act: Mapping[str, Any], stamps: Mapping[str, int], event: Event) -> list[Mark]:
    """Return the fold's marks with the limits that they missed; the fold marks limits in the order of the act."""
    told = {
        "early": [_clock(limit, stamps, event, "early") for limit in act.get("floors", [])
                  if limit[0] in stamps and event["t"] + limit[2] < stamps[limit[0]] + limit[1]],
        "late": [_clock(limit, stamps, event, "late") for limit in act.get("ceilings", [])
                 if limit[0] in stamps and event["t"] - limit[2] > stamps[limit[0]] + limit[1]],
        "limit": [
            Mark("limit", grade, name=name, said=f"{value['value']} {value['unit']}".strip(), least=least, most=most)
            for name, least, most, grade in act.get("limits", []) for value in event["values"]
            if value["name"] == name and not _within(value["value"], least, most)
        ],
    }
    found: list[Mark] = []
    for mark in marks:
        of_grade = [one for one in told.get(mark["why"], []) if one.grade == mark["grade"] and one not in found]
        found.append(of_grade[0] if of_grade else Mark(mark["why"], mark["grade"]))
    return found


def _clock(limit: Sequence[Any], stamps: Mapping[str, int], event: Event, why: str) -> Mark:
    return Mark(why, limit[3], limit[0], limit[1], event["t"] - stamps[limit[0]])


def _within(value: str, least: str, most: str) -> bool:
    try:
        return float(least) <= float(value) <= float(most)
    except ValueError:
        return False


def _servers(body: Body | None, marks: list[dict[str, Any]]) -> list[Mark]:
    """Return the breaches that only the server could know, such as a lamp past its check date."""
    own = {(mark["why"], mark["grade"]) for mark in marks}
    told = body["server"]["marks"] if body else []
    return [Mark(why, grade) for why, grade in told if grade in READ_BY_SUPERVISOR and (why, grade) not in own]


def _reason(event_id: str, body: Body | None, bodies: Iterable[Body]) -> str:
    said = [b["event"]["outcome"] for b in bodies
            if b["event"]["kind"] == "reason" and b["event"].get("allow") == event_id]
    if said:
        return str(said[-1])
    return str(body["event"]["picks"].get("reason", "")) if body else ""


def _decided(bodies: Iterable[Body]) -> dict[str, Closing]:
    """Return the first decision about each entry, by its kind and the entry's id."""
    found: dict[str, Closing] = {}
    for body in bodies:
        event = body["event"]
        if event["kind"] in ("resolve", "close"):
            words = event.get("data", {}).get("texts", {}).get("words", "")
            found.setdefault(
                f"{event['kind']} {event.get('allow', '')}",
                Closing(event["id"], event["outcome"], event["by"]["person"], body["server"]["when"], words),
            )
    return found
