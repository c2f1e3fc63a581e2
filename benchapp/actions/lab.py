"""The lab itself: its name and zone, its people with their PINs, its devices and lots."""

from dataclasses import dataclass
from typing import Any

from werkzeug.security import check_password_hash, generate_password_hash

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.core import events
from benchapp.core.sheet import DeviceSheet, LabSheet, MaterialSheet, PersonSheet
from benchapp.store.journal import Tries, Writer

WRONG_TRIES = 5
LOCKED_MS = 5 * 60_000
PIN_LENGTH = 4


class WrongPin(Refused):
    """The PIN is not that person's."""

    status = 403


class Locked(Refused):
    """Too many wrong PINs; the person is locked for a while."""

    status = 429


@dataclass(frozen=True)
class Person:
    """Somebody of the lab: id, name as printed, roles."""

    id: str
    name: str
    roles: tuple[str, ...]


@dataclass(frozen=True)
class Thing:
    """A device or a lot that can be picked: code, kind, name, and what else is known of it."""

    code: str
    of: str
    kind: str
    name: str
    about: str


@dataclass(frozen=True)
class Lab:
    """Name, address and IANA time zone of the laboratory."""

    name: str
    address: str
    zone: str


NO_LAB = Lab("Laboratory without a name", "", "UTC")


def add_lab(bench: Bench, sheet: LabSheet) -> dict[str, str]:
    """Take a lab sheet in; return the PINs of the people by name, to be told to them once.

    A person, device or lot whose name (and lot) is known already is left as it is.
    """
    pins: dict[str, str] = {}
    known_people = {person.name for person in people(bench)}
    known_things = {(thing.of, thing.name, thing.about) for thing in things(bench)}
    with bench.store.writing() as writer:
        texts = {name: bench.text(writer, getattr(sheet, name)) for name in ("name", "address")}
        bench.request(writer, "lab", data={"texts": texts, "zone": sheet.zone})
        for person in sheet.people:
            if person.name not in known_people:
                pins[person.name] = _add_person(bench, writer, person)
        for device in sheet.devices:
            if ("device", device.name, "") not in known_things:
                _add_device(bench, writer, device)
        for material in sheet.materials:
            if ("material", material.name, _about(material.lot, material.expiry.isoformat(), material.tint)) not in (
                known_things
            ):
                _add_material(bench, writer, material)
    return pins


def _add_person(bench: Bench, writer: Writer, sheet: PersonSheet) -> str:
    pin = sheet.pin or "".join(bench.chance.choose("0123456789") for _ in range(PIN_LENGTH))
    person = bench.chance.new_id()
    data = {"thing": person, "texts": {"name": bench.text(writer, sheet.name)}, "roles": list(sheet.roles)}
    bench.request(writer, "person", data=data)
    writer.put_secret(person, "pin", generate_password_hash(pin))
    return pin


def _add_device(bench: Bench, writer: Writer, sheet: DeviceSheet) -> None:
    data = {"thing": bench.code("D"), "kind": sheet.kind, "texts": {"name": bench.text(writer, sheet.name)}}
    bench.request(writer, "device", data=data)


def _add_material(bench: Bench, writer: Writer, sheet: MaterialSheet) -> None:
    data = {
        "thing": bench.code("S"), "kind": sheet.kind, "lot": sheet.lot, "expiry": sheet.expiry.isoformat(),
        "tint": sheet.tint, "texts": {"name": bench.text(writer, sheet.name)},
    }
    bench.request(writer, "material", data=data)


def _about(lot: str, expiry: str, tint: str) -> str:
    return " · ".join(part for part in (f"lot {lot}", tint, f"use by {expiry}") if part)


def _data(bench: Bench, kind: str) -> list[dict[str, Any]]:
    """Return the newest data of each thing of a kind, in the order of first appearance."""
    newest: dict[str, dict[str, Any]] = {}
    for entry in bench.store.tagged("kind", kind):
        data = events.read_body(entry.body)["event"]["data"]
        newest[data.get("thing", kind)] = data
    return list(newest.values())


def _words(bench: Bench, data: dict[str, Any], name: str) -> str:
    return bench.store.text(data["texts"][name]) or "(erased)"


def lab_of(bench: Bench) -> Lab:
    """Return who the laboratory is; NO_LAB until a lab sheet was taken in."""
    found = _data(bench, "lab")
    if not found:
        return NO_LAB
    return Lab(_words(bench, found[-1], "name"), _words(bench, found[-1], "address"), found[-1]["zone"])


def people(bench: Bench) -> list[Person]:
    """Return everybody who works in the lab."""
    return [Person(d["thing"], _words(bench, d, "name"), tuple(d["roles"])) for d in _data(bench, "person")]


def things(bench: Bench) -> list[Thing]:
    """Return the devices and lots that can be picked."""
    found = [Thing(d["thing"], "device", d["kind"], _words(bench, d, "name"), "") for d in _data(bench, "device")]
    return found + [
        Thing(d["thing"], "material", d["kind"], _words(bench, d, "name"), _about(d["lot"], d["expiry"], d["tint"]))
        for d in _data(bench, "material")
    ]


def sign_in(bench: Bench, person_id: str, pin: str, tablet: str) -> tuple[str, Person]:
    """Check a PIN; return the id of the sign-in and the person. Wrong five times: locked for five minutes."""
    person = check_pin(bench, person_id, pin)
    with bench.store.writing() as writer:
        entry = bench.request(
            writer, "signin", person_id, by={"person": person_id, "how": "pin", "signin": ""},
            **{"from": {"tablet": tablet, "boot": "", "n": 0, "app": bench.version}},
        )
    return entry.event_id, person


def check_pin(bench: Bench, person_id: str, pin: str) -> Person:
    """Return the person whose PIN this is; WrongPin, Locked or Unknown otherwise. Wrong tries are counted."""
    person = next((p for p in people(bench) if p.id == person_id), None)
    if person is None:
        raise Unknown("Nobody of that tile works here any more. Load the page again.")
    tries, now = bench.store.tries(person_id), bench.clock()
    if now < tries.locked_until:
        minutes = -(-(tries.locked_until - now) // 60_000)
        raise Locked(f"{person.name} is locked after {WRONG_TRIES} wrong PINs. Try again in {minutes} min.")
    right = check_password_hash(bench.store.secret(person_id, "pin") or "", pin)
    with bench.store.writing() as writer:
        if right:
            writer.put_tries(Tries(person_id))
            return person
        wrong = bench.store.tries(person_id).wrong + 1
        locked = wrong >= WRONG_TRIES
        writer.put_tries(Tries(person_id, 0 if locked else wrong, now, now + LOCKED_MS if locked else 0))
        if locked:
            bench.request(writer, "locked", person_id)
    left = WRONG_TRIES - wrong
    raise WrongPin(f"That is not {person.name}'s PIN. " + (
        f"{left} more {'try' if left == 1 else 'tries'}, then a pause of 5 minutes." if left else
        "Too many wrong PINs: pause of 5 minutes."))
