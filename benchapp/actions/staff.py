"""People of the lab as a supervisor keeps them: roles, names, PINs, leavers and temps.

Each change is a `person` event with all that is known of the person then; the newest counts.
"""

import re
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, get_args

from werkzeug.security import generate_password_hash

from benchapp.actions.bench import Bench, Refused, Unknown
from benchapp.actions.desk import Seat, store
from benchapp.actions.lab import PIN_LENGTH, Gone, Person, people, today, why_gone
from benchapp.actions.settings import Amiss
from benchapp.core import events
from benchapp.core.lines import alike, fault_of, tidy
from benchapp.core.protocol import ROLE_WORDS, Role
from benchapp.core.words import N_, _
from benchapp.store.journal import Tries, Writer

ROLES: tuple[str, ...] = get_args(Role)
PIN = re.compile(r"[0-9]{4,8}")
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
LAST = N_("There is no other supervisor who stays. Make somebody else a supervisor first.")
NOBODY = N_("There is no such person here. Go back to the list of people.")


@dataclass(frozen=True)
class Member:
    """Somebody on the list: since when, last sign-in, locked until (UTC ms, 0: never), badge or not, why not here."""

    person: Person
    since: int
    seen: int
    locked: int
    badge: bool
    gone: str


def staff(bench: Bench) -> list[Member]:
    """Return everybody, who works here first, by name."""
    since, seen, now = _first_seen(bench), _last_sign_ins(bench), bench.clock()
    found = []
    for person in people(bench):
        until = bench.store.tries(person.id).locked_until
        badge = bench.store.secret(person.id, "badge") is not None
        found.append(Member(
            person, since[person.id], seen.get(person.id, 0), until if until > now else 0, badge,
            why_gone(bench, person),
        ))  # fmt: skip
    return sorted(found, key=lambda m: (bool(m.gone), m.person.name.casefold()))


def member(bench: Bench, person_id: str) -> Member:
    """Return one of the staff; Unknown where there is no such person."""
    found = next((m for m in staff(bench) if m.person.id == person_id), None)
    if found is None:
        raise Unknown(_(NOBODY))
    return found


def _first_seen(bench: Bench) -> dict[str, int]:
    bodies = [events.read_body(entry.body) for entry in reversed(bench.store.tagged("kind", "person"))]
    return {body["event"]["data"]["thing"]: body["server"]["when"] for body in bodies}


def _last_sign_ins(bench: Bench) -> dict[str, int]:
    """Read only the sign-ins since the last time: a lab has twenty thousand of them after some years."""
    after, seen = bench.lines.get("sign-ins", (0, {}))
    fresh = bench.store.tagged("kind", "signin", after)
    if fresh:
        bodies = [events.read_body(entry.body) for entry in fresh]
        seen = seen | {body["event"]["by"]["person"]: body["server"]["when"] for body in bodies}
        bench.lines["sign-ins"] = fresh[-1].seq, seen
    return dict(seen)


def add_person(
    bench: Bench, seat: Seat, name: str, roles: list[str], pin: str = "", until: str = ""
) -> tuple[str, str]:
    """Take somebody on; return their id and their PIN, drawn where none is given. Amiss with every fault at once."""
    seat.must("supervisor")
    person = Person(bench.chance.new_id(), tidy(name), _sorted(roles), until=until)
    faults = person_faults(bench, person) + pin_faults(pin)
    if faults:
        raise Amiss(faults)
    pin = pin or _drawn(bench)
    hashed = generate_password_hash(pin)
    with bench.store.writing() as writer:
        if faults := person_faults(bench, person):
            raise Amiss(faults)
        enrol(bench, writer, seat, person, hashed)
    return person.id, pin


def enrol(bench: Bench, writer: Writer, seat: Seat, person: Person, pin_hash: str) -> None:
    """Store somebody new, whose name and roles were looked at before, with the hash of their PIN."""
    _store(bench, writer, seat, person, {"name": bench.text(writer, person.name)})
    writer.put_secret(person.id, "pin", pin_hash)


def person_faults(bench: Bench, person: Person) -> list[str]:
    """Return what is wrong with a name, roles and a last day, in sentences."""
    found = [fault_of(_("The name"), person.name)]
    same = next((p for p in people(bench) if p.id != person.id and alike(p.name, person.name)), None)
    if same:
        found.append(_twin_words(same))
    strange = [role for role in person.roles if role not in ROLES]
    if strange or not person.roles:
        known = ", ".join(_(ROLE_WORDS[role]) for role in ROLES)
        found.append(_("Choose at least one role: {roles}.", roles=known))
    found.append(_day_fault(bench, person.until))
    return [fault for fault in found if fault]


def _twin_words(same: Person) -> str:
    if same.left:
        return _("There is a person named {name} who has left: let them come back, or tell the two apart by name.",
                 name=same.name)
    return _("There is a person named {name} here already: tell the two apart by name.", name=same.name)


