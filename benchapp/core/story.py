"""The whole line of events of a case in words: who, when, what; kinds that are not known here by their meaning."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from benchapp.core.caseline import SETTLED
from benchapp.core.codes import spaced
from benchapp.core.events import FACTS, REQUESTS
from benchapp.core.orders_words import PART_WORDS
from benchapp.core.record_deviations import CLOSED
from benchapp.core.record_entries import Done
from benchapp.core.record_models import Record
from benchapp.core.record_used import BEARERS
from benchapp.core.record_words import HOW, length, moment, plain
from benchapp.core.release_words import BACK, PAIR
from benchapp.core.words import N_, _

Body = Mapping[str, Any]
ERASED = N_("(erased)")
LATE_MS = 60_000  # stored so much later than tapped: the tablet was offline meanwhile
TEXTS = {
    "words": N_("words"), "by": N_("decided by"), "why": N_("why"), "with": N_("with"), "patient": N_("patient"),
    "order": N_("order"), "prescriber": N_("prescriber"), "pan": N_("pan"), "marking_words": N_("words of the mark"),
    "name": N_("name"),
}  # fmt: skip
REASON = N_("reason")


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
        lines += (_("time stated as {moment}", moment=plain(step.stated)),) if step.stated else ()
    else:
        where, lines = _(KINDS.get(event["kind"], event["kind"])), tuple(_lines(event, book, server["seq"]))
        who, how, unusual = book.people.get(person, person) or _("on the PC"), _(HOW[event["by"]["how"]]), False
    return Told(
        server["seq"], moment(server["when"], book.zone), event["jaw"], event["kind"], where, lines, who, how, unusual,
        length(late) if late > LATE_MS else "",
    )


def _lines(event: Mapping[str, Any], book: Book, seq: int) -> list[str]:
    """Return an entry that is no entry of the bench in words; what is not known here, by its meaning."""
    say = SAYS.get(event["kind"])
    known = FACTS.get(event["kind"]) or REQUESTS.get(event["kind"])
    meaning = _(known) if known else _(
        "an entry of the kind {kind}, which this version does not know", kind=event["kind"]
    )
    data = event.get("data", {})
    if event["kind"] == "back":
        event = {**event, "places": [_place(event["jaw"], place, book) for place in event["places"]]}
    said = [say(event, data)] if say else [meaning]
    if event["kind"] == "correct":
        return _corrected(book, seq) or said
    texts = {name: book.texts.get(id, _(ERASED)) for name, id in data.get("texts", {}).items() if id}
    if event["kind"] == "case":
        return said
    if event["kind"] == "seating":
        return said + list(texts.values())
    return said + [f"{_(TEXTS.get(name, REASON))}: {words}" for name, words in texts.items()]


def _place(jaw: str, place: str, book: Book) -> str:
    """Return the words that the record of a jaw has for a place it came back for."""
    back = book.records[jaw].after.back if jaw in book.records else []
    return next((one.place_words for one in back if one.place == place), place)


def _corrected(book: Book, seq: int) -> list[str]:
    found = [c for record in book.records.values() for c in record.changes.corrections if c.seq == seq]
    return list(dict.fromkeys(f"{c.title}: {c.earlier} → {c.new}" for c in found))


def _jaws(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    named = [f"{_(jaw['jaw'])} {spaced(jaw['code'])}" for jaw in data.get("jaws", [])]
    jaws = _("{first} and {second}", first=named[0], second=named[1]) if len(named) == 2 else ", ".join(named)
    if event["kind"] == "case":
        return _("accepted: {jaws}", jaws=jaws) + _borne(data)
    return _("made again as a whole: {jaws}", jaws=jaws) + _borne(data)


def _borne(data: Mapping[str, Any]) -> str:
    who = data.get("bearer")
    return "; " + _("borne by {bearer}", bearer=_(BEARERS.get(who, who))) if who else ""


def _remade(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    made = data["made"]
    return _(
        "{part} scrapped, make {make} takes its place: tag {code}", part=_(PART_WORDS[made["part"]]),
        make=made["make"], code=spaced(made["code"]),
    ) + _borne(data)


def _back(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    said = _("came back on {day}: {reason}", day=data["on"], reason=_(BACK.get(event["outcome"], event["outcome"])))
    return f"{said} ({event['places'][0]})" if event["places"] else said


def _decided(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    day = data.get("on", "")
    return _("decided on {day}: goes on", day=day) if data.get("goes_on") else _(
        "decided on {day}: does not go on", day=day)


def _released(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    return _("released by who did the last final check") if data.get("own") else _("released")


def _closed(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    if event["outcome"] == SETTLED:
        return _("what came back is settled")
    return _("deviation read and closed: {outcome}", outcome=_(CLOSED.get(event["outcome"], event["outcome"])))


def _attached(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    return _("design file of the {part} attached to revision {revision}: SHA-256 {hash}…",
             part=_(PART_WORDS[data["part"]]), revision=data["revision"], hash=data["hash"][:12])


def _seated(event: Mapping[str, Any], data: Mapping[str, Any]) -> str:
    told = data.get("summary")
    if not told:
        return _("base and arch could not be checked against each other")
    goes = {True: _("goes in"), False: _("does not go in"), None: _("not told whether it goes in")}[told["goes_in"]]
    resin = _("resin not told") if told["resin_ml"] is None else _(
        "about {volume} ml of resin", volume=f"{told['resin_ml']:.2f}")
    return _("base and arch checked: {goes}; {resin}; report SHA-256 {hash}…", goes=goes, resin=resin,
             hash=data["report"][:12])


Say = Callable[[Mapping[str, Any], Mapping[str, Any]], str]
SAYS: dict[str, Say] = {
    "case": _jaws, "successor": _jaws, "remake": _remade, "back": _back,
    "mesh": _attached, "seating": _seated,
    "allergy": _decided, "release": _released, "close": _closed,
    "pair": lambda e, d: _(PAIR.get(e["outcome"], str(e["outcome"]))),
    "sent": lambda e, d: _("sent out on {day}", day=d["on"]),
}  # fmt: skip
KINDS = {
    "case": N_("case"), "correct": N_("correction"), "allergy": N_("allergy"), "cancel": N_("cancelled"),
    "reopen": N_("goes on"), "remake": N_("remake"), "successor": N_("remake"), "pair": N_("pair check"),
    "release": N_("release"), "amend": N_("amendment"), "sent": N_("sent out"), "back": N_("came back"),
    "mesh": N_("design file"), "seating": N_("seating check"),
    "close": N_("supervisor"), "opened": N_("tablet"), "claimed": N_("tablet"),
}  # fmt: skip
