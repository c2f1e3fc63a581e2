"""The whole line of events of a case in words: who, when, what; kinds that are not known here by their meaning."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.core.codes import spaced
from benchapp.core.events import FACTS, REQUESTS
from benchapp.core.record_deviations import CLOSED
from benchapp.core.record_entries import Done
from benchapp.core.record_models import Record
from benchapp.core.record_used import BEARERS
from benchapp.core.record_words import HOW, length, moment, plain
from benchapp.core.release_words import BACK, PAIR

Body = Mapping[str, Any]
ERASED = "(erased)"
LATE_MS = 60_000  # stored so much later than tapped: the tablet was offline meanwhile
TEXTS = {
    "words": "words", "by": "decided by", "why": "why", "with": "with", "patient": "patient", "order": "order",
    "prescriber": "prescriber", "pan": "pan", "marking_words": "words of the mark", "name": "name",
}  # fmt: skip


@dataclass(frozen=True)
class Told:
    """One entry of the journal in words.

    `seq` is its number, `at` the moment (ISO 8601 in the lab's zone), `jaw` its jaw's code or "" for the case as a
    whole, `where` step or sort, `lines` what was said, `late` how much later it was stored than tapped, in words.
    """

    seq: int
    at: str
    jaw: str
    kind: str
    where: str
    lines: tuple[str, ...]
    who: str
    how: str
    unusual: bool
    late: str = ""


@dataclass(frozen=True)
class Book:
    """What the names in a case's events stand for: people and texts by id, the records of its jaws by code."""

    people: Mapping[str, str]
    texts: Mapping[str, str]
    records: Mapping[str, Record]
    zone: ZoneInfo


def tell(bodies: Iterable[Body], book: Book) -> list[Told]:
    """Return every entry of a case in words, newest first."""
    done = {step.seq: step for record in book.records.values() for step in record.steps}
    told = [_told(body, book, done.get(body["server"]["seq"])) for body in bodies]
    return sorted(told, key=lambda one: -one.seq)


def _told(body: Body, book: Book, step: Done | None) -> Told:
    event, server = body["event"], body["server"]
    late = server["received"] - server["when"]
    person = event["by"]["person"]
    if step is not None:
        where, lines, who, how = step.where(), tuple(step.lines()), step.who, step.how
        unusual = bool(step.marks or step.fate_words or step.stated)
        lines += (f"time stated as {plain(step.stated)}",) if step.stated else ()
    else:
        where, lines = KINDS.get(event["kind"], event["kind"]), tuple(_lines(event, book, server["seq"]))
        who, how, unusual = book.people.get(person, person) or "on the PC", HOW[event["by"]["how"]], False
    return Told(
        server["seq"], moment(server["when"], book.zone), event["jaw"], event["kind"], where, lines, who, how, unusual,
        length(late) if late > LATE_MS else "",
    )


def _lines(event: Mapping[str, Any], book: Book, seq: int) -> list[str]:
    """Return an entry that is no entry of the bench in words; what is not known here, by its meaning."""
    say = SAYS.get(event["kind"])
    meaning = FACTS.get(event["kind"]) or REQUESTS.get(event["kind"]) or (
        f"an entry of the kind {event['kind']}, which this version does not know"
    )
    data = event.get("data", {})
    if event["kind"] == "back":
        event = {**event, "places": [_place(event["jaw"], place, book) for place in event["places"]]}
    said = [say(event, data)] if say else [meaning]
    if event["kind"] == "correct":
        return _corrected(book, seq) or said
    texts = {name: book.texts.get(id, ERASED) for name, id in data.get("texts", {}).items() if id}
    if event["kind"] == "case":
        return said
    return said + [f"{TEXTS.get(name, 'reason')}: {words}" for name, words in texts.items()]


def _place(jaw: str, place: str, book: Book) -> str:
    """Return the words that the record of a jaw has for a place it came back for."""
    back = book.records[jaw].after.back if jaw in book.records else []
    return next((one.place_words for one in back if one.place == place), place)


def _corrected(book: Book, seq: int) -> list[str]:
    found = [c for record in book.records.values() for c in record.changes.corrections if c.seq == seq]
    return list(dict.fromkeys(f"{c.title}: {c.earlier} → {c.new}" for c in found))


def _jaws(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    said = " and ".join(f"{jaw['jaw']} {spaced(jaw['code'])}" for jaw in data.get("jaws", []))
    return f"{'accepted' if event['kind'] == 'case' else 'made again as a whole'}: {said}{_borne(data)}"


def _borne(data: Mapping[str, Any]) -> str:
    return f"; borne by {BEARERS.get(data['bearer'], data['bearer'])}" if data.get("bearer") else ""


def _remade(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    made = data["made"]
    said = f"{made['part']} scrapped, make {made['make']} takes its place: tag {spaced(made['code'])}"
    return said + _borne(data)


def _back(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    place = f" ({event['places'][0]})" if event["places"] else ""
    return f"came back on {data['on']}: {BACK.get(event['outcome'], event['outcome'])}{place}"


Say = Callable[[Mapping[str, Any], Mapping[str, Any]], str]
SAYS: dict[str, Say] = {
    "case": _jaws, "successor": _jaws, "remake": _remade, "back": _back,
    "allergy": lambda e, d: f"decided on {d.get('on', '')}: {'goes on' if d.get('goes_on') else 'does not go on'}",
    "pair": lambda e, d: PAIR.get(e["outcome"], str(e["outcome"])),
    "sent": lambda e, d: f"sent out on {d['on']}",
    "release": lambda e, d: "released" + (" by who did the last final check" if d.get("own") else ""),
    "close": lambda e, d: f"deviation read and closed: {CLOSED.get(e['outcome'], e['outcome'])}",
}  # fmt: skip
KINDS = {
    "case": "case", "correct": "correction", "allergy": "allergy", "cancel": "cancelled", "reopen": "goes on",
    "remake": "remake", "successor": "remake", "pair": "pair check", "release": "release", "amend": "amendment",
    "sent": "sent out", "back": "came back", "close": "supervisor", "opened": "tablet", "claimed": "tablet",
}  # fmt: skip
