"""The lab itself: its name and zone, its people with their PINs, its devices and lots."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal
from zoneinfo import ZoneInfo

from werkzeug.security import check_password_hash, generate_password_hash

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.stock import add, same, same_as, things
from benchapp.core import events
from benchapp.core.sheet import DeviceSheet, LabSheet, MaterialSheet, PersonSheet
from benchapp.core.stock import ERASED, day_of
from benchapp.core.words import N_, _, n_
from benchapp.store.journal import Tries, Writer

WRONG_TRIES = 5
LOCKED_MS = 5 * 60_000
PIN_LENGTH = 4
TOO_MANY = {
    "PINs": N_("Too many wrong PINs: pause of 5 minutes."), "badges": N_("Too many wrong badges: pause of 5 minutes."),
}


class WrongPin(Refused):
    """The PIN is not that person's."""

    status = 403


class Locked(Refused):
    """Too many wrong PINs or badges; the person or the tablet is locked for a while."""

    status = 429


class Gone(Refused):
    """Somebody left, or their last day is over."""

    status = 403


@dataclass(frozen=True)
class Person:
    """Somebody of the lab: id, name as printed, roles, whether they left, their last day (YYYY-MM-DD or "")."""

    id: str
    name: str
    roles: tuple[str, ...]
    left: bool = False
    until: str = ""


@dataclass(frozen=True)
class Lab:
    """Name, address and IANA time zone of the laboratory."""

    name: str
    address: str
    zone: str


def no_lab() -> Lab:
    """Return what stands for the laboratory until a lab sheet was taken in."""
    return Lab(_("Laboratory without a name"), "", "UTC")


def add_lab(bench: Bench, sheet: LabSheet) -> dict[str, str]:
    """Take a lab sheet in; return the PINs of the people by name, to be told to them once.

    A person, device or lot whose name (and lot) is known already is left as it is.
    """
    pins: dict[str, str] = {}
    known_people = {person.name for person in people(bench)}
    known_things = {same(thing.of, thing.name, thing.lot) for thing in things(bench)}
    with bench.store.writing() as writer:
        texts = {name: bench.text(writer, getattr(sheet, name)) for name in ("name", "address")}
        bench.request(writer, "lab", data={"texts": texts, "zone": sheet.zone})
        for person in sheet.people:
            if person.name not in known_people:
                pins[person.name] = _add_person(bench, writer, person)
        written: list[DeviceSheet | MaterialSheet] = [*sheet.devices, *sheet.materials]
        for thing in written:
            if same_as(thing) not in known_things:
                of, data = add(bench, writer, thing)
                bench.request(writer, of, data=data)
    return pins


def _add_person(bench: Bench, writer: Writer, sheet: PersonSheet) -> str:
    pin = sheet.pin or "".join(bench.chance.choose("0123456789") for _ in range(PIN_LENGTH))
    person = bench.chance.new_id()
    data = {"thing": person, "texts": {"name": bench.text(writer, sheet.name)}, "roles": list(sheet.roles)}
    bench.request(writer, "person", data=data)
    writer.put_secret(person, "pin", generate_password_hash(pin))
    return pin


def _data(bench: Bench, kind: str) -> list[dict[str, Any]]:
    """Return the newest data of each thing of a kind, in the order of first appearance."""
    newest: dict[str, dict[str, Any]] = {}
    for entry in bench.store.tagged("kind", kind):
        data = events.read_body(entry.body)["event"]["data"]
        newest[data.get("thing", kind)] = data
    return list(newest.values())


def _words(bench: Bench, data: dict[str, Any], name: str) -> str:
    return bench.store.text(data["texts"][name]) or _(ERASED)


def lab_of(bench: Bench) -> Lab:
    """Return who the laboratory is; `no_lab()` until a lab sheet was taken in."""
    found = _data(bench, "lab")
    if not found:
        return no_lab()
    return Lab(_words(bench, found[-1], "name"), _words(bench, found[-1], "address"), found[-1]["zone"])


def people(bench: Bench) -> list[Person]:
    """Return everybody who ever worked in the lab: records name them for good."""
    return [
        Person(d["thing"], _words(bench, d, "name"), tuple(d["roles"]), bool(d.get("left")), d.get("until", ""))
        for d in _data(bench, "person")
    ]


