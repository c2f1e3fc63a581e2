"""Release of jaws by a supervisor, and what may follow it: amendments, sent out, came back, settled."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from benchapp.actions.bench import Bench, Refused
from benchapp.actions.desk import Seat, store
from benchapp.actions.jaws import JawLine, entries_of, line
from benchapp.actions.lab import check_pin, people, today
from benchapp.actions.pairs import siblings_of
from benchapp.actions.records import given_of
from benchapp.actions.settings import setting
from benchapp.actions.tablets import names_of_tablets
from benchapp.core import events
from benchapp.core.caseline import SETTLED, unsettled
from benchapp.core.codes import spaced
from benchapp.core.lines import fault_of, tidy
from benchapp.core.readiness import Gap, Opening, Readiness, readiness
from benchapp.core.record_after import standing_release
from benchapp.core.record_trail import follow
from benchapp.core.release_words import BACK, MEANING
from benchapp.core.teeth import PLACE_KINDS, place_of
from benchapp.core.words import _
from benchapp.store.journal import Store, Writer

RELEASES = ("supervisor",)
EVERYBODY = ("technician", "supervisor", "technique-lead")
LONGEST = 600  # characters of a reason or an amendment; what a record can print whole
OTHER = "other"


class NotYet(Refused):
    """A release or what follows it cannot be stored; `faults` are all the sentences at once."""

    status = 422

    def __init__(self, faults: list[str]) -> None:
        self.faults = faults
        super().__init__(" ".join(faults))


@dataclass(frozen=True)
class Reading:
    """What somebody read of a jaw: the last entry of it that was shown, ticks and gaps that were ticked as read,
    and the reasons given for gaps, by kind."""

    seen: int
    read: frozenset[str] = frozenset()
    reasons: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Asked:
    """How a jaw stands before its release.

    `seen` is the last entry of it and its case, `released` says that a release stands, `checker` is the name of
    who did the last final check, `own` that this is the person asked for, `own_allowed` that a setting lets them.
    """

    line: JawLine
    readiness: Readiness
    seen: int
    released: bool
    checker: str
    own: bool
    own_allowed: bool

    @property
    def code(self) -> str:
        """Code of the jaw."""
        return self.line.code

    @property
    def refusals(self) -> list[str]:
        """Why it cannot be released by this person now, whatever is ticked."""
        if self.released:
            return [_("It is released already. What is to be added goes to the record as an amendment.")]
        found = [gap.words for gap in self.readiness.gaps if gap.asks == "mend"]
        if self.own and not self.own_allowed:
            found.append(_(
                "{name} did the last final check and cannot release the same jaw. Ask another supervisor, "
                "or allow it under Settings in a very small lab.", name=self.checker,
            ))
        return found


def asked(bench: Bench, seat: Seat, code: str) -> Asked:
    """Return how a jaw stands before a release by who sits there; Unknown where no case has that jaw."""
    given = given_of(bench, code)
    found = line(bench, given.jaw["code"])
    day = today(bench).isoformat()
    ready = readiness(given, siblings_of(bench, found.case["code"]), _openings(bench, found.code), day)
    names = {person.id: person.name for person in people(bench)}
    bodies = [body for _seq, _id, body in given.entries]
    released = standing_release(follow(given.table, given.entries), bodies) is not None
    own = bool(ready.checker) and ready.checker == seat.person.id
    seqs = [*(entry[0] for entry in given.entries), *(body["server"]["seq"] for body in given.changes), 0]
    return Asked(
        found, ready, max(seqs), released, names.get(ready.checker, ready.checker), own,
        setting(bench, "own_release") == "1",
    )


def _openings(bench: Bench, code: str) -> list[Opening]:
    """Return the tablets on which a jaw was opened, and when the PC last heard of each."""
    opened: dict[str, int] = {}
    for _entry, body in entries_of(bench, code):
        tablet = body["server"]["tablet"]
        if body["event"]["kind"] == "opened" and tablet:
            opened[tablet] = max(opened.get(tablet, 0), body["server"]["received"])
    seen, names = {tablet.id: tablet.seen for tablet in bench.store.tablets()}, names_of_tablets(bench)
    return [
        Opening(names.get(t, t), at, max(seen.get(t, 0), _last_entry(bench.store, t)), bench.unsent.get(t, 0))
        for t, at in sorted(opened.items())
    ]


def _last_entry(source: Store, tablet: str) -> int:
    entry = source.last_tagged("tablet", tablet)
    return int(events.read_body(entry.body)["server"]["received"]) if entry else 0


def faults_of(jaw: Asked, reading: Reading) -> list[str]:
    """Return what keeps a jaw from being released with what was read, in sentences; none when nothing does."""
    found = list(jaw.refusals)
    if jaw.seen != reading.seen:
        found.append(_("Something new was stored of this jaw since you read the page. Read it again."))
    unread = [tick.title for tick in jaw.readiness.ticks if tick.kind not in reading.read]
    unread += [gap.words for gap in jaw.readiness.gaps if gap.asks == "read" and gap.kind not in reading.read]
    found += [_("Tick that you have read this: {words}.", words=words.rstrip(".")) for words in unread]
    found += [fault for gap in jaw.readiness.gaps if gap.asks == "reason" for fault in _reason_faults(gap, reading)]
    return [_("Jaw {code}: {fault}", code=spaced(jaw.code), fault=fault) for fault in found]


def _reason_faults(gap: Gap, reading: Reading) -> list[str]:
    fault = fault_of(_("Why this may be passed over"), tidy(reading.reasons.get(gap.kind, "")), LONGEST)
    return [f"{fault} ({gap.words})"] if fault else []


def release(bench: Bench, seat: Seat, pin: str, readings: Mapping[str, Reading]) -> None:
    """Release jaws, one or the two of a case, all or none; `readings` are by the jaws' codes.

    NotYours without the role, NotYet with every fault of every jaw at once, WrongPin or Locked for the PIN, which
    is asked only once everything else is in order.
    """
    seat.must(*RELEASES)
    _none_missing(bench, seat, readings)
    check_pin(bench, seat.person.id, pin)
    with bench.store.writing() as writer:
        jaws = _none_missing(bench, seat, readings)
        for jaw in jaws:
            _store(bench, writer, seat, jaw, readings[jaw.code], [j.code for j in jaws])
            bench.jaws.pop(jaw.code, None)  # what is remembered of it for writing knows no release


def _none_missing(bench: Bench, seat: Seat, readings: Mapping[str, Reading]) -> list[Asked]:
    jaws = [asked(bench, seat, code) for code in readings]
    if not jaws or len({jaw.line.case["code"] for jaw in jaws}) > 1:
        raise NotYet([_("Jaws that are released together belong to one case. Choose one jaw, or both of a case.")])
    faults = [fault for jaw in jaws for fault in faults_of(jaw, readings[jaw.code])]
    if faults:
        raise NotYet(faults)
    return jaws


def _store(bench: Bench, writer: Writer, seat: Seat, jaw: Asked, reading: Reading, codes: list[str]) -> None:
    tip, ready = writer.tip(), jaw.readiness
    reasons = {
        gap.kind: bench.text(writer, tidy(reading.reasons[gap.kind])) for gap in ready.gaps if gap.asks == "reason"
    }
    data: dict[str, Any] = {
        "meaning": MEANING, "seq": tip.seq, "hash": tip.hash, "own": int(jaw.own),
        "ticks": [{"kind": tick.kind, "count": len(tick.lines)} for tick in ready.ticks],
        "passed": [gap.kind for gap in ready.gaps],
        "together": next((code for code in codes if code != jaw.code), ""),
    }
    data |= {"texts": reasons} if reasons else {}
    case, turn = jaw.line.case["code"], jaw.line.state["round"]
    store(bench, writer, seat, "release", case=case, jaw=jaw.code, round=turn, outcome="released", data=data)


def amend(bench: Bench, seat: Seat, code: str, words: str) -> None:
    """Add words to the record of a released jaw, dated and with the name of who sits there."""
    seat.must(*EVERYBODY)
    said = tidy(words)
    _after(bench, seat, code, "amend", [fault_of(_("What is to be added"), said, LONGEST)], texts={"words": said})


def sent(bench: Bench, seat: Seat, code: str, on: str, means: str) -> None:
    """Store that a released jaw was sent out on a day (YYYY-MM-DD), with whom or what."""
    seat.must(*EVERYBODY)
    found, said = line(bench, code), tidy(means)
    faults = [_day_fault(bench, on, _moves(found)), fault_of(_("With whom or what it was sent"), said)]
    if found.state["ended"] == "scrap":
        faults.insert(0, _("It is scrapped as a whole, and not to be used."))
    if _moves(found)[-1:] and _moves(found)[-1]["event"]["kind"] == "sent":
        faults.insert(0, _("It is sent out already. Enter first when it came back."))
    if found.release is None:
        faults.insert(0, _("It was taken up again after its release, which stands no longer. Release it anew first."))
    _after(bench, seat, code, "sent", faults, data={"on": on}, texts={"with": said})


def came_back(bench: Bench, seat: Seat, code: str, on: str, place: str, reason: str, words: str) -> None:
    """Store that a jaw came back on a day (YYYY-MM-DD): a place of the jaw or "", a reason of BACK, and words."""
    seat.must(*EVERYBODY)
    found, said = line(bench, code), tidy(words)
    faults = [_day_fault(bench, on, _moves(found))]
    if not _moves(found) or _moves(found)[-1]["event"]["kind"] != "sent":
        faults.insert(0, _("It is not sent out. Enter first when it left."))
    if reason not in BACK:
        faults.append(_("Choose why it came back."))
    if place and place_of(found.jaw["jaw"], found.jaw["teeth"], place) is None:
        faults.append(_("This jaw has no such place. Choose one of the list, or none."))
    if said or reason == OTHER:
        faults.append(fault_of(_("What was said about it"), said, LONGEST))
    keys = {"places": [place] if place else [], "outcome": reason}
    _after(bench, seat, code, "back", faults, data={"on": on}, texts={"words": said} if said else {}, **keys)


def settle(bench: Bench, seat: Seat, code: str) -> None:
    """A supervisor settles what came back of a jaw: nothing more is to be done here about it."""
    seat.must(*RELEASES)
    back = unsettled(line(bench, code).after)
    faults = [] if back else [
        _("Nothing that came back waits: somebody settled it already, or it was sent out again.")
    ]
    allow = back["event"]["id"] if back else ""
    _after(bench, seat, code, "close", faults, allow=allow, outcome=SETTLED)


def _after(
    bench: Bench, seat: Seat, code: str, kind: str, faults: list[str], data: Mapping[str, Any] | None = None,
    texts: Mapping[str, str] | None = None, **keys: Any,
) -> None:
    with bench.store.writing() as writer:
        found = line(bench, code)
        if not any(body["event"]["kind"] == "release" for body in found.after):
            raise NotYet([_("This jaw is not released yet: its record is still open, so nothing is added after it.")])
        told = [fault for fault in faults if fault]
        if told:
            raise NotYet(told)
        said = {name: bench.text(writer, words) for name, words in (texts or {}).items()}
        whole = {**(data or {}), **({"texts": said} if said else {})}
        store(bench, writer, seat, kind, case=found.case["code"], jaw=code, data=whole, **keys)


def _moves(found: JawLine) -> list[dict[str, Any]]:
    return [body for body in found.after if body["event"]["kind"] in ("sent", "back")]


def _day_fault(bench: Bench, on: str, moves: list[dict[str, Any]]) -> str:
    """Say what is wrong with a day: it is written as such, not to come, and not before the last one entered."""
    try:
        day = date.fromisoformat(on) if len(on) == 10 else None
    except ValueError:
        day = None
    if day is None:
        return _("That is no day. Write it as 2026-11-25.")
    if day > today(bench):
        return _("That day is still to come. Enter it once it has happened.")
    last = moves[-1]["event"]["data"]["on"] if moves else ""
    return _("It was last on its way on {day}; that day lies before it.", day=last) if on < last else ""


KINDS_OF_PLACES = tuple(kind for kind in PLACE_KINDS if kind not in ("sextant", "jaw"))