def _day_fault(bench: Bench, until: str) -> str:
    if not until:
        return ""
    try:
        date.fromisoformat(until if DAY.fullmatch(until) else "")
    except ValueError:
        return _("The last day is not a day. Write it as YYYY-MM-DD, or leave it empty.")
    if until < today(bench).isoformat():
        return _("The last day lies in the past. Say that the person has left instead.")
    return ""


def pin_faults(pin: str) -> list[str]:
    """Return what is wrong with a PIN that somebody chose; an empty one will be drawn."""
    if not pin or PIN.fullmatch(pin):
        return []
    return [_("A PIN has four to eight digits. Write others, or leave it empty.")]


def change_person(bench: Bench, seat: Seat, person_id: str, name: str, roles: list[str], until: str) -> bool:
    """Change name, roles and last day; return whether that changed anything. Refused for the last supervisor."""
    seat.must("supervisor")
    with bench.store.writing() as writer:
        before = known_person(bench, person_id)
        after = replace(before, name=tidy(name), roles=_sorted(roles), until=until)
        if after == replace(before, roles=_sorted(before.roles)):
            return False
        # A last day that is over already stands as it is; only a new one must not lie in the past.
        faults = person_faults(bench, after if until != before.until else replace(after, until=""))
        if faults:
            raise Amiss(faults)
        if _lasting(before) and not _lasting(after):
            _must_not_be_last(bench, before)
        _store(bench, writer, seat, after, _texts(bench, writer, after, before))
    return True


def let_go(bench: Bench, seat: Seat, person_id: str) -> None:
    """Somebody left: they cannot sign in any more; records go on naming them. Refused for the last supervisor."""
    seat.must("supervisor")
    with bench.store.writing() as writer:
        before = known_person(bench, person_id)
        if before.left:
            raise Refused(_("{name} has left already.", name=before.name))
        _must_not_be_last(bench, before)
        after = replace(before, left=True)
        _store(bench, writer, seat, after, _texts(bench, writer, after, before))


def come_back(bench: Bench, seat: Seat, person_id: str) -> None:
    """Somebody works here again, with the PIN and the badge they had; a last day that is over is taken out."""
    seat.must("supervisor")
    with bench.store.writing() as writer:
        before = known_person(bench, person_id)
        if not before.left:
            raise Refused(_("{name} works here already.", name=before.name))
        until = before.until if before.until >= today(bench).isoformat() else ""
        after = replace(before, left=False, until=until)
        _store(bench, writer, seat, after, _texts(bench, writer, after, before))


def new_pin(bench: Bench, seat: Seat, person_id: str) -> str:
    """Draw a new PIN, which also ends a pause after wrong ones; return it, to be told to the person once."""
    seat.must("supervisor")
    pin = _drawn(bench)
    hashed = generate_password_hash(pin)
    with bench.store.writing() as writer:
        known = known_person(bench, person_id)
        if why := why_gone(bench, known):
            raise Gone(why)
        _store(bench, writer, seat, known, _texts(bench, writer, known, known), pin="new")
        writer.put_secret(person_id, "pin", hashed)
        writer.put_tries(Tries(person_id))
    return pin


def known_person(bench: Bench, person_id: str) -> Person:
    """Return somebody who works or worked here; Unknown where there is no such person."""
    found = next((p for p in people(bench) if p.id == person_id), None)
    if found is None:
        raise Unknown(_(NOBODY))
    return found


def _lasting(person: Person) -> bool:
    return "supervisor" in person.roles and not person.left and not person.until


def _must_not_be_last(bench: Bench, person: Person) -> None:
    if _lasting(person) and not any(_lasting(p) for p in people(bench) if p.id != person.id):
        raise Refused(_(LAST))


def _texts(bench: Bench, writer: Writer, after: Person, before: Person) -> dict[str, str]:
    """Return the text of the name: the one that stands, or a new one after a change of name."""
    if after.name != before.name:
        return {"name": bench.text(writer, after.name)}
    bodies = [events.read_body(entry.body)["event"] for entry in writer.tagged("thing", after.id)]
    return dict(next(event["data"]["texts"] for event in reversed(bodies) if event["kind"] == "person"))


def _store(
    bench: Bench, writer: Writer, seat: Seat, person: Person, texts: dict[str, str], **more: Any
) -> None:
    data = {
        "thing": person.id, "texts": texts, "roles": list(person.roles), "left": int(person.left),
        "until": person.until,
    }
    store(bench, writer, seat, "person", data=data | more)


def _sorted(roles: Any) -> tuple[str, ...]:
    """Return roles in their usual order, each once; strange ones last, to be refused in words."""
    return tuple(sorted(set(roles), key=lambda role: (role not in ROLES, ROLES.index(role) if role in ROLES else role)))


def _drawn(bench: Bench) -> str:
    return "".join(bench.chance.choose("0123456789") for _ in range(PIN_LENGTH))