def workers(bench: Bench) -> list[Person]:
    """Return who may sign in today, for the tiles."""
    return [person for person in people(bench) if not why_gone(bench, person)]


def today(bench: Bench) -> date:
    """Return the day it is in the lab's zone."""
    return day_of(bench.clock(), zone_of(bench))


def zone_of(bench: Bench) -> ZoneInfo:
    """Return the lab's time zone."""
    return ZoneInfo(lab_of(bench).zone)


def gone_by(left: bool, until: str, day: Callable[[], date]) -> Literal["", "left", "day"]:
    """Tell whether somebody who left, or whose last day is `until` ("" for none), is gone on a day, and by which.

    The day is only asked for where there is a last one: it takes the lab's zone, and this stands in the way of a tap.
    """
    if left:
        return "left"
    return "day" if until and until < day().isoformat() else ""


def why_gone(bench: Bench, person: Person) -> str:
    """Say why somebody may not sign in any more, "" when they may."""
    gone = gone_by(person.left, person.until, lambda: today(bench))
    if gone == "left":
        return _("{name} has left the lab. If they work here again, a supervisor says so at the desk.",
                 name=person.name)
    if gone == "day":
        return _("{name}'s last day was {day}. A supervisor can set another one at the desk.",
                 name=person.name, day=person.until)
    return ""


def sign_in(bench: Bench, person_id: str, pin: str, tablet: str) -> tuple[str, Person]:
    """Check a PIN; return the id of the sign-in and the person. Wrong five times: locked for five minutes."""
    person = check_pin(bench, person_id, pin)
    return note_sign_in(bench, person, "pin", tablet), person


def note_sign_in(bench: Bench, person: Person, how: str, tablet: str) -> str:
    """Store that somebody signed in by PIN or badge; return the id of the sign-in."""
    with bench.store.writing() as writer:
        return bench.request(
            writer, "signin", person.id, by={"person": person.id, "how": how, "signin": ""}, **origin(bench, tablet)
        ).event_id


def origin(bench: Bench, tablet: str) -> dict[str, Any]:
    """Return the key of the envelope that names the tablet a request came from."""
    return {"from": {"tablet": tablet, "boot": "", "n": 0, "app": bench.version}}


def check_pin(bench: Bench, person_id: str, pin: str) -> Person:
    """Return the person whose PIN this is; WrongPin, Locked, Gone or Unknown otherwise. Wrong tries are counted."""
    person = next((p for p in people(bench) if p.id == person_id), None)
    if person is None:
        raise Unknown(_("Nobody of that tile works here any more. Load the page again."))
    if why := why_gone(bench, person):
        raise Gone(why)
    must_not_be_locked(bench, person_id, n_(
        "{name} is locked after {n} wrong PIN.", "{name} is locked after {n} wrong PINs.", WRONG_TRIES, name=person.name
    ))
    if check_password_hash(bench.store.secret(person_id, "pin") or "", pin):
        with bench.store.writing() as writer:
            writer.put_tries(Tries(person_id))
        return person
    more = count_wrong(bench, person_id, "PINs", person_id)
    raise WrongPin(" ".join([_("That is not {name}'s PIN.", name=person.name), more]))


def must_not_be_locked(bench: Bench, holder: str, words: str) -> None:
    """Raise Locked with these words, and for how long, while the tries of a person or a tablet are locked."""
    left = bench.store.tries(holder).locked_until - bench.clock()
    if left > 0:
        raise Locked(" ".join([words, _("Try again in {minutes} min.", minutes=-(-left // 60_000))]))


def count_wrong(bench: Bench, holder: str, what: str, person: str = "", **keys: Any) -> str:
    """Count a wrong try of a person or a tablet; the last one locks and is recorded. Say what follows.

    `what` is a key of TOO_MANY.
    """
    with bench.store.writing() as writer:
        wrong, now = writer.tries(holder).wrong + 1, bench.clock()
        locked = wrong >= WRONG_TRIES
        writer.put_tries(Tries(holder, 0 if locked else wrong, now, now + LOCKED_MS if locked else 0))
        if locked:
            bench.request(writer, "locked", person, **keys)
    left = WRONG_TRIES - wrong
    if left <= 0:
        return _(TOO_MANY[what])
    return n_(
        "{n} more try, then a pause of 5 minutes.", "{n} more tries, then a pause of 5 minutes.", left
    )
