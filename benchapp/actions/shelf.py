"""The shelf as the desk works on it: lots and devices are added, corrected, opened, spent, checked, blocked.

Every change is a new event of the thing as a whole; its history and its recall are read from the journal.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.desk import Seat, store
from benchapp.actions.jaws import JawLine, line, protocol_of, texts_of
from benchapp.actions.lab import people, today
from benchapp.actions.overview import AFTERWARDS, ENDED
from benchapp.actions.stock import add, life, said, same, same_as, thing_now, things
from benchapp.core import events
from benchapp.core.sheet import DeviceSheet, MaterialSheet
from benchapp.core.stock import Of, Thing, changes
from benchapp.core.words import N_, _
from benchapp.store.journal import Writer

BOTH = ("technician", "supervisor")
MOST_WORDS = 200
WHICH = {"upper": N_("upper"), "lower": N_("lower")}


@dataclass(frozen=True)
class Change:
    """One entry of a thing's history: when (UTC ms), who, and what changed, in words."""

    when: int
    who: str
    words: list[str]


@dataclass(frozen=True)
class Use:
    """One fact that picked a thing: in which jaw of which case, at which step, when (UTC ms), by whom.

    `counts` is false where the fact was taken back or not taken, or its jaw is not known here.
    """

    jaw: str
    which: str
    case: str
    patient: str
    step: str
    when: int
    who: str
    counts: bool
    stands: str


def the_thing(bench: Bench, of: Of, code: str) -> Thing:
    """Return a device or a lot as it is now; Unknown where there is none of that sort and code."""
    found = thing_now(bench.store, code)
    if found is None or found.of != of:
        if of == "material":
            raise Unknown(_("No lot has the code {code} here. Read its label again, or add it.", code=code))
        raise Unknown(_("No device has the code {code} here. Read its label again, or add it.", code=code))
    return found


def put_on_shelf(bench: Bench, seat: Seat, sheet: DeviceSheet | MaterialSheet) -> str:
    """Add a lot (technician or supervisor) or a device (supervisor); return its code. Refused when it is known."""
    seat.must(*(BOTH if isinstance(sheet, MaterialSheet) else ("supervisor",)))
    with bench.store.writing() as writer:
        _not_twice(bench, sheet)
        of, data = add(bench, writer, sheet)
        store(bench, writer, seat, of, data=data)
    return str(data["thing"])


def _not_twice(bench: Bench, sheet: DeviceSheet | MaterialSheet, own: str = "") -> None:
    """Raise Refused where another thing has the same name (and lot): two codes for one bottle help nobody."""
    twin = next(
        (t for t in things(bench) if t.code != own and same(t.of, t.name, t.lot) == same_as(sheet)), None
    )
    if twin is not None:
        if twin.of == "material":
            raise Refused(_(
                "lot {lot} of {name} stands on the shelf already, with the code {code}. Correct that one.",
                lot=twin.lot, name=twin.name, code=twin.code,
            ))
        raise Refused(_("{name} stands on the shelf already, with the code {code}. Correct that one.",
                        name=twin.name, code=twin.code))


def correct(bench: Bench, seat: Seat, code: str, sheet: DeviceSheet | MaterialSheet, seen: str) -> bool:
    """Correct what is said of a thing (supervisor); say whether anything changed.

    `seen` is the id of the entry that the form was filled from: Refused where somebody was quicker.
    """
    seat.must("supervisor")
    with bench.store.writing() as writer:
        body, thing = _last(writer, code)
        if body["event"]["id"] != seen:
            raise Refused(
                _("Somebody changed this in the meantime. Compare with what stands there now, and send again.")
            )
        _not_twice(bench, sheet, code)
        new = said(sheet)
        if sheet.name != thing.name:
            new["texts"] = body["event"]["data"]["texts"] | {"name": bench.text(writer, sheet.name)}
        return _store(bench, writer, seat, body, new)


def set_opened(bench: Bench, seat: Seat, code: str, day: date | None) -> bool:
    """Say on which day a lot was opened, or that it was not; say whether that is new."""
    seat.must(*BOTH)
    if day is not None and day > today(bench):
        raise Refused(
            _("{day} lies ahead. A lot is marked as opened on the day it is opened, or later.", day=day)
        )
    return _change(bench, seat, code, opened=day.isoformat() if day else "")


def set_spent(bench: Bench, seat: Seat, code: str, spent: bool) -> bool:
    """Say that nothing of a lot is left, or that a device is out of use, or take that back; say whether it is new."""
    found = thing_now(bench.store, code)
    seat.must(*(BOTH if found and found.of == "material" else ("supervisor",)))
    return _change(bench, seat, code, spent=int(spent))


def set_checked(bench: Bench, seat: Seat, code: str, checked: date, due: date | None) -> bool:
    """Say when a device was checked and by when it must be checked again (supervisor); say whether that is new."""
    seat.must("supervisor")
    if checked > today(bench):
        raise Refused(_("{day} lies ahead. Enter a check on the day it was done, or later.", day=checked))
    if due is not None and due < checked:
        raise Refused(_("The next check is due before this one. Put the two days in order."))
    return _change(bench, seat, code, checked=checked.isoformat(), due=due.isoformat() if due else "")


def block(bench: Bench, seat: Seat, code: str, reason: str) -> bool:
    """Block a thing with a reason (supervisor): from now on the bench stops whoever picks it. Say whether it is new."""
    seat.must("supervisor")
    words = " ".join(reason.split())
    if not words or len(words) > MOST_WORDS:
        raise Refused(
            _("Say why it is blocked, in 1 to {most} characters: the bench shows it.", most=MOST_WORDS)
        )
    with bench.store.writing() as writer:
        body, thing = _last(writer, code)
        if thing.blocked and thing.reason == words:
            return False
        texts = body["event"]["data"]["texts"] | {"reason": bench.text(writer, words)}
        return _store(bench, writer, seat, body, {"blocked": 1, "texts": texts})


def unblock(bench: Bench, seat: Seat, code: str) -> bool:
    """Let a blocked thing be used again (supervisor); say whether it was blocked."""
    seat.must("supervisor")
    with bench.store.writing() as writer:
        body, _thing = _last(writer, code)
        texts = {name: id for name, id in body["event"]["data"]["texts"].items() if name != "reason"}
        return _store(bench, writer, seat, body, {"blocked": 0, "texts": texts})


def _change(bench: Bench, seat: Seat, code: str, **keys: Any) -> bool:
    with bench.store.writing() as writer:
        return _store(bench, writer, seat, _last(writer, code)[0], keys)


def _last(writer: Writer, code: str) -> tuple[dict[str, Any], Thing]:
    lives = life(writer, code)
    if not lives:
        raise Unknown(_("Nothing on the shelf has the code {code}. Read its label again, or add it.", code=code))
    return lives[-1]


def _store(bench: Bench, writer: Writer, seat: Seat, body: Mapping[str, Any], keys: Mapping[str, Any]) -> bool:
    """Store a thing's data with some keys changed; nothing where they say what was known (older entries say less)."""
    kind, data = body["event"]["kind"], body["event"]["data"]
    if all(data.get(key, type(value)()) == value for key, value in keys.items()):
        return False
    store(bench, writer, seat, kind, data={**data, **keys})
    return True


def last_entry(bench: Bench, code: str) -> str:
    """Return the id of a thing's last entry, for a form that is filled from it."""
    return str(life(bench.store, code)[-1][0]["event"]["id"])


def history(bench: Bench, code: str) -> list[Change]:
    """Return what happened to a thing, newest first."""
    names = {person.id: person.name for person in people(bench)}
    found: list[Change] = []
    before: Thing | None = None
    for body, thing in life(bench.store, code):
        who = names.get(body["event"]["by"]["person"], _("the lab sheet"))
        found.append(Change(body["server"]["when"], who, changes(before, thing)))
        before = thing
    return found[::-1]


def recall(bench: Bench, code: str) -> list[Use]:
    """Return every fact that picked this code, in order of time: which cases got this lot, or saw this lamp."""
    names = {person.id: person.name for person in people(bench)}
    bodies = [events.read_body(entry.body) for entry in bench.store.tagged("picked", code)]
    found = [_use(bench, body["event"], body["server"]["when"], names) for body in bodies]
    return sorted(found, key=lambda use: use.when)


def _use(bench: Bench, event: Mapping[str, Any], when: int, names: Mapping[str, str]) -> Use:
    person = event["by"]["person"]
    who = names.get(person, person)
    try:
        found = line(bench, event["jaw"])
    except Unknown:
        return Use(
            event["jaw"], _("unknown"), event["case"], "", event["step"], when, who, False, _("not known here")
        )
    steps = {step.id: step.title for step in protocol_of(bench, found).steps}
    patient = found.case["texts"]["patient"]
    counts = any(one["id"] == event["id"] for one in found.state["log"])
    return Use(
        found.code, _(WHICH[found.jaw["jaw"]]), found.case["code"], texts_of(bench, [patient])[patient],
        steps.get(event["step"], event["step"]), when, who, counts, _stands(found, steps),
    )


def _stands(found: JawLine, steps: Mapping[str, str]) -> str:
    """Say where a jaw is now: for a recall it matters whether it has left the lab."""
    state = found.state
    gone = [body["event"]["kind"] for body in found.after if body["event"]["kind"] in ("release", "sent", "back")]
    if gone and (found.release or gone[-1] != "release"):
        return _(AFTERWARDS[gone[-1]])
    return _(ENDED.get(state["ended"], "")) or steps.get(state["now"], state["now"])
